"""Curves fitted to seasons: true ones are found again, what does not fit is said, points are days of pickings."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import perennia as pn
from perennia.analysis.seasons.fits import COLUMNS, fit_curves
from perennia.analysis.seasons.least_squares import MODELS, Form, fit
from tests.analysis.picked_garden import garden, later, picked, sown

DAYS = np.arange(1, 15) * 5.0 + 170
FORMS = st.sampled_from(["logistic", "gompertz"])


@given(FORMS, st.floats(5, 5000), st.floats(190, 215), st.floats(3, 12))
def test_a_true_curve_is_found_again(form: Form, asymptote: float, midpoint: float, scale: float) -> None:
    found = fit(DAYS, MODELS[form](DAYS, asymptote, midpoint, scale), form)
    assert (found.asymptote, found.midpoint, found.scale) == pytest.approx((asymptote, midpoint, scale), rel=1e-4)
    assert found.n == len(DAYS)
    assert found.note is None


@given(FORMS, st.lists(st.floats(0, 500), min_size=0, max_size=12), st.booleans())
def test_any_rising_points_are_answered(form: Form, steps: list[float], repeated: bool) -> None:
    days = np.arange(len(steps)) // (2 if repeated else 1) * 3.0
    found = fit(days, np.cumsum(steps), form)
    figures = [getattr(found, name) for name in ("asymptote", "midpoint", "scale", "asymptote_se", "residual_sd")]
    if len(steps) < 5:
        assert found.note == "too few points"
    if found.note in ("too few points", "did not converge"):
        assert figures == [None] * 5
    else:
        assert np.isfinite(figures).all()
        assert min(figures[2:]) >= 0


@pytest.mark.parametrize("form", ["logistic", "gompertz"])
def test_a_crop_cut_short_has_no_plateau(form: Form) -> None:
    early = np.arange(1, 9) * 4.0
    assert fit(early, np.exp(early / 12), form).note in ("no plateau reached", "did not converge")
    assert fit(early, MODELS[form](early, 1000.0, 40.0, 9.0), form).note == "no plateau reached"


@pytest.mark.parametrize("form", ["logistic", "gompertz"])
@pytest.mark.parametrize("crop", [[0, 2, 2, 2, 2], [0, 0, 3, 3, 3], [0, 1, 2, 2, 2, 2]])
def test_a_crop_all_in_at_once_tells_no_rise_though_a_curve_runs_through_every_point(
    form: Form, crop: list[float]
) -> None:
    found = fit(151 + 7 * np.arange(len(crop), dtype=float), crop, form)
    assert (found.note, found.scale) == ("did not converge", None)


def test_order_of_the_points_does_not_matter() -> None:
    crop = MODELS["logistic"](DAYS, 900.0, 200.0, 9.0) + np.sin(DAYS)
    forward, backward = fit(DAYS, crop), fit(DAYS[::-1], crop[::-1])
    assert backward.midpoint == pytest.approx(forward.midpoint)


@pytest.mark.parametrize(
    ("x", "y", "form", "says"),
    [
        ([1, 2], [1], "logistic", "as many numbers each"),
        ([1, float("nan")], [1, 2], "logistic", "none of them missing"),
        (["a"], [1], "logistic", "lists of numbers"), ([1], [1], "linear", "choose one of logistic, gompertz"),
    ],
)  # fmt: skip
def test_odd_points_and_forms_are_told(x: list[float], y: list[float], form: Form, says: str) -> None:
    with pytest.raises(pn.PerenniaError, match=says):
        fit(x, y, form)


GRAMS = [10.0, 30, 70, 120, 150, 150, 120, 70, 30, 10]


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    return garden(
        tmp_path_factory.mktemp("fits"), *(sown(label, 2023) for label in ("A1", "A2", "A3", "A4", "A5")),
        *picked("A1", date(2023, 7, 10), [0, *GRAMS, 0], gap_days=4),
        *picked("A2", date(2023, 7, 10), [0, *GRAMS, 0, 4000], gap_days=4, clearance_last=True),
        *picked("A3", date(2023, 7, 10), [80, 90, 100]),
        *picked("A4", date(2023, 7, 10), [2.0**power for power in range(8)]),
        pn.Picked("A5", "2023-07-10", grams=80), pn.Picked("A5", "2023-07-13", count=8),
        sown("B1", 2024), *picked("B1", date(2024, 7, 10), GRAMS),
    )  # fmt: skip


def test_the_points_are_the_days_of_pickings_and_looks(plot: pn.Garden) -> None:
    row = fit_curves(plot, labels=["A1"]).table.iloc[0]
    # day 191 is 10 July; the first and the last look count
    days = 191 + 4.0 * np.arange(12)
    expected = fit(days, np.cumsum([0, *GRAMS, 0]))
    assert row["n"] == 12
    for name in ("asymptote", "midpoint", "scale", "asymptote_se", "midpoint_se", "scale_se", "residual_sd"):
        assert row[name] == pytest.approx(getattr(expected, name))
    assert row["total"] == 760
    assert pd.isna(row["note"])


def test_a_vaguely_dated_picking_is_no_point(tmp_path: Path) -> None:
    """The middle of its span is a day between two pickings."""
    plot = garden(tmp_path, sown("A1", 2023), *picked("A1", date(2023, 7, 10), [0, *GRAMS, 0], gap_days=4),
                  pn.Picked("A1", "2023-07-11/2023-08-09", grams=300), later(date(2024, 3, 1)))  # fmt: skip
    found = fit_curves(plot)
    assert (found.table["n"][0], found.table["total"][0]) == (12, 760)
    assert "1 picking dated too vaguely (over 14 days) for any curve." in found.cautions


def test_a_clearance_is_no_growth_and_its_day_no_point(plot: pn.Garden) -> None:
    """Nor is it a plateau: what had ripened by then went with the strip."""
    plain, cleared = fit_curves(plot, labels=["A1"]), fit_curves(plot, labels=["A2"])
    same = list(COLUMNS)[list(COLUMNS).index("measure"):]
    pd.testing.assert_frame_equal(cleared.table[same], plain.table[same])
    assert cleared.table["n"].tolist() == [12]
    assert "1 season with a clearance, whose crop is in no curve." in cleared.cautions


def test_a_day_that_was_picked_and_then_cleared_is_a_point(tmp_path: Path) -> None:
    plot = garden(
        tmp_path, sown("A1", 2023), *picked("A1", date(2023, 7, 10), [0, *GRAMS, 5], gap_days=4),
        pn.Picked("A1", "2023-08-23", grams=4000, clearance=True), later(date(2024, 3, 1)),
    )  # fmt: skip
    row = fit_curves(plot).table.iloc[0]
    assert (row["n"], row["total"]) == (12, 765)


def test_form_and_labels_choose(plot: pn.Garden) -> None:
    found = fit_curves(plot, form="gompertz", labels=["A1"])
    assert found.form == "gompertz"
    assert set(found.table["form"]) == {"gompertz"}
    assert "Gompertz" in found.method
    assert found.table["asymptote"][0] != pytest.approx(fit_curves(plot, labels=["A1"]).table["asymptote"][0])
    assert found.findings[0].startswith("A1 (Phaseolus coccineus), 2023: runs up to ")


def test_what_is_not_fitted_is_said(plot: pn.Garden) -> None:
    found = fit_curves(plot)
    assert found.table.dtypes.astype(str).to_dict() == COLUMNS
    notes = dict(zip(found.table["label"], found.table["note"], strict=True))
    assert set(notes) == {"A1", "A2", "A3", "A4"}
    assert notes["A3"] == "too few points"
    assert notes["A4"] == "no plateau reached"
    assert found.n == 2
    assert "1 running season not fitted." in found.cautions
    assert "1 finished season not fitted: some pickings not weighed and some not counted." in found.cautions
    assert any(caution.startswith("Standard errors take the points as independent") for caution in found.cautions)
    assert any("1 season without a plateau" in caution for caution in found.cautions)


def test_of_a_crop_that_came_in_between_two_days_no_curve_is_denied(tmp_path: Path) -> None:
    given = picked("A1", date(2023, 7, 10), [0, 90, 0, 0, 0])
    plot = garden(tmp_path, sown("A1", 2023), *given, later(date(2024, 3, 1)))
    (said,) = fit_curves(plot).cautions
    assert said.startswith("1 season on which the fit did not converge, or with fewer than two days on the rise")
    assert said.endswith("whether the crop came as such a curve cannot be told.")


def test_linked_labels_count_once(tmp_path: Path) -> None:
    plot = garden(tmp_path, sown("A1", 2023), sown("A2", 2023), *picked(("A1", "A2"), date(2023, 7, 10), GRAMS),
                  later(date(2024, 3, 1)))  # fmt: skip
    found = fit_curves(plot)
    assert (found.n, len(found.table)) == (1, 2)


def test_an_empty_garden_and_odd_choices_are_answered_in_words(tmp_path: Path) -> None:
    empty = pn.Garden.create(tmp_path / "plot")
    found = fit_curves(empty)
    assert found.n == 0
    assert found.table.dtypes.astype(str).to_dict() == COLUMNS
    assert found.findings == ("No finished season can be fitted.",)
    with pytest.raises(pn.PerenniaError, match="choose one of logistic, gompertz"):
        fit_curves(empty, form=["logistic"])  # type: ignore[arg-type]
    with pytest.raises(pn.PerenniaError, match="seasons"):
        fit_curves(empty, seasons="2024")  # type: ignore[arg-type]
