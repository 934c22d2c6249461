"""Definitions of places and ground that random gardens seldom reach, each in the smallest garden that shows it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from perennia.records.base import Record
from perennia.records.care import Covered
from perennia.records.harvest import Picked
from perennia.records.life import (
    Acquired,
    AlreadyHere,
    Counted,
    Died,
    Lifted,
    Moved,
    Regrew,
    Removed,
    Replanted,
    Sown,
    Stored,
)
from perennia.records.places import Bed
from tests.queries.rare_gardens import CROP, season_in


def test_the_container_is_that_of_most_days_and_open_soil_has_none() -> None:
    records = [
        AlreadyHere("A1", "2021-01-01", crop=CROP, bed="Bench"), Regrew("A1", "2021-01-10"),
        Moved("A1", "2021-02-01", bed="B1"),
        Picked("A1", "2021-08-01", 100),
    ]  # fmt: skip
    row = season_in("plant_seasons", "A1", 2021, *records)
    assert (row["bed"], row["container"]) == ("B1", None)


def test_a_stand_shares_the_bed_by_what_stood_at_the_first_picking_not_by_a_later_count() -> None:
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1", plants=8) for label in ("A1", "A2")),
        *(Counted(label, "2022-06-01", alive=4) for label in ("A1", "A2")),
        *(Picked(label, "2022-07-01", 400) for label in ("A1", "A2")),
        Counted("A1", "2022-09-20", alive=1),
    ]  # fmt: skip
    rows = [season_in("season_summary", label, 2022, *records) for label in ("A1", "A2")]
    assert [(row["plants"], row["space_m2"], row["g_per_m2"]) for row in rows] == [(4, 2.0, 200.0)] * 2
    assert season_in("plant_seasons", "A1", 2022, *records)["plants"] == 1


@pytest.mark.parametrize(
    ("bed", "given", "found"),
    [("B1", {}, 0.0), ("B1", {"space_m2": 0.5}, 0.0), ("Bench", {}, None), ("Unmeasured", {}, None)],
    ids=["share of a bed", "ground of its own", "pot", "bed of unknown area"],
)
def test_a_plant_that_gave_nothing_gave_nothing_off_its_ground(
    bed: str, given: dict[str, float], found: float | None
) -> None:
    records = [
        Bed("Unmeasured", "Home"), Sown("A2", "2022-05-01", crop=CROP, bed=bed),
        Sown("A1", "2022-05-01", crop=CROP, bed=bed, **given),
        *(Picked("A2", day, 100) for day in ("2022-07-01", "2022-07-08")),
        *(Picked("A1", day, 0) for day in ("2022-07-01", "2022-07-08")),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2022, *records)
    assert (row["total_g"], row["g_per_m2"]) == (0.0, found)


def test_a_plant_counted_on_the_day_of_its_first_picking_shares_the_bed_once_and_by_that_count() -> None:
    records = [
        Sown("A1", "2022-05-01", crop=CROP, bed="B1", plants=8), Sown("A2", "2022-05-01", crop=CROP, bed="B1"),
        Counted("A1", "2022-07-01", alive=3), Picked("A1", "2022-07-01", 400), Counted("A1", "2022-12-31", alive=2),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2022, *records)
    assert (row["plants"], row["space_m2"]) == (3, 3.0)
    assert season_in("plant_seasons", "A1", 2022, *records)["plants"] == 2


def test_a_plant_set_in_another_bed_leaves_the_ground_it_was_given() -> None:
    records = [
        Sown("A1", "2021-05-01", crop=CROP, bed="B1", space_m2=0.5), Picked("A1", "2021-08-01", 100),
        Lifted("A1", "2021-11-01"), Replanted("A1", "2022-05-01", bed="B2"), Picked("A1", "2022-08-01", 100),
        Lifted("A1", "2022-11-01"), Replanted("A1", "2023-05-01", bed="B1"), Picked("A1", "2023-08-01", 100),
    ]  # fmt: skip
    spaces = {season: season_in("season_summary", "A1", season, *records)["space_m2"] for season in (2021, 2022, 2023)}
    assert spaces == {2021: 0.5, 2022: 2.0, 2023: 0.5}


def test_a_plant_that_took_anothers_place_that_day_shares_no_ground_with_it() -> None:
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        *(Picked(label, "2022-08-01", 100) for label in ("A1", "A2")),
        Removed("A2", "2022-08-01"), Sown("A3", "2022-08-01", crop=CROP, bed="B1"),
    ]  # fmt: skip
    assert [season_in("season_summary", label, 2022, *records)["space_m2"] for label in ("A1", "A2")] == [2.0, 2.0]


def test_a_root_replanted_nobody_wrote_where_stands_in_no_known_bed() -> None:
    records = [
        Sown("A1", "2021-05-01", crop=CROP, bed="B1", space_m2=0.5), Picked("A1", "2021-08-01", 100),
        Lifted("A1", "2021-11-01"), Regrew("A1", "2022-05-01"), Picked("A1", "2022-08-01", 100),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2022, *records)
    assert (row["bed"], row["cover"], row["g_per_m2"]) == (None, None, None)


def test_ground_is_missing_when_the_plant_stood_elsewhere_at_its_first_picking() -> None:
    # most days up to half the crop in B1, first picked in B2: neither bed's area was its own
    records = [
        *(AlreadyHere(label, "2021-01-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Regrew("A1", "2021-03-10"), Moved("A1", "2021-07-01", bed="B2"),
        Picked("A1", "2021-07-03", 100), Picked("A2", "2021-07-03", 100),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2021, *records)
    assert (row["bed"], row["moved"], row["space_m2"], row["g_per_m2"]) == ("B1", True, None, None)
    assert season_in("season_summary", "A2", 2021, *records)["space_m2"] == 4.0


def test_a_bed_is_shared_by_all_plants_standing_in_it_at_first_picking() -> None:
    records = [
        AlreadyHere("A1", "2021-01-01", crop=CROP, bed="B1"),
        AlreadyHere("A2", "2021-01-01", crop=CROP, bed="B1", plants=3),
        Picked("A1", "2021-07-03", 100),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2021, *records)
    assert (row["space_m2"], row["g_per_m2"]) == (1.0, 100.0)


def test_a_plant_first_seen_when_picked_has_the_place_it_stood_in() -> None:
    # the straight line puts half this crop two days before its only sign of growth
    records = [
        AlreadyHere("A1", "2021-03-01", crop="Rheum x hybridum", bed="B1"), Picked("A1", "2022-05-01", 900),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2022, *records)
    assert row["t50"] < row["first_pick"]
    assert (row["bed"], row["cover"], row["site"]) == ("B1", "open", "Home")


def test_tubers_first_seen_when_weighed_and_lifted_grew_where_they_stood_that_morning() -> None:
    # the spring after, in another bed, and again with no sign of growth before the lifting
    records = [
        Acquired("A1", "2021-04-20", crop="Oxalis tuberosa", kind="root", bed="B1"),
        Picked("A1", "2021-11-20", 800), Lifted("A1", "2021-11-20"), Stored("A1", "2021-12-01", "bare root"),
        Replanted("A1", "2022-04-20", bed="B2", space_m2=0.5),
        Picked("A1", "2022-11-18", 600), Lifted("A1", "2022-11-18"),
    ]  # fmt: skip
    for season, bed, space_m2 in ((2021, "B1", 4.0), (2022, "B2", 0.5)):
        row = season_in("season_summary", "A1", season, *records)
        assert (row["bed"], row["site"], row["cover"], row["moved"]) == (bed, "Home", "open", False)
        assert row["space_m2"] == space_m2
        assert row["g_per_m2"] == row["total_g"] / space_m2


@pytest.mark.parametrize("act", ["moved", "replanted"])
def test_what_is_weighed_on_the_day_its_plant_is_put_elsewhere_grew_where_it_stood_that_morning(act: str) -> None:
    after: list[Record] = [Moved("A1", "2021-11-20", "B2")]
    if act == "replanted":
        after = [Lifted("A1", "2021-11-20"), Replanted("A1", "2021-11-20", bed="B2", space_m2=0.5)]
    begun = Acquired("A1", "2021-04-20", crop="Oxalis tuberosa", kind="root", bed="B1")
    row = season_in("season_summary", "A1", 2021, begun, Picked("A1", "2021-11-20", 800), *after)
    assert (row["bed"], row["moved"], row["space_m2"], row["g_per_m2"]) == ("B1", False, 4.0, 200.0)


@pytest.mark.parametrize("days", [1, 20])
def test_where_a_plant_stood_the_evening_before_is_no_second_place(days: int) -> None:
    # under fleece in one bed until it was first picked, then in the other, for long enough or for that day alone
    records = [
        Acquired("A1", "2021-04-20", crop=CROP, kind="root", bed="B1"), Covered("2021-06-01", bed="B1", cover="fleece"),
        Moved("A1", "2021-07-01", "B2"), Picked("A1", "2021-07-01", 100), Covered("2021-07-03", bed="B2", cover="net"),
        *([Picked("A1", date(2021, 7, 1) + timedelta(days), 900)] if days > 1 else []),
    ]  # fmt: skip
    row = season_in("season_summary", "A1", 2021, *records)
    assert (row["bed"], row["cover"], row["moved"]) == (("B1", "fleece", False) if days == 1 else ("B2", "net", False))


def test_a_root_lifted_on_the_first_day_of_a_season_and_kept_in_store_stood_in_no_bed_in_it() -> None:
    records = [
        AlreadyHere("A1", "2021-03-01", crop=CROP, bed="B1"), Picked("A1", "2021-07-03", 100),
        Lifted("A1", "2022-01-01"), Stored("A1", "2022-01-01", "bare root"), Replanted("A1", "2023-04-20", bed="B2"),
        Regrew("A1", "2023-05-05"),
    ]  # fmt: skip
    assert season_in("plant_seasons", "A1", 2022, *records)["bed"] is None


def test_a_plant_sown_ahead_of_a_season_the_books_have_not_reached_stands_where_it_was_sown() -> None:
    row = season_in("plant_seasons", "P1", 2025, Sown("P1", "2024-12-20", crop="Capsicum pubescens", bed="Bench"))
    assert (row["bed"], row["container"], row["moved"]) == ("Bench", "tub", False)


def test_of_beds_in_which_a_plant_stood_equally_long_the_later_one_counts() -> None:
    # eleven days each: the day of the move counts for both
    sown, died = Sown("A1", "2023-05-01", crop=CROP, bed="B1"), Died("A1", "2023-05-21", cause="frost")
    assert season_in("season_summary", "A1", 2023, sown, Moved("A1", "2023-05-11", "B2"), died)["bed"] == "B2"
