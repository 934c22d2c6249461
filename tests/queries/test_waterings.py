"""Waterings of a plant's season and their depth, in season_summary."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from perennia.records.base import Record
from perennia.records.care import Watered
from perennia.records.life import Moved, Sown
from perennia.records.places import Bed, Site
from tests.queries.built_views import built, rows_of, with_ids

PLACES: tuple[Record, ...] = (
    Site("plot", latitude=48.0), Bed("row", "plot", area_m2=4.0), Bed("corner", "plot"),
    Bed("other", "plot", area_m2=2.0),
)  # fmt: skip
A1 = Sown("A1", date(2022, 4, 1), crop="Oca", bed="row", space_m2=0.5)
A2 = Sown("A2", date(2022, 4, 1), crop="Oca", bed="corner")
JUNE, JULY = date(2022, 6, 1), date(2022, 7, 1)


def _water(label: str, *records: Record) -> tuple[int | None, float | None]:
    with built(with_ids([*PLACES, A1, A2, *records]), ["season_summary"]) as connection:
        rows: list[dict[str, Any]] = rows_of(connection, "season_summary")
    (row,) = [row for row in rows if (row["label"], row["season"]) == (label, 2022)]
    return row["waterings"], row["watered_mm"]


def test_nothing_is_known_where_nobody_recorded_a_watering() -> None:
    assert _water("A1") == (None, None)
    assert _water("A1", Watered(date(2023, 6, 1), bed="row", mm=5.0)) == (None, None)


def test_none_where_others_were_watered_that_season() -> None:
    assert _water("A1", Watered(JUNE, bed="other", mm=5.0)) == (0, 0.0)


@pytest.mark.parametrize(
    ("given", "mm"),
    [
        (Watered(JUNE, bed="row", mm=5.0), 5.0),
        (Watered(JUNE, bed="row", litres=20.0), 20.0 / 4.0),
        (Watered(JUNE, labels="A1", mm=5.0), 5.0),
        (Watered(JUNE, labels="A1", litres=3.0), 3.0 / 0.5),
        (Watered(JUNE, labels=("A1", "A2"), litres=3.0), 1.5 / 0.5),
    ],
)
def test_depth(given: Watered, mm: float) -> None:
    assert _water("A1", given) == (1, pytest.approx(mm))
    assert _water("A1", given, Watered(JULY, labels="A1", mm=2.0)) == (2, pytest.approx(mm + 2.0))


@pytest.mark.parametrize(
    "given", [Watered(JUNE, bed="corner", litres=20.0), Watered(JUNE, labels=("A1", "A2"), litres=3.0)]
)
def test_litres_over_unknown_ground_have_no_depth(given: Watered) -> None:
    assert _water("A2", given, Watered(JULY, bed="corner", mm=2.0)) == (2, None)


def test_a_bed_waters_what_stood_in_it_that_day() -> None:
    moved = Moved("A1", date(2022, 6, 15), bed="other")
    before, after = Watered(JUNE, bed="row", mm=1.0), Watered(JULY, bed="other", mm=100.0)
    assert _water("A1", moved, before, Watered(JULY, bed="row", mm=10.0), after) == (2, pytest.approx(101.0))


def test_water_for_a_sowing_ahead_of_its_season_is_that_season_s() -> None:
    sown, watered = date(2021, 12, 5), Watered(date(2021, 12, 20), labels="A3", mm=4.0)
    records = [Sown("A3", sown, crop="Capsicum pubescens", bed="row"), watered, Watered(JUNE, labels="A3", mm=3.0)]
    assert _water("A3", *records) == (2, pytest.approx(7.0))
