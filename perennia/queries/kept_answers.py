"""Answers kept beside the books: relations worked out when a large garden is compacted, so that they are only read.

The head comment of a relation says whether it is kept, and how: whole, in one file that is read for every question
which needs it; or by label (kept_parts.py), for who asks of one plant.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import pyarrow as pa

from perennia.errors import StoreError
from perennia.queries import catalogue
from perennia.queries.answer_files import (
    FOLDER,
    damaged,
    delete_unneeded,
    hold_whole,
    is_whole,
    lying,
    may_lie,
    put_rows,
    read_instead,
    told,
)
from perennia.queries.connection import Rows, build
from perennia.queries.kept_parts import keep_by_label
from perennia.queries.select_grammar import first_line
from perennia.store.compaction import KEPT_HOURS
from perennia.store.durable import fsync_folder
from perennia.store.log import hold_inside
from perennia.store.snapshot import Snapshot


def kept_answers(rows: Rows, snapshot: Snapshot) -> dict[str, Path]:
    """The files of the relations kept whole that hold for these rows of a garden, by relation. Raises StoreError for a
    file that lies outside the garden once links are followed."""
    if not may_lie(rows, snapshot):
        return {}
    tells = told(rows, snapshot)
    found = {query.name: lying(snapshot, query.name, tells) for query in _kept("whole")}
    return {name: path for name, path in found.items() if path is not None}


def stand_in(
    connection: duckdb.DuckDBPyConnection, answers: Mapping[str, Path], wanted: Collection[str], built: set[str]
) -> None:
    """Of the wanted relations, and those that they need, make the ones that kept answers stand in for, which need no
    others then, and add their names to built. Raises StoreError for a file that cannot be read, as all else can."""
    for query in [query for query in catalogue.in_order(wanted, built) if query.name in answers]:
        path = answers[query.name]
        hold_whole(path)
        try:
            read_instead(connection, query, [path])
        except duckdb.Error as error:
            raise damaged(path, first_line(error)) from error
        built.add(query.name)


def keep_answers(
    connection: duckdb.DuckDBPyConnection,
    rows: Rows,
    snapshot: Snapshot,
    built: set[str],
    kept_hours: float = KEPT_HOURS,
) -> None:
    """Work out the answers that are kept and do not lie there yet, and delete files that no reader can still hold.

    connection sees the rows, and built names the relations it has. An answer is on the disk, whole, before it is found.
    Raises StoreError when one cannot be worked out or written.
    """
    root = Path(snapshot.root)
    folder = hold_inside(root, root / FOLDER)
    try:
        folder.mkdir(exist_ok=True)
        tells = told(rows, snapshot)
        for query in _kept("whole"):
            _keep_whole(connection, query, snapshot, tells, built)
        # of fewer rows one plant's are found as fast without
        for query in _kept("by label") if rows.are_many else ():
            keep_by_label(connection, query, snapshot, tells, built)
        fsync_folder(folder)
    except (OSError, duckdb.Error, pa.ArrowException, StoreError) as error:
        raise StoreError(
            f"what the books in {root} answer could not be kept beside them ({error}); the books are whole, and "
            "questions are worked out whenever they are asked; give the disk more room, or queries more memory"
        ) from error
    finally:
        # room is made also where it lacks
        if folder.is_dir():
            delete_unneeded(snapshot, datetime.now(UTC) - timedelta(hours=kept_hours))


def _keep_whole(
    connection: duckdb.DuckDBPyConnection, query: catalogue.Query, snapshot: Snapshot, tells: str, built: set[str]
) -> None:
    """Put a relation in place, unless it lies there."""
    path = lying(snapshot, query.name, tells)
    if path is not None and is_whole(path):
        return
    build(connection, [query.name], built)
    if path is not None:
        path.unlink(missing_ok=True)
    put_rows(connection, query, snapshot, tells)


def _kept(how: str) -> list[catalogue.Query]:
    return [query for query in catalogue.queries().values() if query.beside_books == how]
