"""Compaction changes files, never what is read, save rows whose record was corrected."""

from __future__ import annotations

import os
import time
from datetime import timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from perennia.records import Picked, Site, Sown, Weather
from perennia.store import old_rows
from perennia.store.compaction import MANY_FILES, Partition, compact, delete_unneeded, partitions_due
from perennia.store.healing import SET_ASIDE
from perennia.store.log import checkpoint_files, log_versions
from perennia.store.schemas import TABLES
from perennia.store.snapshot import Snapshot, read_snapshot, read_table
from perennia.store.writing import Writer, create_store, writer
from tests.store.stored import NOW, kinds, put, put_in

DAY = "2024-07-01"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Three batches: two years of harvest, one of weather, a site."""
    create_store(tmp_path / "plot")
    put_in(tmp_path / "plot", Picked("B1", DAY, 1.0), Picked("A1", "2023-07-01", 2.0), Site("Home"))
    put_in(tmp_path / "plot", Picked(["A1", "B1"], DAY, 3.0), Weather(DAY, site="Home", rain_mm=1.0))
    put_in(tmp_path / "plot", Picked("A1", DAY, 4.0), Picked("A1", "2023-07-02", 5.0))
    return tmp_path / "plot"


def rows(snapshot: Snapshot, table: str) -> list[dict[str, object]]:
    """The table's rows in an order that does not hang on files."""
    return sorted(read_table(snapshot, table).to_pylist(), key=repr)


def correct(held: Writer, snapshot: Snapshot, grams: float) -> None:
    """Strike out the picking of that weight."""
    old = read_table(snapshot, "harvest").filter(pc.field("grams") == grams)
    row = {
        "record_id": old["record_id"][0].as_py(),
        "corrected_at": NOW,
        "batch": None,
        "table_name": "harvest",
        "reason": "read the scales wrongly",
        "replacement_id": None,
        "old": old_rows.to_json(old),
        "old_recorded_at": old["recorded_at"][0].as_py(),
    }
    corrections = pa.Table.from_pylist([row], schema=TABLES["corrections"])
    held.commit({"corrections": corrections}, "correct", 1, (), NOW + timedelta(days=1))


def test_due_are_partitions_of_many_small_files(root: Path) -> None:
    snapshot = read_snapshot(root)
    assert partitions_due(snapshot) == []
    assert partitions_due(snapshot, at=3) == [Partition("harvest", 2024), Partition("batches", None)]
    assert partitions_due(snapshot, ["harvest"], at=2) == [Partition("harvest", 2023), Partition("harvest", 2024)]
    assert partitions_due(snapshot, at=2, small_file_bytes=10) == []


def test_one_file_a_partition_with_the_same_rows(root: Path) -> None:
    before = read_snapshot(root)
    with writer(root) as held:
        done = compact(held, at=2)
        after = held.snapshot
    assert set(done) == {Partition("harvest", 2023), Partition("harvest", 2024), Partition("batches", None)}
    assert after == read_snapshot(root)
    assert [len(after.files[table]) for table in ("harvest", "weather", "sites", "batches")] == [2, 1, 1, 1]
    for table in TABLES:
        if table != "batches":
            assert rows(after, table) == rows(before, table)
    assert kinds(root) == ["create", "record", "record", "record", "compact"]
    (latest,) = (file for file in after.files["harvest"] if "year=2024" in file)
    labels = pq.ParquetFile(latest).read()["label"].to_pylist()
    assert labels == ["A1", "A1", "B1", "B1"]


def test_nothing_due_commits_nothing(root: Path) -> None:
    before = read_snapshot(root)
    with writer(root) as held:
        assert compact(held) == ()
    assert read_snapshot(root) == before


def test_a_reader_from_before_reads_on(root: Path) -> None:
    before = read_snapshot(root)
    seen = {table: rows(before, table) for table in TABLES}
    with writer(root) as held:
        compact(held, at=2)
        put(held, Picked("A1", DAY, 7.0))
    assert {table: rows(before, table) for table in TABLES} == seen


