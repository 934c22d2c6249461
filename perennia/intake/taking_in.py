"""The rows of a book into the garden: those without fault stored in one batch, twins and edits told apart."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import Doubt, row_problems
from perennia.errors import Problem, RefusedError
from perennia.garden import Garden, Receipt
from perennia.intake.conflicts import (
    Edit,
    edited_positions,
    edited_rows,
    edits,
    key_rows,
    rows_at,
    told_apart,
    twins_matched,
)
from perennia.intake.edited_keys import as_problems, edited_keys
from perennia.intake.identity import book_ids_of_parts
from perennia.intake.looking_back import (
    LARGEST,
    absent_rows,
    fresh_rows,
    gone_rows,
    outdated,
    put_in_place,
    small_tables,
)
from perennia.intake.rows import Found, Written, convert, together
from perennia.intake.sources import Progress
from perennia.intake.weather_gaps import MEASURES, weather_gaps
from perennia.store.schemas import POSITION, uuid7

_NO_RECEIPT = Receipt(0, (), 0, 0, ())
# so many rows of small sheets go on together
_ROWS_TOGETHER = 100_000
Tables = dict[str, pa.Table]


@attrs.frozen
class How:
    """The book's name; whether to stop at a fault or leave bad rows out; why edited rows replace what is stored, if
    they do; the day ahead of which nothing can be; whom to tell of the steps; and whether the rows were set aside from
    a book that is not at hand, so that none of them is one of those stored."""

    book: str
    stop: bool
    correct: str | None
    today: date
    say: Progress
    additional: bool = False


@attrs.frozen
class TakenIn:
    """What became of the rows of a book: of those not stored, known or corrected, problems says what is wrong."""

    receipt: Receipt
    rows: int
    problems: Sequence[Problem]
    corrected: int
    gaps: Sequence[str]
    doubts: Sequence[Doubt]


@attrs.define
class _Rounds:
    """What the rounds so far have found: what was refused, ids that rows get in place of the book's, by position; the
    positions of rows that say what is known; and the edited rows that are to replace what is stored."""

    problems: list[Problem] = attrs.Factory(list)
    ids: dict[int, bytes] = attrs.Factory(dict)
    known: set[int] = attrs.Factory(set)
    edits: list[Edit] = attrs.Factory(list)
    twins_matched: bool = False

    @property
    def replacing(self) -> dict[str, str]:
        """By the id of each record to be replaced, the id of what takes its place."""
        refused = {problem.position for problem in self.problems}
        return {edit.record_id: self.ids[edit.position].hex() for edit in self.edits if edit.position not in refused}


def take_in(garden: Garden, written: Sequence[Written], how: How, *, before: int) -> TakenIn:
    """The rows without fault stored, unless any is wrong and how says stop; each round leaves out what was refused.

    before is the number of sheets, the first ones, that only tell how many rows of a day come before those of the
    others. A book is read anew in every round, some rows at a time, so that a large one is never in memory whole.
    """
    rounds = _Rounds()
    doubts = _look_back(garden, written, how, before, rounds)
    if how.stop and rounds.problems:
        return _stopped(written, how, before, rounds)
    while True:
        how.say("reading, checking and storing" if not rounds.problems else "leaving out what is wrong")
        found, weather = Found(), list[pa.Table]()
        parts = _sound_parts(written, how, before, found, rounds, weather)
        try:
            receipt = garden.record_tables(parts, today=how.today, replacing=rounds.replacing, reason=how.correct)
            problems = [*found.problems, *rounds.problems]
            return TakenIn(receipt, found.rows, problems, len(rounds.replacing), _gaps(weather), doubts)
        except RefusedError as error:
            # of no row of the book, or of one left out already: nothing that another round would mend
            left_out = {problem.position for problem in rounds.problems}
            if any(problem.position < 0 or problem.position in left_out for problem in error.problems):
                raise
            refused = list(error.problems)
        if how.stop and found.problems:
            return _stopped(written, how, before, rounds)
        rounds.problems += _unsettled(garden, lambda: _parts(written, how.book, before, Found(), rounds), how, rounds,
                                      refused)  # fmt: skip
        if how.stop and rounds.problems:
            return TakenIn(_NO_RECEIPT, found.rows, rounds.problems, 0, (), ())


def _stopped(written: Sequence[Written], how: How, before: int, rounds: _Rounds) -> TakenIn:
    """Nothing stored, and all that is wrong with the rows in themselves beside what was found so far."""
    found = Found()
    more = [problem for tables in _parts(written, how.book, before, found, rounds)
            for problem in row_problems(_without(tables, _unread(found)), how.today)]  # fmt: skip
    return TakenIn(_NO_RECEIPT, found.rows, [*found.problems, *rounds.problems, *more], 0, (), ())


def _look_back(garden: Garden, written: Sequence[Written], how: How, before: int, rounds: _Rounds) -> list[Doubt]:
    """Hold a book that is not too large against what was stored of it before: twins are matched, rows that say what
    was put in their place are known, and what to look at is said."""
    found = Found()
    if sum(sheet.sheet.count or 0 for sheet in written) > LARGEST:
        return []
    tables = small_tables(garden, book_ids_of_parts(how.book, convert(written, found, before=before)))
    if not tables:
        return []
    if edited := edited_rows(garden, tables):
        rounds.ids |= twins_matched(garden, how.book, tables, edited, additional=how.additional)
        rounds.twins_matched = True
    matched = {name: _with_ids(table, rounds.ids) for name, table in tables.items()}
    stored = {name: garden.rows(name) for name in matched}
    placed, unsaid = put_in_place(garden, how.book, matched, stored)
    rounds.known |= {position for position in placed if position >= 0}
    if how.additional:
        return []
    absent = absent_rows(how.book, matched, stored, unsaid)
    fresh = {name: _without_rows(fresh_rows(garden, name, matched[name], stored[name]), rounds.known)
             for name in absent}  # fmt: skip
    moved = edited_keys(matched, fresh, absent, _unread(found), how.today)
    if how.correct is None:
        rounds.problems += told_apart(garden, as_problems(moved), moved)
    else:
        rounds.edits += moved
        rounds.ids |= {edit.position: uuid7() for edit in moved}
    if before:
        return []
    told = {edit.record_id for edit in moved}
    return [*outdated(garden, matched), *gone_rows(matched, fresh, absent, told)]


def _parts(written: Sequence[Written], book: str, before: int, found: Found, rounds: _Rounds) -> Iterator[Tables]:
    """The candidate rows of a book under their ids, some at a time.

    Ids are given with every row in its place, so that what is mended later finds the id it would have had.
    """
    for tables in book_ids_of_parts(book, convert(written, found, before=before)):
        own = {name: _own_rows(table) for name, table in tables.items()} if before else tables
        yield {name: _with_ids(table, rounds.ids) for name, table in own.items() if table.num_rows}


def _own_rows(table: pa.Table) -> pa.Table:
    return table.filter(pc.greater_equal(table[POSITION], 0))


def _with_ids(table: pa.Table, ids: Mapping[int, bytes]) -> pa.Table:
    if not ids:
        return table
    known = zip(table[POSITION].to_pylist(), table["record_id"].to_pylist(), strict=True)
    new = pa.array([ids.get(position, identity) for position, identity in known], pa.binary())
    return table.set_column(table.column_names.index("record_id"), "record_id", new)


def _sound_parts(
    written: Sequence[Written], how: How, before: int, found: Found, rounds: _Rounds, weather: list[pa.Table]
) -> Iterator[Tables]:
    """The rows in which nothing was found wrong so far, small parts together. Raises RefusedError to stop at a cell."""
    refused = {problem.position for problem in rounds.problems} | rounds.known
    waiting: list[Tables] = []
    for tables in _parts(written, how.book, before, found, rounds):
        sound = _without(tables, refused | _unread(found))
        if "weather" in sound:
            weather.append(sound["weather"].select(["site", "bed", "on_to", *MEASURES]))
        waiting.append(sound)
        if sum(table.num_rows for part in waiting for table in part.values()) >= _ROWS_TOGETHER:
            yield together(waiting)
            waiting = []
    if how.stop and found.problems:
        raise RefusedError(found.problems)
    yield together(waiting)


def _unread(found: Found) -> set[int]:
    return {problem.position for problem in found.problems}


def _without(tables: Tables, positions: Collection[int]) -> Tables:
    if not positions:
        return tables
    kept = {name: _without_rows(table, positions) for name, table in tables.items()}
    return {name: table for name, table in kept.items() if table.num_rows}


def _without_rows(table: pa.Table, positions: Collection[int]) -> pa.Table:
    unwanted = pa.array(sorted(positions), pa.int64())
    return table.filter(pc.invert(pc.is_in(table[POSITION], value_set=unwanted)))


def _unsettled(
    garden: Garden, parts: Callable[[], Iterator[Tables]], how: How, rounds: _Rounds, refused: Sequence[Problem]
) -> list[Problem]:
    """What stays wrong of what was refused, once twins have changed ids and edits, if asked, are to replace."""
    edited = edited_positions(refused)
    if not edited:
        return list(refused)
    if not rounds.twins_matched:
        rounds.twins_matched = True
        rounds.ids |= twins_matched(garden, how.book, key_rows(parts, edited), edited, additional=how.additional)
        return []
    changed, broken = edits(garden, rows_at(parts(), edited), how.today)
    wrong = {problem.position for problem in broken}
    if how.correct is None:
        left = [problem for problem in refused if problem.position not in wrong]
        return [*broken, *told_apart(garden, left, changed)]
    # what was tried before and is refused again stays wrong; of rows that say the same of one place one is enough
    tried = {edit.record_id for edit in rounds.edits}
    new = {edit.record_id: edit for edit in changed if edit.record_id not in tried}
    rounds.ids |= {edit.position: uuid7() for edit in new.values()}
    rounds.edits += new.values()
    first = {edit.record_id: edit for edit in rounds.edits}
    same = {
        edit.position
        for edit in changed
        if edit is not first[edit.record_id] and edit.says == first[edit.record_id].says
    }
    rounds.known |= same
    settled = wrong | same | {edit.position for edit in new.values()}
    return [*broken, *(problem for problem in refused if problem.position not in settled)]


def _gaps(weather: Sequence[pa.Table]) -> tuple[str, ...]:
    """Which days and values the weather of a book lacks: gaps stay gaps, and are said."""
    if not weather:
        return ()
    days = pa.concat_tables(weather)
    return weather_gaps(days.rename_columns(["on" if name == "on_to" else name for name in days.column_names]))
