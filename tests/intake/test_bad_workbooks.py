"""Workbooks that are none, packed to burst, or lose a cell: told in words, and nothing half-stored."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import pytest
from openpyxl.chart import BarChart
from openpyxl.utils.datetime import CALENDAR_MAC_1904

import perennia as pn
from perennia.errors import IntakeError, RefusedError
from perennia.intake import IntakeReport
from tests.intake.bad_books import (
    SHEET,
    Make,
    cell,
    cut,
    declaring,
    headers_changed,
    only_charts,
    outcome,
    packed,
    put,
    said_to_be_small,
    under_a_password,
    workbook,
)

BOOKS: dict[str, tuple[Make, str]] = {
    "cut short": (cut(workbook(lambda book, sheet: None), 200), "picked.xlsx cannot be read as a workbook"),
    "billion laughs": (
        declaring("".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10 if n else "lol"}">' for n in range(10)), "&l9;"),
        r"picked.xlsx declares words of its own \(DOCTYPE\), as no spreadsheet does",
    ),
    "a file from elsewhere": (declaring('<!ENTITY l SYSTEM "file:///etc/passwd">', "&l;"), "declares words of its own"),
    "broken XML": (put(b"</sheetData>", b"</sheet>"), "cannot be read as a workbook .mismatched tag"),
    "blanks without end": (put(b"</sheetData>", b" " * 210_000_000 + b"</sheetData>"), "unpacks to 200 MiB, more than"),
    "sizes that lie": (
        headers_changed(put(b"</sheetData>", b" " * 5_000_000 + b"</sheetData>"), said_to_be_small),
        "cannot be read as a workbook",
    ),
    "cells without end": (
        put(b"</sheetData>", b"<row>" + b"<c/>" * 2_000_001 + b"</row></sheetData>"), "has over 2000000 cells"
    ),
    "a password": (headers_changed(workbook(lambda book, sheet: None), under_a_password), "is protected by a password"),
    "no sheet": (packed(lambda parts: parts.pop(SHEET) and None), "has no sheet with anything in it"),
    "only charts": (workbook(only_charts), "has no sheet with anything in it"),
    "all merged": (
        put(b"</sheetData>", b'</sheetData><mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>'),
        r"has merged cells \(A1:XFD1048576\)",
    ),
    "a cell in the last row": (cell("A1048576", "B1"), "sheet Picked row 1048576, on: is missing"),
    "a cell in the last column": (cell("XFD2", "B1"), "sheet Picked row 2 has a cell to the right of the headings"),
    "a cell in the last corner": (cell("XFD1048576", "B1"), "row 1048576 has a cell to the right"),
    "a formula never computed": (cell("C2", "=1+1"), "cell C2 holds a formula without a value"),
    "a formula's error": (put(b"<v>180</v>", b"<f>1/0</f><v>#DIV/0!</v>"), "cannot be read as a workbook"),
    "an error in a cell": (cell("C2", "#N/A"), "row 2, grams: '#N/A' is not a number"),
    "a flag as a number": (cell("C2", True), "row 2, grams: 'true' is not a number"),
    "a word as a number": (put(b"<v>180</v>", b"<v>many</v>"), "cannot be read as a workbook"),
    "a number beyond all": (put(b"<v>180</v>", b"<v>1e999</v>"), "row 2, grams: 'inf' is not a number"),
    "a day before 1900": (cell("B2", -5, "yyyy-mm-dd"), "on: 1899-12-25 is before 1900-01-01"),
    "a day beyond all": (cell("B2", 1e15, "yyyy-mm-dd"), "on: '#VALUE!' is not an ISO 8601 date"),
    "a time of day": (cell("B2", time(12, 30), "hh:mm"), "on: '12:30:00' is not an ISO 8601 date"),
    "a hidden sheet of other things": (
        workbook(lambda book, sheet: setattr(book.create_sheet("Sums"), "sheet_state", "hidden")
                 or book["Sums"].append(["whole"])), "sheet Sums has a column 'whole', which is no field",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BOOKS)
def test_a_workbook_that_is_none_is_told(garden: pn.Garden, tmp_path: Path, case: str) -> None:
    make, message = BOOKS[case]
    error = outcome(garden, make(tmp_path))
    with pytest.raises((IntakeError, RefusedError), match=message):
        raise error if isinstance(error, Exception) else AssertionError(error)


def ended_with(make: Make, more: bytes) -> Make:
    def longer(folder: Path) -> Path:
        path: Path = make(folder)
        path.write_bytes(path.read_bytes() + more)
        return path

    return longer


@pytest.mark.parametrize(
    "make",
    [
        workbook(lambda book, sheet: None, "picked.xlsm"),
        workbook(lambda book, sheet: setattr(book, "epoch", CALENDAR_MAC_1904)
                 or setattr(sheet["B2"], "value", date(2023, 8, 1))),
        workbook(lambda book, sheet: book.create_chartsheet("Chart").add_chart(BarChart())),
        put(b'<dimension ref="A1:C2"', b'<dimension ref="A1:XFD1048576"'),
        put(b'<row r="2"', b'<row r="99999999999"'),
        ended_with(workbook(lambda book, sheet: None), b"more" * 100),
    ],
)  # fmt: skip
def test_odd_workbooks_are_read(garden: pn.Garden, tmp_path: Path, make: Make) -> None:
    report = outcome(garden, make(tmp_path))
    assert isinstance(report, IntakeReport), report
    assert (report.rows, report.already_known) == (1, 1)


def test_a_hidden_sheet_is_read_and_told(garden: pn.Garden, tmp_path: Path) -> None:
    report = outcome(garden, workbook(lambda book, sheet: book.create_sheet("Sown") and
                                      setattr(sheet, "sheet_state", "hidden"))(tmp_path))  # fmt: skip
    assert isinstance(report, IntakeReport), report
    assert report.notes == ("picked.xlsx, sheet Picked is hidden, and was read as the others were",)
