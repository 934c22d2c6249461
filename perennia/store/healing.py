"""What the next writer does about a crash: bring every table back to the last whole batch.

Nothing is deleted: what a power loss tore is moved to ``_set_aside`` in the table's folder.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from pathlib import Path

from deltalake.exceptions import DeltaError

from perennia.errors import StoreError
from perennia.store.batches import Entry, commit_batch
from perennia.store.durable import fsync_file, fsync_folder
from perennia.store.log import (
    checkpoint_files,
    is_torn,
    log_file,
    log_folder,
    log_versions,
    restore_version,
)
from perennia.store.schemas import TABLES
from perennia.store.snapshot import Snapshot, read_snapshot

SET_ASIDE = "_set_aside"


def heal(root: Path) -> Snapshot:
    """Undo what a crash left behind, and give the garden after its last whole batch.

    To be called under the garden's lock. A table that ran ahead is restored, and a batch of kind ``heal``
    names its new version; so a crash is healed once.
    """
    _set_torn_tail_aside(root, "batches", log_versions(root, "batches")[-1] - 1)
    _wait_for_log(root, "batches", log_versions(root, "batches")[-1:])
    snapshot = _readable(root)
    restored = {}
    for table in TABLES:
        if table != "batches":
            version = _brought_back(root, table, snapshot.versions[table])
            if version != snapshot.versions[table]:
                restored[table] = version
    if not restored:
        return snapshot
    entry = Entry(snapshot.batch + 1, datetime.now(UTC), "heal", 0, snapshot.placed_labels)
    return commit_batch(snapshot, {}, entry, restored=restored)


def _brought_back(root: Path, table: str, version: int) -> int:
    """The version at which a table has the content it had at version: that one, or a later, restored one."""
    _set_torn_tail_aside(root, table, version)
    ahead = [found for found in log_versions(root, table) if found > version]
    if not ahead:
        return version
    # the killed writer may not have waited for these; a restoring commit must not outlive what it undoes
    _wait_for_log(root, table, ahead)
    return restore_version(root, table, version)


def _set_torn_tail_aside(root: Path, table: str, version: int) -> None:
    """Move torn log entries newer than version out of the log, newest first."""
    for found in reversed(log_versions(root, table)):
        if found <= version or not is_torn(root, table, found):
            return
        _set_aside(root, table, log_file(root, table, found))


def _wait_for_log(root: Path, table: str, versions: list[int]) -> None:
    for version in versions:
        fsync_file(log_file(root, table, version))
    fsync_folder(log_folder(root, table))


def _readable(root: Path) -> Snapshot:
    """The snapshot, once checkpoints that cannot be read are out of the way; the log itself is whole without them."""
    try:
        return read_snapshot(root)
    except StoreError as error:
        if not isinstance(error.__cause__, DeltaError):
            raise
        for table in TABLES:
            for path in checkpoint_files(root, table):
                _set_aside(root, table, path)
        return read_snapshot(root)


def _set_aside(root: Path, table: str, path: Path) -> None:
    folder = root / table / SET_ASIDE
    folder.mkdir(exist_ok=True)
    path.rename(folder / f"{uuid.uuid4().hex}-{path.name}")
    fsync_folder(folder)
    fsync_folder(path.parent)
