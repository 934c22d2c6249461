"""Corrections in bulk: a table of records by their ids, as an export writes it, with what is right now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path

import attrs
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import Doubt, arguments, row_problems
from perennia.checking.words import counted
from perennia.errors import IntakeError, Problem, RefusedError
from perennia.garden import Garden
from perennia.intake.books import Form, placed, written_so
from perennia.intake.columns import RECORD_ID, Column, plain
from perennia.intake.record_sheets import sheet_of
from perennia.intake.rows import Found, Written, convert, other_of_labels, places, together
from perennia.intake.sheets import Part, Sheet, as_texts, kept
from perennia.intake.sources import sheets_of
from perennia.records import Record
from perennia.records.catalogue import class_of
from perennia.store.schemas import POSITION, content_hash, from_rows, to_tables


def one_row(garden: Garden, record_id: str, cells: Mapping[str, str]) -> pa.Table:
    """The record of an id as one row that correct takes, with some cells written anew, each by its field's name.

    An empty cell empties the field. Raises UnknownLabelError when no such record counts.
    """
    (rows,) = to_tables([garden.recorded(record_id)]).values()
    identity = pa.repeat(pa.scalar(bytes.fromhex(record_id), pa.binary()), rows.num_rows)
    rows = rows.set_column(rows.column_names.index("record_id"), "record_id", identity)
    row = sheet_of(class_of(rows["event"][0].as_py()).table, rows)
    for name, text in cells.items():
        field = other_of_labels(name) if name not in row.column_names else name
        field = field if field in row.column_names else plain(name)
        cell = pa.array([text or None], pa.string())
        place = row.column_names.index(field) if field in row.column_names else None
        row = row.append_column(field, cell) if place is None else row.set_column(place, field, cell)
    return row


@attrs.frozen
class CorrectionReport:
    """What became of a table of corrections: rows = corrected + taken_back + unchanged.

    unchanged are rows that say what is stored, or what it was corrected to before; doubts is what to look at.
    """

    rows: int
    corrected: int
    taken_back: int
    unchanged: int
    doubts: tuple[Doubt, ...]

    def summary(self) -> str:
        """One plain sentence."""
        return (
            f"{counted(self.rows, 'row')} read: {self.corrected} corrected, {self.taken_back} taken back, "
            f"{self.unchanged} unchanged; {counted(len(self.doubts), 'doubt')}"
        )


def correct(
    garden: Garden,
    source: str | Path | pa.Table | pd.DataFrame,
    *,
    reason: str,
    columns: Mapping[str, str | None] | None = None,
    units: Mapping[str, str] | None = None,
    dates: str | None = None,
    year: int | None = None,
    encoding: str | None = None,
    decimal: str | None = None,
    today: date | None = None,
) -> CorrectionReport:
    """Correct the records that the rows of a table name by ``record_id``, all at once or none.

    One row is one record as it should be: its columns are those of read, all its fields, as export writes them; a row
    that holds nothing but its record_id takes the record back. Rows that say what is stored change nothing. units,
    dates, year, encoding, decimal and today are those of read. The old records are kept whole, with the reason. Raises
    IntakeError, UnknownLabelError for an id that counts no more, RefusedError with a CellProblem for every fault.
    """
    form = Form.of(None, columns, units, dates, year, None)
    sheets = sheets_of(source, encoding=encoding, decimal=decimal)
    written = written_so(sheets, form)
    gone = [identity for sheet in written for identity in _taken_back(sheet)]
    filled = [attrs.evolve(own, sheet=_with_more_than_an_id(own)) for own in written]
    found = Found()
    tables = together(convert(filled, found))
    day = arguments.a_day(today, "today") or date.today()
    unread = {problem.position for problem in found.problems}
    broken = row_problems(tables, day)
    problems = [*found.problems, *(problem for problem in broken if problem.position not in unread)]
    if problems:
        raise RefusedError(placed(filled, problems)[1])
    _check_ids(filled, tables)
    found_changed = list(_changed(garden, tables))
    _check_once([*(identity for identity, _ in found_changed), *gone])
    changed = dict(found_changed)
    replacements: dict[str, Record | None] = {identity: record for identity, (_, record) in changed.items()}
    replacements |= dict.fromkeys(gone)
    doubts: tuple[Doubt, ...] = ()
    if replacements:
        try:
            doubts = garden.correct_all(replacements, reason=reason, today=today).doubts
        except RefusedError as error:
            positions = [position for position, _ in changed.values()]
            raise RefusedError(placed(filled, list(_at_rows(error, positions)))[1]) from error
    unchanged = found.rows - len(changed)
    return CorrectionReport(found.rows + len(gone), len(changed), len(gone), unchanged, doubts)


def _id_column(written: Written) -> Column:
    column = next((column for column in written.columns if column.field == RECORD_ID), None)
    if column is None:
        raise IntakeError(
            f"{written.sheet.told} has no column record_id, which says what to correct; "
            "export writes it, and history shows it"
        )
    return column


def _only_id(written: Written, part: Part) -> pa.Array:
    """True for each row that holds nothing but its id."""
    place = _id_column(written).place
    more = pa.repeat(False, len(part.rows))
    for own, cells in enumerate(part.cells):
        if own != place:
            more = pc.or_(more, pc.is_valid(cells))
    return pc.invert(more)


def _taken_back(written: Written) -> Iterator[str]:
    for part in written.sheet.parts():
        ids = part.cells[_id_column(written).place].filter(_only_id(written, part))
        yield from (text.strip().lower() for text in as_texts(ids).to_pylist())


def _with_more_than_an_id(written: Written) -> Sheet:
    def parts() -> Iterator[Part]:
        for part in written.sheet.parts():
            yield kept(part, pc.invert(_only_id(written, part)))

    return attrs.evolve(written.sheet, parts=parts)


def _check_once(ids: Sequence[str]) -> None:
    twice = [identity for identity, times in Counter(ids).items() if times > 1]
    if twice:
        raise IntakeError(f"the record {twice[0]} stands in two rows; say once what is to become of it")


def _check_ids(written: Sequence[Written], tables: Mapping[str, pa.Table]) -> None:
    new = [table.filter(pc.is_null(table["record_id"]))[POSITION].to_pylist() for table in tables.values()]
    first = min((position for positions in new for position in positions), default=None)
    if first is not None:
        place = dict(places(written, pa.array([first])))[first]
        raise IntakeError(
            f"{place.written.sheet.told} row {place.row} has no record_id; rows that are new are taken in by read"
        )


def _changed(garden: Garden, tables: Mapping[str, pa.Table]) -> Iterator[tuple[str, tuple[int, Record]]]:
    """By id, the position and record of each row that says what was never said under its id."""
    for name, table in tables.items():
        became = garden.became(name, pc.unique(table["record_id"]))
        rows: dict[int, list[dict[str, object]]] = {}
        for row, content in zip(table.to_pylist(), content_hash(table).to_pylist(), strict=True):
            fate = became.get(row["record_id"])
            if fate is None or content not in fate.contents:
                rows.setdefault(row[POSITION], []).append(row)
        for position, said in rows.items():
            identity = said[0]["record_id"]
            if isinstance(identity, bytes):
                yield identity.hex(), (position, from_rows(said))


def _at_rows(error: RefusedError, positions: Sequence[int]) -> Iterator[Problem]:
    if any(not 0 <= problem.position < len(positions) for problem in error.problems):
        raise error
    for problem in error.problems:
        yield attrs.evolve(problem, position=positions[problem.position])
