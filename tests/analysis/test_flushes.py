"""Flushes through the door: what a row says, what is withheld and why, what was chosen."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest

import perennia as pn
from perennia.analysis.seasons.flushes import COLUMNS, flushes
from tests.analysis.picked_garden import garden, later, picked, sown

ONE = [10, 40, 90, 120, 120, 90, 40, 10]
PAUSE = [0] * 6
TWO = [*ONE, *PAUSE, *(amount / 2 for amount in ONE)]
FIRST = date(2024, 7, 10)


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    return garden(
        tmp_path_factory.mktemp("flushes"),
        *(sown(label, 2024) for label in ("A1", "A2", "A3", "A4", "A5", "A6", "A7")),
        *picked("A1", FIRST, TWO), *picked("A2", FIRST, ONE), *picked("A3", FIRST, [50, 60, 70, 0, 0, 90]),
        *picked("A4", FIRST, [*ONE, 2000], clearance_last=True),
        pn.Picked("A5", FIRST, grams=90), pn.Picked("A5", date(2024, 7, 13), count=4),
        *picked("A6", FIRST, [60.0] * 6, gap_days=3), pn.Picked("A6", date(2024, 8, 12), grams=200),
        *picked("A7", FIRST, [90, 80, 90, 80, 500], clearance_last=True),
        later(date(2025, 3, 1)), sown("B1", 2025), *picked("B1", date(2025, 7, 10), TWO[:19]),
    )  # fmt: skip


def of(plot: pn.Garden, label: str) -> pd.DataFrame:
    return flushes(plot, labels=[label]).table


def test_two_flushes_of_one_plant(plot: pn.Garden) -> None:
    found = flushes(plot, labels=["A1"])
    assert found.table.dtypes.astype(str).to_dict() == COLUMNS
    assert found.table["flush"].tolist() == [1, 2]
    assert found.table["of"].tolist() == [2, 2]
    assert found.table["amount"].tolist() == pytest.approx([520, 260])
    assert found.table["share"].tolist() == pytest.approx([2 / 3, 1 / 3])
    first, second = found.table.to_dict("records")
    # the fourth and fifth pickings are the heaviest: 19 and 22 July, and 42 days later
    assert pd.Timestamp("2024-07-17") <= first["peak_on"] <= pd.Timestamp("2024-07-22")
    assert second["peak_on"] - first["peak_on"] == pd.Timedelta(days=42)
    assert first["starts_on"] < first["peak_on"] < first["ends_on"] < second["starts_on"]
    assert pd.isna(first["gap_days"])
    assert second["gap_days"] == (second["starts_on"] - first["ends_on"]).days
    assert not found.table["open"].any()
    assert set(found.table["measure"]) == {"g"}
    assert found.n == 1
    assert found.cautions == ("Flushes whose peaks lie nearer than nine picking gaps may pass for one.",)
    assert found.findings[0].startswith("A1 (Phaseolus coccineus), 2024: 2 flushes of 780 g, peaks on ")
    assert "(67 %)" in found.findings[0]


def test_what_nearer_flushes_may_hide_is_said_where_any_are_told(plot: pn.Garden) -> None:
    said = "Flushes whose peaks lie nearer than nine picking gaps may pass for one."
    assert said in pn.flushes(plot).cautions
    assert said not in pn.flushes(plot, crops=["Oca"]).cautions


def test_one_flush_and_a_clearance_left_out(plot: pn.Garden) -> None:
    plain, cleared = of(plot, "A2"), of(plot, "A4")
    assert plain["of"].tolist() == [1]
    columns = ["of", "peak_on", "amount", "share"]
    pd.testing.assert_frame_equal(plain[columns], cleared[columns])


def test_a_running_season_shows_flushes_so_far(plot: pn.Garden) -> None:
    found = flushes(plot, labels=["B1"])
    assert found.table["open"].tolist() == [False, True]
    assert found.table["ends_on"].isna().tolist() == [False, True]
    assert found.table["share"].sum() == pytest.approx(1)
    assert "1 season still running: flushes so far, shares of the crop so far." in found.cautions
    assert "2 flushes of 710 g so far, the last still open" in found.findings[0]


@pytest.mark.parametrize(
    ("label", "reason"),
    [
        ("A3", "fewer than 5 pickings"), ("A7", "fewer than 5 pickings"),
        ("A5", "some pickings not weighed and some not counted"),
        ("A6", "a tenth of the crop or more gathered over a gap of more than 4 usual ones"),
    ],
)  # fmt: skip
def test_what_cannot_be_told_is_withheld_and_counted(plot: pn.Garden, label: str, reason: str) -> None:
    found = flushes(plot, labels=[label])
    assert (found.n, len(found.table)) == (0, 0)
    assert f"1 season withheld: {reason}." in found.cautions
    assert found.findings == ("No season shows its flushes.",)
    assert any("grams=0" in caution for caution in found.cautions) == ("gap" in reason)


def test_labels_linked_by_a_picking_are_one_unit(tmp_path: Path) -> None:
    plot = garden(
        tmp_path, sown("A1", 2024), sown("A2", 2024), *picked(("A1", "A2"), FIRST, ONE),
        pn.Picked("A1", "2024-06/2024-09", grams=50), later(date(2025, 3, 1)),
    )  # fmt: skip
    found = flushes(plot)
    assert (found.n, len(found.table)) == (1, 2)
    assert found.table["amount"].tolist() == pytest.approx([260, 260])
    assert "1 picking dated too vaguely (over 14 days) for any flush." in found.cautions
    assert any(caution.startswith("2 seasons with shares of pickings") for caution in found.cautions)


def test_choices_narrow_the_answer(plot: pn.Garden) -> None:
    assert set(flushes(plot, seasons=[2025]).table["label"]) == {"B1"}
    assert flushes(plot, crops=["Rheum x hybridum"]).n == 0
    assert set(flushes(plot, labels=["A1/2024", "A2"]).table["label"]) == {"A1", "A2"}


def test_an_empty_garden_and_odd_choices_are_answered_in_words(tmp_path: Path) -> None:
    empty = pn.Garden.create(tmp_path / "plot")
    found = flushes(empty)
    assert found.n == 0
    assert found.table.dtypes.astype(str).to_dict() == COLUMNS
    assert "No season shows its flushes." in found.summary()
    with pytest.raises(pn.PerenniaError, match="seasons"):
        flushes(empty, seasons=["2024"])  # type: ignore[list-item]
    with pytest.raises(pn.PerenniaError, match="labels"):
        flushes(empty, labels=3)  # type: ignore[arg-type]


def test_the_gap_of_a_crop_without_a_profile_is_the_gardens(tmp_path: Path) -> None:
    """Picked every 10 days throughout; read by the gap of a day, nothing could be told."""
    plot = garden(
        tmp_path, pn.Sown("Q1", "2024-04-01", crop="Test crop", bed="b"),
        *picked("Q1", date(2024, 6, 1), [100.0] * 8, gap_days=10), later(date(2025, 3, 1)),
    )  # fmt: skip
    assert flushes(plot).table["of"].tolist() == [1]
