"""A connection over a garden's pinned files, locked to them, with the order of half-remembered acts settled."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime

import attrs
import duckdb

from perennia.crops import CropProfile
from perennia.queries import catalogue
from perennia.queries.connection import Rows, build, connect
from perennia.queries.door import lock_connection
from perennia.queries.kept_answers import keep_answers, kept_answers, point_to, stand_in
from perennia.queries.placing import followed, settle
from perennia.store.snapshot import Snapshot, placed_labels_at


@attrs.frozen
class Seen:
    """What is seen of a garden: its books after one batch, as they were believed at as_of, up to the day until, by
    crop profiles; memory_limit is what queries may take. It can be pickled."""

    snapshot: Snapshot
    profiles: Mapping[str, CropProfile]
    as_of: datetime | None = None
    until: date | None = None
    memory_limit: str | None = None


def opened(seen: Seen, labels: Collection[str] | None = None) -> tuple[duckdb.DuckDBPyConnection, set[str]]:
    """A connection and the names of the relations it has. labels: when given, only what bears on them is seen."""
    snapshot = seen.snapshot
    rows = _rows(seen, labels)
    answers = kept_answers(rows, snapshot)
    connection = connect(rows)
    point_to(connection, answers)
    built: set[str] = set()
    pinned = [path for paths in snapshot.files.values() for path in paths]
    lock_connection(connection, [*pinned, *map(str, answers.values())], seen.memory_limit)
    placed = placed_labels_at(snapshot, seen.as_of)
    settle(connection, placed if labels is None else followed(connection, placed), built)
    return connection, built


def opened_for(seen: Seen, text: str) -> duckdb.DuckDBPyConnection:
    """A connection that has the views a query may read."""
    connection, built = opened(seen)
    make(connection, named_in(text), built)
    return connection


def make(connection: duckdb.DuckDBPyConnection, wanted: Collection[str], built: set[str]) -> None:
    """Make the wanted relations and what they need, out of what is kept beside the books where it is."""
    stand_in(connection, wanted, built)
    build(connection, wanted, built)


def named_in(text: str) -> list[str]:
    """The views whose names occur in a query: a superset of those it reads, made before it runs."""
    lowered = text.casefold()
    return [name for name in catalogue.shown() if name in lowered]


def keep(seen: Seen) -> None:
    """Keep the answers to these books beside them, where the books are so large that it takes a while to work them out.
    seen is the whole of them."""
    rows = _rows(seen, None)
    if rows.are_few:
        return
    connection, built = opened(seen)
    with connection:
        keep_answers(connection, rows, seen.snapshot, built)


def _rows(seen: Seen, labels: Collection[str] | None) -> Rows:
    return Rows(
        files=seen.snapshot.files, as_of=seen.as_of, until=seen.until, profiles=seen.profiles, labels=labels
    )
