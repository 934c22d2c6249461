"""What a power loss tore is set aside, never deleted, and the garden goes on from its last whole batch."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from deltalake import DeltaTable

from perennia.errors import StoreError
from perennia.records import Picked, Site
from perennia.store.compaction import compact
from perennia.store.healing import SET_ASIDE
from perennia.store.log import checkpoint_files, latest_whole_version, log_file, log_versions
from perennia.store.snapshot import read_snapshot
from perennia.store.writing import create_store, writer
from tests.store.stored import kinds, put_in, row_counts

TORN = pytest.mark.parametrize("torn", [lambda text: "", lambda text: "\n", lambda text: text[: len(text) // 2]])


@pytest.fixture
def root(tmp_path: Path) -> Path:
    create_store(tmp_path / "plot")
    put_in(tmp_path / "plot", Picked("A1", "2024-07-01", 9.0))
    return tmp_path / "plot"


def tear_next(root: Path, table: str, torn: Callable[[str], str]) -> str:
    """Leave a log entry as a power loss would, and give its text."""
    latest = log_versions(root, table)[-1]
    text = torn(log_file(root, table, latest).read_text())
    log_file(root, table, latest + 1).write_text(text)
    return text


@TORN
@pytest.mark.parametrize("table", ["harvest", "batches", "sites"])
def test_a_torn_tail_is_set_aside(root: Path, table: str, torn: Callable[[str], str]) -> None:
    before = read_snapshot(root)
    text = tear_next(root, table, torn)
    assert read_snapshot(root) == before
    with writer(root) as held:
        assert held.snapshot == before
    (kept,) = (root / table / SET_ASIDE).iterdir()
    assert kept.read_text() == text
    put_in(root, Site("Home"), Picked("A1", "2024-07-02", 9.0))
    assert row_counts(root) == {"harvest": 2, "sites": 1}
    assert kinds(root) == ["create", "record", "record"]


@TORN
def test_a_batch_torn_in_the_table_of_batches_is_undone_whole(root: Path, torn: Callable[[str], str]) -> None:
    put_in(root, Picked("A1", "2024-07-02", 9.0))
    latest = log_file(root, "batches", log_versions(root, "batches")[-1])
    latest.write_text(torn(latest.read_text()))
    assert row_counts(root) == {"harvest": 1}
    with writer(root):
        pass
    assert row_counts(root) == {"harvest": 1}
    assert kinds(root) == ["create", "record", "heal"]
    snapshot = read_snapshot(root)
    assert snapshot.versions["harvest"] == latest_whole_version(root, "harvest")


@pytest.mark.parametrize("table", ["harvest", "batches"])
@pytest.mark.parametrize("spoilt", ["checkpoint.parquet", "_last_checkpoint"])
@pytest.mark.parametrize("content", [b"", b'{"version":99,"size":3}'])
def test_an_unreadable_checkpoint_is_set_aside(root: Path, table: str, spoilt: str, content: bytes) -> None:
    put_in(root, Picked("A1", "2024-07-02", 9.0))
    with writer(root) as held:
        assert compact(held, at=2)
    before = read_snapshot(root)
    (path,) = (path for path in checkpoint_files(root, table) if path.name.endswith(spoilt))
    path.write_bytes(content)
    with writer(root) as held:
        assert held.snapshot == before
    assert read_snapshot(root) == before
    put_in(root, Picked("A1", "2024-07-03", 9.0))
    assert row_counts(root) == {"harvest": 3}


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="open files are named only where /proc is")
def test_what_ran_ahead_is_on_the_disk_before_it_is_undone(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put_in(root, Picked("A1", "2024-07-02", 9.0))
    log_file(root, "batches", log_versions(root, "batches")[-1]).write_text("")
    ahead = log_file(root, "harvest", log_versions(root, "harvest")[-1])
    on_disk: set[str] = set()
    at_restore: list[set[str]] = []
    sync, restore = os.fsync, DeltaTable.restore

    def traced_sync(descriptor: int) -> None:
        sync(descriptor)
        on_disk.add(str(Path(f"/proc/self/fd/{descriptor}").readlink()))

    def traced_restore(table: DeltaTable, *args: Any, **kwargs: Any) -> Any:
        at_restore.append(set(on_disk))
        return restore(table, *args, **kwargs)

    monkeypatch.setattr(os, "fsync", traced_sync)
    monkeypatch.setattr(DeltaTable, "restore", traced_restore)
    with writer(root):
        pass
    (before,) = at_restore
    assert {str(ahead), str(ahead.parent)} <= before
    assert str(log_file(root, "harvest", log_versions(root, "harvest")[-1])) in on_disk - before


def test_a_reader_says_what_an_unreadable_checkpoint_needs(root: Path) -> None:
    put_in(root, Picked("A1", "2024-07-02", 9.0))
    with writer(root) as held:
        compact(held, at=2)
    for path in checkpoint_files(root, "harvest"):
        if path.name.endswith(".parquet"):
            path.write_bytes(path.read_bytes()[:100])
    with pytest.raises(StoreError, match="open the garden for writing once"):
        read_snapshot(root)


def test_a_table_that_is_gone_is_named(root: Path) -> None:
    (root / "sites").rename(root / "elsewhere")
    with pytest.raises(StoreError, match="table sites is missing"), writer(root):
        pass
    with pytest.raises(StoreError, match="table sites is missing"):
        read_snapshot(root)
