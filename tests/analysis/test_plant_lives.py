"""A plant's life as spells: worked by hand, with what nobody wrote down, and held to the slow oracle day by day."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings

from perennia.analysis.seasons.plant_lives import COLUMNS, PICKINGS, PlantLives, plant_lives
from perennia.errors import ArgumentError
from perennia.records.base import Record
from perennia.records.life import Died, Emerged, Lifted, Replanted, Stored
from perennia.records.places import Bed, Site
from tests.analysis.built_source import PLACES, BuiltSource, day, picked, sown
from tests.lives import cropping_gardens, gardens
from tests.oracle.book import read
from tests.oracle.entries import harvest_rows
from tests.oracle.lives import Plant, inferred_acts, plants
from tests.queries.built_views import built, with_ids

VIEWS = ("life", "plants", "harvest", "flowering", "care")
_AFTER = {"emerged": "growing", "regrew": "growing", "lifted": "lifted", "stored": "stored", "replanted": "dormant"}


def asked(*records: Record, **choices: Any) -> PlantLives:
    with built(with_ids([*PLACES, *records]), VIEWS) as connection:
        return plant_lives(BuiltSource(connection), **choices)


def told(found: PlantLives) -> list[tuple[str, date, date | None, bool]]:
    """State, first and last day, and whether it is inferred, spell by spell."""
    return [
        (row["state"], row["from"].date(), None if pd.isna(row["to"]) else row["to"].date(), bool(row["inferred"]))
        for row in found.table.to_dict("records")
    ]


WHOLE = (
    sown("A1"), Emerged("A1", day(14)), picked("A1", 70, 100.0), picked("A1", 74, 0.0), Lifted("A1", day(180)),
    Stored("A1", day(190), place="bare root"), Replanted("A1", day(370), bed="B1"), Died("A1", day(400)),
)  # fmt: skip


def test_what_the_book_has_to_within_a_span_is_told_so() -> None:
    table = asked(sown("A1"), picked("A1", 70, 100.0), Died("A1", "2025-03~")).table
    assert table["began"].tolist() == [str(day(0)), f"by {day(70)}", "about March 2025"]
    assert table["until"].tolist()[:2] == [f"by {day(70)}", "about March 2025"]
    assert table["earliest"].iloc[-1] == pd.Timestamp("2025-02-14")


def test_a_life_worked_by_hand() -> None:
    found = asked(*WHOLE)
    assert list(found.table) == list(COLUMNS)
    assert told(found) == [
        ("sown", day(0), day(14), False), ("growing", day(14), day(180), False), ("lifted", day(180), day(190), False),
        ("stored", day(190), day(370), False), ("dormant", day(370), day(400), False), ("ended", day(400), None, False),
    ]  # fmt: skip
    assert found.table["ended_how"].dropna().tolist() == ["died"]
    assert found.table["until"].tolist()[:-1] == found.table["began"].tolist()[1:]
    assert found.table["began"].tolist() == [str(on.date()) for on in found.table["from"]]
    # a look that found nothing ripe is no picking
    assert found.pickings["on"].tolist() == [pd.Timestamp(day(70))]
    assert (found.n, found.seen_to) == (1, day(400))
    assert found.findings == ("1 plant, 1 of them dead, removed or divided up.",)


def test_what_nobody_wrote_down_is_marked() -> None:
    found = asked(sown("A1"), picked("A1", 70, 100.0), Replanted("A1", day(370), bed="B1"))
    # it had come up by its first crop, and was lifted some day before it was set out again
    assert told(found) == [
        ("sown", day(0), day(70), True), ("growing", day(70), day(370), True), ("dormant", day(370), None, False),
    ]  # fmt: skip
    assert found.cautions == ("2 spells not written down as such: their days are the latest possible ones.",)


def test_a_spell_in_which_something_went_unwritten_is_marked() -> None:
    found = asked(sown("A1"), Emerged("A1", day(14)), Replanted("A1", day(370), bed="B1"))
    # it was lifted between its first growth and the day it was set out again, nobody knows when
    assert told(found) == [
        ("sown", day(0), day(14), False), ("growing", day(14), day(370), True), ("dormant", day(370), None, False),
    ]  # fmt: skip


def test_a_sowing_that_bore_had_come_up() -> None:
    assert told(asked(sown("A1"), picked("A1", 70, 100.0))) == [
        ("sown", day(0), day(70), True), ("growing", day(70), None, True),
    ]  # fmt: skip


def test_plants_are_chosen_by_label_plant_or_crop() -> None:
    both = (sown("A1"), sown("B1"), picked("A1", 70, 100.0), picked("B1", 71, 100.0))
    assert asked(*both).n == 2
    for choices in ({"labels": ["A1"]}, {"labels": "A1/2023"}):
        found = asked(*both, **choices)
        assert set(found.table["plant"]) == set(found.pickings["plant"]) == {"A1/2023"}
    assert asked(*both, crops=["Rheum x hybridum"]).n == 0
    with pytest.raises(ArgumentError, match="labels is 3"):
        asked(*both, labels=3)


def test_an_empty_garden_has_no_lives() -> None:
    found = asked()
    assert found.table.empty
    assert (list(found.pickings), found.seen_to, found.findings) == (list(PICKINGS), None, ())


def _state_on(life: Plant, acts: list[tuple[date, int, int, str]], bore: list[date], on: date) -> str:
    """The state on a day: after the latest act by then, of several on one day what nobody wrote down first."""
    done = sorted((when, number, written, place) for place, (when, number, written, _) in enumerate(acts) if when <= on)
    state = acts[done[-1][-1]][-1]
    begun = max(when for when, _, _, after in acts if after == state and when <= on)
    return "growing" if state == "sown" and any(begun < when <= on for when in bore) else state


def _agrees(records: list[Record]) -> None:
    given_ids = with_ids(records)
    with built(given_ids, VIEWS) as connection:
        found = plant_lives(BuiltSource(connection)).table
    book = read(given_ids)
    lives = plants(book)
    harvest = harvest_rows(book, lives)
    for life in lives:
        acts = [(max(turn.day, life.began), turn.number, 1, turn.after) for turn in life.turns]
        acts += [(max(row["on"], life.began), row["ordinal"], 0, _AFTER[row["event"]])
                 for row, _ in inferred_acts(life, harvest)]  # fmt: skip
        bore = [row["on"] for row in harvest if row["plant"] == life.name and row["event"] == "picked"
                and row["crop_taken"]]  # fmt: skip
        own = found[found["plant"] == life.name].to_dict("records")
        until = max(when for when, *_ in acts) + timedelta(30)
        days = {on for when in [*(act[0] for act in acts), *bore] for on in (when - timedelta(1), when)}
        for on in sorted(each for each in {*days, until} if life.began <= each <= until):
            there = [spell["state"] for spell in own
                     if spell["from"].date() <= on and (pd.isna(spell["to"]) or on < spell["to"].date())]  # fmt: skip
            assert there == [_state_on(life, acts, bore, on)], (life.name, on)
        assert (own[-1]["state"] == "ended") == (life.ended is not None)


@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], deadline=None)
@given(gardens(labels=2, acts=7, bursts=3))
def test_spells_equal_the_oracle(records: list[Record]) -> None:
    _agrees(records)


@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], deadline=None)
@given(cropping_gardens(labels=2, most=8))
def test_spells_of_plants_that_crop_for_long_equal_the_oracle(records: list[Record]) -> None:
    _agrees(records)


def test_places_need_no_plants() -> None:
    assert asked(Site("elsewhere"), Bed("far", "elsewhere")).n == 0
