"""Histories legal and illegal against a simple model: taken exactly when they can be true, and read back as such."""

from __future__ import annotations

import shutil
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import attrs
import pytest
from hypothesis import Phase, given, note, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)  # fmt: skip

import perennia as pn
from perennia.checking import check
from perennia.errors import RefusedError
from perennia.lifecycle import BEGINNINGS
from perennia.records import AlreadyHere, Bed, Picked, Record, Site, Sown, Watered
from perennia.store.identify import identified
from perennia.store.schemas import to_tables
from tests.copies import copied
from tests.history_model import BED, impossible, items_of, next_records, said

TODAY = date(2025, 6, 1)
PLACES = (Site("home"), Bed(BED, "home"))
BEGUN = (
    Sown("A", "2022-04-01", crop="Oca"),
    AlreadyHere("B", "../2021", "Oca"),
    Picked(["A", "B"], "2022-06-20", 50.0),
)
LABELS, DAUGHTERS = ("A", "B"), ("C", "D")
TABLES = ("life", "harvest", "flowering", "care")
Stored = dict[str, Record]
# shrinking a history of real gardens takes minutes; the failing one is printed as it was drawn
UNSHRUNK = (Phase.explicit, Phase.reuse, Phase.generate)


def rows_of(stored: Stored) -> dict[str, list[tuple[Any, ...]]]:
    """The rows that the model says each view has: id, event, label, days, and this label's share of a picking."""
    rows: dict[str, list[tuple[Any, ...]]] = {table: [] for table in TABLES}
    for identity, record in stored.items():
        span = record.on  # type: ignore[attr-defined]
        labels = getattr(record, "labels", None) or (record.label,)  # type: ignore[attr-defined]
        named = [label for label, _ in said(record)] if record.table == "life" else labels
        for label in named:
            grams = record.grams / len(labels) if isinstance(record, Picked) and record.grams is not None else None
            rows[record.table].append((identity, label, span.start, span.end, grams))
    return {table: sorted(found, key=str) for table, found in rows.items()}


def rows_in(garden: pn.Garden) -> dict[str, list[tuple[Any, ...]]]:
    """The same read from a garden; what the views infer is left out."""
    found = {}
    for table in TABLES:
        rows = garden.table(table, as_="arrow").to_pylist()
        found[table] = sorted(
            (
                (row["record_id"], row["label"], row["on_from"], row["on_to"], row.get("grams"))
                for row in rows
                if not row.get("inferred")
            ),
            key=str,
        )
    return found


def _begun(folder: Path) -> None:
    """A garden of these places and records, and the ids of the records."""
    with pn.Garden.create(folder / "plot") as garden:
        ids = garden.record(*PLACES, *BEGUN, today=TODAY).record_ids[len(PLACES) :]
    (folder / "ids").write_text("\n".join(ids), encoding="utf-8")