def test_corrected_rows_are_left_out_and_kept_in_corrections(root: Path) -> None:
    before = read_snapshot(root)
    with writer(root) as held:
        correct(held, before, 3.0)
        compact(held, ["harvest"], at=2)
        after = held.snapshot
    struck = [row for row in rows(before, "harvest") if row["grams"] == 3.0]
    assert len(struck) == 2
    assert rows(after, "harvest") == [row for row in rows(before, "harvest") if row not in struck]
    kept = old_rows.from_json("harvest", read_table(after, "corrections")["old"][0].as_py())
    assert sorted(kept.to_pylist(), key=repr) == struck
    assert read_table(after, "corrections")["batch"].to_pylist() == [4]


def test_corrections_themselves_are_folded_whole(root: Path) -> None:
    before = read_snapshot(root)
    with writer(root) as held:
        for grams in (1.0, 3.0):
            correct(held, before, grams)
        assert compact(held, ["corrections"], at=2) == (Partition("corrections", None),)
        assert read_table(held.snapshot, "corrections").num_rows == 2


def test_a_partition_of_corrected_rows_only_becomes_empty(root: Path) -> None:
    before = read_snapshot(root)
    with writer(root) as held:
        for grams in (2.0, 5.0):
            correct(held, before, grams)
        compact(held, ["harvest"], at=2)
        after = held.snapshot
    assert after == read_snapshot(root)
    assert not any("year=2023" in file for file in after.files["harvest"])


def test_a_commit_compacts_what_has_become_many(tmp_path: Path) -> None:
    create_store(tmp_path / "plot")
    with writer(tmp_path / "plot") as held:
        for day in range(1, MANY_FILES + 3):
            put(held, Sown(f"A{day}", "2024-04-01", "Asparagus officinalis"))
            assert len(held.snapshot.files["life"]) <= MANY_FILES
            assert len(held.snapshot.files["batches"]) <= MANY_FILES
        assert held.snapshot == read_snapshot(tmp_path / "plot")
    assert read_table(held.snapshot, "life").num_rows == MANY_FILES + 2
    # batches fill first, by the row of the creation; then life
    assert kinds(tmp_path / "plot").count("compact") == 2
    assert sorted(read_table(held.snapshot, "batches")["batch"].to_pylist()) == list(range(MANY_FILES + 5))
    assert checkpoint_files(tmp_path / "plot", "life")


def test_files_are_deleted_only_after_every_reader_is_done(root: Path) -> None:
    before = read_snapshot(root)
    (root / "harvest" / SET_ASIDE).mkdir()
    aside = root / "harvest" / SET_ASIDE / "torn.json"
    aside.write_text("{")
    orphan = root / "harvest" / "year=2024" / "left-by-a-crash.parquet"
    orphan.write_bytes(b"")
    with writer(root) as held:
        compact(held, at=2)
        after = held.snapshot
        assert orphan.exists()
        assert delete_unneeded(root, "harvest", after.versions["harvest"], kept_hours=1) == []
        for path in (orphan, aside):
            long_ago = time.time() - 30 * 24 * 3600
            os.utime(path, (long_ago, long_ago))
        assert delete_unneeded(root, "harvest", after.versions["harvest"], kept_hours=1) == [orphan]
        gone = delete_unneeded(root, "harvest", after.versions["harvest"], kept_hours=0)
    assert {str(path) for path in gone} == set(before.files["harvest"])
    assert not any(path.exists() for path in gone)
    assert aside.exists()
    assert rows(after, "harvest")
    assert log_versions(root, "harvest")[-1] == after.versions["harvest"]
    assert read_snapshot(root) == after


def test_batch_and_instant_of_a_row_outlive_compaction(root: Path) -> None:
    with writer(root) as held:
        compact(held, at=2)
        batches = read_table(held.snapshot, "harvest")["batch"].to_pylist()
    assert sorted(batches) == [1, 1, 2, 2, 3, 3]
