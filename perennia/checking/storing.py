"""A batch checked and stored as one commit: new records, and corrections of what was recorded before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.batch import Doubt, check_against_books
from perennia.checking.parts import take_in
from perennia.crops import CropProfile
from perennia.store.identify import stored_records
from perennia.store.old_rows import to_json
from perennia.store.schemas import TABLES, Candidates
from perennia.store.snapshot import Snapshot
from perennia.store.staging import staging
from perennia.store.writing import writer


@attrs.frozen
class Change:
    """What a batch does beside adding its records: the records it takes back, each with the id of what is put in its
    place, or None, and the reason. revive: see store.renewal."""

    replaced: Mapping[bytes, bytes | None] = attrs.Factory(dict)
    reason: str | None = None
    revive: bool = False


@attrs.frozen
class StoredBatch:
    """The garden after a batch, the id of each record in their order, how many of them are new, and the doubts."""

    snapshot: Snapshot
    record_ids: Sequence[str]
    new: int
    doubts: tuple[Doubt, ...]


def store_batch(
    root: Path,
    parts: Iterable[Mapping[str, pa.Table]],
    change: Change,
    *,
    today: date,
    profiles: Mapping[str, CropProfile],
) -> StoredBatch:
    """Check the parts of a batch and store it, all or nothing; on the disk when this returns.

    Raises RefusedError with every problem, UnknownLabelError when a record to be replaced does not count, StoreError.
    """
    ids = list(change.replaced)
    kept = frozenset(identity for identity in change.replaced.values() if identity is not None)
    with writer(root) as pen, staging(pen.root) as staged:
        now = datetime.now(UTC)
        snapshot = pen.snapshot
        olds = stored_records(snapshot.files, ids) if ids else []
        taken = take_in(parts, staged, snapshot.files, today=today, revive=change.revive, new=kept)
        if not taken.new and not ids:
            return StoredBatch(snapshot, taken.record_ids, 0, ())
        fresh = staged.candidates()
        rows: dict[str, Candidates] = dict(fresh)
        if olds:
            rows["corrections"] = _corrections(change, olds, snapshot.batch + 1, now)
        records = taken.new + len(ids) - len(kept)
        doubts: list[Doubt] = []

        def judged() -> tuple[str, ...]:
            checked = check_against_books(
                fresh, snapshot.files, placed_labels=snapshot.placed_labels, profiles=profiles, withdrawn=ids,
                withdrawn_labels={label for _, old in olds for label in _labels_of(old)},
            )  # fmt: skip
            doubts.extend(checked.doubts)
            return checked.placed_labels

        stored = pen.commit_if(rows, "correct" if ids else "record", records, judged, now)
    return StoredBatch(stored, taken.record_ids, taken.new, tuple(doubts))


def _corrections(
    change: Change, olds: Sequence[tuple[str, pa.Table]], batch: int, corrected_at: datetime
) -> pa.Table:
    rows = [
        {
            "record_id": identity, "corrected_at": corrected_at, "batch": batch, "table_name": table,
            "reason": change.reason, "replacement_id": replacement, "old": to_json(old),
            "old_recorded_at": old["recorded_at"][0].as_py(),
        }
        for (identity, replacement), (table, old) in zip(change.replaced.items(), olds, strict=True)
    ]  # fmt: skip
    return pa.Table.from_pylist(rows, schema=TABLES["corrections"])


def _labels_of(rows: pa.Table) -> set[str]:
    labels = set(pc.unique(rows["label"]).to_pylist()) if "label" in rows.column_names else set()
    into = pc.list_flatten(rows["into"]).to_pylist() if "into" in rows.column_names else []
    return {label for label in (*labels, *into) if label is not None}
