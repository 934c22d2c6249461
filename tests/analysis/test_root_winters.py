"""What became of a root in a winter, from what a grower wrote down: cases by hand, the dates of runner beans."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import (
    AlreadyHere,
    Counted,
    Died,
    DiedBack,
    Divided,
    Flowered,
    Lifted,
    Mulched,
    Planted,
    Regrew,
    Removed,
    Replanted,
    Sown,
    StoreChecked,
    Stored,
)
from perennia.records.places import Bed, Site
from tests.queries.built_views import built, rows_of, with_ids

BEAN = "Phaseolus coccineus"
"""Its profile has 31 May as the latest regrowth."""
NORTH = (Site("plot", latitude=48.0), Bed("B1", "plot"), Bed("B2", "plot", container="pot"))
SOUTH = (Site("plot", latitude=-36.0), Bed("B1", "plot"))


def winters(*records: Record, until: str, places: tuple[Record, ...] = NORTH) -> list[dict[str, Any]]:
    """Rows of root_winters when the books end on a day."""
    book = with_ids([*places, *records, Noted(until, bed="B1", what="walked round")])
    with built(book, ["root_winters"]) as connection:
        return sorted(rows_of(connection, "root_winters"), key=lambda row: (row["plant"], row["season"]))


def grown(label: str = "A", *, bed: str | None = "B1", crop: str = BEAN, plants: int = 1) -> list[Record]:
    """Sown in May 2022 and picked that August."""
    return [Sown(label, "2022-05-01", crop=crop, bed=bed, plants=plants), Picked(label, "2022-08-01", grams=300)]


def in_store(label: str = "A", box: str | None = None, **given: Any) -> list[Record]:
    return [
        *grown(label, **given), Lifted(label, "2022-11-01"),
        Stored(label, "2022-11-02", place="bare root", protection="frost-free", box=box),
    ]  # fmt: skip


def only(rows: list[dict[str, Any]]) -> dict[str, Any]:
    (row,) = rows
    return row


def test_a_death_lies_between_the_last_sign_of_life_and_the_finding() -> None:
    row = only(winters(*in_store(box="X"), StoreChecked("A", "2023-01-10", condition="soft"),
                       StoreChecked("A", "2023-02-20", condition="rotten"), Died("A", "2023-03-20"),
                       until="2023-04-01"))  # fmt: skip
    assert (row["outcome"], row["season"], row["plant_season"]) == ("died", 2023, 2)
    assert (row["last_alive_on"], row["ended_on"]) == (date(2023, 1, 10), date(2023, 3, 20))
    assert (row["wintering"], row["box"], row["bed"]) == ("bare root, frost-free", "X", None)
    assert row["entered_on"] == date(2022, 11, 1)


@pytest.mark.parametrize(("until", "outcome"), [("2023-05-31", "open"), ("2023-06-01", "not regrown")])
def test_a_silent_root_is_not_dead_until_its_crops_latest_regrowth_has_gone_by(until: str, outcome: str) -> None:
    row = only(winters(*in_store(), Replanted("A", "2023-04-20", bed="B1"), until=until))
    assert (row["outcome"], row["regrow_by"]) == (outcome, date(2023, 5, 31))
    assert row["last_alive_on"] == date(2023, 4, 20)


@pytest.mark.parametrize(("until", "outcome"), [("2022-11-30", "open"), ("2022-12-01", "not regrown")])
def test_south_of_the_equator_that_is_half_a_year_later(until: str, outcome: str) -> None:
    row = only(winters(
        Sown("A", "2021-10-01", crop=BEAN, bed="B1"), Picked("A", "2022-02-01", grams=300), Lifted("A", "2022-05-10"),
        until=until, places=SOUTH,
    ))  # fmt: skip
    assert (row["season_name"], row["outcome"], row["regrow_by"]) == ("2022/23", outcome, date(2022, 11, 30))


def test_without_a_date_for_the_crop_it_stays_open() -> None:
    row = only(winters(*in_store(crop="Ullucus tuberosus"), until="2025-09-01"))
    assert (row["outcome"], row["regrow_by"]) == ("open", None)


def test_planting_a_stored_root_is_no_growth() -> None:
    rows = winters(*in_store(), Planted("A", "2023-04-20", bed="B1"), until="2023-07-01")
    assert only(rows)["outcome"] == "not regrown"


def test_a_root_still_sound_in_store_after_the_date_is_open() -> None:
    rows = winters(*in_store(), StoreChecked("A", "2023-06-20", condition="sound"), until="2023-07-01")
    assert only(rows)["outcome"] == "open"


@pytest.mark.parametrize(
    ("end", "outcome"),
    [
        (Removed("A", "2023-02-01"), "left"),
        (Removed("A", "2022-12-10"), "left"),
        (Divided("A", "2023-04-15", into=("A1", "A2")), "left"),
        # whoever digs a root out in July because it never showed says no more than that
        (Removed("A", "2023-07-01"), "not regrown"),
        (Divided("A", "2023-07-01", into=("A1", "A2")), "survived"),
    ],
)
def test_what_leaves_before_it_could_show_is_no_death(end: Record, outcome: str) -> None:
    (row, *_) = winters(*in_store(), end, until="2023-08-01")
    assert (row["plant"], row["outcome"]) == ("A/2022", outcome)


@pytest.mark.parametrize(
    "sign",
    [Regrew("A", "2023-05-10"), Picked("A", "2023-07-20", grams=50), Flowered("A", "2023-07-01"),
     Counted("A", "2023-06-15", alive=1), DiedBack("A", "2023-10-15")],
)  # fmt: skip
def test_signs_of_growth_show_that_it_came_through(sign: Record) -> None:
    (row, *_) = winters(*grown(), DiedBack("A", "2022-11-10"), sign, until="2023-06-01")
    assert (row["outcome"], row["last_alive_on"]) == ("survived", None)


def test_flowers_in_january_on_a_plant_in_growth_show_nothing_of_the_winter() -> None:
    pepper = [Sown("P", "2022-04-01", crop="Capsicum pubescens", bed="B2"), Picked("P", "2022-09-01", grams=90)]
    rows = winters(*pepper, Flowered("P", "2023-01-10"), Died("P", "2023-02-10"), until="2023-08-01")
    assert (only(rows)["outcome"], only(rows)["last_alive_on"]) == ("died", date(2023, 1, 10))
    rows = winters(*pepper, Flowered("P", "2023-04-10"), Died("P", "2023-05-10"), until="2023-08-01")
    assert only(rows)["outcome"] == "survived"


def test_the_dead_were_in_the_ground_as_much_as_the_living() -> None:
    rows = winters(
        *grown("A"), DiedBack("A", "2022-11-10"), Died("A", "2023-06-10"),
        *grown("B"), DiedBack("B", "2022-11-10"), Regrew("B", "2023-05-02"),
        *grown("C", bed="B2"), Mulched("C", "2022-11-10"), Died("C", "2022-12-20"),
        *grown("D", bed=None), DiedBack("D", "2022-11-10"), until="2023-05-05",
    )  # fmt: skip
    assert [(row["wintering"], row["bed"]) for row in rows] == [
        ("ground", "B1"), ("ground", "B1"), ("pot, mulch", "B2"), ("unknown", None),
    ]  # fmt: skip


def test_two_winters_each_as_it_was() -> None:
    rows = winters(
        *grown(), Mulched("A", "2022-11-10"), Regrew("A", "2023-05-02"), Lifted("A", "2023-11-01"),
        Stored("A", "2023-11-02", place="pot", protection="heated"), until="2024-02-01",
    )  # fmt: skip
    assert [(row["season"], row["wintering"], row["outcome"]) for row in rows] == [
        (2023, "ground, mulch", "survived"), (2024, "pot, heated", "open"),
    ]  # fmt: skip


def test_a_root_found_dead_years_later_died_in_the_first_winter_it_did_not_show_after() -> None:
    rows = winters(*in_store(), Died("A", "2024-03-20"), until="2024-08-01")
    assert (only(rows)["season"], only(rows)["outcome"]) == (2023, "died")


def test_a_sowing_nobody_saw_come_up_is_no_root() -> None:
    assert winters(Sown("A", "2022-05-01", crop=BEAN, bed="B1"), until="2023-08-01") == []
    # not even where it comes up late: else only those that did would count
    assert winters(Sown("A", "2022-05-01", crop=BEAN, bed="B1"), Regrew("A", "2023-05-01"), until="2023-08-01") == []


def test_a_plant_that_died_in_growth_entered_no_winter() -> None:
    assert winters(*grown(), Died("A", "2022-10-01"), until="2023-08-01") == []


def test_a_stand_is_one_root_with_its_counts() -> None:
    row = only(winters(
        *grown(plants=6), Counted("A", "2022-09-01", alive=5), Mulched("A", "2022-11-01"), Regrew("A", "2023-05-01"),
        Counted("A", "2023-06-01", alive=3), Counted("A", "2023-07-01", alive=2), until="2023-08-01",
    ))  # fmt: skip
    assert (row["plants"], row["plants_after"], row["outcome"]) == (5, 3, "survived")


def test_a_label_given_again_is_another_root() -> None:
    rows = winters(
        *in_store(), Died("A", "2023-03-01"), Sown("A", "2023-05-01", crop=BEAN, bed="B1"),
        Picked("A", "2023-08-01", grams=100), Mulched("A", "2023-11-01"), Regrew("A", "2024-05-01"), until="2024-06-01",
    )  # fmt: skip
    assert [(row["plant"], row["outcome"]) for row in rows] == [("A/2022", "died"), ("A/2023", "survived")]


def test_a_plant_already_here_has_no_known_origin_and_perhaps_an_age() -> None:
    rows = winters(
        AlreadyHere("A", "2022-06-01", crop=BEAN, bed="B1", plant_season=4), Regrew("A", "2023-05-01"),
        AlreadyHere("B", "2022-06-01", crop=BEAN, bed="B1"), until="2023-06-10",
    )  # fmt: skip
    assert [(row["plant_season"], row["raised_from"], row["outcome"]) for row in rows] == [
        (5, None, "survived"), (None, None, "not regrown"),
    ]  # fmt: skip
