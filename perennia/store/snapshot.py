"""What a reader sees: the garden as it stands after one batch."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import attrs
import pyarrow as pa
import pyarrow.parquet as pq
from deltalake import DeltaTable

from perennia.errors import StoreError
from perennia.store.access import usable_name
from perennia.store.log import files_of, latest_whole_version, open_table, year_of
from perennia.store.schemas import TABLES

FORMAT = 1
GARDEN_FILE = "garden.json"


@attrs.frozen
class Snapshot:
    """The garden after one batch: nothing written later shows in it. It can be pickled.

    root is the garden's folder; recorded_at is that batch's; files has the absolute paths of the Parquet
    files of every table; versions the table versions; placed_labels what the batch was committed with.
    """

    root: str
    batch: int
    recorded_at: datetime
    files: dict[str, tuple[str, ...]]
    versions: dict[str, int]
    placed_labels: tuple[str, ...]


def garden_facts(root: str | Path) -> dict[str, Any]:
    """The content of garden.json. Raises StoreError when the folder is no garden this release can read."""
    path = usable_name(Path(root)) / GARDEN_FILE
    try:
        facts = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise StoreError(f"{root} is no garden: it has no {GARDEN_FILE}; create one or check the path") from error
    except (OSError, ValueError) as error:
        raise StoreError(f"{path} cannot be read ({error}); restore it from a copy") from error
    if not isinstance(facts, dict) or facts.get("format") != FORMAT:
        raise StoreError(
            f"{path} is not of format {FORMAT}, the one this release of perennia reads; use the release that wrote it"
        )
    return facts


def read_snapshot(root: str | Path) -> Snapshot:
    """The garden after its last whole batch. Raises StoreError when it cannot be read as it is."""
    garden_facts(root)
    folder = Path(root).resolve()
    batches_version = latest_whole_version(folder, "batches")
    opened = open_table(folder, "batches", batches_version)
    files = {"batches": files_of(folder, "batches", opened)}
    head = _head(folder, opened)
    versions: dict[str, int] = json.loads(head["versions"])
    for table in TABLES:
        if table != "batches":
            if table not in versions:
                raise StoreError(f"batch {head['batch']} of {root} names no version of {table}; restore from a copy")
            files[table] = files_of(folder, table, open_table(folder, table, versions[table]))
    return Snapshot(
        root=str(folder),
        batch=head["batch"],
        recorded_at=head["recorded_at"],
        files=files,
        versions={**versions, "batches": batches_version},
        placed_labels=tuple(head["placed_labels"]),
    )


def read_table(snapshot: Snapshot, table: str) -> pa.Table:
    """All stored rows of a table, corrected ones among them, with all columns of its schema even when empty."""
    schema = TABLES[table]
    return pa.concat_tables([schema.empty_table(), *(_read_file(path, schema) for path in snapshot.files[table])])


def placed_labels_at(snapshot: Snapshot, instant: datetime | None) -> tuple[str, ...]:
    """The placed labels of the last batch made by an instant; those of the snapshot when none is given."""
    if instant is None:
        return snapshot.placed_labels
    made = [row for row in read_table(snapshot, "batches").to_pylist() if row["recorded_at"] <= instant]
    return tuple(max(made, key=lambda row: row["batch"])["placed_labels"]) if made else ()


def _read_file(path: str, schema: pa.Schema) -> pa.Table:
    try:
        found = pq.ParquetFile(path).read()
    except (OSError, pa.ArrowException) as error:
        raise StoreError(f"{path} cannot be read ({error}); restore it from a copy") from error
    rows = found.num_rows
    columns = []
    for field in schema:
        if field.name == "year":
            columns.append(pa.repeat(pa.scalar(year_of(path), field.type), rows))
        elif field.name in found.column_names:
            columns.append(found[field.name].cast(field.type))
        else:
            columns.append(pa.nulls(rows, field.type))
    return pa.table(columns, schema=schema)


def _head(root: Path, opened: DeltaTable) -> dict[str, Any]:
    """The row of the last batch, looked for in the newest file only."""
    actions = pa.table(opened.get_add_actions(flatten=True)).select(["path", "max.batch"]).to_pylist()
    if not actions:
        raise StoreError(f"the garden in {root} has no batch; its creation was cut short, create it again elsewhere")
    newest = max(actions, key=lambda action: action["max.batch"])
    rows = _read_file(str(root / "batches" / newest["path"]), TABLES["batches"])
    return max(rows.to_pylist(), key=lambda row: row["batch"])
