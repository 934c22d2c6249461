"""Entries kept by label beside the books of a very large garden are those worked out anew, for every plant, and are
read only as long as they hold."""

from __future__ import annotations

import shutil
import signal
import subprocess
import sys
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

import perennia as pn
from perennia import crops
from perennia.errors import StoreError, UnknownLabelError
from perennia.queries import kept_parts
from perennia.queries.answer_files import FOLDER
from perennia.queries.kept_parts import _ranges
from perennia.queries.opening import Seen, opened, opened_on
from perennia.store.snapshot import read_snapshot
from tests.copies import copied
from tests.demo_gardens import demo_by_terminal
from tests.queries.kept_gardens import (
    CHANGES,
    TODAY,
    answers,
    check_ended_by,
    check_read_where_compacted,
    compacted,
    falsify,
)

INDEX = "entries_parts"
LABEL = "R10"
WRONG = "what nobody wrote"


@pytest.fixture(autouse=True)
def _all_gardens_are_very_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("perennia.queries.connection._FEW_BYTES", 0)
    monkeypatch.setattr("perennia.queries.connection._MANY_BYTES", 0)
    monkeypatch.setattr("perennia.queries.kept_parts._ROWS_A_FILE", 100)


def compacted_by_label(folder: Path) -> None:
    """The demo garden with its entries kept in many files."""
    compacted(folder)


@pytest.fixture
def plot(tmp_path: Path) -> Path:
    return copied(compacted_by_label, tmp_path / "plot")


def falsified(plot: Path) -> None:
    """Write words that nobody wrote into every kept entry."""
    names = {file.name: falsify(file, "what", [WRONG] * pq.read_metadata(file).num_rows).name for file in parts(plot)}
    (index,) = answers(plot, INDEX)
    falsify(index, "file", [names[name] for name in pq.read_table(index)["file"].to_pylist()])


def parts(plot: Path) -> list[Path]:
    return answers(plot, "entries")


def plants_of(plot: Path) -> pd.DataFrame:
    with pn.Garden.open(plot, read_only=True) as garden:
        return garden.table("plants")[["plant", "label", "life"]]


def reads_them(garden: pn.Garden) -> bool:
    """Whether the entries asked for are the falsified ones."""
    found = set(garden.history(LABEL)["what"])
    assert found == {WRONG} or WRONG not in found
    return found == {WRONG}


def test_kept_entries_are_those_worked_out(plot: Path) -> None:
    plants = plants_of(plot)
    assert len(parts(plot)) > 5
    every_name = sorted({*plants["plant"], *plants["label"]})
    names = every_name[::4]
    several = [names[5], names[-1], names[5], names[0], names[20]]
    with pn.Garden.open(plot, read_only=True) as garden:
        kept = [garden.history(name) for name in names]
        together, every = garden.history(several), garden.history(every_name)
    shutil.rmtree(plot / FOLDER)
    with pn.Garden.open(plot, read_only=True) as garden:
        for name, own in zip(names, kept, strict=True):
            pd.testing.assert_frame_equal(garden.history(name), own, check_exact=True)
        pd.testing.assert_frame_equal(garden.history(several), together, check_exact=True)
        pd.testing.assert_frame_equal(garden.history(every_name), every, check_exact=True)
    assert set(every["plant"]) == set(plants["plant"])
    assert len(together) == sum(len(kept[names.index(name)]) for name in dict.fromkeys(several))


def odd(folder: Path) -> None:
    """Plants whose labels are used again, begin alike, are in other scripts, or of daughters without an entry
    of their own."""
    with pn.Garden.create(folder) as garden:
        garden.record(
            pn.Site("home"), pn.Bed("b", "home"), pn.Sown("A1", "2021-04-01", "Oca", bed="b"),
            pn.Died("A1", "2021-10-01", cause="rot"), pn.Sown("A1", "2022-04-01", "Oca", bed="b"),
            pn.Sown("A1.2", "2023-04-01", "Oca", bed="b"), pn.Picked(["A1", "A1.2"], "2023-09-01", 90),
            pn.Sown("é", "2021-04-01", "Oca", bed="b"), pn.Sown("Ω 3", "2021-04-01", "Oca", bed="b"),
            pn.Sown("\U0001f331", "2021-04-01", "Oca", bed="b"), pn.Sown("Z", "2021-04-01", "Oca", bed="b"),
            pn.Divided("Z", "2022-03-01", into=("Z1", "zz"), mother_continues=False),
            pn.Watered("2022-07-01", litres=3, labels=("A1", "é")), pn.Lifted("Ω 3", "2021-11-01"),
            pn.Flowered("Ω 3", "2022-08-01"), today=TODAY,
        )  # fmt: skip
        garden.compact()


