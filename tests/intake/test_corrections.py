"""Corrections in bulk: an export mended in a spreadsheet and handed back, all at once or nothing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import perennia as pn
from perennia.errors import IntakeError, RefusedError, UnknownLabelError
from perennia.intake import correct, export, read
from tests.copies import copied
from tests.intake.books import TODAY, garden_in, pickings, written

DAY = date(2023, 8, 1)
BOOK = 'labels,on,grams,count,note\nB1,2023-08-01,180,9,"wet, late"\n"B1,B2",2023-08-01,90,,\nB2,2023-08-01,0,,\n'


def exported(folder: Path) -> None:
    garden = garden_in(folder)
    read(garden, written(folder, "picked.csv", BOOK), book="k", today=TODAY)
    export(garden, folder / "out")


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(exported, tmp_path) / "plot")


def changed(folder: Path, table: str, *changes: tuple[str, str]) -> Path:
    path = folder / "out" / f"{table}.csv"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return path


def test_changed_rows_of_an_export_are_corrected_and_the_others_left(garden: pn.Garden, tmp_path: Path) -> None:
    path = changed(tmp_path, "harvest", (",180,9", ",185,9"), ('"B1,B2"', '"B2"'))
    report = correct(garden, path, reason="misread", today=TODAY)
    assert (report.rows, report.corrected, report.taken_back, report.unchanged) == (3, 2, 0, 1)
    assert pickings(garden) == [("B1", DAY, 185.0, 9.0), ("B2", DAY, 0.0, None), ("B2", DAY, 90.0, None)]
    assert garden.sql("select note from harvest where grams = 185")["note"].tolist() == ["wet, late"]
    again = correct(garden, path, reason="misread", today=TODAY)
    assert (again.corrected, again.unchanged) == (0, 3)
    assert read(garden, tmp_path / "picked.csv", book="k", today=TODAY).already_known == 3
    assert "3 rows read: 0 corrected, 0 taken back, 3 unchanged" in again.summary()


def test_the_whole_export_handed_back_changes_nothing(garden: pn.Garden, tmp_path: Path) -> None:
    for path in sorted((tmp_path / "out").glob("*.csv")):
        report = correct(garden, path, reason="none", today=TODAY)
        assert report.unchanged == report.rows


def test_a_row_of_nothing_but_its_id_takes_the_record_back(garden: pn.Garden, tmp_path: Path) -> None:
    gone = garden.table("harvest", labels=["B1"])["record_id"].iloc[-1]
    path = written(tmp_path, "back.csv", f"record_id\n{gone}\n")
    assert correct(garden, path, reason="not mine", today=TODAY).taken_back == 1
    assert gone not in set(garden.table("harvest")["record_id"])


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ([(",180,9", ",a lot,9")], r"harvest.csv row \d, grams: 'a lot' is not a number"),
        ([(",180,9", ",185,9"), ("2023-08-01", "2021-08-01")], r"harvest.csv row \d: picked B1 on 2021-08-01, label:"),
        ([(",180,9", ",0,9")], r"harvest.csv row \d.*one of grams and count is 0"),
    ],
)
def test_a_wrong_row_is_told_in_its_place_and_nothing_corrected(
    garden: pn.Garden, tmp_path: Path, changes: list[tuple[str, str]], message: str
) -> None:
    before = pickings(garden)
    with pytest.raises(RefusedError, match=message):
        correct(garden, changed(tmp_path, "harvest", *changes), reason="so", today=TODAY)
    assert pickings(garden) == before


def test_a_table_without_ids_and_a_strange_id_are_told(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="has no column record_id, which says what to correct"):
        correct(garden, tmp_path / "picked.csv", reason="so", today=TODAY)
    text = "record_id,event,labels,on,grams\n,picked,B1,2023-08-01,1\n"
    with pytest.raises(IntakeError, match="row 2 has no record_id; rows that are new are taken in by read"):
        correct(garden, written(tmp_path, "new.csv", text), reason="so", today=TODAY)
    strange = written(tmp_path, "strange.csv", f"record_id\n{'0' * 32}\n")
    with pytest.raises(UnknownLabelError, match=r"no record 0{32} in this garden"):
        correct(garden, strange, reason="so", today=TODAY)


def test_a_correction_says_why(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="say why, for later years"):
        correct(garden, changed(tmp_path, "harvest", (",180,9", ",185,9")), reason=" ", today=TODAY)


def test_several_records_are_corrected_at_once_or_not_at_all(garden: pn.Garden) -> None:
    ids = garden.sql("select distinct record_id from harvest order by 1")["record_id"].tolist()
    before = pickings(garden)
    new = dict.fromkeys(ids, pn.Picked("B1", "2023-08-05", 7))
    with pytest.raises(RefusedError, match="record 1: picked B1 on 2020-08-05"):
        garden.correct_all({ids[0]: pn.Picked("B1", "2020-08-05", 7), ids[1]: None}, reason="so", today=TODAY)
    with pytest.raises(UnknownLabelError):
        garden.correct_all({ids[0]: None, "ab" * 16: None}, reason="so", today=TODAY)
    assert pickings(garden) == before
    receipt = garden.correct_all({**new, ids[2]: None}, reason="so", today=TODAY)
    assert (len(receipt.record_ids), receipt.stored) == (2, 2)
    assert pickings(garden) == [("B1", date(2023, 8, 5), 7.0, None)] * 2
    assert [garden.recorded(record_id) for record_id in receipt.record_ids] == [pn.Picked("B1", "2023-08-05", 7)] * 2
