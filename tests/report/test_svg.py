"""Figures as SVG in a page: well-formed, the page's colours, ids of their own, nothing of a record run as markup."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import matplotlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure

from perennia.errors import ArgumentError
from perennia.report import as_svg
from perennia.report.look import BLUE, INK, LOOK
from perennia.report.sheet import head, one_axes

SVG = "{http://www.w3.org/2000/svg}"


def drawn(label: str = "A1") -> Figure:
    """A small figure with text, lines, markers and a clip path."""
    with matplotlib.rc_context(LOOK):
        figure, ax = one_axes(None, 2.0)
        ax.plot([1, 2, 3], [3, 1, 2], color=BLUE, marker="o")
        ax.set_xlabel("crop, g")
        ax.annotate(label, (1, 3), parse_math=False)
        head(figure, f"Crop of {label}")
    return figure


def test_it_stands_in_a_page() -> None:
    text = as_svg(drawn(), "The crop of A1")
    root = ElementTree.fromstring(text)
    assert text.startswith("<svg ")
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == "The crop of A1"  # type: ignore[union-attr]
    assert root.get("aria-labelledby") == root.find(f"{SVG}title").get("id")  # type: ignore[union-attr]
    assert root.get("viewBox")
    assert root.get("width") is None
    assert root.get("height") is None
    assert not {f"{SVG}metadata", f"{SVG}style", f"{SVG}script"} & {element.tag for element in root.iter()}
    assert "Crop of A1" in {element.text for element in root.iter(f"{SVG}text")}


def test_ink_and_background_are_the_pages() -> None:
    text = as_svg(drawn(), "a figure")
    assert INK not in text.lower()
    assert "currentColor" in text
    assert "#ffffff" not in text
    assert BLUE in text


def test_it_is_the_same_every_time() -> None:
    assert as_svg(drawn(), "a figure") == as_svg(drawn(), "a figure")


def test_one_figure_written_twice_is_the_same_though_its_layout_could_move_on() -> None:
    figure = Figure(layout="constrained")
    for place, ax in enumerate(figure.subplots(3, 2).flat):
        ax.set(xlabel="day of the season", ylabel=f"part {place}, g", title="long enough a title to wrap its axes")
    assert as_svg(figure, "six parts") == as_svg(figure, "six parts")


def ids(text: str) -> list[str]:
    return [element.get("id", "") for element in ElementTree.fromstring(text).iter() if element.get("id")]


def test_ids_are_the_figures_own_and_references_follow_them() -> None:
    one, other = as_svg(drawn(), "a figure", name="first"), as_svg(drawn(), "a figure", name="second")
    assert len(set(ids(one))) == len(ids(one))
    assert not set(ids(one)) & set(ids(other))
    referred = set(re.findall(r"url\(#([^)]+)\)", one)) | set(re.findall(r'href="#([^"]+)"', one))
    assert referred
    assert referred <= set(ids(one))


@pytest.mark.parametrize(
    "label", ["<script>alert(1)</script>", "]]>", "&amp;", "$\\frac{", "$a$", 'x" onload="y', "日本"]
)
def test_labels_of_records_stay_text(label: str) -> None:
    text = as_svg(drawn(label), label)
    root = ElementTree.fromstring(text)
    assert "<script" not in text
    assert root.find(f"{SVG}title").text == label  # type: ignore[union-attr]
    assert label in {element.text for element in root.iter(f"{SVG}text")}
    assert not [name for element in root.iter() for name in element.attrib if name.startswith("on")]


@given(label=st.text(min_size=1, max_size=12))
@settings(max_examples=15)
def test_whatever_a_label_is_the_svg_is_well_formed(label: str) -> None:
    ElementTree.fromstring(as_svg(drawn(label.encode("utf-8", "replace").decode()), "a figure"))


def test_an_alt_that_is_no_text_is_refused() -> None:
    with pytest.raises(ArgumentError, match="alt is None, which is no text"):
        as_svg(drawn(), None)  # type: ignore[arg-type]