def test_so_are_those_of_odd_labels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("perennia.queries.kept_parts._ROWS_A_FILE", 1)
    odd(tmp_path)
    plants = plants_of(tmp_path)
    names = sorted({*plants["label"], *plants["plant"]})
    assert len(parts(tmp_path)) == plants["label"].nunique() == 8
    with pn.Garden.open(tmp_path) as garden:
        kept = {name: garden.history(name) for name in names}
    shutil.rmtree(tmp_path / FOLDER)
    with pn.Garden.open(tmp_path) as garden:
        for name in names:
            pd.testing.assert_frame_equal(garden.history(name), kept[name], check_exact=True)
    # a label means its latest plant
    assert set(kept["A1"]["plant"]) == {"A1/2022"}
    # what must have happened stands in the order in which it must have
    assert kept["Ω 3"]["event"].tolist() == ["sown", "emerged", "lifted", "replanted", "regrew", "flowered"]


def test_every_label_lies_in_one_file_that_the_index_names(plot: Path) -> None:
    (index,) = answers(plot, INDEX)
    firsts, files = (column.to_pylist() for column in pq.read_table(index).columns)
    assert sorted(files) == [file.name for file in parts(plot)]
    lying = {name: set(pq.read_table(plot / FOLDER / name)["label"].to_pylist()) for name in files}
    for label in plants_of(plot)["label"]:
        assert [name for name in files if label in lying[name]] == [files[bisect_right(firsts, label) - 1]]


def test_the_size_of_a_label_is_that_of_all_its_rows(tmp_path: Path) -> None:
    odd(tmp_path)
    with pn.Garden.open(tmp_path) as garden:
        garden.record(
            pn.TrussCount("é", "t1", "2021-07-01", opened=4), pn.SeedSaved("é", "2021-10-01", lot="L1", grams=5),
            pn.Picked("é", "2021-08-01", 90, note="w" * 200), pn.Fed("2021-06-01", what="compost", bed="b"),
            today=TODAY,
        )  # fmt: skip
        found = opened(Seen(read_snapshot(tmp_path), garden.profiles))
        expected = Counter(garden.table("plants")["label"])
        for table in ("life", "harvest", "flowering", "care", "seed"):
            for label in garden.rows(table)["label"].drop_null().to_pylist():
                expected[label] += 1
    # the note of 200 bytes counts for three rows more, as each of its 64 does
    expected["é"] += 3
    found.make(["label_sizes"])
    assert dict(found.connection.sql("SELECT label, size FROM inside.label_sizes").fetchall()) == expected


def test_labels_that_just_fit_are_one_range() -> None:
    limit = kept_parts._ROWS_A_FILE
    assert list(_ranges([("a", limit - 1), ("b", 1), ("c", 1)])) == [("a", "b"), ("c", "c")]
    assert list(_ranges([("a", 2 * limit), ("b", 1)])) == [("a", "a"), ("b", "b")]
    assert list(_ranges([])) == []


@given(st.dictionaries(st.text(), st.integers(1, 250), max_size=30))
def test_ranges_follow_each_other_and_hold_as_many_rows_as_a_file_may(sizes: dict[str, int]) -> None:
    labels = sorted(sizes)
    held = [
        [label for label in labels if first <= label <= last]
        for first, last in _ranges((label, sizes[label]) for label in labels)
    ]
    assert [label for range_ in held for label in range_] == labels
    for range_, following in pairwise([*held, []]):
        own = sum(sizes[label] for label in range_)
        assert len(range_) == 1 or own <= kept_parts._ROWS_A_FILE
        # none ends while the next label would have had room
        assert not following or own + sizes[following[0]] > kept_parts._ROWS_A_FILE


