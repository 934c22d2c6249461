"""A script killed while its batch is committed: readers see all of it or nothing, and running it again mends it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import perennia as pn
from perennia.errors import UnknownLabelError
from perennia.intake import read

TODAY = date(2025, 6, 1)
BOOK = "kitchen garden"
CHILD = Path(__file__).with_name("crashing_gardener.py")
KILLED = -9
SHEETS = {
    "life.csv": "event,label,on,crop,bed,into,mother_continues\nsown,A2,2024-05-01,Oca,b,,\nmoved,A2,2024-06-01,,b,,\n"
    'divided,A1,2024-03,,b,"A3, A4",true\n',
    "harvest.csv": 'event,labels,on,grams,count\npicked,"A1, A2",2024-07-02,180,\npicked,A3,2024-07-02,0,\n'
    "picked,A3,2024-07-02,0,\n",
    "care.csv": 'event,labels,bed,on,litres,what,minutes\nwatered,"A1, A2",,2024-07-01,12,,5\n'
    "noted,,b,2024-07-01,,slugs,\n",
}
RECORDS = 8
# one commit a table (life, harvest and care; harvest and corrections), and the one of the batch
INTAKE_STEPS, CORRECT_STEPS = 4, 3
Rows = dict[str, list[dict[str, Any]]]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A garden of one plant, the sheets of a book that goes on from it, and the garden after both."""
    folder = tmp_path_factory.mktemp("book")
    (folder / "sheets").mkdir()
    for name, text in SHEETS.items():
        (folder / "sheets" / name).write_text(text)
    with pn.Garden.create(folder / "before") as garden:
        garden.record(
            pn.Site("home"), pn.Bed("b", "home"), pn.AlreadyHere("A1", "2023-03-01", "Oca", bed="b"), today=TODAY
        )
    shutil.copytree(folder / "before", folder / "after")
    with pn.Garden.open(folder / "after") as garden:
        assert read(garden, folder / "sheets", book=BOOK, today=TODAY).stored == RECORDS
    return folder


def killed(root: Path, action: str, what: str, when: str, step: int) -> None:
    command = [sys.executable, str(CHILD), str(root), action, what, when, str(step)]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == KILLED, ended.stderr
    assert "acknowledged" not in ended.stdout


def rows(root: Path) -> Rows:
    """What a reader sees."""
    with pn.Garden.open(root, read_only=True) as garden:
        return {view: garden.table(view, as_="arrow").to_pylist() for view in ("plants", "life", "harvest", "care")}


def picking(root: Path) -> str:
    with pn.Garden.open(root, read_only=True) as garden:
        return str(garden.sql("select record_id from harvest where label = 'A1'")["record_id"].iloc[0])


@pytest.mark.parametrize(("when", "step"), [("before", 1), *(("after", step + 1) for step in range(INTAKE_STEPS))])
def test_a_killed_intake_is_there_whole_or_not_at_all_and_runs_again(
    folder: Path, tmp_path: Path, when: str, step: int
) -> None:
    root = Path(shutil.copytree(folder / "before", tmp_path / "plot"))
    already_open = pn.Garden.open(root)
    killed(root, "intake", str(folder / "sheets"), when, step)
    committed = step == INTAKE_STEPS
    assert rows(root) == rows(folder / ("after" if committed else "before"))
    assert already_open.table("harvest").empty
    # the next writer heals, and stores what is not there yet: no record lost, none twice
    report = read(already_open, folder / "sheets", book=BOOK, today=TODAY)
    assert (report.stored, report.already_known) == ((0, RECORDS) if committed else (RECORDS, 0))
    assert rows(root) == rows(folder / "after")
    assert read(already_open, folder / "sheets", book=BOOK, today=TODAY).stored == 0
    already_open.close()


@pytest.mark.parametrize(("when", "step"), [("before", 1), *(("after", step + 1) for step in range(CORRECT_STEPS))])
def test_a_killed_correction_is_there_whole_or_not_at_all(folder: Path, tmp_path: Path, when: str, step: int) -> None:
    root = Path(shutil.copytree(folder / "after", tmp_path / "plot"))
    before, wrong = rows(root), picking(root)
    killed(root, "correct", wrong, when, step)
    committed = step == CORRECT_STEPS
    grams = {row["grams"] for row in rows(root)["harvest"] if row["label"] in ("A1", "A2")}
    assert grams == ({9.0} if committed else {90.0})
    assert committed or rows(root) == before
    with pn.Garden.open(root) as garden:
        replacement = pn.Picked(["A1", "A2"], "2024-07-02", 18)
        if committed:
            with pytest.raises(UnknownLabelError, match=r"was corrected before \(one nought too many\)"):
                garden.correct(wrong, replacement, reason="again", today=TODAY)
        else:
            garden.correct(wrong, replacement, reason="one nought too many", today=TODAY)
        # the book still holds the wrong row; taking it in again does not bring it back
        assert read(garden, folder / "sheets", book=BOOK, today=TODAY).stored == 0
        harvest = garden.table("harvest", labels=["A1", "A2"])
        assert harvest["grams"].tolist() == [9.0, 9.0]
        assert wrong not in set(harvest["record_id"])


def test_the_work_that_was_killed_takes_the_steps_that_were_killed(folder: Path, tmp_path: Path) -> None:
    """One step further on, nothing is killed: every commit of a batch was among those above."""
    root = Path(shutil.copytree(folder / "before", tmp_path / "plot"))
    for action, what, steps in (("intake", str(folder / "sheets"), INTAKE_STEPS), ("correct", "", CORRECT_STEPS)):
        command = [sys.executable, str(CHILD), str(root), action, what or picking(root), "before", str(steps + 1)]
        ended = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        assert (ended.returncode, ended.stdout) == (0, "acknowledged\n"), ended.stderr
    assert {row["grams"] for row in rows(root)["harvest"] if row["label"] == "A1"} == {9.0}
