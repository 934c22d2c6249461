"""Workbooks: several sheets at once, true dates, and nothing lost without a word."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

import perennia as pn
from perennia.errors import IntakeError, RefusedError
from perennia.intake import read, template
from tests.intake.books import TODAY, garden_in, pickings

HEADINGS = ["event", "label", "on", "grams (kg)", "count", "note"]


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return garden_in(tmp_path)


def workbook(path: Path, **sheets: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name.replace("_", " "))
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def test_each_sheet_is_read_by_its_name_or_its_events(garden: pn.Garden, tmp_path: Path) -> None:
    path = workbook(
        tmp_path / "book.xlsx",
        Read_me=[["anything at all"]],
        Beds=[["Name", "Site", "Area m2"], ["long bed", "home", 6]],
        Picked=[["labels", "on", "Grams", "Count"], ["B1", date(2023, 8, 1), 180, 9], ["B1, B2", "2023-08", None, 4]],
        Harvest=[HEADINGS, ["Picked", "B2", datetime(2023, 8, 2, 7, 30), 0.35, None, " wet "]],
        Empty=[],
    )
    report = read(garden, path, book="k", today=TODAY)
    assert (report.rows, report.stored, report.files) == (4, 4, ("book.xlsx",))
    assert pickings(garden) == [
        ("B1", date(2023, 8, 1), 180.0, 9.0), ("B1", date(2023, 8, 16), None, 2.0),
        ("B2", date(2023, 8, 2), 350.0, None), ("B2", date(2023, 8, 16), None, 2.0),
    ]  # fmt: skip
    assert read(garden, path, book="k", today=TODAY).already_known == 4


def test_a_bad_cell_is_told_with_sheet_row_column_and_value(garden: pn.Garden, tmp_path: Path) -> None:
    path = workbook(
        tmp_path / "book.xlsx", Early=[HEADINGS, ["picked", "B1", "2023-08-01", 1, None, None]],
        Late=[[None], HEADINGS, [None], ["picked", "B1", "2023-08-02", "a few", None, None]],
    )  # fmt: skip
    with pytest.raises(RefusedError) as refused:
        read(garden, path, book="k", today=TODAY)
    (problem,) = refused.value.problems
    told = {name: getattr(problem, name) for name in ("file", "sheet", "row", "column", "value", "field")}
    assert told == {
        "file": "book.xlsx", "sheet": "Late", "row": 4, "column": "grams (kg)", "value": "a few", "field": "grams",
    }  # fmt: skip
    assert "book.xlsx, sheet Late row 4, grams: 'a few' is not a number" in str(refused.value)
    assert pickings(garden) == []


def merged(book: openpyxl.Workbook) -> None:
    book.worksheets[0].merge_cells("B2:B3")


def with_formula(book: openpyxl.Workbook) -> None:
    book.worksheets[0]["D2"] = "=0.1+0.2"


def far_right(book: openpyxl.Workbook) -> None:
    book.worksheets[0]["K2"] = "more"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (merged, r"sheet Harvest has merged cells \(B2:B3\); undo the merging"),
        (with_formula, r"sheet Harvest cell D2 holds a formula without a value; open and save the workbook"),
        (far_right, r"sheet Harvest row 2 has a cell to the right of the headings"),
    ],
)
def test_what_would_lose_a_cell_is_refused(
    garden: pn.Garden, tmp_path: Path, change: Callable[[openpyxl.Workbook], None], message: str
) -> None:
    path = workbook(tmp_path / "book.xlsx", Harvest=[HEADINGS, *[["picked", "B1", "2023-08-01", 1, None, None]] * 2])
    book = openpyxl.load_workbook(path)
    change(book)
    book.save(path)
    with pytest.raises(IntakeError, match=message):
        read(garden, path, book="k", today=TODAY)


def test_an_error_of_the_spreadsheet_is_no_number(garden: pn.Garden, tmp_path: Path) -> None:
    path = workbook(tmp_path / "book.xlsx", Harvest=[HEADINGS, ["picked", "B1", "2023-08-01", "#DIV/0!", None, None]])
    with pytest.raises(RefusedError, match=r"'#DIV/0!' is not a number"):
        read(garden, path, book="k", today=TODAY)


def bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 600 * 2**20)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (bomb, "unpacks to 600 MiB, more than a workbook of records has"),
        (lambda path: path.write_bytes(b"PK\x03\x04 not a workbook"), "cannot be read as a workbook"),
        (lambda path: path.write_bytes(b""), "cannot be read as a workbook"),
        (lambda path: zipfile.ZipFile(path, "w").close(), "cannot be read as a workbook"),
        (lambda path: None, "there is no file"),
    ],
)
def test_what_is_no_workbook_is_told(
    garden: pn.Garden, tmp_path: Path, make: Callable[[Path], object], message: str
) -> None:
    make(tmp_path / "book.xlsx")
    with pytest.raises(IntakeError, match=message):
        read(garden, tmp_path / "book.xlsx", book="k", today=TODAY)


def test_a_filled_template_comes_back_in_with_no_options(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    path = template(tmp_path / "book.xlsx")
    assert read(garden, path, book="k", today=TODAY).rows == 0
    book = openpyxl.load_workbook(path)
    lines: dict[str, list[dict[str, Any]]] = {
        "Sites": [{"event": "site", "name": "home"}],
        "Beds": [{"event": "Bed", "name": "b", "site": "home", "cover": "Tunnel"}],
        "Life": [
            {"event": "Sown", "label": "B1", "on": "2023-05", "crop": "Oca", "bed": "b", "plants": 3},
            {"event": "died back", "label": "B1", "on": "2023-10-20", "extent": "whole"},
        ],
        "Harvest": [
            {"event": "picked", "labels": "B1", "on": "2023-08-01", "grams (g)": 180, "clearance": "no"},
            {"event": "books_kept", "bed": "b", "since": "2023-05-01", "until": "2023-10-31"},
        ],
        "Care": [{"event": "watered", "bed": "b", "on": "2023-07-01", "litres (litres)": 10}],
        "Weather": [{"event": "weather", "site": "home", "on": "2023-07-01", "t_min_c (C)": 9.5, "t_max_c (C)": 21}],
    }
    for name, rows in lines.items():
        sheet = book[name]
        headings = [cell.value for cell in sheet[1]]
        for row, cells in enumerate(rows, start=sheet.max_row + 2):
            for field, value in cells.items():
                sheet.cell(row, headings.index(field) + 1, value)
    book.save(path)
    report = read(garden, path, book="k", today=TODAY)
    assert (report.rows, report.stored, report.set_aside) == (8, 8, 0)
    assert garden.table("beds")["cover"].tolist() == ["tunnel"]
    assert read(garden, path, book="k", today=TODAY).already_known == 8


def test_a_unit_changed_in_a_heading_of_the_template_is_heeded(tmp_path: Path) -> None:
    garden, path = garden_in(tmp_path), template(tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    sheet = book["Harvest"]
    headings = [cell.value for cell in sheet[1]]
    place = headings.index("grams (g)") + 1
    sheet.cell(1, place, "grams (oz)")
    for field, value in {"event": "picked", "labels": "B1", "on": "2023-08-01"}.items():
        sheet.cell(9, headings.index(field) + 1, value)
    sheet.cell(9, place, 2)
    book.save(path)
    assert read(garden, path, book="k", today=TODAY).stored == 1
    assert pickings(garden) == [("B1", date(2023, 8, 1), 56.69904625, None)]
