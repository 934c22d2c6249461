"""Files of answers kept beside the books of a garden: what their names tell, and when one no longer holds.

An answer is a Parquet file in the garden's folder .answers. Its name holds the batch after which it was worked out and
a hash of all that it rests on (the files of every table, the crop profiles, the code and libraries that work it out),
so that one which no longer holds is not found, and the question is worked out as ever; then a hash of its own bytes,
for a disk can lose some. The folder may be deleted at any time.
"""

from __future__ import annotations

import hashlib
import re
import uuid
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import UTC, datetime
from functools import cache, partial
from importlib import resources
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa

from perennia import crops
from perennia.errors import StoreError
from perennia.queries.catalogue import Query, queries
from perennia.queries.connection import Rows
from perennia.store.durable import ROWS_A_GROUP, write_parquet
from perennia.store.log import hold_inside
from perennia.store.snapshot import Snapshot, read_table

FOLDER = ".answers"
_ANSWER = re.compile(r"[a-z_]+-(?P<batch>\d+)-[0-9a-f]+-(?P<bytes>[0-9a-f]+)\.parquet")
_UNFINISHED = re.compile(r"\.[0-9a-f]{32}")


def may_lie(rows: Rows, snapshot: Snapshot) -> bool:
    """Whether answers to these rows may lie in the garden: rows are all that counts of its books, as they stand."""
    cut = rows.as_of is not None or rows.until is not None or rows.labels is not None
    return not (cut or rows.added or rows.withdrawn) and _folder(snapshot).is_dir()


def told(rows: Rows, snapshot: Snapshot) -> str:
    """What the name of an answer to these rows tells of all that it rests on."""
    heard = hashlib.blake2b(_code(), digest_size=16)
    for part in (*_files_told(rows, Path(snapshot.root)), *_profiles_told(rows)):
        heard.update(part.encode("utf-8", "surrogateescape") + b"\0")
    return f"{snapshot.batch}-{heard.hexdigest()}"


def lying(snapshot: Snapshot, name: str, tells: str) -> Path | None:
    """The file of an answer of that name which tells this. Two processes at once may have put two there, which say the
    same. Raises StoreError for a file that lies outside the garden once links are followed."""
    found = sorted(_folder(snapshot).glob(f"{name}-{tells}-*.parquet"))
    path = next((path for path in found if path.is_file()), None)
    return None if path is None else hold_inside(Path(snapshot.root), path)


def is_whole(path: Path) -> bool:
    """Whether a file has the bytes that its name was made of."""
    name = _ANSWER.fullmatch(path.name)
    return name is not None and name["bytes"] == _bytes_told(path)


def hold_whole(path: Path) -> None:
    """Raise StoreError for a file that does not have the bytes that its name was made of."""
    if not is_whole(path):
        raise damaged(path, "its bytes are not those that were written")


def damaged(path: Path, why: str) -> StoreError:
    """An answer's file that cannot be read."""
    return StoreError(f"{path} cannot be read ({why}); delete it, for what it held is worked out anew")


def read_instead(
    connection: duckdb.DuckDBPyConnection, query: Query, paths: Collection[Path], labels: Collection[str] | None = None
) -> None:
    """Make a relation of what files hold of it, or a table of its rows of some labels. Raises duckdb.Error for a file
    that cannot be read."""
    connection.execute(f"SET VARIABLE {query.name}_answer = ?", [list(map(str, paths))])
    # a folder called season=2024 is no column
    rows = f"SELECT * FROM read_parquet(getvariable('{query.name}_answer'), hive_partitioning = false)"
    if labels is None:
        connection.execute(f"CREATE VIEW {query.qualified} AS {rows}")
    else:
        wanted = "WHERE label IN (SELECT unnest(?))"
        connection.execute(f"CREATE TABLE {query.qualified} AS {rows} {wanted}", [list(labels)])


def put_rows(
    connection: duckdb.DuckDBPyConnection, query: Query, snapshot: Snapshot, tells: str,
    labels: tuple[str, str] | None = None,
) -> Path:  # fmt: skip
    """Put a relation in place in the order of its grain, or its rows of the labels from one to another, as put does.
    They are handed on as they come, so that what is too much for the memory is put in order on the disk."""
    wanted, order = "", ", ".join(f'"{column}"' for column in query.grain)
    if labels is not None:
        for name, label in zip(("first_label", "last_label"), labels, strict=True):
            connection.execute(f"SET VARIABLE {name} = ?", [label])
        wanted = "WHERE label BETWEEN getvariable('first_label') AND getvariable('last_label')"
    rows = connection.sql(f"SELECT * FROM {query.qualified} {wanted} ORDER BY {order}")
    parts = rows.to_arrow_reader(ROWS_A_GROUP)
    return put(snapshot, query.name, tells, parts.schema, (pa.Table.from_batches([part]) for part in parts))


def put(snapshot: Snapshot, name: str, tells: str, schema: pa.Schema, tables: Iterable[pa.Table]) -> Path:
    """Put an answer in place, whole and on the disk before it is found. The folder's entry is not waited for."""
    unfinished = _folder(snapshot) / f".{uuid.uuid4().hex}"
    try:
        write_parquet(unfinished, schema, tables)
        return unfinished.replace(unfinished.with_name(f"{name}-{tells}-{_bytes_told(unfinished)}.parquet"))
    finally:
        unfinished.unlink(missing_ok=True)


def delete_unneeded(snapshot: Snapshot, before: datetime) -> None:
    """Delete the answers to books that were followed by others before that instant, and what a killed process left.
    Whatever else lies there is somebody's own."""
    followed_by = sorted(read_table(snapshot, "batches").select(["batch", "recorded_at"]).to_pylist(), key=_batch)
    for path in _folder(snapshot).iterdir():
        if answer := _ANSWER.fullmatch(path.name):
            later = (made["recorded_at"] for made in followed_by if made["batch"] > int(answer["batch"]))
            ended = next(later, None)
        elif _UNFINISHED.fullmatch(path.name):
            ended = _last_written(path)
        else:
            continue
        if ended is not None and ended <= before:
            path.unlink(missing_ok=True)


def _folder(snapshot: Snapshot) -> Path:
    return Path(snapshot.root) / FOLDER


def _bytes_told(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, partial(hashlib.blake2b, digest_size=8)).hexdigest()


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


def _last_written(path: Path) -> datetime | None:
    """When; None where the process that wrote it has just put it in place under its name."""
    try:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except FileNotFoundError:
        return None


def _batch(row: Mapping[str, int]) -> int:
    return row["batch"]


# when it is loaded: a release that is installed while a program runs is not what works the program's answers out
queries()
_code()
