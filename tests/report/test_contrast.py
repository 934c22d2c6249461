"""Words and marks stand out from light paper and from dark, and no one needs all colours to tell marks apart."""

from __future__ import annotations

from itertools import combinations

import matplotlib
import pytest

import perennia as pn
from perennia.report import colours_on_dark
from perennia.report.look import BLUE, INK, LOOK, ON_DARK, SERIES, area
from perennia.report.page import season_report
from perennia.report.sheet import one_axes
from tests.report.contrast import SEEN_BY, contrast, difference, lost_marks, schemes

_WHITE = "#ffffff"
"""Of a print, and of the pictures of the README."""
_PAPERS = {"light": (_WHITE, schemes()["light"]["paper"]), "dark": (schemes()["dark"]["paper"],)}
_TOLD_APART = 15.0
"""Least distance in CIELAB between two colours for anyone; our own rule, about six times what is just noticed (2.3,
Mahy and others 1994, Color Research and Application 19: 105: from memory, not verified)."""


@pytest.mark.parametrize(("one", "other", "ratio"), [
    ("#000000", "#ffffff", 21.0), ("#ffffff", "#ffffff", 1.0), ("#777777", "#ffffff", 4.48),
    ("#ff0000", "#ffffff", 4.0),
])  # fmt: skip
def test_contrast_is_that_of_wcag(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == contrast(other, one) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("colour", [INK, *ON_DARK])
def test_a_colour_stands_out_as_a_thin_line_on_light_and_on_dark(colour: str) -> None:
    assert all(contrast(colour, paper) >= 4.5 for paper in _PAPERS["light"])
    dark = schemes()["dark"]["ink"] if colour == INK else ON_DARK[colour]
    assert all(contrast(dark, paper) >= 4.5 for paper in _PAPERS["dark"])


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
def test_words_stand_out_from_their_ground(scheme: str) -> None:
    page = schemes()[scheme]
    for words in ("ink", "faint", "mark"):
        assert all(contrast(page[words], page[ground]) >= 4.5 for ground in ("paper", "wash")), words


@pytest.mark.parametrize("people", SEEN_BY)
@pytest.mark.parametrize("colours", [list(ON_DARK), list(ON_DARK.values())], ids=["light", "dark"])
def test_whoever_looks_tells_the_colours_apart(colours: list[str], people: str) -> None:
    near = [pair for pair in combinations(colours, 2) if difference(*pair, people) < _TOLD_APART]
    assert near == []


def test_without_colour_line_marker_and_hatch_tell_the_series_apart() -> None:
    for look in ("line", "marker", "hatch"):
        assert len({str(getattr(stroke, look)) for stroke in SERIES}) == len(SERIES), look


def test_the_page_gives_every_colour_its_own_on_dark(tmp_path_factory: pytest.TempPathFactory) -> None:
    page = season_report(pn.Garden.create(tmp_path_factory.mktemp("dark") / "empty"), today="2024-09-01")
    assert f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {colours_on_dark()} }} }}" in page
    assert all(on_dark in colours_on_dark() for on_dark in ON_DARK.values())


@pytest.mark.parametrize(("opacity", "edge_in", "lost"), [(0.3, 0.0, 2), (0.3, 0.6, 0), (1.0, 0.0, 0)])
def test_a_pale_area_without_an_edge_is_found(opacity: float, edge_in: float, lost: int) -> None:
    with matplotlib.rc_context(LOOK):
        figure, ax = one_axes(None, 2.0)
        ax.fill_between([0, 1], [0, 0], [1, 1], **{**area(BLUE, opacity), "linewidth": edge_in})
    assert len(lost_marks(figure)) == lost
