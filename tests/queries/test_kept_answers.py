"""Seasons kept beside the books of a large garden are those worked out anew, and are read only as long as they hold."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from types import ModuleType

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import perennia as pn
from perennia import crops
from perennia.errors import StoreError
from perennia.queries import answer_files, kept_answers
from perennia.queries.answer_files import FOLDER
from perennia.queries.connection import Rows
from perennia.queries.kept_answers import keep_answers
from perennia.queries.opening import Seen, opened
from perennia.store.snapshot import read_snapshot, read_table
from tests.copies import copied
from tests.demo_gardens import demo_by_terminal
from tests.queries.kept_gardens import (
    CHANGES,
    answers,
    check_ended_by,
    check_read_where_compacted,
    compacted,
    falsify,
    recorded,
)

WRONG_G = 12_345.0


@pytest.fixture(autouse=True)
def _all_gardens_are_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("perennia.queries.connection._FEW_BYTES", 0)


@pytest.fixture
def plot(tmp_path: Path) -> Path:
    return copied(compacted, tmp_path / "plot")


def falsified(plot: Path) -> None:
    """Write a weight that nobody picked into every kept season."""
    (file,) = answers(plot)
    falsify(file, "total_g", [WRONG_G] * pq.read_metadata(file).num_rows)


def reads_them(source: pn.Garden) -> bool:
    """Whether the seasons asked for are the falsified ones."""
    return bool((pn.season_summary(source).table["total_g"] == WRONG_G).fillna(False).all())


def test_kept_seasons_are_those_worked_out(plot: Path) -> None:
    def asked() -> tuple[pa.Table, pa.Table, pd.DataFrame]:
        with pn.Garden.open(plot, read_only=True) as garden:
            return (
                garden.table("season_summary", as_="arrow"),
                garden.sql("select * from season_summary join plants using (plant) order by all", as_="arrow"),
                pn.season_summary(garden, crops=["Phaseolus coccineus"], seasons=[2024]).table,
            )

    (file,) = answers(plot)
    kept = asked()
    assert pq.read_table(file).num_rows == kept[0].num_rows > 50
    shutil.rmtree(plot / FOLDER)
    anew = asked()
    assert kept[0].equals(anew[0])
    assert kept[1].equals(anew[1])
    pd.testing.assert_frame_equal(kept[2], anew[2], check_exact=True)


def test_they_are_read_in_this_process_and_another(plot: Path) -> None:
    falsified(plot)
    with pn.Garden.open(plot) as garden:
        assert reads_them(garden)
        asked = "select distinct total_g from season_summary"
        assert garden.sql(asked, isolated=True)["total_g"].tolist() == [WRONG_G]
    assert reads_them(pn.Garden.open(shutil.copytree(plot, plot.with_name("moved"))))


def test_in_the_garden_that_was_compacted_too(tmp_path: Path) -> None:
    check_read_where_compacted(tmp_path / "plot", falsified, reads_them)


def test_a_folder_named_as_a_column_is_none(plot: Path) -> None:
    moved = plot.parent / "season=1999" / "plot"
    shutil.copytree(plot, moved)
    kept, own = (pn.Garden.open(folder).table("season_summary", as_="arrow") for folder in (moved, plot))
    falsified(moved)
    assert reads_them(pn.Garden.open(moved))
    assert kept.equals(own)


@pytest.mark.parametrize("change", CHANGES)
def test_they_hold_only_while_all_they_rest_on_is_the_same(plot: Path, change: Callable[[Path], None]) -> None:
    check_ended_by(change, plot, "*", falsified, reads_them)


@pytest.mark.parametrize("library", [duckdb, np])
def test_nor_once_another_release_works_them_out(
    plot: Path, monkeypatch: pytest.MonkeyPatch, library: ModuleType
) -> None:
    falsified(plot)
    monkeypatch.setattr(library, "__version__", "another")
    answer_files._code.cache_clear()
    try:
        assert not reads_them(pn.Garden.open(plot))
    finally:
        answer_files._code.cache_clear()


def test_every_file_that_works_them_out_is_part_of_what_they_rest_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """A relation or a rule that is changed while a contributor works on it is never answered from before."""
    answer_files._code.cache_clear()
    before, read_bytes, seen = answer_files._code(), Path.read_bytes, set[str]()

    def changed(path: Path) -> bytes:
        seen.add(path.name)
        return read_bytes(path) + b" "

    monkeypatch.setattr(Path, "read_bytes", changed)
    answer_files._code.cache_clear()
    assert answer_files._code() != before
    answer_files._code.cache_clear()
    assert {"season_summary.sql", "plants.sql", "curve_dates.py", "connection.py", "placing.py"} <= seen
    assert {"lifecycle.py", "reading.py"} <= seen


_COMPACTING = """
import sys
from pathlib import Path
import perennia as pn
from perennia.queries import connection
connection._FEW_BYTES = 0
with pn.Garden.open(sys.argv[1]) as garden:
    if len(sys.argv) > 2:
        with Path(sys.argv[2]).open("a") as file:
            file.write("-- a new release\\n")
    garden.compact()
