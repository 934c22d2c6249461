"""Definitions that random gardens seldom reach, each in the smallest garden that shows it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from perennia.queries import catalogue
from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import BooksKept, Picked
from perennia.records.life import AlreadyHere, CutBack, Died, DiedBack, Moved, Mulched, Regrew, Sown
from perennia.records.places import Bed, Site
from tests.oracle.differences import first_difference
from tests.oracle.summary import views
from tests.queries.built_views import built, rows_of, with_ids

CROP = "Phaseolus coccineus"
PLACES: list[Record] = [
    Site("Home", latitude=51.0), Bed("B1", "Home", area_m2=4.0), Bed("B2", "Home", area_m2=2.0),
    Bed("Bench", "Home", container="tub"), Noted("2024-12-31", bed="B1", what="books closed"),
]  # fmt: skip


def _rows(view: str, *records: Record) -> list[dict[str, Any]]:
    """Rows of a view in a garden of these records, equal to the oracle's."""
    book = with_ids([*PLACES, *records])
    with built(book, [view]) as connection:
        found = rows_of(connection, view)
    difference = first_difference(view, found, views(book)[view], catalogue.shown()[view].grain)
    assert difference is None, difference
    return found


def _season(view: str, label: str, season: int, *records: Record) -> dict[str, Any]:
    return next(row for row in _rows(view, *records) if (row["label"], row["season"]) == (label, season))


@pytest.mark.parametrize(
    ("between", "picks"),
    [([], 6), ([CutBack("A1", "2021-12-30")], 3), ([DiedBack("A1", "2021-12-30")], 3)],
    ids=["nothing", "cut back", "died back"],
)
def test_picking_across_the_boundary_stays_until_the_plant_is_cut_or_dies_back(
    between: list[Record], picks: int
) -> None:
    days = [date(2021, 12, 20) + timedelta(5 * number) for number in range(6)]
    records = [Sown("A1", "2021-05-01", crop=CROP, bed="B1"), *between, *(Picked("A1", day, 100) for day in days)]
    assert _season("season_summary", "A1", 2021, *records)["picks"] == picks


def test_the_container_is_that_of_most_days_and_open_soil_has_none() -> None:
    records = [
        AlreadyHere("A1", "2021-01-01", crop=CROP, bed="Bench"), Regrew("A1", "2021-01-10"),
        Moved("A1", "2021-02-01", bed="B1"),
        Picked("A1", "2021-08-01", 100),
    ]  # fmt: skip
    row = _season("plant_seasons", "A1", 2021, *records)
    assert (row["bed"], row["container"]) == ("B1", None)


@pytest.mark.parametrize(("until", "total"), [("2022-08-20", 0.0), ("2022-08-19", None)])
def test_books_prove_nothing_was_picked_only_when_they_cover_the_last_picking_of_the_crop(
    until: str, total: float | None
) -> None:
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Picked("A1", "2022-07-10", 100), Picked("A1", "2022-08-20", 100), BooksKept("B1", "2022-07-10", until),
    ]  # fmt: skip
    assert _season("season_totals", "A2", 2022, *records)["total_g"] == total


def test_books_give_no_zero_to_a_root_that_never_came_up() -> None:
    records = [
        Sown("A1", "2021-05-01", crop=CROP, bed="B1"), Sown("A2", "2022-05-01", crop=CROP, bed="B1"),
        Mulched("A1", "2021-11-20"), Died("A1", "2022-08-01"),
        Picked("A2", "2022-07-10", 100), Picked("A2", "2022-08-20", 100), BooksKept("B1", "2022-01-01", "2022-12-31"),
    ]  # fmt: skip
    row = _season("season_totals", "A1", 2022, *records)
    assert (row["books_kept"], row["total_g"]) == (False, None)


def test_the_first_day_of_a_plant_here_before_an_unknown_day_stays_unknown() -> None:
    (row,) = _rows("plants", AlreadyHere("A1", "../2021-03-01", crop=CROP), Mulched("A1", "2021-11-20"))
    assert (row["began_from"], row["began_on"]) == (None, date(2021, 3, 1))


def test_ground_is_missing_when_the_plant_stood_elsewhere_at_its_first_picking() -> None:
    # most days up to half the crop in B1, first picked in B2: neither bed's area was its own
    records = [
        *(AlreadyHere(label, "2021-01-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Regrew("A1", "2021-03-10"), Moved("A1", "2021-07-01", bed="B2"),
        Picked("A1", "2021-07-03", 100), Picked("A2", "2021-07-03", 100),
    ]  # fmt: skip
    row = _season("season_summary", "A1", 2021, *records)
    assert (row["bed"], row["moved"], row["space_m2"], row["g_per_m2"]) == ("B1", True, None, None)
    assert _season("season_summary", "A2", 2021, *records)["space_m2"] == 4.0


def test_a_bed_is_shared_by_all_plants_standing_in_it_at_first_picking() -> None:
    records = [
        AlreadyHere("A1", "2021-01-01", crop=CROP, bed="B1"),
        AlreadyHere("A2", "2021-01-01", crop=CROP, bed="B1", plants=3),
        Picked("A1", "2021-07-03", 100),
    ]  # fmt: skip
    row = _season("season_summary", "A1", 2021, *records)
    assert (row["space_m2"], row["g_per_m2"]) == (1.0, 100.0)


def test_a_plant_first_seen_when_picked_has_the_place_it_stood_in() -> None:
    # the straight line puts half this crop two days before its only sign of growth
    records = [
        AlreadyHere("A1", "2021-03-01", crop="Rheum x hybridum", bed="B1"), Picked("A1", "2022-05-01", 900),
    ]  # fmt: skip
    row = _season("season_summary", "A1", 2022, *records)
    assert row["t50"] < row["first_pick"]
    assert (row["bed"], row["cover"], row["site"]) == ("B1", "open", "Home")


def test_a_plant_sown_ahead_of_a_season_the_books_have_not_reached_stands_where_it_was_sown() -> None:
    row = _season("plant_seasons", "P1", 2025, Sown("P1", "2024-12-20", crop="Capsicum pubescens", bed="Bench"))
    assert (row["bed"], row["container"], row["moved"]) == ("Bench", "tub", False)
