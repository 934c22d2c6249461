"""A garden is made once, written to by one at a time, and says what is wrong in words."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pytest

from perennia.errors import StoreError
from perennia.records import Picked, Site, Sown, Weather
from perennia.store import log
from perennia.store.durable import has_hard_links
from perennia.store.schemas import TABLES
from perennia.store.snapshot import garden_facts, read_snapshot, read_table
from perennia.store.staging import staging
from perennia.store.writing import create_store, writer
from tests.store.stored import CHILD, NOW, batch_of, kinds, put, put_in, row_counts


def test_a_new_garden_has_all_tables_empty_and_typed(tmp_path: Path) -> None:
    snapshot = create_store(tmp_path / "plot", "Plot 7")
    assert garden_facts(tmp_path / "plot") == {"format": 1, "name": "Plot 7"}
    assert snapshot == read_snapshot(tmp_path / "plot")
    assert (snapshot.batch, kinds(tmp_path / "plot")) == (0, ["create"])
    for table, schema in TABLES.items():
        rows = read_table(snapshot, table)
        assert rows.schema == schema
        assert rows.num_rows == (table == "batches")


def test_a_garden_is_not_made_over_anything(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    with pytest.raises(StoreError, match="already holds a garden"):
        create_store(tmp_path / "plot")
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "a.txt").write_text("dear")
    with pytest.raises(StoreError, match="is not empty"):
        create_store(tmp_path / "letters")
    with pytest.raises(StoreError, match="is not empty"):
        create_store(tmp_path / "letters" / "a.txt")
    (tmp_path / "empty").mkdir()
    assert create_store(tmp_path / "empty").batch == 0


def test_what_is_no_garden_is_not_opened(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="is no garden"), writer(tmp_path):
        pass
    create_store(tmp_path / "plot")
    (tmp_path / "plot" / "garden.json").write_text('{"format": 2}')
    with pytest.raises(StoreError, match="not of format 1"):
        read_snapshot(tmp_path / "plot")
    (tmp_path / "plot" / "garden.json").write_text("{")
    with pytest.raises(StoreError, match="cannot be read"):
        read_snapshot(tmp_path / "plot")


def test_a_batch_is_read_back_with_what_only_the_batch_knows(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    batch = batch_of(
        Site("Home"),
        Picked(["A2", "A1"], "2024-07-01", 9.0),
        Picked("A1", "2023-07-01", 4.0),
        Weather("2024-07-01", site="Home", rain_mm=2.0),
    )
    with writer(tmp_path / "plot") as held:
        snapshot = held.commit(batch, "record", 4, ["A1"], NOW)
    assert snapshot == read_snapshot(tmp_path / "plot")
    assert (snapshot.batch, snapshot.recorded_at, snapshot.placed_labels) == (1, NOW, ("A1",))
    for table, rows in batch.items():
        kept = read_table(snapshot, table)
        assert kept.schema == TABLES[table]
        assert set(kept["batch"].to_pylist()) == {1}
        assert set(kept["recorded_at"].to_pylist()) == {NOW}
        said = [name for name in kept.column_names if name not in ("batch", "recorded_at")]
        assert sorted(map(repr, kept.select(said).to_pylist())) == sorted(map(repr, rows.select(said).to_pylist()))
    files = snapshot.files["harvest"]
    assert sorted(Path(file).parent.name for file in files) == ["year=2023", "year=2024"]
    shared = read_table(snapshot, "harvest").filter(pc.field("shared_by") == 2)
    assert shared["label"].to_pylist() == ["A1", "A2"]


def test_rows_without_an_id_are_not_stored(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    batch = batch_of(Picked("A1", "2024-07-01", 9.0))
    rows = batch["harvest"]
    with writer(tmp_path / "plot") as held:
        with pytest.raises(StoreError, match="have nothing in record_id"):
            held.commit({"harvest": rows.set_column(0, "record_id", pa.nulls(1, pa.binary()))}, "record", 1, (), NOW)
        with pytest.raises(StoreError, match="lack the columns grams"):
            held.commit({"harvest": rows.drop_columns(["grams"])}, "record", 1, (), NOW)
        assert put(held, Picked("A1", "2024-07-01", 9.0)).batch == 1
    assert row_counts(tmp_path / "plot") == {"harvest": 1}


def test_a_writer_goes_on_after_the_disk_was_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    create_store(tmp_path / "plot")
    sync, left = os.fsync, [12]

    def full(descriptor: int) -> None:
        left[0] -= 1
        if left[0] == 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        sync(descriptor)

    with writer(tmp_path / "plot") as held:
        with monkeypatch.context() as patched:
            patched.setattr(os, "fsync", full)
            with pytest.raises(StoreError, match="No space left"):
                put(held, Site("Home"), Sown("A1", "2023-04-01", "Rheum x hybridum"), Picked("A1", "2024-07-01", 9.0))
        assert row_counts(tmp_path / "plot") == {}
        put(held, Picked("A1", "2024-07-01", 9.0))
    assert row_counts(tmp_path / "plot") == {"harvest": 1}
    assert kinds(tmp_path / "plot") == ["create", "heal", "record"]


def test_a_large_batch_that_is_refused_leaves_no_file(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    before = files_of(tmp_path / "plot")
    picked = [batch_of(Picked("A1", f"{year}-07-01", 9.0)) for year in (2023, 2024, 2025)]

    def refused() -> tuple[str, ...]:
        raise StoreError("picked before it was sown")

    with writer(tmp_path / "plot") as held, staging(held.root) as staged:
        for part in picked:
            staged.add(part)
        with pytest.raises(StoreError, match="picked before"):
            held.commit_if(staged.candidates(), "record", 3, refused, NOW)
        assert files_of(tmp_path / "plot" / "harvest") == files_of(tmp_path / "plot" / "harvest", before)
        held.commit_if(staged.candidates(), "record", 3, lambda: ("A1",), NOW)
    assert read_snapshot(tmp_path / "plot").placed_labels == ("A1",)
    assert row_counts(tmp_path / "plot") == {"harvest": 3}


def files_of(folder: Path, known: Sequence[Path] | None = None) -> list[Path]:
    """All files in a folder, or those of the known ones that are in it."""
    every = sorted(path for path in folder.rglob("*") if path.is_file()) if known is None else known
    return [path for path in every if folder in path.parents]


def test_a_writer_waits_for_another_process_and_says_so_when_it_gives_up(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    command = [sys.executable, str(CHILD), str(tmp_path / "plot"), "hold"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "holding\n"
        with (
            pytest.raises(StoreError, match="another process has been writing"),
            writer(tmp_path / "plot", timeout=0.01),
        ):
            pass
        other.communicate("go\n", timeout=60)
    assert put_in(tmp_path / "plot", Site("Home")).batch == 1


def test_two_processes_at_once_lose_nothing(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    command = [sys.executable, str(CHILD), str(tmp_path / "plot"), "many"]
    others = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    for other in others:
        assert other.communicate(timeout=120)[0].startswith("acknowledged")
    assert row_counts(tmp_path / "plot") == {"harvest": 20}
    batches = read_table(read_snapshot(tmp_path / "plot"), "batches")["batch"].to_pylist()
    assert sorted(batches) == list(range(21))


def test_without_hard_links_a_commit_is_renamed_into_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert has_hard_links(tmp_path)

    def no_links(*_: Any) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    assert not has_hard_links(tmp_path)
    assert list(tmp_path.iterdir()) == []
    root = tmp_path / "plot"
    create_store(root)
    assert log.storage_options(root) == {"allow_unsafe_rename": "true"}
    put_in(root, Picked("A1", "2024-07-01", 9.0))
    assert row_counts(root) == {"harvest": 1}
    logged = [path for path in (root / "harvest" / "_delta_log").iterdir() if path.stat().st_nlink > 1]
    assert logged == []
