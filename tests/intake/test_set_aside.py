"""Rows set aside: the good go in, the bad lie beside the book with the reason, and come in once they are mended."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.errors import RefusedError
from perennia.intake import IntakeReport, read
from tests.intake.books import TODAY, garden_in, pickings, written

HEAD = "labels,on,grams,note\n"
MIXED = HEAD + (
    "B1,2023-08-01,180,\nB1,1.8.,90,=2+2\nB3,2023-08-02,90,\nB2,2023-08-02,some,\nB2,2023-08-03,70,\nB1,2031-08-03,1,\n"
)


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return garden_in(tmp_path)


def aside(garden: pn.Garden, source: Any, **options: Any) -> IntakeReport:
    report = read(garden, source, "picked", book="k", on_error="set aside", today=TODAY, **options)
    assert report.rows == report.stored + report.already_known + report.corrected + report.set_aside
    return report


def cells(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


def test_good_rows_go_in_and_bad_ones_lie_beside_the_book(garden: pn.Garden, tmp_path: Path) -> None:
    report = aside(garden, written(tmp_path, "picked.csv", MIXED))
    assert (report.rows, report.stored, report.set_aside) == (6, 2, 4)
    assert pickings(garden) == [("B1", date(2023, 8, 1), 180.0, None), ("B2", date(2023, 8, 3), 70.0, None)]
    (path,) = report.aside_files
    assert path == tmp_path / "picked set aside.csv"
    head, *rows = cells(path)
    assert head == ["set aside because", "set aside from", "set aside row", "event", "labels", "on", "grams", "note"]
    assert [row[1:] for row in rows] == [
        ["picked.csv", "3", "picked", "B1", "1.8.", "90", "'=2+2"],
        ["picked.csv", "4", "picked", "B3", "2023-08-02", "90", ""],
        ["picked.csv", "5", "picked", "B2", "2023-08-02", "some", ""],
        ["picked.csv", "7", "picked", "B1", "2031-08-03", "1", ""],
    ]  # fmt: skip
    assert "no plant labelled B3 had begun" in rows[1][0]
    assert report.aside_rows["grams"].tolist() == ["90", "90", "some", "1"]
    assert "2 stored, 0 already known, 4 set aside in" in report.summary()


def mended(path: Path, *changes: tuple[str, str]) -> None:
    text = path.read_text(encoding="utf-8-sig")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")


def test_mended_rows_come_in_under_the_ids_they_would_have_had(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", MIXED)
    (path,) = aside(garden, book).aside_files
    mended(path, (",1.8.,90", ",2023-08-01,180"), (",B3,", ",B2,"), ("some", "5"), ("2031", "2024"))
    written(tmp_path, "picked.csv", MIXED + "B2,2023-08-20,77,\n")
    report = aside(garden, path)
    assert (report.rows, report.stored, report.already_known) == (4, 4, 0), "no row of the book itself"
    assert aside(garden, path).already_known == 4
    written(tmp_path, "picked.csv", MIXED.replace("1.8.,90", "2023-08-01,180").replace("B3", "B2").replace("some", "5")
            .replace("2031", "2024"))  # fmt: skip
    report = aside(garden, book)
    assert (report.already_known, report.set_aside) == (6, 0)
    assert len(pickings(garden)) == 6, "the row like its twin, once mended, is a picking of its own"


def test_mended_rows_come_in_without_the_book_too(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", MIXED)
    (path,) = aside(garden, book).aside_files
    book.unlink()
    mended(path, (",1.8.,90", ",2023-08-04,90"))
    report = aside(garden, path)
    assert (report.rows, report.stored, report.set_aside) == (4, 1, 3)
    assert report.aside_files == (tmp_path / "picked set aside 2.csv",), "what was mended is not written over"


def test_the_same_rows_are_set_aside_into_the_same_file(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", MIXED)
    first = aside(garden, book).aside_files
    assert aside(garden, book).aside_files == first
    assert aside(garden, tmp_path).files == ("picked.csv",), "a folder's own set aside rows are not read with it"


def test_rows_of_workbooks_are_set_aside_a_sheet_a_file(garden: pn.Garden, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for name in ("Picked", "Left: for seed"):
        sheet = book.create_sheet(name.replace(":", ""))
        sheet.append(["labels", "on", "count"])
        sheet.append(["B1", date(2023, 8, 1), "many"])
        sheet.append(["B1", date(2023, 8, 2), 3])
    book.save(tmp_path / "book.xlsx")
    report = read(garden, tmp_path / "book.xlsx", book="k", on_error="set aside", today=TODAY)
    names = [path.name for path in report.aside_files]
    assert names == ["book Picked set aside.csv", "book Left for seed set aside.csv"]
    assert cells(report.aside_files[1])[1][1:] == [
        "book.xlsx, sheet Left for seed", "2", "left_for_seed", "B1", "2023-08-01", "many"
    ]  # fmt: skip
    mended(report.aside_files[0], ("many", "4"))
    assert read(garden, report.aside_files[0], book="k", today=TODAY).stored == 1


def test_rows_of_a_frame_are_given_back(garden: pn.Garden) -> None:
    frame = pd.DataFrame({"labels": ["B1", "B9"], "on": ["2023-08-01", "2023-08-01"], "grams": [1.0, 2.0]})
    report = aside(garden, frame)
    assert report.aside_files == ()
    assert report.aside_rows["labels"].tolist() == ["B9"]
    again = aside(garden, report.aside_rows.assign(labels="B2"))
    assert (again.rows, again.stored) == (1, 1)


def test_decimal_commas_come_back_as_they_were(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", "labels;on;grams\nB1;2023-08-01;1,5\nB9;2023-08-01;2,5\n")
    (path,) = aside(garden, book).aside_files
    mended(path, (";B9;", ";B2;"))
    assert aside(garden, path).stored == 1
    assert pickings(garden)[1] == ("B2", date(2023, 8, 1), 2.5, None)


def test_a_plant_whose_sowing_is_set_aside_takes_its_pickings_along(garden: pn.Garden, tmp_path: Path) -> None:
    book = tmp_path / "book"
    book.mkdir()
    written(book, "sown.csv", "label,on,crop\nB4,2023-05,Pisum sativum\nB5,May,Pisum sativum\n")
    written(book, "picked.csv", "label,on,grams\nB4,2023-08-01,5\nB5,2023-08-01,5\n")
    report = read(garden, book, book="k", on_error="set aside", today=TODAY)
    assert (report.stored, report.set_aside, len(report.aside_files)) == (2, 2, 2)
    assert report.problems[0].remedy == "it begins in sown.csv row 3, which is wrong too: mend that row first"


def test_to_stop_stores_nothing_and_writes_nothing(garden: pn.Garden, tmp_path: Path) -> None:
    before = garden.table("harvest")
    with pytest.raises(RefusedError):
        read(garden, written(tmp_path, "picked.csv", MIXED), book="k", today=TODAY)
    assert garden.table("harvest").equals(before)
    assert [path.name for path in tmp_path.glob("*.csv")] == ["picked.csv"]


ROW = st.tuples(st.sampled_from(["B1", "B2", "B9"]), st.sampled_from(["2023-08-01", "2023-08-02", "1.8."]),
                st.sampled_from(["1", "2", "x", ""]))  # fmt: skip
# any number of rows as likely as another; lists alone are mostly short
ROWS = st.integers(0, 30).flatmap(lambda rows: st.lists(ROW, min_size=rows, max_size=rows))


# few and long ones: an example takes a book in twice
@settings(max_examples=6)
@given(ROWS)
def test_no_row_is_lost_or_made_up(tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[str, str, str]]) -> None:
    folder = tmp_path_factory.mktemp("book")
    garden = garden_in(folder)
    frame = pd.DataFrame(rows, columns=["labels", "on", "grams"], dtype="string")
    report = aside(garden, frame)
    good = sorted((label, on, float(grams)) for label, on, grams in rows
                  if label != "B9" and on != "1.8." and grams in ("1", "2"))  # fmt: skip
    assert report.rows == len(rows)
    assert report.stored == len(good)
    assert sorted((label, str(on), grams) for label, on, grams, _ in pickings(garden)) == good
    assert len(report.aside_rows) == len(rows) - len(good)
    again = aside(garden, frame)
    assert (again.stored, again.already_known) == (0, len(good))


def test_a_row_left_out_of_the_file_of_those_set_aside_stops_nothing(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", MIXED)
    (path,) = aside(garden, book).aside_files
    lines = path.read_text(encoding="utf-8-sig").splitlines(keepends=True)
    path.write_text(lines[0] + lines[3].replace("some", "5"), encoding="utf-8")
    report = aside(garden, path)
    assert (report.rows, report.stored, report.set_aside) == (1, 1, 0)


def test_a_row_set_aside_twice_keeps_its_place_in_the_book(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", HEAD + "B1,2023-08-01,50,\nB1,2023-08-01,5o,\n")
    (path,) = aside(garden, book).aside_files
    mended(path, (",5o,", ",5p,"))
    (second,) = aside(garden, path).aside_files
    assert cells(second)[0].count("set aside from") == 1
    assert cells(second)[1][1:3] == ["picked.csv", "3"]
    mended(second, (",5p,", ",50,"))
    assert aside(garden, second).stored == 1
    assert [row[2] for row in pickings(garden)] == [50.0, 50.0]


def test_a_row_mended_away_from_its_book_replaces_nothing(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", HEAD + "B1,2023-08-01,50,\nB1,2023-08-01,5o,\n")
    rows = aside(garden, book).aside_rows
    report = aside(garden, rows.assign(grams="60"), correct="so")
    assert (report.stored, report.corrected) == (1, 0)
    assert sorted(row[2] for row in pickings(garden)) == [50.0, 60.0]
    written(tmp_path, "picked.csv", HEAD + "B1,2023-08-01,50,\nB1,2023-08-01,60,\n")
    assert aside(garden, book).already_known == 2
