"""CSV files with exact column names: ``event`` and the fields of the records, dates in ISO 8601."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date
from difflib import get_close_matches
from pathlib import Path

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import Doubt, arguments
from perennia.checking.words import counted
from perennia.errors import IntakeError, Problem, RefusedError
from perennia.garden import Garden
from perennia.intake.cells import Cells, cell_columns
from perennia.intake.identity import book_ids
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.store.schemas import in_order, rows_of_columns

_QUOTES = "a cell that begins with a quotation mark must end with one, and marks inside it are doubled"


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
            f"{counted(self.rows, 'row')} read from {counted(len(self.files), 'file')} of {self.book}: "
            f"{self.stored} stored, {self.already_known} already known, {counted(len(self.doubts), 'doubt')}"
        )


@attrs.frozen
class _Sheet:
    """One file read as text: first is the position of its first row in the book, numbers its rows as a sheet counts."""

    name: str
    first: int
    table: pa.Table
    numbers: list[int]


def read_csv(garden: Garden, path: str | Path, *, book: str, today: date | None = None) -> IntakeReport:
    """Take one CSV file, or every CSV file of a folder, into a garden as one batch, all or nothing.

    Columns: ``event`` (such as picked, sown) and the fields of the events used; several labels in one cell are parted
    by commas, flags are true or false, days and spans ISO 8601, an empty cell is missing. book is the book's own name:
    under the same name a row is stored once, however often and from whatever file it is read; twin rows of one day are
    both kept. Raises IntakeError for a file that cannot be read, RefusedError naming file, row and column of every
    problem.
    """
    book = arguments.a_name(book, "book").strip()
    if not book:
        raise IntakeError(
            "the book has no name; give one, such as book='kitchen garden', and keep it from year to year"
        )
    sheets = _sheets(arguments.a_path(path, "path"))
    cells = Cells()
    tables: dict[str, list[pa.Table]] = {}
    for sheet in sheets:
        for event in pc.unique(sheet.table["event"]).to_pylist():
            same = pc.is_null(sheet.table["event"]) if event is None else pc.equal(sheet.table["event"], event)
            rows = sheet.table.filter(pc.fill_null(same, False))
            if _known_event(event, rows, cells):
                tables.setdefault(class_of(event).table, []).append(_event_rows(event, rows, cells))
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
        table, numbers = _read_text(file)
        first = sheets[-1].first + sheets[-1].table.num_rows if sheets else 0
        sheets.append(
            _Sheet(file.name, first, table.append_column("row", pa.array(range(first, first + len(numbers)))), numbers)
        )
    return sheets


def _read_text(path: Path) -> tuple[pa.Table, list[int]]:
    """The cells of a file as text, blank ones missing, and the row each stands in, the headings being row 1."""
    filled = [(number, cells) for number, cells in enumerate(_rows(path), start=1) if any(cells)]
    if not filled:
        raise IntakeError(f"{path} is empty; its first row must hold the column names")
    names = filled[0][1]
    while names and not names[-1]:
        names.pop()
    _check_names(path, names)
    columns: dict[str, list[str | None]] = {name: [] for name in names}
    for number, cells in filled[1:]:
        if any(_swallows_a_row(cell, names.index("event")) for cell in cells):
            raise IntakeError(f"{path} row {number} has a cell that holds whole rows; {_QUOTES}")
        if any(cells[len(names) :]):
            raise IntakeError(
                f"{path} row {number} has more cells than headings; put a cell with a comma in it in quotation marks"
            )
        for name, cell in zip(names, [*cells, *[""] * len(names)], strict=False):
            columns[name].append(cell or None)
    table = pa.table({name: pa.array(cells, pa.string()) for name, cells in columns.items()})
    return table, [number for number, _ in filled[1:]]


def _rows(path: Path) -> list[list[str]]:
    rows: list[list[str]] = []
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            for cells in csv.reader(file, strict=True):
                rows.append([cell.strip() for cell in cells])
    except FileNotFoundError as error:
        raise IntakeError(f"there is no file {path}; check the name and the folder") from error
    except csv.Error as error:
        raise IntakeError(f"{path} row {len(rows) + 1} cannot be read ({error}); {_QUOTES}") from error
    except (OSError, ValueError) as error:
        raise IntakeError(f"{path} cannot be read as text ({error}); save it as CSV in UTF-8") from error
    return rows


def _swallows_a_row(cell: str, place: int) -> bool:
    """Whether a cell of several lines holds one that names an event in its place: a mark somewhere was not closed."""
    rows = [line.split(",") for line in cell.splitlines()[1:]]
    return any(len(row) > max(place, 1) and row[place].strip() in RECORDS for row in rows)


def _check_names(path: Path, names: Sequence[str]) -> None:
    if "event" not in names:
        nearly = [name for name in names if name.lower() == "event"]
        if nearly:
            raise IntakeError(f"{path} has a column {nearly[0]!r}; write it event, in small letters")
        if len(names) == 1 and (";" in names[0] or "\t" in names[0]):
            raise IntakeError(f"the columns of {path} are parted by semicolons or tabs; save it with commas instead")
        raise IntakeError(f"{path} has no column 'event'; its columns are {', '.join(names)}")
    twice = sorted({name for name in names if names.count(name) > 1 or not name})
    if twice or "row" in names:
        raise IntakeError(f"{path} has a column twice, without a name, or called 'row' ({', '.join(twice)}); rename it")


def _known_event(event: str | None, rows: pa.Table, cells: Cells) -> bool:
    """Whether an event is one of ours; if not, the first row that has it is noted."""
    if event in RECORDS:
        return True
    row = rows["row"][0].as_py()
    if event is None:
        cells.wrong(row, "event", "is missing", "name what happened, such as picked or sown", "F1")
        return False
    plain = event.lower().replace(" ", "_")
    near = [plain] if plain in RECORDS else get_close_matches(plain, RECORDS, n=3, cutoff=0.5)
    remedy = f"write {' or '.join(near)}" if near else f"known are {', '.join(RECORDS)}"
    cells.wrong(row, "event", f"{event!r} is no event", remedy, "F2")
    return False


def _event_rows(event: str, rows: pa.Table, cells: Cells) -> pa.Table:
    cls = class_of(event)
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
        sheet = next(s for s in reversed(sheets) if s.numbers and s.first <= max(problem.position, 0))
        place = f"{sheet.name} row {sheet.numbers[max(problem.position, 0) - sheet.first]}"
        _, _, what = problem.where.partition(": ")
        placed.append(attrs.evolve(problem, where=f"{place}: {what}" if what else place))
    return RefusedError(sorted(placed, key=lambda problem: problem.position))
