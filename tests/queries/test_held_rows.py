"""Rows of a connection are held in memory where it sees a small garden or a few plants; else they stay in files."""

from __future__ import annotations

from pathlib import Path

import pytest

import perennia as pn
from perennia.queries.connection import Rows, connect
from perennia.store.schemas import TABLES
from perennia.store.snapshot import read_snapshot

HELD = "SELECT count(*) FROM duckdb_tables() WHERE schema_name = 'inside' AND table_name = 'harvest_rows'"


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[str, ...]]:
    folder: Path = tmp_path_factory.mktemp("held") / "plot"
    with pn.Garden.create(folder) as garden:
        garden.record(pn.Sown("A1", "2024-05-01", "Phaseolus coccineus"), pn.Picked("A1", "2024-08-01", 90))
    return dict(read_snapshot(folder).files)


def held(rows: Rows) -> bool:
    with connect(rows) as connection:
        ((found,),) = connection.execute(HELD).fetchall()
        assert connection.execute("SELECT count(*) FROM inside.harvest_rows").fetchall() == [(1,)]
    assert bool(found) == rows.are_few
    return bool(found)


def test_rows_of_a_small_garden_are_held(files: dict[str, tuple[str, ...]], monkeypatch: pytest.MonkeyPatch) -> None:
    assert held(Rows(files=files))
    monkeypatch.setattr("perennia.queries.connection._FEW_BYTES", 100)
    assert not held(Rows(files=files))
    # of a large one those of a few plants
    assert held(Rows(files=files, labels=["A1"]))
    monkeypatch.setattr("perennia.queries.connection._FEW_LABELS", 1)
    assert not held(Rows(files=files, labels=["A1", "A2"]))


def test_a_large_batch_is_not_held_beside_them(
    files: dict[str, tuple[str, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert held(Rows(files=files, labels=["A1"], added={"harvest": TABLES["harvest"].empty_table()}))
    monkeypatch.setattr("perennia.queries.connection._FEW_ROWS", -1)
    assert not held(Rows(files=files, labels=["A1"], added={"harvest": TABLES["harvest"].empty_table()}))
