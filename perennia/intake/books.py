"""A grower's book into a garden: sheets read, cells judged, rows checked and stored, the rest told or set aside."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any, Literal

import attrs
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import arguments
from perennia.errors import ArgumentError, IntakeError, Problem, RefusedError
from perennia.garden import Garden, Receipt
from perennia.intake.aside import aside_frame, originals, rows_aside, source_files, write_aside
from perennia.intake.cells import Manner
from perennia.intake.columns import columns_of, event_named
from perennia.intake.dates import Dates, an_order, year_in
from perennia.intake.identity import book_ids
from perennia.intake.report import CellProblem, IntakeReport
from perennia.intake.rows import Converted, Place, Written, convert, heading_of_field, places, written_as
from perennia.intake.sheets import Sheet
from perennia.intake.sources import Progress, sheets_of
from perennia.intake.weather_gaps import MEASURES as WEATHER_MEASURES
from perennia.intake.weather_gaps import weather_gaps
from perennia.records.catalogue import RECORDS
from perennia.store.schemas import POSITION, in_order

OnError = Literal["stop", "set aside"]
_NO_RECEIPT = Receipt(0, (), 0, 0, ())


@attrs.frozen
class _Form:
    """How a book is written, as its reader was told."""

    event: str | None
    columns: Mapping[str, str | None] | None
    units: Mapping[str, str] | None
    dates: Dates
    constants: Mapping[str, Any]


def read(
    garden: Garden,
    source: str | Path | pa.Table | pd.DataFrame,
    event: str | None = None,
    *,
    book: str,
    columns: Mapping[str, str | None] | None = None,
    units: Mapping[str, str] | None = None,
    dates: str | None = None,
    year: int | None = None,
    constants: Mapping[str, Any] | None = None,
    on_error: OnError = "stop",
    encoding: str | None = None,
    decimal: str | None = None,
    today: date | None = None,
    progress: Progress | None = None,
) -> IntakeReport:
    """Take a book into a garden: a CSV, XLSX or Parquet file, a folder of them, an Arrow table or a pandas frame.

    One row is one event. A heading is the name of a record's field in any capitals, with its unit in brackets if that
    is another than the garden's (``grams (kg)``); columns says what other headings hold, or None for those to be left
    out; units names the unit of a field (g kg oz lb, litres, US gallons, imperial gallons, mm, inches, C, F). The event
    of a row stands in its column ``event``, else it is ``event``, else what the sheet or file is named for (Picked,
    Beds). constants are fields that are the same in every row and have no column. Several labels in one cell are
    parted by commas; an empty cell is missing; 0 is looked and found nothing.

    Dates are ISO 8601 days and spans; other forms are read only with dates, ``day first`` or ``month first``, and
    ``15/4`` then takes year, or the year in the name of the sheet or file.

    book is the book's own name, the same from year to year: a row is stored once, however often and from whatever
    file it is read; twin rows of one day are both kept. on_error="stop" stores nothing when anything is wrong;
    "set aside" stores the good rows and writes the others, with the reason, beside the source.

    Raises IntakeError for a source that cannot be read, RefusedError with a CellProblem for every fault.
    """
    name = _book_name(book)
    if on_error not in ("stop", "set aside"):
        raise ArgumentError(f"on_error is {on_error!r}; give 'stop' or 'set aside'")
    form = _Form(
        _event(event), columns, units, Dates(an_order(dates), None if year is None else arguments.a_year(year, "year")),
        constants or {},
    )  # fmt: skip
    say = progress or (lambda step: None)
    say("reading the book")
    sheets = sheets_of(source, encoding=encoding, decimal=decimal)
    before = _originals(source, sheets, encoding, decimal)
    written = _written([*before, *sheets], form)
    converted = convert(written, before=len(before))
    say("checking and storing")
    receipt, tables, problems = _recorded(garden, name, converted, today, stop=on_error == "stop")
    found, told = _placed(written, problems)
    if problems and on_error == "stop":
        raise RefusedError(told)
    aside = rows_aside(found, told)
    files = write_aside(_folder(source), aside) if isinstance(source, str | Path) else ()
    notes = [note for sheet in sheets for note in sheet.notes] + _gaps(tables)
    return IntakeReport(
        name, tuple(dict.fromkeys(sheet.file for sheet in sheets)), converted.rows, receipt.stored,
        converted.rows - receipt.stored - len(found), len(found), receipt.doubts, told, files, aside_frame(aside),
        tuple(notes),
    )  # fmt: skip


def _book_name(book: str) -> str:
    name = arguments.a_name(book, "book").strip()
    if not name:
        raise IntakeError(
            "the book has no name; give one, such as book='kitchen garden', and keep it from year to year"
        )
    return name


def _event(event: str | None) -> str | None:
    if event is None:
        return None
    known = event_named(arguments.a_name(event, "event"))
    if known is None:
        raise IntakeError(f"{event!r} is no event; known are {', '.join(RECORDS)}")
    return known


def _folder(source: str | Path) -> Path:
    path = Path(source)
    return path if path.is_dir() else path.parent


def _originals(source: Any, sheets: Sequence[Sheet], encoding: str | None, decimal: str | None) -> list[Sheet]:
    """What still lies beside rows that were set aside from it."""
    names = source_files(sheets) if isinstance(source, str | Path) else []
    beside = [path for path in (_folder(source) / name for name in names) if path.is_file()]
    return originals(sheets, [
        sheet for path in beside for sheet in sheets_of(path, encoding=encoding, decimal=decimal)
    ])  # fmt: skip


def _written(sheets: Sequence[Sheet], form: _Form) -> list[Written]:
    found = columns_of(sheets, form.columns, form.units)
    return [
        written_as(sheet, columns, form.event or _named_for(sheet), Manner(_dates(form.dates, sheet)), form.constants)
        for sheet, columns in zip(sheets, found, strict=True)
    ]


def _named_for(sheet: Sheet) -> str | None:
    return event_named(sheet.name) or event_named(Path(sheet.file).stem)


def _dates(dates: Dates, sheet: Sheet) -> Dates:
    return attrs.evolve(dates, year=dates.year or year_in(sheet.name, Path(sheet.file).stem))


def _recorded(
    garden: Garden, book: str, converted: Converted, today: date | None, *, stop: bool
) -> tuple[Receipt, dict[str, pa.Table], list[Problem]]:
    """The rows without fault stored, unless any is wrong and stop is true; each round leaves out what the last refused.

    Ids are given with every row in its place, so that what is mended later finds the id it would have had.
    """
    problems = [problem for problem in converted.problems if problem.position >= converted.before]
    tables = book_ids(book, {name: in_order(parts) for name, parts in converted.tables.items()})
    tables = {name: table.filter(pc.greater_equal(table[POSITION], converted.before)) for name, table in tables.items()}
    while not (stop and problems):
        tables = _without(tables, {problem.position for problem in problems})
        try:
            return garden.record_tables(tables, today=today), tables, problems
        except RefusedError as error:
            problems += _of_own_rows(error, converted)
    return _NO_RECEIPT, tables, problems


def _of_own_rows(error: RefusedError, converted: Converted) -> list[Problem]:
    if any(problem.position < converted.before for problem in error.problems):
        raise error
    return list(error.problems)


def _without(tables: Mapping[str, pa.Table], positions: Collection[int]) -> dict[str, pa.Table]:
    unwanted = pa.array(sorted(positions), pa.int64())
    kept = {name: table.filter(pc.invert(pc.is_in(table[POSITION], value_set=unwanted)))
            for name, table in tables.items()}  # fmt: skip
    return {name: table for name, table in kept.items() if table.num_rows}


def _placed(
    written: Sequence[Written], problems: Sequence[Problem]
) -> tuple[dict[int, Place], tuple[CellProblem, ...]]:
    """Where the rows that problems speak of stand, and the problems with file, sheet, row, column and cell."""
    if not problems:
        return {}, ()
    found = dict(places(written, pa.array(sorted({problem.position for problem in problems}), pa.int64())))
    told = [_at_cell(problem, found[problem.position]) for problem in problems]
    return found, tuple(sorted(told, key=lambda problem: problem.position))


def _at_cell(problem: Problem, place: Place) -> CellProblem:
    sheet, column = place.written.sheet, heading_of_field(place.written, problem.field)
    _, _, what = problem.where.partition(": ")
    where = f"{sheet.told} row {place.row}"
    return CellProblem(
        problem.position, f"{where}: {what}" if what else where, problem.field, problem.wrong, problem.remedy,
        problem.rule, sheet.file, sheet.name, place.row, column.heading if column else "",
        place.cells[column.place] if column else None,
    )  # fmt: skip


def _gaps(tables: Mapping[str, pa.Table]) -> list[str]:
    """Which days and values the weather of a book lacks: gaps stay gaps, and are said."""
    if "weather" not in tables:
        return []
    columns = {"on": "on_to", **{name: name for name in ("site", "bed", *WEATHER_MEASURES)}}
    weather = tables["weather"]
    return list(weather_gaps(pa.table({name: weather[column] for name, column in columns.items()})))
