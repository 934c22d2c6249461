"""Rows of a book under whose id something else is stored: twins that changed places, and rows edited since."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import row_problems
from perennia.errors import Problem
from perennia.garden import Garden
from perennia.intake.identity import further_ids, keys_of
from perennia.intake.sheets import cell_text
from perennia.records import Record
from perennia.records.convert import to_dict
from perennia.store.schemas import PLACES, POSITION, content_hash, from_rows

EDITED = "B4"
_KEYS = frozenset({"on", "label", "labels"})
# so many twins may be gone from a day of a book and those left are still known
_FURTHER = 20


def edited_rows(garden: Garden, tables: Mapping[str, pa.Table]) -> set[int]:
    """The positions of rows under whose id something else is stored."""
    found: set[int] = set()
    for name, table in tables.items():
        became = garden.became(name, pc.unique(table["record_id"]))
        rows = zip(table[POSITION].to_pylist(), table["record_id"].to_pylist(), content_hash(table).to_pylist(),
                   strict=True)  # fmt: skip
        found |= {position for position, identity, content in rows
                  if identity in became and content not in became[identity].contents}  # fmt: skip
    return found


def edited_positions(problems: Collection[Problem]) -> set[int]:
    """The positions of rows that were refused because something else is stored under their id."""
    return {problem.position for problem in problems if problem.rule == EDITED}


def key_rows(parts: Callable[[], Iterator[Mapping[str, pa.Table]]], edited: Collection[int]) -> dict[str, pa.Table]:
    """The rows at the positions and all that only their order tells apart from them, from all parts of a book."""
    keys: dict[str, set[bytes]] = defaultdict(set)
    for name, table in rows_at(parts(), edited).items():
        keys[name].update(keys_of(table))
    found: dict[str, list[pa.Table]] = defaultdict(list)
    for tables in parts():
        for name in keys.keys() & tables.keys():
            wanted = pa.array(sorted(keys[name]), pa.binary())
            found[name].append(tables[name].filter(pc.is_in(pa.array(keys_of(tables[name])), value_set=wanted)))
    return {name: pa.concat_tables(several) for name, several in found.items()}


def rows_at(parts: Iterator[Mapping[str, pa.Table]], positions: Collection[int]) -> dict[str, pa.Table]:
    """The rows at the positions, from all parts of a book."""
    wanted = pa.array(sorted(positions), pa.int64())
    found: dict[str, list[pa.Table]] = defaultdict(list)
    for tables in parts:
        for name, table in tables.items():
            found[name].append(table.filter(pc.is_in(table[POSITION], value_set=wanted)))
    joined = {name: pa.concat_tables(several) for name, several in found.items()}
    return {name: table for name, table in joined.items() if table.num_rows}


def twins_matched(
    garden: Garden, book: str, tables: Mapping[str, pa.Table], edited: Collection[int], *, additional: bool
) -> dict[int, bytes]:
    """By position, the ids of twin rows exchanged so that each has, where it can, that of its stored content.

    Twins are rows alike in event, labels or place, and days, which only their order tells apart; in a book that was
    sorted anew they change places, and where one is gone from it the next move up. tables: all rows that are twins of
    those at the edited positions, and those. additional: none of them is one of those stored, but one more.
    """
    new: dict[int, bytes] = {}
    for name, table in tables.items():
        if name not in PLACES:
            new |= _matched(garden, book, name, table, edited, additional)
    return new


def _matched(
    garden: Garden, book: str, name: str, table: pa.Table, edited: Collection[int], additional: bool
) -> dict[int, bytes]:
    rows = _first_rows(table)
    keys = keys_of(table)
    twins: dict[bytes, list[int]] = defaultdict(list)
    for position, row in rows.items():
        twins[keys[row]].append(position)
    groups = {key: group for key, group in twins.items() if not set(group).isdisjoint(edited)}
    ids, contents = table["record_id"].to_pylist(), content_hash(table).to_pylist()
    more = {key: further_ids(book, key, len(group) + 1, _FURTHER) for key, group in groups.items()}
    asked = [ids[rows[position]] for group in groups.values() for position in group]
    asked += [identity for several in more.values() for identity in several]
    became = garden.became(name, pa.array(asked, pa.binary()))
    stored = {identity: fate.contents for identity, fate in became.items()}
    new: dict[int, bytes] = {}
    for key, group in groups.items():
        own = {position: (ids[rows[position]], contents[rows[position]]) for position in group}
        further = [identity for identity in more[key] if identity in stored]
        free = [identity for identity in (*(identity for identity, _ in own.values()), *more[key])
                if identity not in stored]  # fmt: skip
        new |= dict(_exchanged(own, stored, further, free if additional else None))
    return new


def _exchanged(
    own: Mapping[int, tuple[bytes, bytes]],
    stored: Mapping[bytes, frozenset[bytes]],
    more: Sequence[bytes],
    unused: Sequence[bytes] | None,
) -> Iterator[tuple[int, bytes]]:
    """The id of each twin: one under which its content is stored, else those left over, in their order.

    own: id and content by position. more: ids under which twins are stored that the book has no more.
    unused: where given, the ids for those left over, under which nothing is stored.
    """
    free = dict.fromkeys([*(identity for identity, _ in own.values()), *more])
    holding: dict[bytes, deque[bytes]] = defaultdict(deque)
    for identity in free:
        for content in stored.get(identity, ()):
            holding[content].append(identity)
    waiting = []
    for position, (_, content) in own.items():
        same = holding[content]
        while same and same[0] not in free:
            same.popleft()
        if not same:
            waiting.append(position)
        else:
            del free[same[0]]
            yield position, same.popleft()
    # rows that are new go to the ids under which nothing is stored, the last of their own
    yield from zip(waiting, free if unused is None else unused, strict=False)


def _first_rows(table: pa.Table) -> dict[int, int]:
    """The first row of each record, by its position, in the order of the book."""
    first: dict[int, int] = {}
    for row, position in enumerate(table[POSITION].to_pylist()):
        first.setdefault(position, row)
    return dict(sorted(first.items()))


def told_apart(garden: Garden, problems: Sequence[Problem], found: Sequence[Edit]) -> list[Problem]:
    """The problems, those of edited rows saying what is stored, what the row says, and the ways on."""
    edit_at = {edit.position: edit for edit in found}
    return [
        _told_apart(garden, problem, edit_at[problem.position])
        if problem.rule == EDITED and problem.position in edit_at else problem
        for problem in problems
    ]  # fmt: skip


def _told_apart(garden: Garden, problem: Problem, edit: Edit) -> Problem:
    stored, here = (to_dict(record) for record in (garden.recorded(edit.record_id), edit.says))
    fields = list(dict.fromkeys(name for name in (*here, *stored) if here.get(name) != stored.get(name)))
    differing = [
        f"{f'{name} ' if len(fields) > 1 else ''}{cell_text(here.get(name)) or 'nothing'} is written here, "
        f"{cell_text(stored.get(name)) or 'nothing'} is stored"
        for name in fields
    ]
    remedy = "if the book is right now, read it again with correct='why' (--correct why) to replace what is stored"
    if _KEYS.intersection(fields):
        remedy += "; if both happened, the book needs a row for each"
    return attrs.evolve(
        problem, field=fields[0] if len(fields) == 1 else "", wrong=", ".join(differing), remedy=remedy
    )


@attrs.frozen
class Edit:
    """A row that says something else than what is stored of it: the id of what counts now, and what the row says."""

    position: int
    record_id: str
    says: Record


def edits(garden: Garden, tables: Mapping[str, pa.Table], today: date) -> tuple[list[Edit], list[Problem]]:
    """The edited rows as edits of what counts under their ids, and what is wrong with those that are no records."""
    problems = row_problems(tables, today)
    wrong = {problem.position for problem in problems}
    found = []
    for name, table in tables.items():
        standing = _standing(garden, name, table)
        rows: dict[int, list[dict[str, Any]]] = defaultdict(list)
        for row in table.to_pylist():
            rows[row[POSITION]].append(row)
        for position, said in rows.items():
            identity = standing.get(said[0]["name"] if name in PLACES else said[0]["record_id"])
            if identity is not None and position not in wrong:
                found.append(Edit(position, identity, from_rows(said)))
    return sorted(found, key=lambda edit: edit.position), problems


def _standing(garden: Garden, name: str, table: pa.Table) -> dict[Any, str]:
    """The id of what counts now, by the id of the row, or by the name of a site or bed."""
    if name in PLACES:
        places = garden.table(name)
        return dict(zip(places[PLACES[name]], places["record_id"], strict=True))
    became = garden.became(name, pc.unique(table["record_id"]))
    return {identity: fate.standing.hex() for identity, fate in became.items() if fate.standing is not None}
