"""A reader takes the head of the batches, and refuses what it could not read rightly."""

from __future__ import annotations

import json
import pickle
import shutil
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from perennia.errors import StoreError
from perennia.records import Picked, Site
from perennia.store.log import log_file, log_versions
from perennia.store.schemas import TABLES
from perennia.store.snapshot import read_snapshot, read_table, year_of
from perennia.store.writing import create_store
from tests.store.stored import put_in, row_counts


@pytest.fixture
def root(tmp_path: Path) -> Path:
    create_store(tmp_path / "plot")
    put_in(tmp_path / "plot", Picked("A1", "2024-07-01", 9.0))
    return tmp_path / "plot"


def rewrite_log(root: Path, table: str, old: str, new: str) -> None:
    """Change the text of the newest log entry."""
    path = log_file(root, table, log_versions(root, table)[-1])
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_a_snapshot_is_pickled_whole_and_stays_as_it_was(root: Path) -> None:
    snapshot = pickle.loads(pickle.dumps(read_snapshot(root)))
    assert snapshot == read_snapshot(root)
    put_in(root, Picked("A1", "2024-07-02", 9.0))
    assert read_table(snapshot, "harvest").num_rows == 1
    assert row_counts(root) == {"harvest": 2}


def test_a_moved_garden_is_read_where_it_is(root: Path) -> None:
    moved = Path(shutil.move(root, root.with_name("moved, 50% 'new' plot")))
    assert row_counts(moved) == {"harvest": 1}
    put_in(moved, Picked("A1", "2024-07-02", 9.0))
    assert all(file.startswith(str(moved)) for file in read_snapshot(moved).files["harvest"])


def test_a_garden_is_read_through_a_link_to_it(root: Path) -> None:
    link = root.with_name("link")
    link.symlink_to(root)
    assert read_snapshot(link) == read_snapshot(root)


@pytest.mark.parametrize("outside", ["../../secret.parquet", "%2e%2e/%2e%2e/secret.parquet", "ABSOLUTE", "FILE"])
def test_a_file_outside_the_garden_is_refused(root: Path, outside: str) -> None:
    secret = root.parent / "secret.parquet"
    pq.write_table(pa.table({"label": ["A1"]}), secret)
    path = {"ABSOLUTE": str(secret), "FILE": secret.as_uri()}.get(outside, outside)
    name = "year=2024/" + Path(read_snapshot(root).files["harvest"][0]).name
    rewrite_log(root, "harvest", json.dumps(name), json.dumps(path))
    with pytest.raises(StoreError, match="outside the garden"):
        read_snapshot(root)


def test_a_link_that_leads_out_of_the_garden_is_refused(root: Path) -> None:
    year = root / "harvest" / "year=2024"
    year.rename(root.parent / "year=2024")
    year.symlink_to(root.parent / "year=2024")
    with pytest.raises(StoreError, match="outside the garden"):
        read_snapshot(root)


def test_a_table_that_lies_elsewhere_is_refused(root: Path) -> None:
    (root / "sites").rename(root.parent / "sites")
    (root / "sites").symlink_to(root.parent / "sites")
    with pytest.raises(StoreError, match="outside the garden"):
        read_snapshot(root)


def append_to_log(root: Path, table: str, *actions: dict[str, object]) -> None:
    """Add actions to the newest log entry."""
    path = log_file(root, table, log_versions(root, table)[-1])
    path.write_text(path.read_text() + "".join(json.dumps(action) + "\n" for action in actions))


def metadata_of(root: Path, table: str, **settings: str) -> dict[str, object]:
    """The table's metadata as it was made, with more settings."""
    lines = map(json.loads, log_file(root, table, 0).read_text().splitlines())
    metadata = next(line["metaData"] for line in lines if "metaData" in line)
    metadata["configuration"] |= settings
    return {"metaData": metadata}


def test_a_table_with_deletion_vectors_is_refused(root: Path) -> None:
    features = ["deletionVectors"]
    protocol = {"minReaderVersion": 3, "minWriterVersion": 7, "readerFeatures": features, "writerFeatures": features}
    append_to_log(root, "harvest", {"protocol": protocol})
    with pytest.raises(StoreError, match=r"another program \(deletionVectors"):
        read_snapshot(root)
    with pytest.raises(StoreError, match=r"another program \(deletionVectors"):
        put_in(root, Site("Home"))


def test_a_table_about_to_have_deletion_vectors_is_refused(root: Path) -> None:
    append_to_log(root, "harvest", metadata_of(root, "harvest", **{"delta.enableDeletionVectors": "true"}))
    with pytest.raises(StoreError, match=r"another program \(delta.enableDeletionVectors"):
        read_snapshot(root)


def test_a_table_with_column_mapping_is_refused(root: Path) -> None:
    put_in(root, Site("Home"))
    protocol = {"protocol": {"minReaderVersion": 2, "minWriterVersion": 5}}
    metadata = metadata_of(root, "sites", **{"delta.columnMapping.mode": "name"})
    schema = json.loads(metadata["metaData"]["schemaString"])  # type: ignore[index]
    for number, field in enumerate(schema["fields"], start=1):
        field["metadata"] = {"delta.columnMapping.id": number, "delta.columnMapping.physicalName": f"col-{number}"}
    metadata["metaData"]["schemaString"] = json.dumps(schema)  # type: ignore[index]
    append_to_log(root, "sites", protocol, metadata)
    with pytest.raises(StoreError, match=r"another program \(delta.columnMapping.mode"):
        read_snapshot(root)


def test_a_file_of_an_earlier_release_gets_the_columns_it_lacks(root: Path) -> None:
    (file,) = read_snapshot(root).files["harvest"]
    pq.write_table(pq.ParquetFile(file).read().drop_columns(["grade"]), file)
    rows = read_table(read_snapshot(root), "harvest")
    assert rows.schema == TABLES["harvest"]
    assert rows["grade"].to_pylist() == [None]
    assert rows["year"].to_pylist() == [2024]


def test_a_spoilt_file_is_named(root: Path) -> None:
    (file,) = read_snapshot(root).files["harvest"]
    Path(file).write_bytes(b"PAR1")
    with pytest.raises(StoreError, match=r"year=2024.* cannot be read"):
        read_table(read_snapshot(root), "harvest")


def test_the_year_is_that_of_the_partition_alone() -> None:
    assert year_of("/gardens/year=1999/harvest/year=2024/x.parquet") == 2024
    assert year_of("/gardens/year=1999/sites/x.parquet") is None
