"""A grower's book into a garden: sheets read, cells judged, rows checked and stored, the rest told or set aside."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any, Literal, Self

import attrs
import pandas as pd
import pyarrow as pa

from perennia.checking import arguments
from perennia.errors import ArgumentError, IntakeError, Problem, RefusedError
from perennia.garden import Garden
from perennia.intake.aside import aside_frame, originals, rows_aside, source_files, write_aside
from perennia.intake.cells import Manner
from perennia.intake.columns import EVENT, FROM_ROW, columns_of, event_named, plain
from perennia.intake.dates import Dates, an_order, year_in
from perennia.intake.report import CellProblem, IntakeReport
from perennia.intake.rows import Place, Written, heading_of_field, places, written_as
from perennia.intake.sheets import Sheet
from perennia.intake.sources import Progress, sheets_of
from perennia.intake.taking_in import How, take_in
from perennia.lifecycle import BEGINNINGS
from perennia.records.catalogue import RECORDS

OnError = Literal["stop", "set aside"]


@attrs.frozen
class Form:
    """How a book is written, as its reader was told."""

    event: str | None
    columns: Mapping[str, str | None] | None
    units: Mapping[str, str] | None
    dates: Dates
    constants: Mapping[str, Any]

    @classmethod
    def of(
        cls, event: str | None, columns: Mapping[str, str | None] | None, units: Mapping[str, str] | None,
        dates: str | None, year: int | None, constants: Mapping[str, Any] | None,
    ) -> Self:  # fmt: skip
        """From the arguments of read. Raises ArgumentError, IntakeError for an event that is none."""
        given = None if year is None else arguments.a_year(year, "year")
        return cls(_event(event), columns, units, Dates(an_order(dates), given), constants or {})


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
    correct: str | None = None,
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
    file it is read; twin rows of one day are both kept. A row edited since is a conflict, unless correct says why it is
    to replace what is stored. on_error="stop" stores nothing when anything is wrong; "set aside" stores the good rows
    and writes the others, with the reason, beside the source.

    encoding and decimal (``.`` or ``,``) are those of a text file, told from it unless given. today: dates after it are
    refused; the computer's day unless given. progress is called with each step of the work in words.

    Raises IntakeError for a source that cannot be read, RefusedError with a CellProblem for every fault.
    """
    name = _book_name(book)
    if on_error not in ("stop", "set aside"):
        raise ArgumentError(f"on_error is {on_error!r}; give 'stop' or 'set aside'")
    if correct is not None and not arguments.a_name(correct, "correct").strip():
        raise IntakeError("correct is empty; say why edited rows replace what is stored, for later years")
    form = Form.of(event, columns, units, dates, year, constants)
    day = arguments.a_day(today, "today") or date.today()
    sheets = sheets_of(source, encoding=encoding, decimal=decimal)
    before = _originals(source, sheets, encoding, decimal)
    written = written_so([*before, *sheets], form)
    _check_events(written)
    how = How(
        name, on_error == "stop", correct, day, progress or (lambda step: None),
        additional=not before and any(FROM_ROW in map(str.lower, sheet.headings) for sheet in sheets),
    )  # fmt: skip
    taken = take_in(garden, written, how, before=len(before))
    found, told = placed(written[len(before) :], taken.problems)
    if told and on_error == "stop":
        raise RefusedError(told)
    aside = rows_aside(found, told)
    files, unwritten = write_aside(_folder(source), aside) if isinstance(source, str | Path) else ((), ())
    notes = (*unwritten, *(note for sheet in sheets for note in sheet.notes), *taken.gaps)
    # what takes the place of a stored record is no new row
    stored = taken.receipt.stored - taken.corrected
    return IntakeReport(
        name, tuple(dict.fromkeys(sheet.file for sheet in sheets)), taken.rows, stored,
        taken.rows - stored - taken.corrected - len(found), taken.corrected, len(found),
        (*taken.receipt.doubts, *taken.doubts), told,
        files, aside_frame(aside), notes,
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


def written_so(sheets: Sequence[Sheet], form: Form) -> list[Written]:
    """The sheets with what their columns hold. Raises IntakeError for headings that are none."""
    found = columns_of(sheets, form.columns, form.units)
    return [
        written_as(sheet, columns, form.event or _named_for(sheet), Manner(_dates(form.dates, sheet)), form.constants)
        for sheet, columns in zip(sheets, found, strict=True)
    ]


def _check_events(written: Sequence[Written]) -> None:
    for own in written:
        if own.event is None and all(column.field != EVENT for column in own.columns):
            raise IntakeError(
                f"{own.sheet.told} has no column 'event', and no event is given; "
                f"its columns are {', '.join(own.sheet.headings)}"
            )


def _named_for(sheet: Sheet) -> str | None:
    return event_named(sheet.name) or event_named(Path(sheet.file).stem)


def _dates(dates: Dates, sheet: Sheet) -> Dates:
    return attrs.evolve(dates, year=dates.year or year_in(sheet.name, Path(sheet.file).stem))


def placed(written: Sequence[Written], problems: Sequence[Problem]) -> tuple[dict[int, Place], tuple[CellProblem, ...]]:
    """Where the rows that problems speak of stand, and the problems with file, sheet, row, column and cell."""
    if not problems:
        return {}, ()
    found = dict(places(written, pa.array(sorted({problem.position for problem in problems}), pa.int64())))
    begun = _beginnings(found)
    told = [_at_cell(_of_begun(problem, begun), found[problem.position]) for problem in problems]
    return found, tuple(sorted(told, key=lambda problem: problem.position))


def _beginnings(found: Mapping[int, Place]) -> dict[str, str]:
    """Where the plants begin whose beginning is itself wrong, by label."""
    begun: dict[str, str] = {}
    for place in found.values():
        cells = {column.field: place.cells[column.place] for column in place.written.columns}
        event = plain(cells.get(EVENT) or place.written.event or "")
        label = cells.get("label") or cells.get("labels")
        if event in BEGINNINGS and label is not None:
            begun.setdefault(label.strip(), f"{place.written.sheet.told} row {place.row}")
    return begun


def _of_begun(problem: Problem, begun: Mapping[str, str]) -> Problem:
    """A problem of a plant that had not begun, saying where it begins if that row is wrong too."""
    label = re.match(r"no plant labelled (.+) had begun", problem.wrong)
    if problem.rule != "L1" or label is None or label[1] not in begun:
        return problem
    return attrs.evolve(problem, remedy=f"it begins in {begun[label[1]]}, which is wrong too: mend that row first")


def _at_cell(problem: Problem, place: Place) -> CellProblem:
    sheet, column = place.written.sheet, heading_of_field(place.written, problem.field)
    _, _, what = problem.where.partition(": ")
    where = f"{sheet.told} row {place.row}"
    return CellProblem(
        problem.position, f"{where}: {what}" if what else where, problem.field, problem.wrong, problem.remedy,
        problem.rule, sheet.file, sheet.name, place.row, column.heading if column else "",
        place.cells[column.place] if column else None,
    )  # fmt: skip
