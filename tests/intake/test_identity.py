"""Ids of rows of a book: the same in one piece and in parts, another for every row, whatever the order of labels."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.intake.identity import book_ids, book_ids_of_parts
from perennia.records import Picked, Site, Watered
from perennia.store.schemas import POSITION, to_tables

ROWS = st.lists(
    st.tuples(st.sampled_from((("A1",), ("A2",), ("A1", "A2"), ("A2", "A1"))), st.sampled_from((1, 2)), st.booleans()),
    max_size=12,
)


def ids_of(parts: list[list[Picked | Watered]], book: str = "kitchen garden") -> list[bytes]:
    """The id of each record, in the order of the book."""
    tables = [to_tables(part) for part in parts]
    found: list[bytes] = []
    for part in book_ids_of_parts(book, tables):
        by_place = {
            place: identity
            for table in part.values()
            for place, identity in zip(table[POSITION].to_pylist(), table["record_id"].to_pylist(), strict=True)
        }
        found += [by_place[place] for place in sorted(by_place)]
    return found


@given(ROWS, st.integers(0, 12))
def test_ids_differ_and_are_the_same_in_parts(rows: list[tuple[tuple[str, ...], int, bool]], cut: int) -> None:
    records = [
        Watered(on=f"2024-07-0{day}", litres=1, labels=labels) if water else Picked(labels, f"2024-07-0{day}", 5)
        for labels, day, water in rows
    ]
    whole = ids_of([records])
    assert len(set(whole)) == len(records)
    assert ids_of([records[:cut], records[cut:]]) == whole
    assert set(whole).isdisjoint(ids_of([records], "other"))


def test_twins_are_told_apart_however_many_parts_of_the_same_days_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = Random(20_241_126)
    records = [Picked(f"A{chance.randrange(9)}", f"2024-07-0{chance.randrange(1, 8)}", 5) for _ in range(300)]
    whole = ids_of([records])
    assert len(set(whole)) == 300
    for many in (1, 2, 8):
        monkeypatch.setattr("perennia.intake.identity._MANY_RUNS", many)
        assert ids_of([records[start : start + 7] for start in range(0, 300, 7)]) == whole


def test_an_id_says_nothing_of_amounts_nor_of_the_order_of_labels() -> None:
    together = Picked(("A1", "A2"), "2024-07-01", 5), Picked(("A2", "A1"), "2024-07-01", 9)
    (first,), (third,) = (ids_of([[record]]) for record in together)
    (second,) = ids_of([[Picked("A1", "2024-07-01", 5)]])
    assert (first == third, first == second) == (True, False)


def test_sites_and_beds_keep_their_own_ids() -> None:
    tables = to_tables([Site("home")])
    assert book_ids("kitchen garden", tables) == tables
