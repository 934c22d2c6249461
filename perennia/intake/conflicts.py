"""Rows of a book under whose id something else is stored: twins that changed places, and rows edited since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.columns import column_problems
from perennia.checking.shape import share_problems
from perennia.errors import Problem
from perennia.garden import Garden
from perennia.intake.identity import keys_of
from perennia.intake.sheets import cell_text
from perennia.records import Record
from perennia.records.convert import to_dict
from perennia.store.schemas import PLACES, POSITION, content_hash, from_rows

_EDITED = "B4"


def edited_positions(problems: Collection[Problem]) -> set[int]:
    """The positions of rows under whose id something else is stored."""
    return {problem.position for problem in problems if problem.rule == _EDITED}


def with_twins_matched(
    garden: Garden, tables: Mapping[str, pa.Table], edited: Collection[int]
) -> dict[str, pa.Table]:
    """The tables with the ids of twin rows exchanged so that each has, where it can, that of its stored content.

    Twins are rows alike in event, labels or place, and days, which only their order tells apart; in a book that was
    sorted anew they change places. edited are positions of rows that were refused as conflicts.
    """
    return {
        name: table if name in PLACES else _matched(garden, name, table, edited) for name, table in tables.items()
    }


def _matched(garden: Garden, name: str, table: pa.Table, edited: Collection[int]) -> pa.Table:
    rows = _first_rows(table)
    keys = keys_of(table)
    twins: dict[bytes, list[int]] = defaultdict(list)
    for position, row in rows.items():
        twins[keys[row]].append(position)
    groups = [group for group in twins.values() if len(group) > 1 and not set(group).isdisjoint(edited)]
    if not groups:
        return table
    ids, contents = table["record_id"].to_pylist(), content_hash(table).to_pylist()
    wanted = pa.array([ids[rows[position]] for group in groups for position in group], pa.binary())
    became = garden.became(name, wanted)
    new: dict[int, bytes] = {}
    for group in groups:
        own = {position: (ids[rows[position]], contents[rows[position]]) for position in group}
        new |= dict(_exchanged(own, {identity: fate.contents for identity, fate in became.items()}))
    given = [new.get(position, identity) for position, identity in zip(table[POSITION].to_pylist(), ids, strict=True)]
    return table.set_column(table.column_names.index("record_id"), "record_id", pa.array(given, pa.binary()))


def _exchanged(
    own: Mapping[int, tuple[bytes, bytes]], stored: Mapping[bytes, frozenset[bytes]]
) -> Iterator[tuple[int, bytes]]:
    """The id of each twin: one under which its content is stored, else those left over, in their order."""
    free = [identity for identity, _ in own.values()]
    waiting = []
    for position, (_, content) in own.items():
        match = next((identity for identity in free if content in stored.get(identity, ())), None)
        if match is None:
            waiting.append(position)
        else:
            free.remove(match)
            yield position, match
    # rows that are new go to the ids under which nothing is stored, the last ones
    yield from zip(waiting, free, strict=True)


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
        if problem.rule == _EDITED and problem.position in edit_at else problem
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
    return attrs.evolve(
        problem, field=fields[0] if len(fields) == 1 else "", wrong=", ".join(differing),
        remedy="if the book is right now, read it again with correct='why', which replaces what is stored",
    )  # fmt: skip


@attrs.frozen
class Edit:
    """A row that says something else than what is stored of it: the id of what counts now, and what the row says."""

    position: int
    record_id: str
    says: Record


def edits(
    garden: Garden, tables: Mapping[str, pa.Table], edited: Collection[int], today: date
) -> tuple[list[Edit], list[Problem]]:
    """The rows at the positions as edits of what counts under their ids, and what is wrong with those that are none."""
    chosen = pa.array(sorted(edited), pa.int64())
    own = {name: table.filter(pc.is_in(table[POSITION], value_set=chosen)) for name, table in tables.items()}
    problems = [*column_problems(own, today), *share_problems(own)]
    wrong = {problem.position for problem in problems}
    found = []
    for name, table in own.items():
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
