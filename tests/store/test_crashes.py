"""A writer killed at any step leaves all of its batch or nothing, and the next writer mends the rest once."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from perennia.records import Picked, Sown
from perennia.store.log import latest_whole_version
from perennia.store.snapshot import read_snapshot, read_table
from perennia.store.writing import create_store, writer
from tests.store.stored import kinds, put_in, row_counts, run_child

BEFORE = {"life": 1, "harvest": 3}
AFTER = {"sites": 1, "life": 2, "harvest": 6}
KILLED = -9
# four tables are committed to, and each is killed before and after; compaction also sums up three logs
COMMIT_STEPS, HEAL_STEPS, COMPACT_STEPS = 4, 3, 6


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A garden of one plant with three pickings in three batches."""
    root = tmp_path_factory.mktemp("crashes") / "garden"
    create_store(root)
    put_in(root, Sown("A1", "2023-04-01", "Phaseolus coccineus"), Picked("A1", "2024-06-01", 10.0))
    put_in(root, Picked("A1", "2024-06-02", 20.0))
    put_in(root, Picked("A1", "2024-06-03", 30.0))
    return root


@pytest.fixture(scope="module")
def ahead(garden: Path) -> Path:
    """The same garden after a crash in which sites and life ran ahead."""
    root = garden.with_name("ahead")
    shutil.copytree(garden, root)
    assert run_child(root, "commit", "after", "2").returncode == KILLED
    return root


@pytest.fixture
def copied(tmp_path: Path) -> Callable[[Path], Path]:
    """Makes copies of a garden."""
    return lambda source: Path(shutil.copytree(source, tmp_path / "garden"))


def assert_settled(root: Path, counts: dict[str, int]) -> None:
    """The next writer sees the same, leaves no table ahead, heals only once, and can go on."""
    with writer(root) as held:
        healed = held.snapshot
    assert row_counts(root) == counts
    assert read_snapshot(root) == healed
    assert {table: latest_whole_version(root, table) for table in healed.versions} == healed.versions
    with writer(root) as held:
        assert held.snapshot == healed
    put_in(root, Picked("A9", "2024-06-01", 1.0))
    assert row_counts(root) == {**counts, "harvest": counts["harvest"] + 1}


@pytest.mark.parametrize("step", range(1, COMMIT_STEPS + 1))
@pytest.mark.parametrize("when", ["before", "after"])
def test_a_killed_batch_is_there_whole_or_not_at_all(
    garden: Path, copied: Callable[[Path], Path], when: str, step: int
) -> None:
    root = copied(garden)
    ended = run_child(root, "commit", when, str(step))
    assert ended.returncode == KILLED, ended.stderr
    counts = AFTER if (when, step) == ("after", COMMIT_STEPS) else BEFORE
    assert row_counts(root) == counts
    assert_settled(root, counts)


def test_an_acknowledged_batch_takes_the_steps_that_were_killed(garden: Path, copied: Callable[[Path], Path]) -> None:
    root = copied(garden)
    assert run_child(root, "commit").stdout.split() == ["acknowledged", str(COMMIT_STEPS)]
    assert row_counts(root) == AFTER


@pytest.mark.parametrize("step", range(1, HEAL_STEPS + 1))
@pytest.mark.parametrize("when", ["before", "after"])
def test_a_killed_healing_is_healed(ahead: Path, copied: Callable[[Path], Path], when: str, step: int) -> None:
    root = copied(ahead)
    ended = run_child(root, "heal", when, str(step))
    assert ended.returncode == KILLED, ended.stderr
    assert row_counts(root) == BEFORE
    assert_settled(root, BEFORE)
    assert kinds(root).count("heal") == 1


def test_healing_takes_the_steps_that_were_killed(ahead: Path, copied: Callable[[Path], Path]) -> None:
    root = copied(ahead)
    assert run_child(root, "heal").stdout.split() == ["acknowledged", str(HEAL_STEPS)]
    assert kinds(root)[-1] == "heal"


@pytest.mark.parametrize("step", range(1, COMPACT_STEPS + 1))
@pytest.mark.parametrize("when", ["before", "after"])
def test_a_killed_compaction_loses_nothing(garden: Path, copied: Callable[[Path], Path], when: str, step: int) -> None:
    root = copied(garden)
    put_in(root, Sown("A2", "2023-04-01", "Phaseolus coccineus"))
    before = {"life": 2, "harvest": 3}
    snapshot = read_snapshot(root)
    ended = run_child(root, "compact", when, str(step))
    assert ended.returncode == KILLED, ended.stderr
    assert row_counts(root) == before
    assert read_table(snapshot, "harvest").num_rows == 3
    assert_settled(root, before)


def test_compaction_takes_the_steps_that_were_killed(garden: Path, copied: Callable[[Path], Path]) -> None:
    root = copied(garden)
    put_in(root, Sown("A2", "2023-04-01", "Phaseolus coccineus"))
    assert run_child(root, "compact").stdout.split() == ["acknowledged", str(COMPACT_STEPS)]
    assert kinds(root)[-1] == "compact"


@pytest.mark.skipif(not os.path.exists("/proc/self/fd"), reason="open files are named only where /proc is")  # noqa: PTH110
def test_everything_is_on_the_disk_before_it_is_committed(garden: Path, copied: Callable[[Path], Path]) -> None:
    root = copied(garden)
    ended = run_child(root, "trace")
    assert ended.returncode == 0, ended.stderr
    lines = [line.split() for line in ended.stdout.splitlines()]
    synced: set[str] = set()
    waiting: dict[str, str] = {}
    commits = []
    for what, name, *paths in lines:
        if what == "fsync":
            synced.add(name)
            waiting = {log: folder for log, folder in waiting.items() if not {log, folder} <= synced}
        elif what == "commit":
            commits.append(name)
            assert not waiting, f"{name} was committed before an earlier commit was on the disk"
            for path in paths:
                file = root / name / path
                assert {str(file), str(file.parent), str(root / name)} <= synced
            log = root / name / "_delta_log" / f"{latest_whole_version(root, name):020d}.json"
            synced -= {str(log), str(log.parent)}
            waiting[str(log)] = str(log.parent)
        else:
            assert not waiting, "acknowledged before the last commit was on the disk"
    assert sorted(commits) == ["batches", "harvest", "life", "sites"]
    assert commits[-1] == "batches"
    assert lines[-1][0] == "acknowledged"
