"""Lifecycle rules: what a batch says of each plant is held against everything stored about the same label."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from datetime import date
from typing import Any

import attrs
import duckdb

from perennia.checking.words import days, hints, where
from perennia.errors import Problem
from perennia.lifecycle import STATE_WORDS
from perennia.queries.connection import build
from perennia.store.schemas import POSITION

_REFUSED = ("refused_acts", "refused_pickings", "unbegun_entries")


def unsettled_labels(connection: duckdb.DuckDBPyConnection, touched: Collection[str], built: set[str]) -> set[str]:
    """Those labels whose acts contradict each other or leave gaps in plain order, and could be ordered otherwise."""
    build(connection, ["refused_acts", "refused_pickings", "overlapping_labels"], built)
    odd = connection.execute(
        "SELECT label, bool_or(refused) FROM (SELECT label, true AS refused FROM inside.refused_acts UNION ALL "
        "SELECT label, true FROM inside.refused_pickings UNION ALL "
        "SELECT label, false FROM inside.steps WHERE doubt) WHERE label IS NOT NULL GROUP BY label"
    ).fetchall()
    refused = {label: told for label, told in odd if label in touched}
    if not refused:
        return set()
    overlapping = connection.execute(
        "SELECT label, acts_overlap FROM inside.overlapping_labels WHERE label IN (SELECT unnest(?))", [sorted(refused)]
    ).fetchall()
    return {label for label, acts_overlap in overlapping if refused[label] or acts_overlap}


def refused_entries(
    connection: duckdb.DuckDBPyConnection, labels: Collection[str], built: set[str]
) -> Iterator[Refused]:
    """Every entry, of the batch or stored, that contradicts the lives of these labels with the batch seen as stored.

    The connection also sees the labels' mothers, and of the mothers' other daughters no more than how they began, which
    is not judged.
    """
    build(connection, _REFUSED, built)
    for name in _REFUSED:
        rows = connection.execute(
            f"SELECT label, record_id, event, on_from, on_to, state, since FROM inside.{name} "
            "WHERE label IN (SELECT unnest(?)) ORDER BY on_to, record_id",
            [sorted(labels)],
        ).fetchall()
        for row in rows:
            yield Refused(name == "refused_acts", *row)


def history_problems(connection: duckdb.DuckDBPyConnection, found: Collection[Refused]) -> Iterator[Problem]:
    """What is told of the refused entries of a batch: each of its own, and those stored before once a label."""
    if not found:
        return
    own = _own_places(connection, found)
    told = sorted((refused for refused in found if refused.record_id in own), key=lambda item: own[item.record_id])
    near = hints((refused.label for refused in told if refused.state == "none"), _known_labels(connection))
    for refused in told:
        yield _own_problem(refused, own[refused.record_id], near.get(refused.label, ""))
    yield from _older_problems([refused for refused in found if refused.record_id not in own], own)


@attrs.frozen
class Refused:
    """One row of the refused_ and unbegun_ relations; act is true for an event of a plant's life."""

    act: bool
    label: str
    record_id: bytes
    event: str
    on_from: date | None
    on_to: date
    state: str
    since: date | None

    @property
    def named(self) -> str:
        return f"{self.event.replace('_', ' ')} {days(self.on_from, self.on_to)}"


def _own_problem(refused: Refused, position: int, near: str) -> Problem:
    entry = {"label": refused.label, "event": refused.event, "on_from": refused.on_from, "on_to": refused.on_to}
    wrong, remedy, rule = _words(refused, near)
    return Problem(position, where({**entry, POSITION: position}), "label", wrong, remedy, rule)


def _older_problems(older: list[Refused], own: Mapping[Any, int]) -> Iterator[Problem]:
    """Batches legal in themselves that contradict what was recorded before: one problem a label."""
    by_label: dict[str, list[Refused]] = {}
    for refused in older:
        by_label.setdefault(refused.label, []).append(refused)
    for label, group in by_label.items():
        position = own.get(label, -1)
        first = group[0]
        others = len(group) - 1
        more = f" and {others} more {'entry' if others == 1 else 'entries'}" if others else ""
        yield Problem(
            position,
            where({"label": label, "event": "what is recorded now of", POSITION: position}),
            "label",
            f"with it, the entry {first.named}{more} recorded before would be of a plant that "
            f"{_was(first.state, first.since)}",
            "check the dates; correct the older records if they are wrong",
            "L5",
        )


def _own_places(connection: duckdb.DuckDBPyConnection, found: Collection[Refused]) -> dict[Any, int]:
    """The first place in the batch that speaks of each of these records and labels, if any does."""
    places: dict[Any, int] = {}
    for column, wanted in (
        ("record_id", {refused.record_id for refused in found}),
        ("label", {refused.label for refused in found}),
    ):
        places |= connection.execute(
            f"SELECT {column}, min({POSITION}) FROM inside.own WHERE {column} IN (SELECT unnest(?)) GROUP BY {column}",
            [sorted(wanted)],
        ).fetchall()
    return places


def _known_labels(connection: duckdb.DuckDBPyConnection) -> set[str]:
    rows = connection.execute(
        "SELECT label FROM inside.life_stored UNION SELECT label FROM inside.state_spans"
    ).fetchall()
    return {label for (label,) in rows}


def _was(state: str, since: date | None) -> str:
    from_when = f" from {since} on" if since else ""
    return f"was {STATE_WORDS[state]}{from_when}"


def _words(refused: Refused, near: str) -> tuple[str, str, str]:
    label, event, state, since = refused.label, refused.event, refused.state, refused.since
    if state == "none":
        begin = "record first how the plant began (sown, already_here, acquired, divided or cutting_taken)"
        remedy = f"{begin}, or correct the label{near}"
        return f"no plant labelled {label} had begun by then", remedy, "L1"
    if state == "ended":
        if event in ("regrew", "emerged", "flowered"):
            return f"{label} {_was(state, since)}", "if it lives after all, correct the record of its death", "L3"
        return f"{label} {_was(state, since)}", "correct the date or the label, or the record of its end", "L3"
    if refused.act and event in _BEGINNING_EVENTS:
        return (
            f"{label} {_was(state, since)} and is still there",
            "record first how that plant ended (died, removed), or give the new one another label", "L2",
        )  # fmt: skip
    return (
        f"{label} {_was(state, since)}",
        "record first that it was replanted or regrew (a span such as 2023-04/2023-05 will do), "
        "or correct the date or the label",
        "L4",
    )


_BEGINNING_EVENTS = frozenset({"sown", "already_here", "acquired", "divided", "cutting_taken"})
