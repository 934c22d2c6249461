"""Answers kept beside the books: relations worked out when a large garden is compacted, so that they are only read.

An answer is a Parquet file in the garden's folder .answers. Its name holds the batch after which it was worked out and
a hash of all that it rests on (the files of every table, the crop profiles, the code and libraries that work it out),
so that one which no longer holds is not found, and the question is worked out as ever; then a hash of its own bytes,
for a disk can lose some. The folder may be deleted at any time.
"""

from __future__ import annotations

import hashlib
import re
import uuid
from collections.abc import Collection, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from functools import cache, partial
from importlib import resources
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa

from perennia import crops
from perennia.errors import StoreError
from perennia.queries import catalogue
from perennia.queries.connection import Rows, build
from perennia.queries.select_grammar import first_line
from perennia.store.compaction import KEPT_HOURS
from perennia.store.durable import ROWS_A_GROUP, fsync_folder, write_parquet
from perennia.store.log import hold_inside
from perennia.store.snapshot import Snapshot, read_table

FOLDER = ".answers"
_ANSWER = re.compile(r"[a-z_]+-(?P<batch>\d+)-[0-9a-f]+-(?P<bytes>[0-9a-f]+)\.parquet")
_UNFINISHED = re.compile(r"\.[0-9a-f]{32}")


def kept_answers(rows: Rows, snapshot: Snapshot) -> dict[str, Path]:
    """The files of the answers that hold for these rows of a garden, by relation. Raises StoreError for a file that
    lies outside the garden once links are followed."""
    root = Path(snapshot.root)
    folder = root / FOLDER
    if not _are_the_whole_books(rows) or not folder.is_dir():
        return {}
    lying = ((name, _lying(folder, begins)) for name, begins in _beginnings(rows, snapshot).items())
    return {name: hold_inside(root, path) for name, path in lying if path is not None}


def stand_in(
    connection: duckdb.DuckDBPyConnection, answers: Mapping[str, Path], wanted: Collection[str], built: set[str]
) -> None:
    """Of the wanted relations, and those that they need, make the ones that kept answers stand in for, which need no
    others then, and add their names to built. Raises StoreError for a file that cannot be read, as all else can."""
    for name in [query.name for query in catalogue.in_order(wanted, built) if query.name in answers]:
        path = answers[name]
        if not _is_whole(path):
            raise _damaged(path, "its bytes are not those that were written")
        # a folder called season=2024 is no column
        source = f"read_parquet(getvariable('{name}_answer'), hive_partitioning = false)"
        try:
            connection.execute(f"SET VARIABLE {name}_answer = ?", [str(path)])
            connection.execute(f"CREATE VIEW {catalogue.queries()[name].qualified} AS SELECT * FROM {source}")
        except duckdb.Error as error:
            raise _damaged(path, first_line(error)) from error
        built.add(name)


def _damaged(path: Path, why: str) -> StoreError:
    return StoreError(f"{path} cannot be read ({why}); delete it, for what it held is worked out anew")


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
        for name, begins in _beginnings(rows, snapshot).items():
            path = _lying(folder, begins)
            if path is not None and _is_whole(path):
                continue
            build(connection, [name], built)
            if path is not None:
                path.unlink(missing_ok=True)
            _write(connection, catalogue.queries()[name], folder, begins)
        fsync_folder(folder)
    except (OSError, duckdb.Error, pa.ArrowException, StoreError) as error:
        raise StoreError(
            f"what the books in {root} answer could not be kept beside them ({error}); the books are whole, and "
            "questions are worked out whenever they are asked; give the disk more room, or queries more memory"
        ) from error
    _delete_unneeded(folder, snapshot, datetime.now(UTC) - timedelta(hours=kept_hours))


def _write(connection: duckdb.DuckDBPyConnection, query: catalogue.Query, folder: Path, begins: str) -> None:
    """Put the rows of a relation in place as a whole file whose name begins so, in the order of its grain."""
    unfinished = folder / f".{uuid.uuid4().hex}"
    try:
        rows = connection.sql(f"SELECT * FROM {query.qualified} ORDER BY {', '.join(query.grain)}")
        parts = rows.to_arrow_reader(ROWS_A_GROUP)
        write_parquet(unfinished, parts.schema, (pa.Table.from_batches([part]) for part in parts))
        unfinished.replace(folder / f"{begins}-{_bytes_told(unfinished)}.parquet")
    finally:
        unfinished.unlink(missing_ok=True)


