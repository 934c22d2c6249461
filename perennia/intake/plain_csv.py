"""CSV files with exact column names: ``event`` and the fields of the records, dates in ISO 8601."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import attrs
import pyarrow as pa
import pyarrow.compute as pc
from pyarrow import csv

from perennia.checking import Doubt
from perennia.errors import IntakeError, Problem, RecordError, RefusedError
from perennia.garden import Garden
from perennia.intake.cells import Cells, cell_columns
from perennia.intake.identity import book_ids
from perennia.records.catalogue import class_of, rules_of
from perennia.store.schemas import in_order, rows_of_columns


@attrs.frozen
class IntakeReport:
    """What became of the rows of a book: rows = stored + already_known. doubts is what the grower should look at."""

    book: str
    files: tuple[str, ...]
    rows: int
    stored: int
    already_known: int
    doubts: tuple[Doubt, ...]

    def summary(self) -> str:
        """One plain sentence."""
        return (
            f"{self.rows} rows read from {len(self.files)} file{'s' if len(self.files) != 1 else ''} of {self.book}: "
            f"{self.stored} stored, {self.already_known} already known, {len(self.doubts)} doubts"
        )


@attrs.frozen
class _Sheet:
    """One file read as text: first is the position of its first row in the book."""

    name: str
    first: int
    table: pa.Table


def read_csv(garden: Garden, path: str | Path, *, book: str, today: date | None = None) -> IntakeReport:
    """Take one CSV file, or every CSV file of a folder, into a garden as one batch, all or nothing.

    Columns: ``event`` (such as picked, sown) and the fields of the events used; several labels in one cell are parted
    by commas, flags are true or false, days and spans ISO 8601, an empty cell is missing. book is the book's own name:
    under the same name a row is stored once, however often and from whatever file it is read; twin rows of one day are
    both kept. Raises IntakeError for a file that cannot be read, RefusedError naming file, row and column of every
    problem.
    """
    if not book.strip():
        raise IntakeError(
            "the book has no name; give one, such as book='kitchen garden', and keep it from year to year"
        )
    sheets = _sheets(Path(path))
    cells = Cells()
    tables: dict[str, list[pa.Table]] = {}
    for sheet in sheets:
        for event in pc.unique(sheet.table["event"]).to_pylist():
            rows = sheet.table.filter(pc.equal(sheet.table["event"], event))
            table = _event_rows(sheet, event, rows, cells)
            tables.setdefault(class_of(event).table, []).append(table)
    if cells.problems:
        raise _at_rows(cells.problems, sheets)
    joined = {name: in_order(parts) for name, parts in tables.items()}
    try:
        receipt = garden.record_tables(book_ids(book, joined), today=today)
    except RefusedError as error:
        raise _at_rows(error.problems, sheets) from error
    rows = sum(sheet.table.num_rows for sheet in sheets)
    return IntakeReport(
        book, tuple(sheet.name for sheet in sheets), rows, receipt.stored, rows - receipt.stored, receipt.doubts
    )


def _sheets(path: Path) -> list[_Sheet]:
    paths = sorted(path.glob("*.csv")) if path.is_dir() else [path]
    if not paths:
        raise IntakeError(f"there is no CSV file in {path}; name the file, or the folder that holds the files")
    sheets: list[_Sheet] = []
    for file in paths:
        table = _read_text(file)
        first = sheets[-1].first + sheets[-1].table.num_rows if sheets else 0
        sheets.append(
            _Sheet(file.name, first, table.append_column("row", pa.array(range(first, first + table.num_rows))))
        )
    return sheets


def _read_text(path: Path) -> pa.Table:
    try:
        names = csv.open_csv(path).schema.names
        text = csv.ConvertOptions(
            column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=True, null_values=[""],
            quoted_strings_can_be_null=True,
        )  # fmt: skip
        table = csv.read_csv(path, parse_options=csv.ParseOptions(newlines_in_values=True), convert_options=text)
    except (OSError, pa.ArrowException) as error:
        raise IntakeError(
            f"{path} cannot be read as CSV ({error}); save it as comma-separated text in UTF-8"
        ) from error
    if "event" not in table.column_names:
        raise IntakeError(f"{path} has no column 'event'; its columns are {', '.join(table.column_names)}")
    twice = {name for name in table.column_names if table.column_names.count(name) > 1}
    if twice or "row" in table.column_names:
        raise IntakeError(f"{path} has a column twice or one called 'row' ({', '.join(sorted(twice))}); rename it")
    trimmed = [pc.utf8_trim_whitespace(table[name]) for name in table.column_names]
    whole = pa.table(trimmed, names=table.column_names)
    blank = [
        pc.if_else(pc.equal(whole[name], ""), pa.scalar(None, pa.string()), whole[name]) for name in whole.column_names
    ]
    return pa.table(blank, names=table.column_names)


def _event_rows(sheet: _Sheet, event: str | None, rows: pa.Table, cells: Cells) -> pa.Table:
    if event is None:
        raise IntakeError(f"{sheet.name}: a row has no event; name what happened in column 'event'")
    try:
        cls = class_of(event)
    except RecordError as error:
        raise IntakeError(f"{sheet.name}: {error}") from error
    rules = rules_of(cls)
    for name in rows.column_names:
        if name not in rules and name not in ("event", "row") and rows[name].null_count < rows.num_rows:
            first = rows.filter(pc.is_valid(rows[name]))
            cells.wrong(
                first["row"][0].as_py(), name, f"{first[name][0].as_py()!r} is in a column that {event} has not",
                f"{event} has {', '.join(rules)}", "F0",
            )  # fmt: skip
    columns, labels = cell_columns(cls, rows, cells)
    return rows_of_columns(cls, rows["row"].combine_chunks(), columns, labels)


def _at_rows(problems: Sequence[Problem], sheets: Sequence[_Sheet]) -> RefusedError:
    """The problems with their place in the files: row 1 is the headings, as a spreadsheet counts."""
    placed = []
    for problem in problems:
        sheet = next(s for s in reversed(sheets) if s.first <= max(problem.position, 0))
        place = f"{sheet.name} row {problem.position - sheet.first + 2}"
        _, _, what = problem.where.partition(": ")
        placed.append(attrs.evolve(problem, where=f"{place}: {what}" if what else place))
    return RefusedError(sorted(placed, key=lambda problem: problem.position))
