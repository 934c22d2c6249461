"""What a plant gives after it came up, grew again or was set out again ripened since, and not while it was bare."""

from __future__ import annotations

from datetime import date

import pytest

from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import LeftForSeed, Picked
from perennia.records.life import CutBack, DiedBack, Emerged, Lifted, Regrew, Replanted, Sown
from tests.queries.rare_gardens import CROP, rows_in, season_in

JUNE = [Picked("A1", day, 100) for day in ("2021-06-01", "2021-06-04", "2021-06-07", "2021-06-10")]
LAST_IN_JUNE = date(2021, 6, 10)
CUT_AND_REGROWN = [CutBack("A1", "2021-06-20", to_cm=15), Regrew("A1", "2021-08-20")]
SOWN = Sown("A1", "2021-04-01", crop=CROP, bed="B1")


def daily(*records: Record, label: str = "A1") -> dict[date, float]:
    """The rate of each day on which there was any."""
    rows = rows_in("season_curves", SOWN, *records)
    return {row["on"]: row["per_day"] for row in rows if row["label"] == label and row["per_day"]}


def since_june(*records: Record) -> tuple[date, float]:
    """The first day after those of June on which anything ripened, and all that did from then on."""
    rates = daily(*JUNE, *records)
    later = {day: rate for day, rate in rates.items() if day > LAST_IN_JUNE}
    return min(later), round(sum(later.values()), 6)


def test_nothing_ripened_before_the_plant_grew_again() -> None:
    records = [*JUNE, *CUT_AND_REGROWN, Picked("A1", "2021-10-01", 600)]
    rates = daily(*records)
    later = {day: rate for day, rate in rates.items() if day > LAST_IN_JUNE}
    assert (min(later), max(later), len(later)) == (date(2021, 8, 21), date(2021, 10, 1), 42)
    assert list(later.values()) == pytest.approx([600 / 42] * 42)
    row = season_in("season_summary", "A1", 2021, SOWN, *records)
    # 400 of 1000 g were in by June, and the next 100 in a sixth of 42 days
    assert row["t50"] == date(2021, 8, 27)
    assert (row["picks"], row["total_g"], row["first_pick"]) == (5, 1000.0, date(2021, 6, 1))
    assert season_in("season_totals", "A1", 2021, SOWN, *records)["looks"] == 0


@pytest.mark.parametrize(
    ("acts", "first"),
    [
        ([DiedBack("A1", "2021-06-20", cause="drought"), Regrew("A1", "2021-08-20")], date(2021, 8, 21)),
        ([Lifted("A1", "2021-06-20"), Replanted("A1", "2021-08-01", bed="B1")], date(2021, 8, 2)),
        ([*CUT_AND_REGROWN, Picked("A1", "2021-07-10", 0)], date(2021, 8, 21)),
        ([*CUT_AND_REGROWN, Picked("A1", "2021-09-01", 0)], date(2021, 9, 2)),
        ([*CUT_AND_REGROWN, CutBack("A1", "2021-09-02", to_cm=5), Regrew("A1", "2021-09-20")], date(2021, 9, 21)),
        ([CutBack("A1", "2021-06-20", to_cm=15), Regrew("A1", "2021-08-13/2021-08-26")], date(2021, 8, 14)),
        ([*CUT_AND_REGROWN, Regrew("A1", "2021-09-10", shoots=9)], date(2021, 8, 21)),
    ],
    ids=["died back", "set out again", "a look at the stump", "a look later", "cut back twice", "within a fortnight",
         "shoots counted again"],
)
def test_nor_before_the_last_of_what_shows_that_it_was_bare(acts: list[Record], first: date) -> None:
    assert since_june(*acts, Picked("A1", "2021-10-01", 600)) == (first, 600)


