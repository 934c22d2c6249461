"""One Delta table of the garden: opened with care, committed to durably, its log looked at.

Versions are those of the Delta log. Nothing here knows of batches.
"""

from __future__ import annotations

import functools
import json
import os
import re
import urllib.parse
from pathlib import Path

import attrs
import pyarrow as pa
from deltalake import DeltaTable
from deltalake.exceptions import DeltaError
from deltalake.transaction import AddAction, PostCommitHookProperties

from perennia.errors import StoreError
from perennia.store.durable import fsync_file, fsync_folder, has_hard_links
from perennia.store.schemas import PARTITIONED, TABLES

# checkpoints are made at compaction only, and waited for there; logs are kept, so every version stays readable
HOOKS = PostCommitHookProperties(create_checkpoint=False, cleanup_expired_logs=False)
_CONFIGURATION: dict[str, str | None] = {
    "delta.enableExpiredLogCleanup": "false",
    "delta.checkpointInterval": "1000000000",
}
_NOT_OURS = ("delta.enableDeletionVectors", "delta.columnMapping.mode")
_LOG_FILE = re.compile(r"(\d{20})\.json")
_CHECKPOINT = re.compile(r"\d{20}\.checkpoint.*|_last_checkpoint")


@attrs.frozen
class Change:
    """What one commit does to one table.

    adds: data files added. replaced: absolute paths of those taken out: all files of their years, or all files of
    the table where it has none; they stay on the disk for readers who hold them.
    """

    adds: tuple[AddAction, ...] = ()
    replaced: tuple[str, ...] = ()


def log_folder(root: Path, table: str) -> Path:
    """Where the table's log lies."""
    return root / table / "_delta_log"


def log_file(root: Path, table: str, version: int) -> Path:
    """The log entry of one version."""
    return log_folder(root, table) / f"{version:020d}.json"


def log_versions(root: Path, table: str) -> list[int]:
    """All versions in the table's log, rising. Raises StoreError where there is no log."""
    folder = _existing_log_folder(root, table)
    versions = sorted(int(match[1]) for path in folder.iterdir() if (match := _LOG_FILE.fullmatch(path.name)))
    if not versions:
        raise StoreError(f"the log of the table {table} in {root} is empty; restore the folder from a copy")
    return versions


def _existing_log_folder(root: Path, table: str) -> Path:
    folder = log_folder(root, table)
    if not folder.is_dir():
        raise StoreError(f"the table {table} is missing from the garden in {root}; restore the folder from a copy")
    return folder


def is_torn(root: Path, table: str, version: int) -> bool:
    """Whether a log entry was cut short by a power loss: empty, or not whole lines of JSON."""
    text = log_file(root, table, version).read_bytes()
    try:
        for line in text.splitlines():
            json.loads(line)
    except ValueError:
        return True
    return not text.strip()


def latest_whole_version(root: Path, table: str) -> int:
    """The newest version that can be read. Only the newest entry can be torn: a writer heals before it writes."""
    versions = log_versions(root, table)
    if len(versions) > 1 and is_torn(root, table, versions[-1]):
        return versions[-2]
    return versions[-1]


def create_table(root: Path, table: str) -> None:
    """Make an empty table, and wait for the disk."""
    DeltaTable.create(
        root / table,
        TABLES[table],
        partition_by=_partitions(table),
        configuration=_CONFIGURATION,
        storage_options=storage_options(root),
    )
    fsync_file(log_file(root, table, 0))
    fsync_folder(log_folder(root, table))
    fsync_folder(root / table)


def open_table(root: Path, table: str, version: int, *, to_write: bool = False) -> DeltaTable:
    """The table at a version.

    Raises StoreError when it cannot be read, lies outside the garden, or uses deletion vectors or column
    mapping, with which its Parquet files do not say all.
    """
    hold_inside(root, _existing_log_folder(root, table))
    options = storage_options(root) if to_write else None
    try:
        opened = DeltaTable(str(root / table), version=version, storage_options=options)
    except DeltaError as error:
        raise StoreError(
            f"the table {table} in {root} cannot be read ({error}); open the garden for writing once, "
            "which mends what a power loss left behind, or restore the folder from a copy"
        ) from error
    features = opened.protocol().reader_features or []
    settings = opened.metadata().configuration
    foreign = [*features, *(name for name in _NOT_OURS if settings.get(name, "false") not in ("false", "none"))]
    if foreign:
        raise StoreError(
            f"the table {table} in {root} was changed by another program ({', '.join(foreign)}) and perennia "
            "cannot read it rightly; undo that there, or restore the folder from a copy"
        )
    return opened


