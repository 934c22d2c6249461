"""From the rows of sheets to candidate rows of the garden's tables, every cell that cannot be read noted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from functools import partial
from typing import Any

import attrs
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from perennia.errors import Problem
from perennia.intake.cells import Cells, Field, Manner, cell_columns
from perennia.intake.columns import EVENT, RECORD_ID, Column, plain
from perennia.intake.example_lines import EXAMPLE
from perennia.intake.sheets import Part, Sheet, as_texts, cell_text
from perennia.records.base import Record, event_of
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.store.schemas import in_order, rows_of_columns
from perennia.store.threads import two_at_a_time

_LONGEST_EVENT = 100
_FAR_BELOW = -(2**40)
_LABELS = {"label": "labels", "labels": "label"}


@attrs.frozen
class Written:
    """A sheet and how it is written: its columns, the event of rows that name none, its dates, fields without column.

    first is the position of its first row in the book.
    """

    sheet: Sheet
    columns: tuple[Column, ...]
    event: str | None
    manner: Manner
    constants: Mapping[str, Any]


@attrs.define
class Found:
    """What was found in the rows of a book so far: the cells that cannot be read, and how many rows there are.

    Positions count through all sheets from 0; examples have one and are no rows. Those below 0 are of sheets that are
    not read themselves, but tell how many rows of a day come before those that are: not counted and not judged.
    """

    cells: Cells = attrs.Factory(Cells)
    rows: int = 0

    @property
    def problems(self) -> list[Problem]:
        """The cells that cannot be read."""
        return [problem for problem in self.cells.problems if problem.position >= 0]


@attrs.frozen
class Place:
    """Where a position of a book stands, and its cells as written, by place."""

    written: Written
    row: int
    cells: tuple[str | None, ...]


def written_as(
    sheet: Sheet, columns: Sequence[Column], event: str | None, manner: Manner, constants: Mapping[str, Any]
) -> Written:
    """How a sheet is written; constants stand where it has no column."""
    fields = [column.field for column in columns]
    values = {plain(name): value for name, value in constants.items() if cell_text(value) is not None}
    same = {name: value for name, value in values.items() if name not in fields}
    exact = attrs.evolve(manner, decimal=sheet.decimal, exact=RECORD_ID in fields)
    return Written(sheet, tuple(columns), event, exact, same)


def convert(book: Sequence[Written], found: Found, *, before: int = 0) -> Iterator[dict[str, pa.Table]]:
    """The rows of a book as candidate rows of each table, some at a time, each at its position.

    before is the number of sheets, the first ones, that are not read themselves. What cannot be read is missing, and
    noted in found.
    """
    first = _FAR_BELOW if before else 0
    for number, written in enumerate(book):
        if number == before:
            first = 0
        for positions, tables, part in two_at_a_time(partial(_tables, written), _numbered(written, first)):
            first += len(positions)
            found.rows += part.rows if number >= before else 0
            found.cells.problems += part.cells.problems
            yield tables


def _numbered(written: Written, first: int) -> Iterator[tuple[pa.Array, Part]]:
    """The positions of the rows of each part of a sheet, counted from first, and the part."""
    for part in written.sheet.parts():
        yield pa.array(np.arange(first, first + len(part.rows))), part
        first += len(part.rows)


def _tables(written: Written, numbered: tuple[pa.Array, Part]) -> tuple[pa.Array, dict[str, pa.Table], Found]:
    """The positions of one part, its candidate rows, and what was found in it."""
    positions, part = numbered
    tables: dict[str, list[pa.Table]] = {}
    found = Found()
    for event, chosen in _events(written, part):
        rows = positions if pc.all(chosen).as_py() else positions.filter(chosen)
        found.rows += len(rows)
        if _known_event(event, rows, found.cells):
            table = _event_rows(written, class_of(event), part, rows, chosen, found.cells)
            tables.setdefault(class_of(event).table, []).append(table)
    return positions, {name: in_order(parts) for name, parts in tables.items()}, found


def together(parts: Iterable[Mapping[str, pa.Table]]) -> dict[str, pa.Table]:
    """The tables of several parts as one of each name, in the order of the parts; those without rows left out."""
    held: dict[str, list[pa.Table]] = {}
    for tables in parts:
        for name, table in tables.items():
            if table.num_rows:
                held.setdefault(name, []).append(table)
    return {name: pa.concat_tables(several) for name, several in held.items()}


def places(book: Sequence[Written], positions: pa.Array) -> Iterator[tuple[int, Place]]:
    """Where positions of a book stand, in their order; its sheets are read once more."""
    first = 0
    for written in book:
        for here, part in _numbered(written, first):
            first += len(here)
            wanted = pc.is_in(here, value_set=positions)
            if not pc.any(wanted).as_py():
                continue
            cells = [as_texts(column.filter(wanted)).to_pylist() for column in part.cells]
            for position, row, *texts in zip(here.filter(wanted).to_pylist(), part.rows.filter(wanted).to_pylist(),
                                             *cells, strict=True):  # fmt: skip
                yield position, Place(written, row, tuple(texts))


def _events(written: Written, part: Part) -> Iterator[tuple[str | None, pa.Array]]:
    """Each event as it is named here, None where it is not, and which rows have it; examples are no rows."""
    column = next((column for column in written.columns if column.field == EVENT), None)
    if column is None:
        yield written.event, pa.repeat(True, len(part.rows))
        return
    encoded = as_texts(part.cells[column.place]).dictionary_encode()
    numbers = encoded.indices.fill_null(-1).to_numpy()
    different: dict[str | None, list[int]] = {written.event: [-1]} if encoded.null_count else {}
    for number, cell in enumerate(encoded.dictionary.to_pylist()):
        text = cell.strip()
        if not text.lower().startswith(EXAMPLE):
            different.setdefault(plain(text) if plain(text) in RECORDS else text, []).append(number)
    for event, own in different.items():
        yield event, pa.array(numbers == own[0] if len(own) == 1 else np.isin(numbers, own))


def _known_event(event: str | None, positions: pa.Array, cells: Cells) -> bool:
    """Whether an event is one of ours; if not, every row that has it is noted."""
    if event in RECORDS:
        return True
    if event is None:
        cells.wrong(positions, EVENT, "is missing", "name what happened, such as picked or sown", "F1")
        return False
    # to look for what is near takes for ever with a text of many letters
    event = event if len(event) <= _LONGEST_EVENT else f"{event[:_LONGEST_EVENT]}..."
    near = get_close_matches(plain(event), RECORDS, n=3, cutoff=0.5)
    remedy = f"write {' or '.join(near)}" if near else f"known are {', '.join(RECORDS)}"
    cells.wrong(positions, EVENT, f"{event!r} is no event", remedy, "F2")
    return False


def _event_rows(
    written: Written, cls: type[Record], part: Part, rows: pa.Array, chosen: pa.Array, cells: Cells
) -> pa.Table:
    """The candidate rows of one event among the rows of a part."""
    given = {
        column.field: Field(_chosen(part.cells[column.place], chosen, len(rows)), column.heading, column.unit)
        for column in written.columns
    }
    given |= {
        name: Field(_repeated(value, len(rows)), name) for name, value in written.constants.items()
        if name in rules_of(cls) or _LABELS.get(name) in rules_of(cls)
    }  # fmt: skip
    fields = _own_fields(cls, given, rows, cells)
    columns, labels = cell_columns(cls, fields, rows, written.manner, cells)
    if RECORD_ID in given:
        columns["record_id"] = _own_ids(given[RECORD_ID], rows, cells)
    return rows_of_columns(cls, rows, columns, labels)


def _repeated(value: Any, count: int) -> pa.Array:
    """A constant as cells: numbers and flags as they are, all else as text."""
    return pa.repeat(pa.scalar(value if isinstance(value, bool | int | float) else cell_text(value)), count)


def _chosen(cells: pa.Array, chosen: pa.Array, count: int) -> pa.Array:
    return cells if count == len(cells) else cells.filter(chosen)


def _own_fields(cls: type[Record], given: Mapping[str, Field], rows: pa.Array, cells: Cells) -> dict[str, Field]:
    """The fields of an event; a filled cell of any other is noted. ``label`` and ``labels`` stand for one another."""
    rules = rules_of(cls)
    own: dict[str, Field] = {}
    for name, field in given.items():
        if name in rules:
            own[name] = field
    for name, field in given.items():
        if name in rules or name in (EVENT, RECORD_ID) or field.cells.null_count == len(rows):
            continue
        other = _LABELS.get(name)
        if other in rules and other not in own:
            own[str(other)] = field
            continue
        odd = pc.is_valid(field.cells)
        if other in rules:
            merged = own[str(other)]
            own[str(other)] = attrs.evolve(merged, cells=pc.coalesce(as_texts(merged.cells), as_texts(field.cells)))
            odd = pc.and_(odd, pc.is_valid(merged.cells))
        _note_strange(cls, name, field, rows, odd, cells)
    return own


def _note_strange(cls: type[Record], name: str, field: Field, rows: pa.Array, odd: pa.Array, cells: Cells) -> None:
    """Note cells in a column that the event does not have."""
    if not pc.any(odd).as_py():
        return
    event = event_of(cls)
    texts = as_texts(field.cells).filter(odd)
    for text in pc.unique(texts).to_pylist():
        cells.wrong(
            rows.filter(odd).filter(pc.equal(texts, text)), name, f"{text!r} is in a column that {event} has not",
            f"{event} has {', '.join(rules_of(cls))}", "F0",
        )  # fmt: skip


def _own_ids(field: Field, rows: pa.Array, cells: Cells) -> pa.Array:
    """The ids that rows bring along, as an export writes them; empty ones are given by the book."""
    texts = pc.utf8_trim_whitespace(as_texts(field.cells))
    right = pc.match_substring_regex(texts, "^[0-9a-fA-F]{32}$")
    bad = pc.invert(pc.fill_null(right, True))
    for text in pc.unique(texts.filter(bad)).to_pylist():
        cells.wrong(
            rows.filter(bad).filter(pc.equal(texts.filter(bad), text)), RECORD_ID, f"{text!r} is no record id",
            "it has 32 hexadecimal digits; take it from the export again, or leave it empty", "F9",
        )  # fmt: skip
    known = pc.if_else(right, texts, None).to_pylist()
    return pa.array([None if text is None else bytes.fromhex(text) for text in known], pa.binary())


def other_of_labels(field: str) -> str:
    """``labels`` for ``label`` and the other way round; an event has one of the two. Other fields are their own."""
    return _LABELS.get(field, field)


def heading_of_field(written: Written, field: str) -> Column | None:
    """The column of a sheet in which a field stands, or its like where an event goes by the other of the labels."""
    names = (field, field.removesuffix("_from"), field.removesuffix("_to"), other_of_labels(field))
    return next((column for name in names for column in written.columns if column.field == name), None)