@pytest.mark.parametrize(
    "acts",
    [
        [],
        [CutBack("A1", "2021-06-20", to_cm=60)],
        [DiedBack("A1", "2021-06-20", extent="partial", cause="drought")],
        [Noted("2021-06-20", "wilted", labels=["A1"])],
        [LeftForSeed("A1", "2021-06-20", 5)],
        [CutBack("A1", "2021-06-20", to_cm=15), Regrew("A1", "2021-06-25/2021-07-09")],
        [Emerged("A1", "2021-05-01")],
        [Regrew("A1", "2021-08-20", shoots=9)],
        [DiedBack("A1", "2021-06-20", extent="partial", cause="drought"), Regrew("A1", "2021-08-20")],
        [CutBack("A1", "2021-10-01", to_cm=15), Regrew("A1", "2021-10-01")],
    ],
    ids=[
        "nothing", "topped", "died back in part", "a note", "pods left", "known too vaguely", "before the first",
        "shoots counted", "grew on",
        "on the day of the last",
    ],
)  # fmt: skip
def test_without_such_a_day_the_line_goes_on_from_the_last_picking(acts: list[Record]) -> None:
    assert since_june(*acts, Picked("A1", "2021-10-01", 600)) == (date(2021, 6, 11), 600)


def test_a_plant_that_bore_in_between_was_not_bare() -> None:
    acts = [CutBack("A1", "2021-06-11", to_cm=60), Picked("A1", "2021-06-13", 30), Regrew("A1", "2021-06-20")]
    rates = daily(*JUNE, *acts, Picked("A1", "2021-06-23", 100))
    assert {rate for day, rate in rates.items() if day > date(2021, 6, 13)} == {10.0}


def test_a_crop_taken_by_cutting_grew_between_the_cuts() -> None:
    days = ("2021-06-01", "2021-07-11", "2021-08-20")
    cuts = [record for day in days for record in (Picked("A1", day, 400), CutBack("A1", day, to_cm=5))]
    rates = daily(*cuts)
    assert {rate for day, rate in rates.items() if day > date(2021, 6, 1)} == {10.0}


def test_what_ripened_over_weeks_that_nobody_saw_is_no_peak() -> None:
    autumn = [Picked("A1", day, 100) for day in ("2021-10-04", "2021-10-07", "2021-10-10")]
    row = season_in("season_summary", "A1", 2021, SOWN, *CUT_AND_REGROWN, Picked("A1", "2021-06-01", 50),
                    Picked("A1", "2021-06-10", 50), Picked("A1", "2021-10-01", 6000), *autumn)  # fmt: skip
    assert (row["peak_on"], row["withheld"]) == (None, "peak: a gap of more than 7 days round it")


def test_a_look_before_the_plant_came_up_does_not_stretch_the_first_crop() -> None:
    rates = daily(Picked("A1", "2021-04-20", 0), Emerged("A1", "2021-05-01"), Picked("A1", "2021-06-10", 400))
    assert (min(rates), set(rates.values())) == (date(2021, 5, 2), {10.0})


def test_the_line_of_another_plant_is_not_broken() -> None:
    others = [Picked("A2", "2021-06-10", 100), Picked("A2", "2021-10-01", 300)]
    sown = Sown("A2", "2021-04-01", crop=CROP, bed="B1")
    rates = daily(*JUNE, *CUT_AND_REGROWN, sown, *others, Picked("A1", "2021-10-01", 300), label="A2")
    assert date(2021, 6, 11) in rates


def test_the_other_measure_goes_the_same_way() -> None:
    picked = [Picked("A1", day, 100, count=10) for day in ("2021-06-01", "2021-06-04")]
    rows = rows_in("season_curves", SOWN, *picked, *CUT_AND_REGROWN, Picked("A1", "2021-10-01", 600, count=42))
    counted = {row["on"]: row["count_per_day"] for row in rows if row["on"] > date(2021, 6, 4)}
    assert {day for day, rate in counted.items() if rate} == {day for day in counted if day > date(2021, 8, 20)}
    assert counted[date(2021, 9, 30)] == pytest.approx(1)
