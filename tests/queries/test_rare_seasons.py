"""Definitions of seasons that random gardens seldom reach, each in the smallest garden that shows it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import BooksKept, LeftForSeed, Picked
from perennia.records.life import (
    AlreadyHere,
    CutBack,
    CuttingTaken,
    Died,
    DiedBack,
    Lifted,
    Moved,
    Mulched,
    Regrew,
    Removed,
    Replanted,
    Sown,
)
from perennia.records.places import Bed, Site
from tests.oracle.differences import first_difference
from tests.oracle.summary import views
from tests.queries.built_views import built, rows_of, with_ids
from tests.queries.rare_gardens import CROP, PLACES, rows_in, season_in


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
    assert season_in("season_summary", "A1", 2021, *records)["picks"] == picks


def test_looks_and_pods_left_within_such_a_run_go_with_it_and_those_after_it_do_not() -> None:
    records = [
        Sown("A1", "2021-05-01", crop=CROP, bed="B1"),
        *(Picked("A1", day, 100) for day in ("2021-12-20", "2021-12-28", "2022-01-09")),
        # a run goes on as long as 21 days
        *(Picked("A1", day, 0) for day in ("2022-01-04", "2022-01-12", "2022-01-31")),
        *(LeftForSeed("A1", day, count) for day, count in (("2022-01-30", 3), ("2022-02-10", 5))),
    ]
    old, new = (season_in("season_totals", "A1", season, *records) for season in (2021, 2022))
    assert (old["total_g"], old["looks"], old["left_for_seed"]) == (300.0, 2, 3)
    assert (new["total_g"], new["looks"], new["left_for_seed"]) == (None, 1, 5)
    curve = rows_in("season_curves", *records)
    # of the 100 g picked on the ninth of January none were ripe on the fourth, when there was nothing to pick
    assert {row["cumulative"] for row in curve if "2021-12-28" <= str(row["on"]) <= "2022-01-04"} == {200.0}


@pytest.mark.parametrize(
    ("act", "old"), [([], 7), ([CutBack("A1", "2022-01-06")], None), ([CutBack("A1", "2022-01-05")], None)]
)
def test_what_follows_the_act_that_ended_the_run_is_of_the_new_season(act: list[Record], old: int | None) -> None:
    records = [
        Sown("A1", "2021-04-01", crop=CROP, bed="B1"), Picked("A1", "2021-12-25", 100), Picked("A1", "2022-01-05", 50),
        *act, LeftForSeed("A1", "2022-01-20", 7),
    ]  # fmt: skip
    assert season_in("season_totals", "A1", 2021, *records)["left_for_seed"] == old


@pytest.mark.parametrize(
    ("looks", "total"),
    [((), None), (("2022-01-23",), None), (("2022-01-23", "2022-02-06"), 0.0)],
    ids=["none", "for a while", "till the end"],
)
def test_a_picking_of_the_season_before_speaks_for_the_new_one_as_a_look_does(
    looks: tuple[str, ...], total: float | None
) -> None:
    records = [
        Sown("A1", "2021-05-01", crop=CROP, bed="B1"),
        *(Picked("A1", day, 100) for day in ("2021-12-28", "2022-01-05", "2022-01-09")),
        *(Picked("A1", day, 0) for day in looks), Regrew("A1", "2022-02-01"),
        Removed("A1", "2022-02-10", reason="frost"),
    ]  # fmt: skip
    assert season_in("season_summary", "A1", 2022, *records)["total_g"] == total


@pytest.mark.parametrize(
    ("last_day", "between", "parted"),
    [
        (date(2022, 3, 1), [], []),
        (date(2022, 3, 2), [], [2021, 2022]),
        (date(2022, 5, 30), [], [2021, 2022]),
        (date(2022, 5, 30), [CutBack("A1", "2022-02-25")], []),
        (date(2022, 5, 30), [CutBack("A1", "2021-12-30")], []),
        (date(2023, 5, 30), [], [2021, 2022, 2023]),
    ],
    ids=["60 days", "a day more", "months", "cut back in time", "cut back before", "over two boundaries"],
)
def test_a_run_that_outlasts_the_early_days_is_parted_between_both_seasons(
    last_day: date, between: list[Record], parted: list[int]
) -> None:
    first = date(2021, 12, 20)
    days = [first + timedelta(number) for number in range(0, (last_day - first).days, 6)] + [last_day]
    records = [Sown("A1", "2021-05-01", crop=CROP, bed="B1"), *between, *(Picked("A1", day, 100) for day in days)]
    rows = rows_in("season_summary", *records)
    assert sorted(row["season"] for row in rows if row["parted"]) == parted


def test_a_run_is_parted_at_its_own_sites_growing_year() -> None:
    places = [Site("Home", latitude=-36.0), Bed("B1", "Home"), Noted("2025-12-31", bed="B1", what="books closed")]
    days = [date(2024, 5, 1) + timedelta(10 * number) for number in range(14)]
    records = [Sown("A1", "2023-12-01", crop=CROP, bed="B1"), *(Picked("A1", day, 100) for day in days)]
    rows = rows_in("season_summary", *records, places=places)
    assert sorted(row["season_name"] for row in rows if row["parted"]) == ["2023/24", "2024/25"]
    fewer = rows_in("season_summary", *records[:-2], places=places)
    assert not any(row["parted"] for row in fewer)


@pytest.mark.parametrize(
    ("after", "finished"),
    [
        ([], False),
        ([Noted("2022-01-19", bed="B1", what="aired")], False),
        ([Noted("2022-01-26", bed="B1", what="aired")], True),
        ([CutBack("A1", "2022-01-04")], True),
        ([Removed("A1", "2022-01-06", reason="frost")], True),
        ([Picked("A1", "2022-01-20", 100), Noted("2022-02-09", bed="B1", what="aired")], False),
        ([Picked("A1", day, 100) for day in ("2022-01-20", "2022-02-05", "2022-02-20", "2022-03-03")], True),
    ],
    ids=["picked last", "a little later", "three gaps later", "cut back", "removed", "picked on", "60 days on"],
)
def test_a_season_picked_across_the_boundary_is_not_over_while_the_run_may_go_on(
    after: list[Record], finished: bool
) -> None:
    days = [date(2021, 12, 20) + timedelta(5 * number) for number in range(4)]
    records = [Sown("A1", "2021-05-01", crop=CROP, bed="B1"), *(Picked("A1", day, 100) for day in days), *after]
    # PLACES ends with an entry of a later year
    rows = rows_in("season_summary", *records, places=PLACES[:3])
    (found,) = (row for row in rows if row["season"] == 2021)
    assert (found["finished"], found["t50"] is not None) == (finished, finished)


@pytest.mark.parametrize(("until", "finished"), [("2022-02-03", False), ("2022-02-04", True)])
def test_how_long_a_run_may_go_on_is_by_the_usual_gap_of_the_crop(until: str, finished: bool) -> None:
    # kale is usually picked every ten days, so that a run goes on after thirty
    days = [date(2021, 12, 20) + timedelta(5 * number) for number in range(4)]
    records = [
        Sown("A1", "2021-05-01", crop="Brassica oleracea", bed="B1"), *(Picked("A1", day, 100) for day in days),
        Noted(until, bed="B1", what="aired"),
    ]  # fmt: skip
    rows = rows_in("season_summary", *records, places=PLACES[:3])
    assert next(row for row in rows if row["season"] == 2021)["finished"] is finished


def test_plants_first_picked_twice_on_one_day_early_in_a_growing_year_gave_nothing_the_season_before() -> None:
    # of so many plants chance puts the pickings of a day in every order
    labels = [f"P{number}" for number in range(200)]
    days = [date(2024, 2, 1) + timedelta(7 * number) for number in range(5)]
    records = [
        *(AlreadyHere(label, "2023-06-01", crop="Rheum x hybridum", bed="B1") for label in labels),
        *(Picked(label, day, grams) for label in labels for day in days for grams in (100, 200)),
    ]  # fmt: skip
    with built(with_ids([*PLACES, *records]), ["harvest"]) as connection:
        seasons = connection.sql("SELECT season, count(*) FROM harvest GROUP BY season").fetchall()
    assert seasons == [(2024, 200 * 5 * 2)]


@pytest.mark.parametrize(("until", "total"), [("2022-10-31", None), ("2022-12-30", None), ("2022-12-31", 0.0)])
def test_of_what_is_dug_when_the_tops_are_dead_books_prove_nothing_before_the_season_ends(
    until: str, total: float | None
) -> None:
    records = [
        Sown("A1", "2022-05-01", crop="Oxalis tuberosa", bed="B1"), DiedBack("A1", "2022-11-01"),
        BooksKept("B1", "2022-01-01", until),
    ]  # fmt: skip
    assert season_in("season_totals", "A1", 2022, *records)["total_g"] == total


def test_of_a_root_set_out_again_that_never_came_up_they_prove_a_zero() -> None:
    records = [
        Sown("A1", "2021-04-01", crop=CROP, bed="B1"), Lifted("A1", "2021-11-01"),
        Replanted("A1", "2022-04-15", bed="B1"), BooksKept("B1", "2022-01-01", "2022-12-31"),
    ]  # fmt: skip
    assert season_in("season_totals", "A1", 2022, *records)["total_g"] == 0.0


@pytest.mark.parametrize(("until", "total"), [("2022-08-20", 0.0), ("2022-08-19", None)])
def test_books_prove_nothing_was_picked_only_when_they_cover_the_last_picking_of_the_crop(
    until: str, total: float | None
) -> None:
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Picked("A1", "2022-07-10", 100), Picked("A1", "2022-08-20", 100), BooksKept("B1", "2022-07-10", until),
    ]  # fmt: skip
    assert season_in("season_totals", "A2", 2022, *records)["total_g"] == total


def test_books_give_no_zero_to_a_root_that_never_came_up() -> None:
    records = [
        Sown("A1", "2021-05-01", crop=CROP, bed="B1"), Sown("A2", "2022-05-01", crop=CROP, bed="B1"),
        Mulched("A1", "2021-11-20"), Died("A1", "2022-08-01"),
        Picked("A2", "2022-07-10", 100), Picked("A2", "2022-08-20", 100), BooksKept("B1", "2022-01-01", "2022-12-31"),
    ]  # fmt: skip
    row = season_in("season_totals", "A1", 2022, *records)
    assert (row["watched"], row["total_g"]) == (False, None)


def test_looks_prove_nothing_was_picked_only_when_no_stretch_goes_without_one() -> None:
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Picked("A1", "2022-07-10", 100), Picked("A1", "2022-08-20", 100),
    ]  # fmt: skip
    looks = [Picked("A2", day, 0) for day in ("2022-07-17", "2022-08-01", "2022-08-14")]
    covered = season_in("season_totals", "A2", 2022, *records, *looks)
    assert (covered["watched"], covered["looks"], covered["total_g"], covered["count"]) == (True, 3, 0.0, 0)
    for left_out in range(3):
        fewer = [look for number, look in enumerate(looks) if number != left_out]
        gap = season_in("season_totals", "A2", 2022, *records, *fewer)
        assert (gap["watched"], gap["looks"], gap["total_g"]) == (False, 2, None)
    books = BooksKept("B1", "2022-07-25", "2022-08-06")
    assert season_in("season_totals", "A2", 2022, *records, looks[0], books, looks[2])["total_g"] == 0.0


def test_books_prove_nothing_of_the_days_a_plant_stood_in_another_bed() -> None:
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Picked("A1", "2022-07-10", 100), Picked("A1", "2022-08-20", 100), BooksKept("B1", "2022-01-01", "2022-12-31"),
        Moved("A2", "2022-08-10", bed="B2"),
    ]  # fmt: skip
    assert season_in("season_totals", "A2", 2022, *records)["total_g"] is None
    also = BooksKept("B2", "2022-08-10", "2022-08-20")
    assert season_in("season_totals", "A2", 2022, *records, also)["total_g"] == 0.0


def test_what_happens_on_the_last_day_of_a_season_is_its_state_at_the_end() -> None:
    sown = Sown("A1", "2023-05-01", crop=CROP, bed="B1")
    rows = rows_in("plant_seasons", sown, Picked("A1", "2023-08-01", 100), DiedBack("A1", "2023-12-31"))
    assert [row["season"] for row in sorted(rows, key=lambda row: row["season"])] == [2023, 2024]


def test_what_was_picked_shows_by_when_a_plant_had_come_up_and_shows_it_once() -> None:
    rows = rows_in(
        "life",
        Sown("A1", "2021-05-01", crop=CROP, bed="B1"), Picked("A1", "2021-07-10", 100), Picked("A1", "2021-08-10", 100),
        DiedBack("A1", "2021-11-01"), Picked("A1", "2022-07-15", 100), CuttingTaken("A1", "2022-09-01", into="A2"),
    )  # fmt: skip
    inferred = [(row["event"], row["on_from"], row["on_to"]) for row in rows if row["inferred"]]
    assert inferred == [
        ("emerged", date(2021, 5, 1), date(2021, 7, 10)), ("regrew", date(2021, 11, 1), date(2022, 7, 15)),
    ]  # fmt: skip


def test_a_look_at_several_plants_that_found_nothing_makes_them_no_unit() -> None:
    sown = [Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")]
    look, picking = Picked(("A1", "A2"), "2022-07-10", 0), Picked(("A1", "A2"), "2022-07-20", 80)
    assert season_in("season_summary", "A2", 2022, *sown, look)["unit"] == "A2/2022"
    together = season_in("season_summary", "A2", 2022, *sown, look, picking)
    assert (together["unit"], together["sharing"]) == ("A1/2022", 2)


@pytest.mark.parametrize(
    ("on", "finished"), [("2025", False), ("2025-03~", False), ("2025-07-01/2025-07-10", True)]
)  # fmt: skip
def test_a_day_half_remembered_ends_no_season(on: str, finished: bool) -> None:
    places = [Site("Home", latitude=-33.0), Bed("B1", "Home")]
    book = with_ids([*places, Sown("A1", "2024-10-01", crop=CROP, bed="B1"), Noted(on, bed="B1", what="hail")])
    with built(book, ["season_summary"]) as connection:
        found = rows_of(connection, "season_summary")
    assert first_difference("season_summary", found, views(book)["season_summary"], ("plant", "season")) is None
    assert min(found, key=lambda row: row["season"])["finished"] is finished
    assert len(found) == (2 if finished else 1)


@pytest.mark.parametrize(
    "out",
    [
        [Sown("A2", "2022-04-01", crop=CROP, bed="B1"), Died("A2", "2022-06-15")],
        [AlreadyHere("A2", "2021-05-01", crop=CROP, bed="B1"), Lifted("A2", "2021-11-01"),
         Replanted("A2", "2022-07-20", bed="B1"), Regrew("A2", "2022-07-25")],
        [Sown("A2", "2022-04-01", crop=CROP, bed="B1"), Lifted("A2", "2022-08-01")],
    ],
    ids=["died before", "in store at first", "lifted early"],
)  # fmt: skip
def test_books_need_not_cover_the_days_a_plant_could_not_crop(out: list[Record]) -> None:
    picked = (Picked("A1", day, 90) for day in ("2022-07-10", "2022-09-01"))
    others = [Sown("A1", "2022-05-01", crop=CROP, bed="B1"), *picked]
    books = BooksKept("B1", "2022-01-01", "2022-12-31")
    assert season_in("season_totals", "A2", 2022, *others, *out, books)["total_g"] == 0.0
    assert season_in("season_totals", "A2", 2022, *others, *out)["total_g"] is None


def test_the_time_of_a_crop_is_that_of_its_own_site() -> None:
    places = [Site("South", latitude=-33.0), Bed("S1", "South")]
    records = [
        *(Sown(label, "2022-05-01", crop=CROP, bed="B1") for label in ("A1", "A2")),
        Picked("A1", "2022-07-10", 100), BooksKept("B1", "2022-05-01", "2022-12-31"),
        Sown("Z1", "2022-10-01", crop=CROP, bed="S1"), Picked("Z1", "2023-01-10", 100),
    ]  # fmt: skip
    assert season_in("season_totals", "A2", 2022, *places, *records)["total_g"] == 0.0


def test_books_kept_before_a_plant_came_into_the_bed_say_nothing_of_it() -> None:
    records = [
        Sown("A1", "2022-05-01", crop=CROP, bed="B1"), Sown("A2", "2022-05-01", crop=CROP, bed="B2"),
        Picked("A1", "2022-07-10", 100), Picked("A1", "2022-08-20", 100),
        Moved("A2", "2022-08-01", bed="B1"), BooksKept("B1", "2022-01-01", "2022-12-31"),
    ]  # fmt: skip
    assert season_in("season_totals", "A2", 2022, *records)["total_g"] is None


def test_books_reach_as_far_as_they_say() -> None:
    kept = BooksKept("B1", "2022-05-01", "2023-02-01")
    book = with_ids([*PLACES[:3], Sown("A1", "2022-05-01", crop=CROP, bed="B1"), kept])
    with built(book, ["season_summary"]) as connection:
        assert [row["finished"] for row in rows_of(connection, "season_summary ORDER BY season")] == [True, False]


def test_where_nobody_picked_that_crop_books_of_the_whole_season_prove_a_zero() -> None:
    sown = Sown("A1", "2022-05-01", crop=CROP, bed="B1")
    assert season_in("season_totals", "A1", 2022, sown, BooksKept("B1", "2022-05-01", "2022-12-31"))["total_g"] == 0.0
    assert season_in("season_totals", "A1", 2022, sown, BooksKept("B1", "2022-05-01", "2022-12-30"))["total_g"] is None


def test_the_first_day_of_a_plant_here_before_an_unknown_day_stays_unknown() -> None:
    (row,) = rows_in("plants", AlreadyHere("A1", "../2021-03-01", crop=CROP), Mulched("A1", "2021-11-20"))
    assert (row["began_from"], row["began_on"]) == (None, date(2021, 3, 1))


def test_seed_mulched_over_had_come_up_before_its_first_picking_and_not_after_the_mulch() -> None:
    records = [
        Sown("A1", "2022-05-10", crop=CROP, bed="B1"), Picked("A1", "2022-08-01", 100), Mulched("A1", "2022-11-20"),
        Regrew("A1", "2023-05-05"),
    ]  # fmt: skip
    (row,) = (row for row in rows_in("life", *records) if row["inferred"])
    assert (row["event"], row["on_from"], row["on_to"]) == ("emerged", date(2022, 5, 10), date(2022, 8, 1))


def test_complete_books_count_for_the_growing_year_of_their_bed() -> None:
    places: list[Record] = [
        Site("South", latitude=-35.0), Bed("S1", "South"), Site("North", latitude=51.0), Bed("N1", "North"),
    ]  # fmt: skip
    books = [BooksKept(bed, "2024-02-01", "2024-03-31") for bed in ("S1", "N1")]
    found = {row["bed"]: row["season"] for row in rows_in("harvest", *books, places=places)}
    assert found == {"S1": 2023, "N1": 2024}


@pytest.mark.parametrize(("gaps", "opens_on"), [(1, 23), (4, 23), (5, 13)])
def test_a_crop_without_a_usual_gap_takes_that_of_the_garden_once_it_shows_five(gaps: int, opens_on: int) -> None:
    # one plant is lifted on a single day, and the other ten days apart; a straight line has half its crop in midway
    crop = "Tropaeolum tuberosum"
    sown = [Sown(label, "2023-05-01", crop=crop, bed="B1") for label in ("A1", "A2")]
    often = [Picked("A2", date(2023, 8, 1) + timedelta(10 * number), 90) for number in range(gaps + 1)]
    found = season_in("season_summary", "A1", 2023, *sown, *often, Picked("A1", "2023-11-23", 400))
    assert found["t50"] == date(2023, 11, opens_on) + timedelta((23 - opens_on) // 2)
