"""A large batch is judged as a small one: the sieve lets no label pass that has a contradiction or a doubt."""

from __future__ import annotations

from typing import Any

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from perennia.checking import check_against_books
from perennia.errors import RefusedError
from perennia.records import (
    Died,
    DiedBack,
    Lifted,
    Picked,
    Record,
    Regrew,
    Replanted,
    Sown,
    Stored,
    TrussCount,
    Watered,
)
from tests.checking.batches import BEAN, PLACES, candidates
from tests.history_model import impossible, next_records

WEIGHTS = st.lists(st.sampled_from((0.0, 0.2, 0.9, 1.1, 80.0, 2_000.0, 90_000.0)), max_size=3)


@st.composite
def batches(draw: st.DrawFn) -> list[list[Record]]:
    """Records of many labels, those of a label and its daughters together: some of them impossible, some with weights
    that ask for a look."""
    records: list[list[Record]] = []
    for number in range(15):
        own: list[Record] = []
        for _ in range(draw(st.integers(1, 6))):
            own.append(draw(next_records(own, [f"P{number}"], [f"P{number}d"])))
        records.append(own)
    for label in ("heavy", "light", "either"):
        picked = [Picked(label, f"2022-08-0{day}", grams) for day, grams in enumerate(draw(WEIGHTS), start=1)]
        records.append([Sown(label, "2022-05-01", BEAN), *picked])
    return records


def verdict(tables: Any, closely: int) -> tuple[object, ...]:
    """What is wrong, or what was accepted with a doubt or by search."""
    try:
        found = check_against_books(tables, {}, placed_labels=(), closely=closely)
    except RefusedError as error:
        return tuple(sorted(map(str, error.problems)))
    # ids are new each time
    doubts = sorted(str(attrs.evolve(doubt, record_id="")) for doubt in found.doubts)
    return tuple(doubts), found.placed_labels


SOWN = Sown("A1", "2022-05-01", BEAN)
REST = DiedBack("A1", "2022-11-01", extent="whole")
TOLD: dict[str, tuple[Record, ...]] = {
    "a heavy picking": (SOWN, Picked("A1", "2022-08-01", 5), Picked("A1", "2022-08-02", 90_000)),
    "a light picking": (SOWN, Picked("A1", "2022-08-01", 500), Picked("A1", "2022-08-02", 0.2)),
    "an act that leaves a gap": (SOWN, Lifted("A1", "2022-11-01"), Regrew("A1", "2023-05-01")),
    "a picking in the middle of a rest": (SOWN, REST, Picked("A1", "2023-08-01", 50), Died("A1", "2024-05-01")),
    "a picking after the end": (
        SOWN, Picked("A1", "2022-08-01", 50), Died("A1", "2022-09-01"), Picked("A1", "2023-08-01", 50),
    ),
    "a picking before the beginning": (SOWN, Picked("A1", "2022-04-01", 50), Picked("A1", "2022-08-01", 50)),
    "a picking between two good ones": (
        SOWN, Picked("A1", "2022-08-01", 50), Lifted("A1", "2022-11-01"), Stored("A1", "2022-11-02", "bare root"),
        Picked("A1", "2023-01-01", 50), Replanted("A1", "2023-04-20"), Picked("A1", "2023-08-01", 50),
    ),
    "a flower after the end": (SOWN, Died("A1", "2022-09-01"), TrussCount("A1", "1", "2023-08-01", opened=3)),
    "care of what never began": (Watered("2022-08-01", litres=1, labels=["A1"]),),
    "an end before the beginning": (Died("A1", "2022-04-01"), SOWN),
}  # fmt: skip


@pytest.mark.parametrize("records", TOLD.values(), ids=TOLD)
def test_one_odd_label_among_plain_ones_is_found(records: tuple[Record, ...]) -> None:
    plain = [Sown(f"P{number}", "2022-05-01", BEAN) for number in range(3)]
    good = [Picked(["P0", "P1"], f"2022-08-0{day}", 40) for day in (1, 2, 3)]
    among = verdict(candidates(*PLACES, *plain, *good, *records), 2)
    assert among == verdict(candidates(*PLACES, *plain, *good, *records), 10_000)
    assert among != verdict(candidates(*PLACES, *plain, *good), 2)


# few and large ones: what takes long is each look, at however many labels
@settings(max_examples=settings.default.max_examples // 6)
@given(batches(), st.integers(1, 12))
def test_the_verdict_does_not_depend_on_how_many_labels_are_looked_at_in_one_go(
    records: list[list[Record]], closely: int
) -> None:
    """Of a batch that is mostly refused for some of its labels, and of the others, of which the doubts are told."""
    possible = [own for own in records if not impossible(own)]
    for some in (records, possible):
        tables = candidates(*PLACES, *(record for own in some for record in own))
        assert verdict(tables, closely) == verdict(tables, 10_000)
