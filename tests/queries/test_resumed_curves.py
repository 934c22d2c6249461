"""What a plant gives after it was cut back, dead back or lifted ripened since, and not while it was bare."""

from __future__ import annotations

from datetime import date

import pytest

from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import LeftForSeed, Picked
from perennia.records.life import CutBack, DiedBack, Lifted, Regrew, Replanted, Sown
from tests.queries.rare_gardens import CROP, rows_in, season_in

# runner beans are picked every three days
JUNE = [Picked("A1", day, 100) for day in ("2021-06-01", "2021-06-04", "2021-06-07", "2021-06-10")]
LAST_IN_JUNE = date(2021, 6, 10)
CUT_AND_REGROWN = [CutBack("A1", "2021-06-20", to_cm=15), Regrew("A1", "2021-08-20")]
SOWN = Sown("A1", "2021-04-01", crop=CROP, bed="B1")


def daily(*records: Record, label: str = "A1") -> dict[date, float]:
    """The rate of each day on which there was any."""
    rows = rows_in("season_curves", SOWN, *records)
    return {row["on"]: row["per_day"] for row in rows if row["label"] == label and row["per_day"]}


def test_nothing_ripened_between_the_last_picking_and_a_usual_gap_before_the_next() -> None:
    records = [*JUNE, *CUT_AND_REGROWN, Picked("A1", "2021-10-01", 600)]
    rates = daily(*records)
    assert {day for day in rates if day > LAST_IN_JUNE} == {date(2021, 9, 29), date(2021, 9, 30), date(2021, 10, 1)}
    assert rates[date(2021, 9, 30)] == pytest.approx(200)
    # 400 of 1000 g were in by June, and the next 200 came on the first of the three days
    assert season_in("season_summary", "A1", 2021, SOWN, *records)["t50"] == date(2021, 9, 29)


@pytest.mark.parametrize(
    "acts",
    [
        [DiedBack("A1", "2021-06-20", cause="drought"), Regrew("A1", "2021-08-20")],
        [Lifted("A1", "2021-06-20"), Replanted("A1", "2021-08-01", bed="B1"), Regrew("A1", "2021-08-20")],
        [CutBack("A1", "2021-06-12", to_cm=15), CutBack("A1", "2021-06-20", to_cm=15)],
    ],
    ids=["died back", "lifted", "cut back twice"],
)
def test_whatever_ended_the_run(acts: list[Record]) -> None:
    rates = daily(*JUNE, *acts, Picked("A1", "2021-10-01", 600))
    assert min(day for day in rates if day > LAST_IN_JUNE) == date(2021, 9, 29)


def test_nor_before_the_act_where_that_was_later() -> None:
    rates = daily(*JUNE, CutBack("A1", "2021-06-28", to_cm=60), Picked("A1", "2021-06-29", 50))
    assert {day: rate for day, rate in rates.items() if day > LAST_IN_JUNE} == {date(2021, 6, 29): 50.0}


@pytest.mark.parametrize(
    "between",
    [
        [DiedBack("A1", "2021-06-20", extent="partial", cause="drought")],
        [Noted("2021-06-20", "wilted", labels=["A1"])],
        [LeftForSeed("A1", "2021-06-20", 5)],
        [CutBack("A1", "2021-05-20", to_cm=15)],
        [CutBack("A1", "2021-07-10", to_cm=15)],
    ],
    ids=["died back in part", "a note", "pods left", "before the first picking", "on the day of the last"],
)
def test_no_other_entry_breaks_the_line(between: list[Record]) -> None:
    rates = daily(*JUNE, *between, Picked("A1", "2021-07-10", 300))
    assert {rate for day, rate in rates.items() if day > LAST_IN_JUNE} == {10.0}
    assert sum(day > LAST_IN_JUNE for day in rates) == 30


def test_a_look_at_the_bare_plant_is_one_and_the_crop_ripened_since() -> None:
    rates = daily(*JUNE, *CUT_AND_REGROWN, Picked("A1", "2021-09-25", 0), Picked("A1", "2021-10-01", 600))
    assert min(day for day in rates if day > LAST_IN_JUNE) == date(2021, 9, 26)
    assert rates[date(2021, 9, 26)] == pytest.approx(100)


def test_the_line_of_another_plant_is_not_broken() -> None:
    others = [Picked("A2", "2021-06-10", 100), Picked("A2", "2021-07-10", 300)]
    sown = Sown("A2", "2021-04-01", crop=CROP, bed="B1")
    rates = daily(*JUNE, *CUT_AND_REGROWN, sown, *others, Picked("A1", "2021-10-01", 300), label="A2")
    assert sum(day > LAST_IN_JUNE for day in rates) == 30


def test_pickings_and_looks_are_counted_as_before() -> None:
    records = [SOWN, *JUNE, CutBack("A1", "2021-06-20", to_cm=15), Picked("A1", "2021-10-01", 600)]
    row = season_in("season_summary", "A1", 2021, *records)
    assert (row["picks"], row["total_g"], row["first_pick"]) == (5, 1000.0, date(2021, 6, 1))
    assert season_in("season_totals", "A1", 2021, *records)["looks"] == 0


def test_the_other_measure_goes_the_same_way() -> None:
    picked = [Picked("A1", day, 100, count=10) for day in ("2021-06-01", "2021-06-04")]
    rows = rows_in(
        "season_curves", SOWN, *picked, CutBack("A1", "2021-06-20", to_cm=15),
        Picked("A1", "2021-10-01", 600, count=30),
    )  # fmt: skip
    counted = {row["on"]: row["count_per_day"] for row in rows if row["on"] > date(2021, 6, 4)}
    assert {day for day, rate in counted.items() if rate} == {date(2021, 9, 29), date(2021, 9, 30), date(2021, 10, 1)}
    assert counted[date(2021, 9, 30)] == pytest.approx(10)