def files_of(root: Path, table: str, opened: DeltaTable) -> tuple[str, ...]:
    """Absolute paths of the table's data files, in order. Raises StoreError for one outside the garden."""
    paths = pa.table(opened.get_add_actions())["path"].to_pylist()
    return tuple(sorted(str(_data_file(root, table, path)) for path in paths))


def _data_file(root: Path, table: str, path: str) -> Path:
    file = root / table / urllib.parse.unquote(path)
    if "://" in path:
        raise _outside(root, path)
    return hold_inside(root, file)


def hold_inside(root: Path, path: Path) -> Path:
    """The path, if it lies in the garden's folder once symbolic links are followed. Raises StoreError if not."""
    if not os.path.realpath(path).startswith(os.path.realpath(root) + os.sep):
        raise _outside(root, str(path))
    return path


def year_of(path: str) -> int | None:
    """The year of the partition a data file lies in, None in a table without partitions."""
    name, _, year = Path(path).parent.name.partition("=")
    return int(year) if name == "year" and year.isdecimal() else None


def _outside(root: Path, path: str) -> StoreError:
    return StoreError(f"{path} lies outside the garden in {root}; a garden keeps all its files in its own folder")


def commit_change(root: Path, table: str, version: int, change: Change) -> int:
    """Add one commit to a table that stands at version, wait for the disk, and give the new version."""
    latest = log_versions(root, table)[-1]
    if latest != version:
        raise StoreError(
            f"the table {table} in {root} stands at version {latest}, not {version}: another program "
            "writes to it; let only perennia write to a garden"
        )
    opened = open_table(root, table, version, to_write=True)
    years = sorted({str(year) for file in change.replaced if (year := year_of(file)) is not None})
    opened.create_write_transaction(
        list(change.adds),
        "overwrite" if change.replaced else "append",
        TABLES[table],
        partition_by=_partitions(table),
        partition_filters=[("year", "in", years)] if years else None,
        post_commithook_properties=HOOKS,
    )
    return _settled(root, table, version + 1)


def restore_version(root: Path, table: str, version: int) -> int:
    """Bring a table that ran ahead back to an earlier version's content, and give the new version."""
    ahead = log_versions(root, table)[-1]
    open_table(root, table, ahead, to_write=True).restore(version, post_commithook_properties=HOOKS)
    return _settled(root, table, ahead + 1)


def _settled(root: Path, table: str, version: int) -> int:
    fsync_file(log_file(root, table, version))
    fsync_folder(log_folder(root, table))
    return version


def make_checkpoint(root: Path, table: str, version: int) -> None:
    """Sum up the table's log up to a version so that opening stays quick, and wait for the disk."""
    open_table(root, table, version, to_write=True).create_checkpoint()
    for path in checkpoint_files(root, table):
        fsync_file(path)
    fsync_folder(log_folder(root, table))


def checkpoint_files(root: Path, table: str) -> list[Path]:
    """The checkpoints of the table's log and the pointer to the last."""
    return [path for path in log_folder(root, table).iterdir() if _CHECKPOINT.fullmatch(path.name)]


@functools.cache
def storage_options(root: Path) -> dict[str, str] | None:
    """What the Delta library must be told of the file system.

    It makes a commit appear whole by a hard link. Where there are none it renames instead, which is as whole
    but could overwrite a second writer's commit; the garden's lock keeps second writers out.
    """
    return None if has_hard_links(root) else {"allow_unsafe_rename": "true"}


def _partitions(table: str) -> list[str]:
    return ["year"] if table in PARTITIONED else []