def test_they_are_read_wherever_the_garden_lies(plot: Path) -> None:
    falsified(plot)
    for moved in (plot.with_name("moved"), plot.parent / "label=A1" / "plot"):
        shutil.copytree(plot, moved)
        with pn.Garden.open(moved) as garden:
            assert reads_them(garden)


def test_in_the_garden_that_was_compacted_too(tmp_path: Path) -> None:
    check_read_where_compacted(tmp_path / "plot", falsified, reads_them)


@pytest.mark.parametrize("change", CHANGES)
def test_they_hold_only_while_all_they_rest_on_is_the_same(plot: Path, change: Callable[[Path], None]) -> None:
    check_ended_by(change, plot, INDEX, falsified, reads_them)


def test_what_is_recorded_through_the_garden_that_reads_them_is_seen(plot: Path) -> None:
    with pn.Garden.open(plot) as garden:
        before = garden.history(LABEL)
        garden.record(pn.Noted("2024-08-01", "windy", labels=[LABEL]), today=TODAY)
        after = garden.history(LABEL)
    assert len(after) == len(before) + 1
    assert "windy" in after["what"].tolist()


def test_earlier_and_shorter_books_have_none(plot: Path) -> None:
    falsified(plot)
    with pn.Garden.open(plot, as_of="2099-01-01") as garden:
        assert not reads_them(garden)
    with pn.Garden.open(plot) as garden:
        assert reads_them(garden)
        assert not reads_them(garden.up_to("2099-01-01"))


def test_an_unknown_label_is_told_with_what_is_near_it(plot: Path) -> None:
    with pn.Garden.open(plot) as garden:
        for name in (f"{LABEL}x", "", "\U0001f331", [LABEL, f"{LABEL}x"]):
            with pytest.raises(UnknownLabelError, match="no plant labelled"):
                garden.history(name)


def test_a_process_killed_while_it_writes_leaves_nothing_that_is_read(tmp_path: Path) -> None:
    plot = demo_by_terminal(tmp_path / "plot")
    script = [sys.executable, str(Path(__file__).with_name("killed_keeper.py")), str(plot), "3"]
    assert subprocess.run(script, capture_output=True, timeout=120, check=False).returncode == -signal.SIGKILL
    # the seasons and one file of entries were put in place, another was being written
    assert len(answers(plot)) == 2
    assert len(parts(plot)) == 1
    assert answers(plot, INDEX) == []
    falsify(parts(plot)[0], "what", [WRONG] * pq.read_metadata(parts(plot)[0]).num_rows)
    with pn.Garden.open(plot) as garden:
        assert not reads_them(garden)
        garden.compact()
        assert not reads_them(garden)
    (index,) = answers(plot, INDEX)
    assert len(pq.read_table(index)) > 5


