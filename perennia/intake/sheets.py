"""A sheet: one table of a book as it was written, whatever the file it came in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import attrs
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from perennia.errors import IntakeError

_MOST_COLUMNS = 1000
_LONGEST_HEADING = 1000


@attrs.frozen
class Part:
    """Some rows of a sheet: cells, an array a heading, blank ones missing; rows, the row each stands in."""

    cells: tuple[pa.Array, ...]
    rows: pa.Array


@attrs.frozen
class Sheet:
    """file and name as the grower knows them (name is empty where a file is one table); headings as written.

    parts() reads the rows below the headings, those without any cell left out, and may be called again.
    decimal is the sign that parts tenths from wholes in the text of numbers. notes are sentences for the report.
    count is the number of its rows, where that is known before they are read.
    """

    file: str
    name: str
    headings: tuple[str, ...]
    parts: Callable[[], Iterator[Part]]
    decimal: str = "."
    notes: tuple[str, ...] = ()
    count: int | None = None

    @property
    def told(self) -> str:
        """The sheet as a message names it."""
        return f"{self.file}, sheet {self.name}" if self.name else self.file


def checked_headings(told: str, cells: Sequence[str | None]) -> tuple[str, ...]:
    """The headings of a sheet, without empty ones at the end. Raises IntakeError for what cannot be headings."""
    names = ["" if cell is None else cell.strip() for cell in cells]
    while names and not names[-1]:
        names.pop()
    if not names:
        raise IntakeError(f"{told} is empty; its first row must hold the column names")
    if len(names) > _MOST_COLUMNS:
        raise IntakeError(
            f"{told} has {len(names)} columns, the first of them {', '.join(names[:3])}; "
            "a book has one column a field and one row an event"
        )
    long = next((name for name in names if len(name) > _LONGEST_HEADING), None)
    if long is not None:
        raise IntakeError(f"{told} has a heading of {len(long)} letters, {long[:40]!r}...; write a short one")
    half = next((name for name in names if not _can_be_kept(name)), None)
    if half is not None:
        raise IntakeError(f"{told} has a heading with half a character, {half!r}; write it anew")
    return tuple(names)


def _can_be_kept(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def filled(cells: Sequence[pa.Array], rows: pa.Array) -> Part:
    """A part without the rows that have no cell."""
    if not cells:
        return Part((), rows.slice(0, 0))
    some = pc.is_valid(cells[0])
    for column in cells[1:]:
        some = pc.or_(some, pc.is_valid(column))
    if pc.all(some).as_py() is not False:
        return Part(tuple(cells), rows)
    return kept(Part(tuple(cells), rows), some)


def kept(part: Part, wanted: pa.Array) -> Part:
    """The rows of a part for which wanted is true."""
    return Part(tuple(column.filter(wanted) for column in part.cells), part.rows.filter(wanted))


def blank_as_missing(texts: pa.Array) -> pa.Array:
    """Text cells, those of white space alone missing."""
    blank = pc.or_(pc.equal(pc.binary_length(texts), 0), pc.utf8_is_space(texts))
    return pc.if_else(blank, None, texts) if pc.any(blank).as_py() else texts


def cell_text(value: Any) -> str | None:
    """A cell of a spreadsheet or a frame as text a grower could have typed; None where there is nothing.

    Days and instants become ISO days, whole numbers lose their point, lists are parted by commas.
    """
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, str):
        return value if value.strip() else None
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    if isinstance(value, date | pd.Timestamp | np.datetime64):
        return _day_text(pd.Timestamp(value) if isinstance(value, np.datetime64) else value)
    if isinstance(value, float | np.floating):
        number = float(value)
        if number != number:
            return None
        return str(int(number)) if number.is_integer() and abs(number) <= 2**53 else repr(number)
    if isinstance(value, int | np.integer | Decimal | time):
        return str(value)
    if isinstance(value, list | tuple | np.ndarray):
        parts = [cell_text(item) for item in value]
        return ", ".join(part for part in parts if part is not None) or None
    return str(value)


def _day_text(value: date) -> str | None:
    if value != value:  # only a missing day of another library differs from itself
        return None
    return value.date().isoformat() if isinstance(value, datetime) else value.isoformat()


def as_texts(cells: pa.Array) -> pa.Array:
    """The cells of a column as text, whatever they are."""
    return cells if pa.types.is_string(cells.type) else text_array(cells.to_pylist())


def text_array(values: Sequence[Any]) -> pa.Array:
    """Cells of any kind as an array of text."""
    return pa.array([cell_text(value) for value in values], pa.string())