def _are_the_whole_books(rows: Rows) -> bool:
    """Whether rows are all that counts of the books, as they stand."""
    cut = rows.as_of is not None or rows.until is not None or rows.labels is not None
    return not (cut or rows.added or rows.withdrawn)


def _beginnings(rows: Rows, snapshot: Snapshot) -> dict[str, str]:
    """What the name of each relation's file begins with, as long as it holds."""
    told = f"{snapshot.batch}-{_told(rows, snapshot)}"
    return {name: f"{name}-{told}" for name, query in catalogue.queries().items() if query.beside_books}


def _lying(folder: Path, begins: str) -> Path | None:
    """The file whose name begins so. Two processes at once may have put two there, which say the same."""
    return next((path for path in sorted(folder.glob(f"{begins}-*.parquet")) if path.is_file()), None)


def _bytes_told(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, partial(hashlib.blake2b, digest_size=8)).hexdigest()


def _is_whole(path: Path) -> bool:
    """Whether a file has the bytes that its name was made of."""
    name = _ANSWER.fullmatch(path.name)
    return name is not None and name["bytes"] == _bytes_told(path)


def _told(rows: Rows, snapshot: Snapshot) -> str:
    """A hash of all that the answers rest on."""
    heard = hashlib.blake2b(_code(), digest_size=16)
    for part in (*_files_told(rows, Path(snapshot.root)), *_profiles_told(rows)):
        heard.update(part.encode("utf-8", "surrogateescape") + b"\0")
    return heard.hexdigest()


def _files_told(rows: Rows, root: Path) -> Iterator[str]:
    """The files of every table, those of the batches and so the labels that are placed among them, by their places in
    the garden, which is the same garden wherever its folder lies."""
    for table, files in sorted(rows.files.items()):
        for file in sorted(files):
            facts = Path(file).stat()
            yield f"{table} {Path(file).relative_to(root).as_posix()} {facts.st_size} {facts.st_mtime_ns}"


def _profiles_told(rows: Rows) -> Iterator[str]:
    for table in (crops.as_table(rows.profiles), crops.names_table(rows.profiles)):
        yield repr(table.to_pylist())


@cache
def _code() -> bytes:
    """A hash of what works the answers out, so that none outlives a change of it."""
    heard = hashlib.blake2b(f"{duckdb.__version__} {np.__version__}".encode())
    own = [entry for entry in resources.files("perennia.queries").iterdir() if entry.name.endswith((".py", ".sql"))]
    package = resources.files("perennia")
    others = (package / "lifecycle.py", package / "store" / "reading.py")
    for entry in (*sorted(own, key=lambda entry: entry.name), *others):
        heard.update(entry.name.encode() + b"\0" + entry.read_bytes())
    return heard.digest()


def _delete_unneeded(folder: Path, snapshot: Snapshot, before: datetime) -> None:
    """Delete the answers to books that were followed by others before that instant, and what a killed process left.
    Whatever else lies there is somebody's own."""
    followed_by = sorted(read_table(snapshot, "batches").select(["batch", "recorded_at"]).to_pylist(), key=_batch)
    for path in folder.iterdir():
        if answer := _ANSWER.fullmatch(path.name):
            later = (made["recorded_at"] for made in followed_by if made["batch"] > int(answer["batch"]))
            ended = next(later, None)
        elif _UNFINISHED.fullmatch(path.name):
            ended = _last_written(path)
        else:
            continue
        if ended is not None and ended <= before:
            path.unlink(missing_ok=True)


def _last_written(path: Path) -> datetime | None:
    """When; None where the process that wrote it has just put it in place under its name."""
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except FileNotFoundError:
        return None


def _batch(row: Mapping[str, int]) -> int:
    return row["batch"]


# when it is loaded: a release that is installed while a program runs is not what works the program's answers out
catalogue.queries()
_code()
