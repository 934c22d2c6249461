"""Rows whose day or labels were edited since: the id that the book gives them is another than the stored one's.

That a row is such an edit, and not one more row, the rest of its book must show: rows of its event that are stored are
in what is read, each one that is not has just one new row that differs from it in day alone or in labels alone, and a
day that was edited lies within the days still in the book, whose ends may have been trimmed off. Where that is not so
the row is new, and what is gone is told (``looking_back.gone_rows``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import row_problems
from perennia.errors import Problem
from perennia.intake.conflicts import EDITED, Edit
from perennia.intake.looking_back import but_label
from perennia.store.schemas import POSITION, from_rows


@attrs.frozen
class _Said:
    """A record: its key (position, or stored id), the last day it can mean, its labels and days, and what else it
    says."""

    key: Any
    day: date
    labels: tuple[str, ...]
    days: tuple[date | None, date]
    rest: tuple[Any, ...]


def edited_keys(
    tables: Mapping[str, pa.Table],
    fresh: Mapping[str, pa.Table],
    absent: Mapping[str, pa.Table],
    unread: Collection[int],
    today: date,
) -> list[Edit]:
    """The rows that are edits, in day or labels alone, of stored records that the book has no more.

    tables: all rows read; fresh: those of which nothing is stored; absent: stored rows of the book that are not among
    those read. unread: positions of rows with cells that cannot be read.
    """
    found: list[Edit] = []
    for name, gone in absent.items():
        new = fresh[name].filter(pc.greater_equal(fresh[name][POSITION], 0))
        unsound = {problem.position for problem in row_problems({name: new}, today)} | set(unread)
        rows = _by(POSITION, new)
        known = tables[name].filter(pc.invert(pc.is_in(tables[name][POSITION], value_set=pa.array(list(rows)))))
        for event in pc.unique(gone["event"]).to_pylist():
            pairs = _pairs(_said("record_id", gone, event), _said(POSITION, new, event), _reach(known, event))
            found += [
                Edit(position, record.hex(), from_rows(rows[position]))
                for record, position in pairs if position not in unsound
            ]  # fmt: skip
    return sorted(found, key=lambda edit: edit.position)


def as_problems(found: Sequence[Edit]) -> list[Problem]:
    """The edits as conflicts, to be told apart as those of other fields are."""
    return [Problem(edit.position, "the record", "", "is already stored otherwise", "correct it", EDITED)
            for edit in found]  # fmt: skip


def _reach(known: pa.Table, event: str) -> tuple[date, date] | None:
    """The first and last day of the rows of an event that are stored and still in the book, if any."""
    reach = pc.min_max(known.filter(pc.equal(known["event"], event))["on_to"]).as_py()
    return None if reach["min"] is None else (reach["min"], reach["max"])


def _pairs(
    gone: Sequence[_Said], new: Sequence[_Said], reach: tuple[date, date] | None
) -> Iterator[tuple[bytes, int]]:
    """The stored id and the position of each edit; none unless all that is gone is explained by one row each."""
    if reach is None:
        return
    like: dict[tuple[Any, ...], list[_Said]] = defaultdict(list)
    for said in new:
        like[said.rest, said.labels].append(said)
        like[said.rest, said.days].append(said)
    pairs: dict[int, bytes] = {}
    for old in gone:
        same_labels, same_days = (like.get((old.rest, own), []) for own in (old.labels, old.days))
        if len(same_labels) + len(same_days) != 1:
            return
        (said,) = [*same_labels, *same_days]
        # what lies outside the days still in the book may have been trimmed off it
        if said.key in pairs or (same_labels and not reach[0] <= old.day <= reach[1]):
            return
        pairs[said.key] = old.key
    yield from ((record, position) for position, record in pairs.items())


def _by(column: str, rows: pa.Table) -> dict[Any, list[dict[str, Any]]]:
    records: dict[Any, list[dict[str, Any]]] = defaultdict(list)
    for row in rows.to_pylist():
        records[row[column]].append(row)
    return records


def _said(column: str, rows: pa.Table, event: str) -> list[_Said]:
    """The records of an event, told apart by a column."""
    found = []
    for key, own in _by(column, rows.filter(pc.equal(rows["event"], event))).items():
        first = own[0]
        labels = tuple(sorted(row["label"] or "" for row in own))
        rest = but_label(first, "on_from", "on_to")
        found.append(_Said(key, first["on_to"], labels, (first["on_from"], first["on_to"]), rest))
    return found