"""


def test_nor_of_a_release_that_was_installed_while_another_was_at_work(plot: Path, tmp_path: Path) -> None:
    package = tmp_path / "installed" / "perennia"
    shutil.copytree(Path(pn.__file__).parent, package, ignore=shutil.ignore_patterns("__pycache__"))
    rule = package / "queries" / "season_totals.sql"
    shutil.rmtree(plot / FOLDER)
    for count, given in enumerate(([plot, rule], [plot]), 1):
        # a program is looked for in its own folder first
        script = [sys.executable, "-c", _COMPACTING, *map(str, given)]
        subprocess.run(script, cwd=package.parent, timeout=120, check=True)
        assert len(answers(plot)) == count


def test_they_are_on_the_disk_and_so_is_where_they_lie(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plot, sync, synced = demo_by_terminal(tmp_path / "plot"), os.fsync, list[Path]()

    def noting(descriptor: int) -> None:
        sync(descriptor)
        synced.append(Path(f"/proc/self/fd/{descriptor}").readlink())

    monkeypatch.setattr(os, "fsync", noting)
    with pn.Garden.open(plot) as garden:
        garden.compact()
    (file,) = answers(plot)
    assert synced[-1] == plot.resolve() / FOLDER
    # its bytes under the name that it had until they were all there
    assert synced[-2].parent == file.resolve().parent


def test_earlier_and_shorter_books_and_single_plants_have_none(plot: Path) -> None:
    with pn.Garden.open(plot) as garden:
        label = garden.table("plants")["label"][0]
        entries = garden.history(label)
    falsified(plot)
    assert not reads_them(pn.Garden.open(plot, as_of="2099-01-01"))
    with pn.Garden.open(plot) as garden:
        assert reads_them(garden)
        assert not reads_them(garden.up_to("2099-01-01"))
        pd.testing.assert_frame_equal(garden.history(label), entries)
    seen = Rows(files=read_snapshot(plot).files, labels=[label])
    assert kept_answers.kept_answers(seen, read_snapshot(plot)) == {}


def test_a_process_killed_while_it_writes_leaves_nothing_that_is_read(tmp_path: Path) -> None:
    plot = demo_by_terminal(tmp_path / "plot")
    script = [sys.executable, str(Path(__file__).with_name("killed_keeper.py")), str(plot)]
    assert subprocess.run(script, capture_output=True, timeout=120, check=False).returncode == -signal.SIGKILL
    left = list((plot / FOLDER).iterdir())
    assert len(left) == 1
    assert answers(plot) == []
    with pn.Garden.open(plot) as garden:
        anew = pn.season_summary(garden).table
        garden.compact()
    pd.testing.assert_frame_equal(pn.season_summary(pn.Garden.open(plot)).table, anew, check_exact=True)
    assert len(answers(plot)) == 1
    # another process might be writing it still, so that it stays for a while
    assert left[0].exists()


def kept_with(plot: Path, kept_hours: float) -> None:
    """Keep the answers to the books as they stand, those to earlier ones for so many hours."""
    with pn.Garden.open(plot) as garden:
        seen = Seen(read_snapshot(plot), garden.profiles)
    found = opened(seen)
    with found.connection:
        keep_answers(found.connection, Rows(files=seen.snapshot.files), seen.snapshot, found.built, kept_hours)


def test_answers_to_earlier_books_are_deleted_once_no_reader_can_hold_them(plot: Path) -> None:
    (first,) = answers(plot)
    cut_short = plot / FOLDER / f".{'0a' * 16}"
    cut_short.touch()
    os.utime(first, (1, 1))
    kept_with(plot, 0)
    # the books have not changed, however long ago it was written, and it is not written again
    assert answers(plot) == [first]
    assert first.stat().st_mtime == 1
    assert not cut_short.exists()
    recorded(plot)
    kept_with(plot, 24)
    assert first in answers(plot)
    kept_with(plot, 0)
    assert len(answers(plot)) == 1
    assert first not in answers(plot)


def test_the_first_books_that_follow_end_an_answer_however_many_come_after(plot: Path) -> None:
    (first,) = answers(plot)
    own = read_snapshot(plot).batch
    for _ in range(2):
        recorded(plot)
    snapshot = read_snapshot(plot)
    followed = min(made["recorded_at"] for made in read_table(snapshot, "batches").to_pylist() if made["batch"] > own)
    answer_files.delete_unneeded(snapshot, followed - timedelta.resolution)
    assert answers(plot) == [first]
    answer_files.delete_unneeded(snapshot, followed)
    assert answers(plot) == []


def test_a_garden_held_while_they_are_deleted_works_them_out(plot: Path) -> None:
    with pn.Garden.open(plot, read_only=True) as garden:
        kept = pn.season_summary(garden).table
        shutil.rmtree(plot / FOLDER)
        pd.testing.assert_frame_equal(pn.season_summary(garden).table, kept, check_exact=True)


def test_nothing_else_that_lies_there_is_deleted_or_in_the_way(plot: Path) -> None:
    own, versions = plot / FOLDER / "my notes.txt", plot / FOLDER / ".stversions"
    own.write_text("why so few pods in 2023")
    versions.mkdir()
    for path in (own, versions):
        os.utime(path, (1, 1))
    # as seen by a process while another one puts its finished file in place
    (plot / FOLDER / f".{'0a' * 16}").symlink_to("gone")
    kept_with(plot, 0)
    assert own.read_text() == "why so few pods in 2023"
    assert versions.is_dir()


def test_links_that_lead_out_of_the_garden_are_refused(plot: Path) -> None:
    (plot / FOLDER).rename(plot.with_name("elsewhere"))
    (plot / FOLDER).symlink_to(plot.with_name("elsewhere"))
    with pytest.raises(StoreError, match="lies outside the garden"):
        pn.season_summary(pn.Garden.open(plot))
    with pytest.raises(StoreError, match="lies outside the garden"), pn.Garden.open(plot) as garden:
        garden.compact()


def test_a_file_that_cannot_be_read_is_named(plot: Path) -> None:
    (file,) = answers(plot)
    file.write_bytes(b"PAR1")
    with pn.Garden.open(plot) as garden:
        # the books can be read all the same, and whatever does not rest on it
        assert garden.rows("harvest").num_rows > 0
        assert len(garden.history(garden.table("plants")["label"][0])) > 0
        for _ in range(2):
            with pytest.raises(StoreError, match=f"{file.name}.*delete"):
                pn.season_summary(garden)
        file.unlink()
        assert len(pn.season_summary(garden).table) > 50


def test_a_file_of_which_the_disk_lost_a_bit_is_not_read_and_written_anew(plot: Path) -> None:
    (file,) = answers(plot)
    sound = file.read_bytes()
    lost = bytearray(sound)
    lost[len(lost) // 3] ^= 4
    file.write_bytes(lost)
    with pn.Garden.open(plot) as garden:
        with pytest.raises(StoreError, match=f"{file.name}.*not those that were written.*delete"):
            pn.season_summary(garden)
        garden.compact()
        assert len(pn.season_summary(garden).table) > 50
    assert [path.read_bytes() for path in answers(plot)] == [sound]


def test_books_are_whole_where_their_seasons_cannot_be_kept(tmp_path: Path) -> None:
    plot = demo_by_terminal(tmp_path / "plot")
    (plot / FOLDER).touch()
    with pn.Garden.open(plot) as garden, pytest.raises(StoreError, match="the books are whole"):
        garden.compact()
    (plot / FOLDER).unlink()
    seen = Seen(read_snapshot(plot), crops.in_force(plot))
    found = opened(seen)
    # nothing can be worked out with it any more, as where it may take too little memory
    found.connection.close()
    with pytest.raises(StoreError, match="the books are whole"):
        keep_answers(found.connection, Rows(files=seen.snapshot.files), seen.snapshot, found.built)
    assert len(pn.season_summary(pn.Garden.open(plot)).table) > 50


def test_what_cannot_be_put_in_its_place_is_not_left_lying(plot: Path) -> None:
    (file,) = answers(plot)
    file.unlink()
    file.mkdir()
    with pn.Garden.open(plot) as garden, pytest.raises(StoreError, match="the books are whole"):
        garden.compact()
    assert list((plot / FOLDER).iterdir()) == [file]


def test_a_garden_of_few_rows_keeps_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    plot = demo_by_terminal(tmp_path / "plot")
    with pn.Garden.open(plot) as garden:
        garden.compact()
    assert not (plot / FOLDER).exists()
