"""A connection over a garden's pinned files, locked to them, with the order of half-remembered acts settled."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

import attrs
import duckdb

from perennia.crops import CropProfile
from perennia.queries import catalogue
from perennia.queries.answer_files import damaged, read_instead
from perennia.queries.connection import Rows, build, connect
from perennia.queries.door import lock_connection
from perennia.queries.kept_answers import keep_answers, kept_answers, stand_in
from perennia.queries.kept_parts import kept_parts
from perennia.queries.placing import followed, settle
from perennia.queries.select_grammar import first_line
from perennia.store.reading import reading
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


@attrs.frozen(eq=False)
class Opened:
    """A connection, the files of kept answers that stand in for relations, and the names of those made so far."""

    connection: duckdb.DuckDBPyConnection
    answers: Mapping[str, Path]
    built: set[str] = attrs.Factory(set)

    def make(self, wanted: Collection[str]) -> None:
        """Make the wanted relations and what they need, out of what is kept beside the books where it is."""
        stand_in(self.connection, self.answers, wanted, self.built)
        build(self.connection, wanted, self.built)

    @property
    def is_whole(self) -> bool:
        """Whether all that it reads is there. A kept answer may be deleted under it: by hand, or by a process for which
        its time is over."""
        return all(path.is_file() for path in self.answers.values())


def opened(seen: Seen, labels: Collection[str] | None = None) -> Opened:
    """A connection. labels: when given, only what bears on them is seen."""
    snapshot = seen.snapshot
    rows = _rows(seen, labels)
    found = Opened(connect(rows), kept_answers(rows, snapshot))
    pinned = [path for paths in snapshot.files.values() for path in paths]
    lock_connection(found.connection, [*pinned, *map(str, found.answers.values())], seen.memory_limit)
    placed = placed_labels_at(snapshot, seen.as_of)
    settle(found.connection, placed if labels is None else followed(found.connection, placed), found.built)
    return found


def opened_for(seen: Seen, text: str) -> duckdb.DuckDBPyConnection:
    """A connection that has the views a query may read."""
    found = opened(seen)
    found.make(named_in(text))
    return found.connection


def opened_on(seen: Seen, names: Collection[str]) -> duckdb.DuckDBPyConnection | None:
    """A connection that has plants (their label, plant and life) and the entries of plants that are named by label or
    address, and of few others; None where the books are so small that all of them are looked at as fast."""
    whole = _rows(seen, None)
    if not whole.are_many:
        return None
    # an address is a label and a year
    labels = {*names, *(name.rpartition("/")[0] or name for name in names)}
    kept = _on_parts(seen, kept_parts(whole, seen.snapshot, "entries", labels), labels)
    if kept is not None:
        return kept
    found = opened(seen, labels)
    found.make(["plants", "entries"])
    return found.connection


def _on_parts(seen: Seen, parts: Sequence[Path], labels: Collection[str]) -> duckdb.DuckDBPyConnection | None:
    """A connection that has the entries of these labels out of files that hold them, and their plants; None without
    such files, or where one was deleted meanwhile. Raises StoreError for one that cannot be read."""
    if not parts:
        return None
    connection = reading()
    lock_connection(connection, [*map(str, parts)], seen.memory_limit)
    connection.execute("CREATE SCHEMA inside")
    try:
        read_instead(connection, catalogue.queries()["entries"], parts, labels)
    except duckdb.Error as error:
        if not all(path.is_file() for path in parts):
            return None
        raise damaged(parts[0], first_line(error)) from error
    # every plant has an entry, that of how it began
    connection.execute("CREATE VIEW plants AS SELECT DISTINCT label, plant, life FROM inside.entries")
    return connection


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
    found = opened(seen)
    with found.connection:
        keep_answers(found.connection, rows, seen.snapshot, found.built)


def _rows(seen: Seen, labels: Collection[str] | None) -> Rows:
    return Rows(
        files=seen.snapshot.files, as_of=seen.as_of, until=seen.until, profiles=seen.profiles, labels=labels
    )
