"""A large batch is judged as a small one: the sieve lets no label pass that has a contradiction or a doubt."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from perennia.checking import check_against_books
from perennia.errors import RefusedError
from perennia.records import Picked, Record, Sown
from tests.checking.batches import BEAN, PLACES, candidates
from tests.history_model import next_records


@st.composite
def batches(draw: st.DrawFn) -> list[Record]:
    """Records of several labels, many of them impossible together, some with weights that ask for a look."""
    records: list[Record] = list(PLACES)
    for number in range(5):
        own: list[Record] = []
        for _ in range(draw(st.integers(1, 6))):
            own.append(draw(next_records(own, [f"P{number}"], [f"P{number}d"])))
        records += own
    records.append(Sown("heavy", "2022-05-01", BEAN))
    weights = draw(st.lists(st.sampled_from((0.0, 0.2, 0.9, 1.1, 80.0, 2_000.0, 90_000.0)), max_size=3))
    records += [Picked("heavy", f"2022-08-0{day}", grams) for day, grams in enumerate(weights, start=1)]
    return records


def verdict(tables: Any, closely: int) -> tuple[object, ...]:
    """What is wrong, or what was accepted with a doubt or by search."""
    try:
        found = check_against_books(tables, {}, placed_labels=(), closely=closely)
    except RefusedError as error:
        return tuple(sorted(map(str, error.problems)))
    return tuple(sorted(map(str, found.doubts))), found.placed_labels


@settings(max_examples=settings.default.max_examples // 2)
@given(batches(), st.integers(1, 4))
def test_the_verdict_does_not_depend_on_how_many_labels_are_looked_at_in_one_go(
    records: list[Record], closely: int
) -> None:
    tables = candidates(*records)
    assert verdict(tables, closely) == verdict(tables, 10_000)
