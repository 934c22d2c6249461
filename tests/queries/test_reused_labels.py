"""Which plant an entry is about when its label was used more than once, or the plant's beginning is half remembered."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from perennia.records.base import Record
from perennia.records.care import Covered, Uncovered, Watered
from perennia.records.flowering import TrussCount
from perennia.records.harvest import Picked
from perennia.records.life import Acquired, AlreadyHere, Lifted, Removed, Sown
from perennia.records.places import Bed, Site
from perennia.records.seed import SeedSaved
from tests.queries.built_views import built, rows_of, with_ids

PLACES: tuple[Record, ...] = (Site("plot", latitude=48.0), Bed("row", "plot", cover="open", area_m2=4.0))
CHANGE = date(2022, 6, 10)


def _rows(view: str, *records: Record) -> list[dict[str, Any]]:
    with built(with_ids([*PLACES, *records]), [view]) as connection:
        return rows_of(connection, view)


def _label_used_twice(old_at_rest: bool = False) -> list[Record]:
    lifted: list[Record] = [Lifted("A1", date(2022, 5, 1))] if old_at_rest else []
    return [
        Sown("A1", date(2021, 4, 1), crop="Oca", bed="row"), *lifted, Removed("A1", CHANGE),
        Sown("A1", CHANGE, crop="Rheum x hybridum", bed="row"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("view", "entry"),
    [
        ("harvest", Picked("A1", CHANGE, 300.0)),
        ("flowering", TrussCount("A1", "t1", CHANGE, opened=4)),
        ("care", Watered(CHANGE, labels="A1", litres=2.0)),
        ("seed", SeedSaved("A1", CHANGE, lot="L1", grams=5.0)),
    ],
)
def test_entry_on_the_day_of_change_is_about_the_old_plant(view: str, entry: Record) -> None:
    (row,) = _rows(view, *_label_used_twice(), entry)
    assert row["plant"] == "A1/2021"


@pytest.mark.parametrize(
    ("view", "entry"), [("harvest", Picked("A1", CHANGE, 300.0)), ("care", Watered(CHANGE, labels="A1", litres=2.0))]
)
def test_unless_the_old_plant_could_not_bear_that_day(view: str, entry: Record) -> None:
    (row,) = _rows(view, *_label_used_twice(old_at_rest=True), entry)
    assert row["plant"] == "A1/2022"


@pytest.mark.parametrize(
    ("span", "plant"),
    [("2022-06-01/2022-06-14", "A1/2021"), ("2022-06-08/2022-06-20", "A1/2022"), ("2022-06-08/2022-06-12", "A1/2021")],
)
def test_a_span_over_the_change_is_about_the_plant_of_most_of_its_days(span: str, plant: str) -> None:
    (row,) = _rows("harvest", *_label_used_twice(), Picked("A1", span, 300.0))
    assert row["plant"] == plant


def test_a_root_in_store_does_not_get_the_old_plant_s_picking() -> None:
    old = [Sown("A1", date(2021, 4, 1), crop="Oca", bed="row"), Removed("A1", date(2022, 6, 2))]
    new = Acquired("A1", date(2022, 6, 3), crop="Oca", kind="root")
    (row,) = _rows("harvest", *old, new, Picked("A1", "2022-05-31/2022-06-30", 300.0))
    assert (row["plant"], row["on"]) == ("A1/2021", date(2022, 6, 2))


def test_a_plant_here_since_nobody_knows_when_keeps_its_earlier_pickings() -> None:
    here = AlreadyHere("A1", "../2019-12-31", crop="Oca", bed="row")
    (plant,) = _rows("plants", here, Picked("A1", date(2018, 7, 1), 80.0), Picked("A1", date(2019, 7, 1), 90.0))
    assert plant["began_on"] == date(2018, 7, 1)
    totals = _rows("season_totals", here, Picked("A1", date(2018, 7, 1), 80.0), Picked("A1", date(2019, 7, 1), 90.0))
    assert {row["season"]: row["total_g"] for row in totals} == {2018: 80.0, 2019: 90.0}


@pytest.mark.parametrize("turn", [1, -1])
def test_a_cover_put_on_wins_over_one_taken_off_the_same_day(turn: int) -> None:
    changed = [Covered(CHANGE, bed="row", cover="fleece"), Uncovered(CHANGE, bed="row")][::turn]
    grown = [Sown("A1", date(2022, 6, 1), crop="Oca", bed="row"), Picked("A1", date(2022, 9, 1), 80.0)]
    with built(with_ids([*PLACES, *grown, *changed]), ["place_spans"]) as connection:
        spans = rows_of(connection, "inside.place_spans ORDER BY from_day")
    assert [(row["from_day"], row["cover"]) for row in spans] == [(date(2022, 6, 1), "open"), (CHANGE, "fleece")]