class GardenMachine(RuleBasedStateMachine):
    """One garden on the disk, and the records that count in it."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="perennia-machine-"))
        self.garden = pn.Garden.open(copied(_begun, self.folder) / "plot")
        ids = (self.folder / "ids").read_text(encoding="utf-8").split()
        self.stored: Stored = dict(zip(ids, BEGUN, strict=True))
        self.remembered: list[tuple[datetime, Stored]] = []

    def teardown(self) -> None:
        try:
            assert rows_in(self.garden) == rows_of(self.stored)
            # the latest, and every third one before it
            for instant, stored in self.remembered[::-3]:
                self.see_again(instant, stored)
        finally:
            self.garden.close()
            shutil.rmtree(self.folder)

    def assert_told(self, refused: RefusedError, wrong: set[str]) -> None:
        """Each label that cannot be is named, and no other."""
        where = [set(problem.where.replace(",", " ").split()) for problem in refused.problems]
        assert {label for label in (*LABELS, *DAUGHTERS) for words in where if label in words} == wrong

    def drawn(self, data: st.DataObject, counting: Stored, most: int) -> list[Record]:
        batch: list[Record] = []
        for _ in range(data.draw(st.integers(1, most))):
            batch.append(data.draw(next_records([*counting.values(), *batch], LABELS, DAUGHTERS)))
        return batch

    @rule(data=st.data())
    def record(self, data: st.DataObject) -> None:
        """A batch is taken whole exactly when all that is then known of its labels can be true."""
        batch = self.drawn(data, self.stored, 3)
        wrong = impossible([*self.stored.values(), *batch])
        try:
            receipt = self.garden.record(*batch, today=TODAY)
        except RefusedError as refused:
            note(str(refused))
            assert wrong, f"refused, though it can be true: {batch}"
            self.assert_told(refused, wrong)
        else:
            assert not wrong, f"taken, though {wrong} cannot be: {batch}"
            assert receipt.stored == len(batch)
            self.stored |= dict(zip(receipt.record_ids, batch, strict=True))

    @rule(labels=st.sets(st.sampled_from([*LABELS, *DAUGHTERS]), min_size=1, max_size=3), day=st.integers(0, 60))
    def record_a_shared_picking(self, labels: set[str], day: int) -> None:
        """A picking off several labels needs each of them to bear."""
        picked = Picked(sorted(labels), date.fromordinal(date(2022, 4, 1).toordinal() + 10 * day), 90.0)
        wrong = impossible([*self.stored.values(), picked])
        try:
            receipt = self.garden.record(picked, today=TODAY)
        except RefusedError as refused:
            assert wrong
            self.assert_told(refused, wrong)
        else:
            assert not wrong
            self.stored[receipt.record_ids[0]] = picked

    @precondition(lambda self: items_of(self.stored.values()))
    @rule(data=st.data(), long_after=st.booleans())
    def record_care(self, data: st.DataObject, long_after: bool) -> None:
        """Care needs a plant that had begun, alive or not."""
        label = data.draw(st.sampled_from(sorted(items_of(self.stored.values()))))
        watered = Watered("2025-05-01" if long_after else "1999-05-01", labels=label, litres=3)
        acts = items_of(self.stored.values())[label]
        begun = min(item.first for item in acts if item.act in BEGINNINGS) <= watered.on.end
        if begun and not long_after:
            return  # a plant that may have begun at any time; a later correction of that would orphan the care
        try:
            receipt = self.garden.record(watered, today=TODAY)
        except RefusedError:
            assert not begun
        else:
            assert begun
            self.stored[receipt.record_ids[0]] = watered

    @precondition(lambda self: self.stored)
    @rule(data=st.data(), replaced=st.booleans())
    def correct(self, data: st.DataObject, replaced: bool) -> None:
        """A record is taken back, or replaced, exactly when what is left can be true."""
        identity = data.draw(st.sampled_from(sorted(self.stored)))
        left = {key: record for key, record in self.stored.items() if key != identity}
        new = self.drawn(data, left, 1)[0] if replaced else None
        counting = [*left.values(), *([new] if new else [])]
        watered = {label for record in left.values() if isinstance(record, Watered) for label in record.labels or ()}
        wrong = impossible(counting) | (watered - set(items_of(counting)))
        try:
            receipt = self.garden.correct(identity, new, reason="misread", today=TODAY)
        except RefusedError as error:
            note(str(error))
            assert wrong, f"refused, though without {self.stored[identity]} and with {new} all can be true"
        else:
            assert not wrong, f"{wrong} cannot be, without {self.stored[identity]} and with {new}"
            self.stored = {**left, **(dict(zip(receipt.record_ids, [new], strict=True)) if new else {})}

    @invariant()
    def remember(self) -> None:
        if not self.remembered or self.remembered[-1][1] != self.stored:
            self.remembered.append((datetime.now(UTC), dict(self.stored)))

    def see_again(self, instant: datetime, stored: Stored) -> None:
        """The books as they stood at an instant, whatever was corrected or compacted since."""
        with pn.Garden.open(self.garden.path, as_of=instant) as earlier:
            assert rows_in(earlier) == rows_of(stored)

    @rule(compacted=st.booleans())
    def reopen(self, compacted: bool) -> None:
        """Closing, opening and compacting change nothing."""
        if compacted:
            self.garden.compact()
        self.garden.close()
        self.garden = pn.Garden.open(self.garden.path)
        assert rows_in(self.garden) == rows_of(self.stored)


def test_a_garden_is_what_was_truly_recorded() -> None:
    few = settings(max_examples=max(settings.default.max_examples // 4, 1), stateful_step_count=12, phases=UNSHRUNK)
    run_state_machine_as_test(GardenMachine, settings=few)


@st.composite
def histories(draw: st.DrawFn, labels: int = 20) -> list[Record]:
    """Records of many labels, up to seven each, in any order."""
    records: list[Record] = []
    for number in range(labels):
        own: list[Record] = []
        for _ in range(draw(st.integers(2, 7))):
            own.append(draw(next_records(own, [f"P{number}"], [f"P{number}d"])))
        records += own
    return draw(st.permutations(records))


@settings(max_examples=settings.default.max_examples // 2)
@given(histories())
def test_a_history_is_refused_exactly_when_it_cannot_be_true(records: list[Record]) -> None:
    """Of many labels in one batch, those are told whose records contradict each other, and no others."""
    wrong = impossible(records)
    told: set[str] = set()
    try:
        check(identified(to_tables([*PLACES, *records])), {}, placed_labels=(), today=TODAY)
    except RefusedError as error:
        told = {problem.where.split()[3] for problem in error.problems}
    assert told == wrong


def test_a_correction_says_why(tmp_path: Path) -> None:
    with pn.Garden.create(tmp_path / "plot") as garden:
        receipt = garden.record(*PLACES)
        with pytest.raises(RefusedError, match=r"the correction, reason: is empty; say why, for later years \[B5\]"):
            garden.correct(receipt.record_ids[1], attrs.evolve(PLACES[1], area_m2=3), reason="  ")