def test_a_file_that_cannot_be_read_is_named_and_written_anew(plot: Path) -> None:
    with pn.Garden.open(plot) as garden:
        entries = garden.history(LABEL)
        sound = {file: file.read_bytes() for file in parts(plot)}
        for file, content in sound.items():
            lost = bytearray(content)
            lost[len(lost) // 3] ^= 4
            file.write_bytes(lost)
        with pytest.raises(StoreError, match=r"entries-.*not those that were written.*delete"):
            garden.history(LABEL)
        garden.compact()
        pd.testing.assert_frame_equal(garden.history(LABEL), entries, check_exact=True)
    assert {file: file.read_bytes() for file in parts(plot)} == sound


def test_the_index_that_cannot_be_read_is_named_and_written_anew(plot: Path) -> None:
    (index,) = answers(plot, INDEX)
    sound = index.read_bytes()
    index.write_bytes(sound[:-9] + bytes([sound[-9] ^ 1]) + sound[-8:])
    with pn.Garden.open(plot) as garden:
        with pytest.raises(StoreError, match=f"{index.name}.*delete"):
            garden.history(LABEL)
        garden.compact()
        assert len(garden.history(LABEL)) > 0
    assert index.read_bytes() == sound


def test_of_what_was_deleted_they_are_worked_out_and_written_anew(plot: Path) -> None:
    sound = {file.name for file in parts(plot)}
    falsified(plot)
    for file in parts(plot)[1:]:
        file.unlink()
    with pn.Garden.open(plot) as garden:
        first = pq.read_table(parts(plot)[0])["label"][0].as_py()
        assert set(garden.history(first)["what"]) == {WRONG}
        assert WRONG not in garden.history([first, LABEL])["what"].tolist()
        garden.compact()
        assert WRONG not in garden.history(first)["what"].tolist()
    assert sound <= {file.name for file in parts(plot)}


def test_whole_ones_are_not_written_again(plot: Path) -> None:
    before = {file: file.stat().st_mtime_ns for file in answers(plot)}
    with pn.Garden.open(plot) as garden:
        garden.compact()
    assert {file: file.stat().st_mtime_ns for file in answers(plot)} == before


def test_what_reads_them_reaches_nothing_else_and_takes_no_more_memory_than_it_may(
    plot: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = Seen(read_snapshot(plot), crops.in_force(plot), memory_limit="300MB")
    connection = opened_on(seen, [LABEL])
    assert connection is not None
    names = ("lock_configuration", "enable_external_access", "memory_limit", "python_enable_replacements")
    settings = [connection.execute("SELECT current_setting(?)", [name]).fetchall() for name in names]
    assert settings == [[(True,)], [(False,)], [("286.1 MiB",)], [(False,)]]
    monkeypatch.setattr("perennia.queries.connection._MANY_BYTES", 2**24)
    # of fewer rows all are looked at as fast
    assert opened_on(seen, [LABEL]) is None


def test_what_does_not_fit_leaves_nothing_that_fills_the_disk(tmp_path: Path) -> None:
    resource = pytest.importorskip("resource")
    labels = [f"P{number}" for number in range(6)]
    chance = np.random.default_rng(7)
    with pn.Garden.create(tmp_path) as garden:
        garden.record(
            pn.Site("home"), pn.Bed("b", "home"), *(pn.Sown(label, "2021-04-01", "Oca", bed="b") for label in labels),
            # what is random cannot be made smaller
            *(pn.Picked("P5", date(2021, 7, 1) + timedelta(day), 90, note=chance.bytes(950).hex())
              for day in range(90)), today=TODAY,
        )  # fmt: skip
        garden.compact()
        before = {file: file.stat().st_size for file in answers(tmp_path)}
        garden.record(pn.Noted("2021-06-01", "windy", labels=["P0"]), today=TODAY)
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        largest = max(size for file, size in before.items() if file in parts(tmp_path))
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (largest // 2, hard))
            with pytest.raises(StoreError, match="the books are whole"):
                garden.compact()
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        left = set(answers(tmp_path)) - set(before)
        assert [file.name.partition("-")[0] for file in left] == ["season_summary"]
        assert "windy" in garden.history("P0")["what"].tolist()


def test_links_that_lead_out_of_the_garden_are_refused(plot: Path) -> None:
    for file in parts(plot):
        shutil.move(file, plot.with_name(file.name))
        file.symlink_to(plot.with_name(file.name))
    with pn.Garden.open(plot) as garden, pytest.raises(StoreError, match="lies outside the garden"):
        garden.history(LABEL)


def test_a_garden_that_is_not_very_large_keeps_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("perennia.queries.connection._MANY_BYTES", 2**24)
    plot = demo_by_terminal(tmp_path / "plot")
    with pn.Garden.open(plot) as garden:
        garden.compact()
    assert [file.name.partition("-")[0] for file in answers(plot)] == ["season_summary"]


def test_nor_is_a_garden_without_a_plant_in_their_way(tmp_path: Path) -> None:
    with pn.Garden.create(tmp_path) as garden:
        garden.record(pn.Site("home"), pn.Bed("b", "home"), today=TODAY)
        garden.compact()
        with pytest.raises(UnknownLabelError, match="no plant labelled 'A1' in this garden"):
            garden.history("A1")
