"""A garden as a Frictionless Data Package: one file a table, and datapackage.json to say what they hold.

Data Package and Table Schema, version 1 (Frictionless Standards, published at specs.frictionlessdata.io); the CSV files
are UTF-8 after RFC 4180, and no cell of theirs is run by a spreadsheet (perennia.intake.formulas). read takes the
folder into a new garden with the same records under the same ids.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from datetime import datetime
from pathlib import Path
from typing import Any, Literal, get_args

import attrs
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from perennia.checking import arguments
from perennia.checking.words import counted
from perennia.errors import ArgumentError, IntakeError
from perennia.garden import Garden
from perennia.intake.formulas import guarded
from perennia.intake.record_sheets import sheet_of
from perennia.intake.table_schema import table_schema
from perennia.records.catalogue import RECORDS
from perennia.store.durable import fsync_file, write_parquet, write_text

Form = Literal["csv", "parquet"]
DESCRIPTOR = "datapackage.json"
_TABLES = tuple(dict.fromkeys(cls.table for cls in RECORDS.values()))


@attrs.frozen
class ExportReport:
    """What was written: the folder, its files in order, and the number of records in each table that has any."""

    folder: Path
    files: tuple[str, ...]
    records: dict[str, int]

    def summary(self) -> str:
        """One plain sentence."""
        written = counted(sum(self.records.values()), "record")
        return f"{written} of {counted(len(self.records), 'table')} written to {self.folder}"


def export(garden: Garden, folder: str | Path, *, as_: Form = "csv") -> ExportReport:
    """Write the records that count into a new or empty folder, as a Data Package of CSV or Parquet files.

    as_: csv or parquet. One file a table that has records, one row a record, by day, event and id. Columns: record_id,
    event, and those fields of the records that are filled, each under its own name, as read reads them: several labels
    in one cell parted by commas, spans as ISO 8601 text, flags as true or false, an empty cell for what is missing.
    datapackage.json is written last, so a folder without it is not whole. What is written depends on the books alone;
    its ``created`` is the instant at which the latest of these records was made. A garden opened with as_of gives what
    counted then. Raises IntakeError when the folder is not empty, lies in the garden, or cannot be written to, or when
    the garden has no records.
    """
    if as_ not in get_args(Form):
        raise ArgumentError(f"as_ is {as_!r}; give 'csv' or 'parquet'")
    path = arguments.a_path(folder, "the folder of the export").absolute()
    rows = {table: found for table in _TABLES if (found := garden.rows(table)).num_rows}
    if not rows:
        raise IntakeError(f"{garden.path} has no records to write; record something first, or choose a later as_of")
    name, created = garden.name, max(pc.max(found["recorded_at"]).as_py() for found in rows.values())
    try:
        _check_free(path, garden.path)
        path.mkdir(parents=True, exist_ok=True)
        sheets = {table: sheet_of(table, found) for table, found in rows.items()}
        resources = [_write_resource(path, table, sheet, as_) for table, sheet in sheets.items()]
        write_text(path / DESCRIPTOR, _descriptor(name, created, resources))
    except OSError as error:
        raise IntakeError(
            f"the export to {path} could not be written whole ({error}); check its permissions and whether the disk is "
            "full, empty the folder and export again"
        ) from error
    files = tuple(resource["path"] for resource in resources)
    return ExportReport(path, (*files, DESCRIPTOR), {table: sheet.num_rows for table, sheet in sheets.items()})


def _check_free(path: Path, garden: Path) -> None:
    if "\0" in str(path):
        raise IntakeError(f"{str(path)!r} is no path of plain text; choose another folder for the export")
    if path.exists() and (not path.is_dir() or any(path.iterdir())):
        raise IntakeError(f"{path} is not empty; choose a new or empty folder for the export")
    if path.resolve().is_relative_to(garden.resolve()):
        raise IntakeError(f"{path} lies in the garden's own folder; choose a folder outside it for the export")


def _write_resource(folder: Path, table: str, sheet: pa.Table, as_: Form) -> dict[str, Any]:
    """Write one file, wait for the disk, and give its entry in the descriptor."""
    path = folder / f"{table}.{as_}"
    if as_ == "csv":
        pa_csv.write_csv(_guarded(sheet), path)
        fsync_file(path)
        form = {
            "profile": "tabular-data-resource", "mediatype": "text/csv", "encoding": "utf-8",
            "dialect": {"delimiter": ",", "lineTerminator": "\n", "quoteChar": '"', "doubleQuote": True},
        }  # fmt: skip
    else:
        write_parquet(path, sheet.schema, [sheet])
        # version 1 knows tables of text only, and validators that read Parquet by way of other libraries take a missing
        # number for a wrong one; so its bytes are vouched for, and the schema says what they hold
        form = {"profile": "data-resource", "type": "file", "mediatype": "application/vnd.apache.parquet"}
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return {
        "name": table,
        "path": path.name,
        "format": as_,
        **form,
        "bytes": path.stat().st_size,
        "hash": f"sha256:{digest}",
        "schema": table_schema(table, sheet.column_names),
    }


def _guarded(sheet: pa.Table) -> pa.Table:
    texts = [guarded(cells) if pa.types.is_string(cells.type) else cells for cells in sheet.columns]
    return pa.table(texts, names=sheet.column_names)


def _descriptor(name: str | None, created: datetime, resources: list[dict[str, Any]]) -> str:
    title = name or "garden"
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    facts = {
        "profile": "data-package",
        "name": re.sub("[^a-z0-9]+", "-", plain).strip("-") or "garden",
        "title": title,
        "created": created.isoformat().replace("+00:00", "Z"),
        "resources": resources,
    }
    return json.dumps(facts, indent=2, ensure_ascii=False) + "\n"
