"""Rows whose day or labels were edited since: conflicts where the rest of the book shows it, new rows where not."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import perennia as pn
from perennia.errors import RefusedError
from perennia.intake import read
from tests.copies import copied
from tests.intake.books import TODAY, garden_in, pickings, written

HEAD = "labels,on,grams,count\n"
ROWS = ("B1,2023-08-01,180,9", "B1,2023-08-05,90,", "B2,2023-08-05,75,", '"B1,B2",2023-08-09,44,')
EDITED = {
    "day": (1, "B1,2023-08-06,90,", "on", "2023-08-06 is written here, 2023-08-05 is stored"),
    "label": (2, "B1,2023-08-05,75,", "labels", "B1 is written here, B2 is stored"),
    "one of several labels": (3, "B1,2023-08-09,44,", "labels", "B1 is written here, B1, B2 is stored"),
    "label of the first day": (0, "B2,2023-08-01,180,9", "labels", "B2 is written here, B1 is stored"),
}


def taken(garden: pn.Garden, folder: Path, rows: tuple[str, ...], **how: object) -> pn.intake.IntakeReport:
    """What became of a book of these rows."""
    book = written(folder, "picked.csv", HEAD + "".join(f"{row}\n" for row in rows))
    return read(garden, book, book="k", today=TODAY, **how)  # type: ignore[arg-type]


def taken_in(folder: Path) -> None:
    taken(garden_in(folder), folder, ROWS)


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(taken_in, tmp_path) / "plot")


@pytest.mark.parametrize("case", EDITED)
def test_an_edited_day_or_label_is_a_conflict_and_a_correction_when_asked(
    garden: pn.Garden, tmp_path: Path, case: str
) -> None:
    place, row, field, wrong = EDITED[case]
    rows = (*ROWS[:place], row, *ROWS[place + 1 :])
    with pytest.raises(RefusedError) as refused:
        taken(garden, tmp_path, rows)
    (problem,) = refused.value.problems
    assert (problem.row, problem.rule, problem.field, problem.wrong) == (place + 2, "B4", field, wrong)
    assert "if both happened, the book needs a row for each" in problem.remedy
    before = pickings(garden)
    assert len(before) == 5, "nothing is stored beside a conflict"
    report = taken(garden, tmp_path, rows, correct="written in the wrong line")
    assert (report.stored, report.already_known, report.corrected, report.set_aside) == (0, 3, 1, 0)
    assert garden.corrections()["reason"].tolist() == ["written in the wrong line"]
    now = pickings(garden)
    assert len(now) == len(before) - (case == "one of several labels")
    again = taken(garden, tmp_path, rows)
    assert (again.already_known, again.doubts) == (4, ())
    assert pickings(garden) == now


def test_an_edited_day_is_set_aside_and_the_rest_goes_in(garden: pn.Garden, tmp_path: Path) -> None:
    rows = (ROWS[0], "B1,2023-08-06,90,", *ROWS[2:], "B2,2023-08-12,30,")
    report = taken(garden, tmp_path, rows, on_error="set aside")
    assert (report.stored, report.already_known, report.set_aside, report.doubts) == (1, 3, 1, ())
    (aside,) = report.aside_files
    with pytest.raises(RefusedError, match="on: 2023-08-06 is written here, 2023-08-05 is stored"):
        read(garden, aside, "picked", book="k", today=TODAY)
    mended = read(garden, aside, "picked", book="k", today=TODAY, correct="wrong line")
    assert (mended.stored, mended.corrected) == (0, 1)
    assert ("B1", date(2023, 8, 6), 90.0, None) in pickings(garden)
    assert len(pickings(garden)) == 6
    assert taken(garden, tmp_path, rows).already_known == 5


def test_both_rows_in_the_book_are_two(garden: pn.Garden, tmp_path: Path) -> None:
    report = taken(garden, tmp_path, (*ROWS, "B1,2023-08-06,90,"))
    assert (report.stored, report.already_known) == (1, 4)


NO_EDITS = {
    "another file of the book": (("B1,2023-08-12,90,", "B2,2023-08-12,75,"), 2),
    "a file of one row like another's": (("B1,2023-08-12,90,",), 1),
    "the oldest days lost while new ones came": ((*ROWS[1:], "B1,2023-08-12,180,9"), 1),
    "the oldest day lost while one came on the last": ((*ROWS[1:], "B1,2023-08-09,180,9"), 1),
    "the oldest day lost while an older entry came late": ((*ROWS[1:], "B1,2023-08-07,180,9"), 1),
    "the newest day lost while an older one came": ((*ROWS[:3], '"B1,B2",2023-07-20,44,'), 1),
    "two rows that could each be the edit": ((ROWS[0], *ROWS[2:], "B1,2023-08-06,90,", "B1,2023-08-07,90,"), 2),
    "one gone without a row in its place": ((ROWS[0], "B1,2023-08-06,90,", ROWS[3]), 1),
    "every row a year later": (tuple(row.replace("2023", "2024") for row in ROWS), 4),
}


@pytest.mark.parametrize("case", NO_EDITS)
def test_what_the_rest_of_the_book_does_not_show_is_no_edit(garden: pn.Garden, tmp_path: Path, case: str) -> None:
    rows, new = NO_EDITS[case]
    before = set(garden.table("harvest")["record_id"])
    report = taken(garden, tmp_path, rows, correct="so")
    assert (report.stored, report.corrected) == (new, 0)
    assert before <= set(garden.table("harvest")["record_id"]), "nothing true is replaced"


def test_an_edit_that_breaks_a_rule_says_which(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="ahead of today"):
        taken(garden, tmp_path, (ROWS[0], "B1,2026-08-05,90,", *ROWS[2:]), correct="so")
    assert len(pickings(garden)) == 5


def test_a_life_event_on_another_day_is_an_edit(garden: pn.Garden, tmp_path: Path) -> None:
    head = "event,label,on,place\n"
    rows = "lifted,B1,2023-11-05,\nstored,B1,2023-11-06,bare root\nlifted,B2,2023-11-05,\n"
    book = written(tmp_path, "life.csv", head + rows)
    read(garden, book, book="life", today=TODAY)
    book = written(tmp_path, "life.csv", head + rows.replace("lifted,B1,2023-11-05", "lifted,B1,2023-11-04"))
    with pytest.raises(RefusedError, match="2023-11-04 is written here, 2023-11-05 is stored"):
        read(garden, book, book="life", today=TODAY)
    assert read(garden, book, book="life", today=TODAY, correct="a day out").corrected == 1
    assert read(garden, book, book="life", today=TODAY).already_known == 3


def test_a_corrected_row_that_is_gone_from_the_book_is_told_and_can_be_edited_again(
    garden: pn.Garden, tmp_path: Path
) -> None:
    moved = (ROWS[0], "B2,2023-08-05,90,", *ROWS[2:])
    assert taken(garden, tmp_path, moved, correct="wrong plant").corrected == 1
    report = taken(garden, tmp_path, (ROWS[0], *ROWS[2:]))
    (doubt,) = report.doubts
    assert (doubt.kind, doubt.label, str(doubt.on_to)) == ("gone", "B2", "2023-08-05")
    again = (ROWS[0], "B2,2023-08-07,90,", *ROWS[2:])
    with pytest.raises(RefusedError, match="on: 2023-08-07 is written here, 2023-08-05 is stored"):
        taken(garden, tmp_path, again)
    assert taken(garden, tmp_path, again, correct="wrong day too").corrected == 1
    assert [row for row in pickings(garden) if row[2] == 90.0] == [("B2", date(2023, 8, 7), 90.0, None)]
    assert taken(garden, tmp_path, again).already_known == 4
