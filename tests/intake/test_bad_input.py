"""Whatever is given as a book: a whole intake or an error in words, never half a batch, and nothing left behind."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.chart import BarChart
from openpyxl.utils.datetime import CALENDAR_MAC_1904

import perennia as pn
from perennia.cli import main
from perennia.errors import ArgumentError, IntakeError, PerenniaError, RefusedError
from perennia.intake import IntakeReport, correct, ghcn_daily, read
from perennia.intake.columns import FIELDS
from perennia.queries.connection import RECORD_TABLES
from tests.intake.books import TODAY, garden_in, written

HEAD = "labels,on,grams\n"
ROW = "B1,2023-08-01,180\n"
ASIDE_HEAD = "set aside because,set aside from,set aside row,event,labels,on,grams\n"
SHEET = "xl/worksheets/sheet1.xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
Make = Callable[[Path], Any]


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    """One garden for all that is refused, and for what is known once it was taken in."""
    garden = garden_in(tmp_path_factory.mktemp("bad input"))
    assert read(garden, pd.DataFrame(good()), "picked", book="k", today=TODAY).stored == 1
    return garden


def good() -> dict[str, list[Any]]:
    return {"labels": ["B1"], "on": ["2023-08-01"], "grams": [180.0]}


def held(garden: pn.Garden) -> tuple[object, ...]:
    """All rows of a garden, its batch and its folder's staged parts."""
    folder = Path(repr(garden).split("'")[1])
    staged = sorted(str(path) for path in (folder / ".staged").rglob("*") if path.is_file())
    return repr(garden), [garden.rows(table).to_pylist() for table in RECORD_TABLES], staged


def lying_in(source: Any) -> list[str]:
    return (
        sorted(path.name for path in source.parent.iterdir())
        if isinstance(source, Path) and source.parent.is_dir()
        else []
    )


def outcome(garden: pn.Garden, source: Any, **options: Any) -> IntakeReport | PerenniaError:
    """What became of a book, whose every row must be accounted for, or the error, after which all is as it was."""
    before, files = held(garden), lying_in(source)
    event = options.pop("event", "picked")
    try:
        report = read(garden, source, event, book="k", today=TODAY, **options)
    except PerenniaError as error:
        assert held(garden) == before
        assert lying_in(source) == files
        return error
    assert report.rows == report.stored + report.already_known + report.corrected + report.set_aside
    assert report.set_aside == len(report.aside_rows)
    return report


def text(content: str | bytes, name: str = "picked.csv", encoding: str = "utf-8") -> Make:
    def make(folder: Path) -> Path:
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return folder / name

    return make


def link(target: str, name: str = "picked.csv") -> Make:
    def make(folder: Path) -> Path:
        (folder / name).symlink_to(target)
        return folder / name

    return make


def pipe(name: str) -> Make:
    def make(folder: Path) -> Path:
        os.mkfifo(folder / name)
        return folder / name

    return make


def folder_named(name: str) -> Make:
    def make(folder: Path) -> Path:
        (folder / name).mkdir()
        return folder / name

    return make


FILES: dict[str, tuple[Make, str]] = {
    "one line of 20 MB": (text(b"a" * 20_000_000), "first line of .*picked.csv has over a million letters"),
    "a second line of 20 MB": (
        text((HEAD + ROW).encode() + b"B" * 20_000_000),
        "row 3 has a line of over 16 million letters; a book has one row an event",
    ),
    "a second line of 20 MB of cells": (
        text((HEAD + ROW).encode() + b"B," * 10_000_000), "picked.csv row 3 has a line of over 16 million letters"
    ),
    "a cell of 10 MB of digits": (
        text(HEAD + f"B1,2023-08-01,{'1' * 10_000_000}\n"), "row 2, grams: has over 100000 letters; it must be a number"
    ),
    "a day of 10 MB": (text(HEAD + f"B1,{'1' * 10_000_000},1\n"), "row 2, on: has over 100000 letters"),
    "a day of 5000 letters": (text(HEAD + f"B1,{'1' * 5000},1\n"), "'1{40}'... has 5000 letters"),
    "a label of 10 MB": (text(HEAD + f"{'B' * 10_000_000},2023-08-01,1\n"), "row 2, labels: has over 100000 letters"),
    "an event of 10 MB": (
        text(f"event,labels,on\n{'B' * 10_000_000},B1,2023-08-01\n"), r"row 2, event: 'B{100}\.\.\.' is no event"
    ),
    "a quoted cell of 20 MB": (text(HEAD + f'B1,2023-08-01,"{"1" * 20_000_000}"\n'), "row 2"),
    "a quoted cell of 20 MB in lines": (
        text(HEAD + 'B1,2023-08-01,"' + "1\n" * 10_000_000 + '"\n'),
        "row 2 cannot be read .a cell has over 16 million letters",
    ),
    "NUL in the middle": (text(HEAD + "B1,2023-\0-01,1\n"), "picked.csv holds bytes of value 0, which no text has"),
    "NUL at the end": (text(HEAD + ROW + "\0"), "picked.csv holds bytes of value 0"),
    "UTF-16 without its mark": (text(HEAD + ROW, encoding="utf-16-le"), "holds bytes of value 0"),
    "UTF-16 cut in a letter": (text((HEAD + ROW).encode("utf-16") + b"x"), "cannot be read as text after row 2"),
    "only a mark": (text(b"\xef\xbb\xbf"), "picked.csv is empty; its first row must hold the column names"),
    "nothing": (text(b""), "picked.csv is empty"),
    "blank lines": (text(b"\n" * 10_000), "picked.csv is empty"),
    "10,000 columns": (text(",".join(f"c{n}" for n in range(10_000))), "has 10000 columns, the first of them c0, c1"),
    "900 columns": (text(",".join(f"c{n}" for n in range(900))), "'c19'.*; and 880 more such headings"),
    "a row of 900,000 cells": (text(HEAD + "," * 900_000 + "x\n"), "row 2 has more cells than headings"),
    "a heading twice": (text("labels,labels,on,grams\nB1,B1,2023-08-01,1\n"), "several columns for labels: labels"),
    "a long heading": (text(f"labels,on,{'g' * 100_000}\n"), "has a heading of 100000 letters, 'g{40}'...; write"),
    "a heading of two lines": (text('labels,on,"gra\nms"\n'), r"has a column 'gra\\nms', which is no field"),
    "quotes open at the end": (text(HEAD + ROW + '"B1,2023-08-01,1\n'), "row 3 cannot be read .unexpected end of data"),
    "quotes open in the headings": (text('"' + HEAD + ROW), "row 1 cannot be read"),
    "a folder named as a file": (folder_named("picked.csv"), "no CSV, XLSX or Parquet file in .*picked.csv"),
    "a folder named as a workbook": (folder_named("picked.xlsx"), "no CSV, XLSX or Parquet file in .*picked.xlsx"),
    "a pipe": (pipe("picked.csv"), "picked.csv is no file but a folder, a pipe or a device"),
    "a pipe as a workbook": (pipe("picked.xlsx"), "picked.xlsx is no file but a folder, a pipe or a device"),
    "a pipe as Parquet": (pipe("picked.parquet"), "picked.parquet is no file but a folder, a pipe or a device"),
    "a device": (link("/dev/zero"), "is no file but a folder, a pipe or a device"),
    "a link to itself": (link("picked.csv"), "picked.csv cannot be read"),
    "a link to nothing": (link("gone"), "there is no file .*picked.csv"),
    "a name of 5000 letters": (lambda folder: folder / ("x" * 5000 + ".csv"), "cannot be read"),
    "a name with NUL": (lambda folder: "picked\0.csv", "cannot be read .embedded null byte"),
    "a file below a file": (lambda folder: text(HEAD)(folder) / "picked.csv", "there is no file"),
    "a workbook of the old kind": (text(b"\xd0\xcf\x11\xe0", "picked.xls"), "picked.xls is a workbook of the old kind"),
    "a locked workbook": (
        text(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "picked.xlsx"), "is protected by a password, or"
    ),
    "CSV named as a workbook": (text(HEAD + ROW, "picked.xlsx"), "cannot be read as a workbook"),
    "CSV named as Parquet": (text(HEAD + ROW, "picked.parquet"), "cannot be read as Parquet"),
    "empty Parquet file": (text(b"", "picked.parquet"), "cannot be read as Parquet"),
    "encrypted Parquet": (text(b"PARE" + b"x" * 100 + b"\x20\0\0\0PARE", "picked.parquet"), "be read as Parquet"),
    "a set-aside file whose original is no text": (
        lambda folder: text(b"\0")(folder)
        and text(ASIDE_HEAD + "x,picked.csv,2,picked,B1,2023-08-01,1\n", "picked set aside.csv")(folder),
        "picked.csv holds bytes of value 0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", FILES)
def test_a_file_that_is_no_book_is_told(garden: pn.Garden, tmp_path: Path, case: str) -> None:
    make, message = FILES[case]
    error = outcome(garden, make(tmp_path))
    assert isinstance(error, PerenniaError), error
    with pytest.raises((IntakeError, RefusedError), match=message):
        raise error
    assert len(str(error)) < 6000


@pytest.mark.parametrize(
    ("content", "options"),
    [
        ("labels,on,grams\rB1,2023-08-01,180\r\n", {}),
        ("labels,on,grams\r\n\r\n\rB1,2023-08-01,180", {}),
        (HEAD + ROW + "\n" * 100_000, {}),
        ("," * 900_000 + "\n" + HEAD + ROW, {}),
        ((HEAD + ROW).encode("utf-32"), {}),
        ((HEAD + ROW).encode("utf-16-le"), {"encoding": "UTF-16LE"}),
    ],
)
def test_odd_files_that_are_books_are_read(garden: pn.Garden, tmp_path: Path, content: Any, options: Any) -> None:
    report = outcome(garden, text(content)(tmp_path), **options)
    assert isinstance(report, IntakeReport), report
    assert (report.rows, report.already_known) == (1, 1)


@pytest.mark.parametrize(
    ("encoding", "message"),
    [
        ("klingon", "encoding is 'klingon', which is none"), (5, "encoding is 5, which is no text"),
        ("utf\0", "which is none"), ("rot13", "is not a text encoding"), ("utf-16", "does not start with BOM"),
        ("ascii", "can't decode byte 0xc3"), ("raw_unicode_escape", "half a character in one of the rows 2 to 2"),
    ],
)  # fmt: skip
def test_encodings_that_are_wrong_are_told(garden: pn.Garden, tmp_path: Path, encoding: Any, message: str) -> None:
    error = outcome(garden, text(HEAD + "B1,2023-08-01,é\\ud800\n")(tmp_path), encoding=encoding)
    with pytest.raises((IntakeError, ArgumentError), match=message):
        raise error if isinstance(error, Exception) else AssertionError(error)


def workbook(change: Callable[[Any, Any], None], name: str = "picked.xlsx") -> Make:
    def make(folder: Path) -> Path:
        book = openpyxl.Workbook()
        sheet = book.worksheets[0]
        sheet.title = "Picked"
        sheet.append(["labels", "on", "grams"])
        sheet.append(["B1", date(2023, 8, 1), 180])
        change(book, sheet)
        book.save(folder / name)
        return folder / name

    return make


def cell(place: str, value: Any, shown: str = "General") -> Make:
    def change(book: Any, sheet: Any) -> None:
        sheet[place] = value
        sheet[place].number_format = shown

    return workbook(change)


def packed(change: Callable[[dict[str, bytes]], None], name: str = "picked.xlsx") -> Make:
    """A workbook whose parts were changed by hand."""

    def make(folder: Path) -> Path:
        path = workbook(lambda book, sheet: None, name)(folder)
        with zipfile.ZipFile(path) as archive:
            parts = {part: archive.read(part) for part in archive.namelist()}
        change(parts)
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for part, content in parts.items():
                archive.writestr(part, content)
        return path

    return make


def put(old: bytes, new: bytes) -> Make:
    def change(parts: dict[str, bytes]) -> None:
        assert old in parts[SHEET]
        parts[SHEET] = parts[SHEET].replace(old, new)

    return packed(change)


def declaring(entities: str, word: str) -> Make:
    cell = f'<row r="1"><c r="A1" t="inlineStr"><is><t>{word}</t></is></c></row>'
    sheet = f'<worksheet xmlns="{MAIN}"><sheetData>{cell}</sheetData></worksheet>'
    return packed(lambda parts: parts.update({SHEET: f"<!DOCTYPE w [{entities}]>{sheet}".encode()}))


def headers_changed(make: Make, change: Callable[[bytearray, int], None]) -> Make:
    """A workbook in whose directory of parts each entry was changed."""

    def changed(folder: Path) -> Path:
        path: Path = make(folder)
        content, place = bytearray(path.read_bytes()), -1
        while (place := content.find(b"PK\x01\x02", place + 1)) >= 0:
            change(content, place)
        path.write_bytes(content)
        return path

    return changed


def said_to_be_small(content: bytearray, place: int) -> None:
    length = int.from_bytes(content[place + 28 : place + 30], "little")
    if content[place + 46 : place + 46 + length] == SHEET.encode():
        content[place + 24 : place + 28] = (1000).to_bytes(4, "little")


def under_a_password(content: bytearray, place: int) -> None:
    content[place + 8] |= 1


def only_charts(book: Any, sheet: Any) -> None:
    book.create_chartsheet("Chart").add_chart(BarChart())
    book.remove(sheet)


def cut(make: Make, tail: int) -> Make:
    def shorter(folder: Path) -> Path:
        path: Path = make(folder)
        path.write_bytes(path.read_bytes()[:-tail])
        return path

    return shorter


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


COLUMNS: dict[str, pa.Array] = {
    "struct": pa.array([{"a": 1}]), "list": pa.array([["B1", "B2"]]), "lists": pa.array([[["B1"]]]),
    "decimal": pa.array([Decimal("1.5")]), "wide decimal": pa.array([Decimal("1.5")], pa.decimal256(60, 5)),
    "time": pa.array([time(1, 2, 3)]), "duration": pa.array([timedelta(days=2)]), "binary": pa.array([b"\xff\0"]),
    "fixed binary": pa.array([b"abcd"], pa.binary(4)), "zoned": pa.array([datetime(2023, 8, 1, tzinfo=UTC)]),
    "far": pa.array([2**62], pa.timestamp("s")), "far zoned": pa.array([2**62], pa.timestamp("us", "UTC")),
    "no zone": pa.array([0], pa.timestamp("us", "Mars/Phobos")), "last day": pa.array([2**31 - 1], pa.date32()),
    "first day": pa.array([-(2**31)], pa.date32()), "uint64": pa.array([2**64 - 1], pa.uint64()),
    "half": pa.array(np.array([1.5], np.float16)), "map": pa.array([[("a", 1)]], pa.map_(pa.string(), pa.int64())),
    "null": pa.nulls(1), "flag": pa.array([True]), "inf": pa.array([np.inf]), "nan": pa.array([np.nan]),
    "int64": pa.array([2**63 - 1]), "NUL": pa.array(["a\0b"]), "words": pa.array(["B1"]).dictionary_encode(),
    "words of words": pa.DictionaryArray.from_arrays(pa.array([0]), pa.array(["B1"]).dictionary_encode()),
    "numbers": pa.array([5]).dictionary_encode(), "view": pa.array(["B1"], pa.string_view()),
    "large": pa.array(["B1"], pa.large_string()), "runs": pa.RunEndEncodedArray.from_arrays([1], ["B1"]),
    "interval": pa.array([pa.MonthDayNano([1, 2, 3])]),
    "union": pa.UnionArray.from_sparse(pa.array([0], pa.int8()), [pa.array(["B1"])]),
    "no text": pa.Array.from_buffers(
        pa.string(), 1, [None, pa.py_buffer(np.array([0, 2], np.int32).tobytes()), pa.py_buffer(b"\xff\xfe")]
    ),
}  # fmt: skip
UNWRITTEN = {"far", "words of words", "runs", "interval", "union"}
"""Kinds that Parquet has not, or that its writer does not write."""


@pytest.mark.parametrize("kind", COLUMNS)
@pytest.mark.parametrize("field", ["labels", "on", "grams"])
def test_columns_of_every_kind_are_read_or_told(garden: pn.Garden, tmp_path: Path, kind: str, field: str) -> None:
    table = pa.table({**good(), field: COLUMNS[kind]})
    by_table = outcome(garden, table)
    if kind not in UNWRITTEN:
        pq.write_table(table, tmp_path / "picked.parquet")
        by_file = outcome(garden, tmp_path / "picked.parquet")
        assert type(by_file) is type(by_table)
        if isinstance(by_file, PerenniaError):
            assert "picked.parquet" in str(by_file)


@pytest.mark.parametrize(
    ("kind", "message"),
    [
        ("no text", "the table, column 'on' cannot be read .Invalid UTF8 sequence"),
        ("far zoned", "the table, column 'on' cannot be read .*; write it as text, numbers or days"),
        ("no zone", "the table, column 'on' cannot be read .*Mars/Phobos"),
        ("last day", "the table row 1, on: '.*2147483647.*' is not an ISO 8601 date"),
    ],
)
def test_days_that_are_none_are_told(garden: pn.Garden, kind: str, message: str) -> None:
    with pytest.raises((IntakeError, RefusedError), match=message):
        read(garden, pa.table({**good(), "on": COLUMNS[kind]}), "picked", book="k", today=TODAY)


def test_tables_without_rows_are_read_and_those_without_columns_told(garden: pn.Garden, tmp_path: Path) -> None:
    none = pa.table(good()).slice(0, 0)
    chunked = pa.table(
        {name: pa.chunked_array([], kind.type) for name, kind in zip(none.column_names, none, strict=True)}
    )
    for table in (none, chunked, none.to_pandas()):
        report = outcome(garden, table)
        assert isinstance(report, IntakeReport), report
        assert report.rows == 0
    for source in (pa.table({}), pd.DataFrame(), pd.DataFrame(index=[1, 2])):
        assert "is empty; its first row must hold the column names" in str(outcome(garden, source))
    pq.write_table(pa.table({}), tmp_path / "picked.parquet")
    assert "is empty" in str(outcome(garden, tmp_path / "picked.parquet"))


class Wordless:
    """A value that cannot be said."""

    def __str__(self) -> str:
        raise RuntimeError("no words")


OBJECTS: dict[str, Any] = {
    "dict": {"a": 1}, "NaT": pd.NaT, "period": pd.Period("2023-08"), "complex": 1 + 2j, "decimal": Decimal("1.5"),
    "no decimal": Decimal("NaN"), "no decimal at all": Decimal("sNaN"), "endless decimal": Decimal("Infinity"),
    "huge decimal": Decimal("1e9999999"), "zoned": pd.Timestamp("2023-08-01", tz="UTC"), "span": pd.Timedelta("3D"),
    "interval": pd.Interval(0, 1), "list": ["B1", "B2"], "set": {"B1"}, "bytes": b"\xff", "wordless": Wordless(),
    "half a character": "\ud800", "NUL": "a\0b", "long number": 10**5000, "large number": 10**400,
    "day": np.datetime64("2023-08-01"), "no day": np.datetime64("NaT"), "far day": np.datetime64(2**60, "Y"),
    "frame": pd.DataFrame({"a": [1]}), "grid": np.zeros((2, 2)), "function": len, "endless": np.inf, "NA": pd.NA,
}  # fmt: skip


@pytest.mark.parametrize("kind", OBJECTS)
@pytest.mark.parametrize("field", ["labels", "on", "grams"])
def test_objects_in_frames_are_read_or_told(garden: pn.Garden, kind: str, field: str) -> None:
    frame = pd.DataFrame(good())
    frame[field] = pd.Series([OBJECTS[kind]], dtype=object)
    ended = outcome(garden, frame)
    if isinstance(ended, PerenniaError):
        assert "the frame" in str(ended)
        assert " row 1" in str(ended)


def framed(**changed: Any) -> pd.DataFrame:
    return pd.DataFrame({**good(), **changed})


@pytest.mark.parametrize(
    ("frame", "message"),
    [
        (
            framed().set_axis(pd.MultiIndex.from_product([["a"], ["labels", "on", "grams"]]), axis=1),
            "a column 'a.labels'",
        ),
        (framed().set_axis(["labels", "on", "on"], axis=1), "several columns for on: on, on"),
        (framed().set_axis([0, 1, 2], axis=1), "has a column '0', which is no field"),
        (framed().set_axis(["labels", "on", None], axis=1), "has a column 'None'"),
        (framed().set_axis(["labels", "on", "\ud800"], axis=1), "a heading with half a character"),
        (framed().rename_axis("labels"), "the frame has an index named labels, and a column of that name as well"),
        (framed(on=pd.Categorical([1])), "on: '1' is not an ISO 8601 date"),
        (framed(grams=pd.Series(["\ud800"], dtype=object)), "the frame, column 'grams' row 1 cannot be read"),
        (framed(grams=pd.Series([Wordless()], dtype=object)), "column 'grams' row 1 cannot be read .no words"),
    ],
)
def test_frames_that_are_no_book_are_told(garden: pn.Garden, frame: pd.DataFrame, message: str) -> None:
    error = outcome(garden, frame)
    with pytest.raises((IntakeError, RefusedError), match=message):
        raise error if isinstance(error, Exception) else AssertionError(error)


def test_a_file_that_goes_or_grows_while_it_is_read_is_told(garden: pn.Garden, tmp_path: Path) -> None:
    pq.write_table(pa.table(good()), tmp_path / "picked.parquet")
    path = written(tmp_path, "picked.csv", HEAD + "B1,2023-08-02,5\n")
    before = held(garden)

    def grow(step: str) -> None:
        with path.open("a") as file:
            file.write("B2,2023-08-03,5\n")

    with pytest.raises(IntakeError, match=r"picked.csv was written to while it was read; close it elsewhere"):
        read(garden, path, "picked", book="k", today=TODAY, progress=grow)
    for gone in (path, tmp_path / "picked.parquet"):
        with pytest.raises(IntakeError, match=f"{gone.name} can no longer be read"):
            read(garden, gone, "picked", book="k", today=TODAY, progress=lambda step, gone=gone: gone.unlink())
    assert held(garden) == before


def test_a_folder_of_a_thousand_files_is_one_batch(tmp_path: Path) -> None:
    garden, book = garden_in(tmp_path), tmp_path / "book"
    book.mkdir()
    for number in range(1000):
        written(book, f"picked {number}.csv", HEAD + f"B1,2023-08-01,{number}\n")
    report = outcome(garden, book)
    assert isinstance(report, IntakeReport), report
    assert (report.rows, report.stored) == (1000, 1000)


@pytest.mark.parametrize("origin", ["../out.csv", "{folder}/out.csv", "..", "x" * 5000, "../../../../../../etc/passwd"])
@pytest.mark.parametrize("row", ["3", "9" * 30, "²"])
def test_a_set_aside_file_leads_to_no_other_folder(garden: pn.Garden, tmp_path: Path, origin: str, row: str) -> None:
    (tmp_path / "book").mkdir()
    # to open it would be an error
    written(tmp_path, "out.csv", "\0")
    line = f"x,{origin.format(folder=tmp_path)},{row},picked,B1,2023-08-01,180\n"
    report = outcome(garden, written(tmp_path / "book", "picked set aside.csv", ASIDE_HEAD + line))
    assert isinstance(report, IntakeReport), report
    assert report.already_known == 1


@pytest.mark.parametrize("row", ["9" * 12, "9" * 30, "9" * 5000, "²"])
def test_a_row_number_that_is_none_is_no_row_of_the_original(garden: pn.Garden, tmp_path: Path, row: str) -> None:
    written(tmp_path, "picked.csv", HEAD)
    line = f"x,picked.csv,{row},picked,B1,2023-08-01,180\n"
    report = outcome(garden, written(tmp_path, "picked set aside.csv", ASIDE_HEAD + line))
    assert isinstance(report, IntakeReport), report
    assert report.already_known == 1


def test_long_names_of_sheets_name_files_still(garden: pn.Garden, tmp_path: Path) -> None:
    change = f'name="{"ü" * 300}"'.encode()
    path = packed(lambda parts: parts.update({
        "xl/workbook.xml": parts["xl/workbook.xml"].replace(b'name="Picked"', change),
        SHEET: parts[SHEET].replace(b"<v>180</v>", b"<v>-180</v>"),
    }))(tmp_path)  # fmt: skip
    report = outcome(garden, path, on_error="set aside")
    assert isinstance(report, IntakeReport), report
    (file,) = report.aside_files
    assert file.name.startswith("picked üü")
    assert file.name.endswith("ü set aside.csv")
    assert file.exists()


def test_rows_that_cannot_be_written_aside_are_told_and_given_back(tmp_path: Path) -> None:
    garden, path = garden_in(tmp_path), written(tmp_path, "picked.csv", HEAD + ROW + "B9,2023-08-01,1\n")
    for number in range(1, 1001):
        (tmp_path / f"picked set aside{'' if number == 1 else f' {number}'}.csv").mkdir()
    report = outcome(garden, path, on_error="set aside")
    assert isinstance(report, IntakeReport), report
    assert (report.stored, report.set_aside, report.aside_files) == (1, 1, ())
    assert report.aside_rows["labels"].tolist() == ["B9"]
    assert report.notes[0].startswith(
        f"1 row of picked.csv set aside could not be written to {tmp_path} (it is full of"
    )


def test_thousands_of_edited_twins_are_told_apart(tmp_path: Path) -> None:
    garden = garden_in(tmp_path)
    days = {"labels": ["B1"] * 20_000, "on": ["2023-08-01"] * 20_000}
    read(garden, pa.table({**days, "grams": range(20_000)}), "picked", book="k", today=TODAY)
    report = outcome(garden, pa.table({**days, "grams": range(19_999, -1, -1)}))
    assert isinstance(report, IntakeReport), report
    assert report.already_known == 20_000


@pytest.mark.parametrize("make", [pipe("days.csv"), link("/dev/zero", "days.csv"), text(b"a" * 20_000_000, "days.csv"),
                                  text(b"\0" * 1000, "days.csv"), text(b"\x1f\x8b\x08" + b"x" * 99, "days.csv"),
                                  folder_named("days.csv"), link("days.csv", "days.csv")])  # fmt: skip
def test_station_files_that_are_none_are_told(tmp_path: Path, make: Make) -> None:
    with pytest.raises(IntakeError, match=r"days.csv"):
        ghcn_daily(make(tmp_path))


@pytest.mark.parametrize("make", [text(b"\0", "c.csv"), pipe("c.csv"), text(b"PK", "c.xlsx"),
                                  text(HEAD + ROW, "c.csv"),
                                  text("record_id,grams\nx,1\n", "c.csv"),
                                  text("record_id\nx\n", "c.csv")])  # fmt: skip
def test_corrections_that_are_none_are_told(garden: pn.Garden, tmp_path: Path, make: Make) -> None:
    before = held(garden)
    with pytest.raises(PerenniaError):
        correct(garden, make(tmp_path), reason="misread", today=TODAY)
    assert held(garden) == before


@pytest.mark.parametrize("make", [text(b"\0" * 99), pipe("picked.csv"), text(b"PK\3\4", "picked.xlsx")])
def test_the_terminal_says_it_in_one_line(garden: pn.Garden, tmp_path: Path, make: Make) -> None:
    folder, before = repr(garden).split("'")[1], held(garden)
    result = CliRunner().invoke(main, ["take-in", folder, str(make(tmp_path)), "--book", "k"])
    assert result.exit_code == 1
    assert "picked" in result.output
    assert "Traceback" not in result.output
    assert held(garden) == before


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Sound files of each kind."""
    folder = tmp_path_factory.mktemp("whole")
    pq.write_table(pa.table(good()), folder / "picked.parquet")
    return {
        "csv": (HEAD + ROW + '"B1, B2",2023-08,"1.5 kg"\r\n').encode(),
        "xlsx": workbook(lambda book, sheet: None)(folder).read_bytes(),
        "parquet": (folder / "picked.parquet").read_bytes(),
    }


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("scratch")


KINDS = st.sampled_from(["csv", "xlsx", "parquet"])
CHANGES = st.lists(
    st.tuples(st.sampled_from(["flip", "insert", "delete", "cut"]), st.floats(0, 1), st.binary(min_size=1, max_size=8)),
    min_size=1, max_size=4,
)  # fmt: skip


def changed(content: bytes, changes: list[tuple[str, float, bytes]]) -> bytes:
    for how, place, some in changes:
        at = int(place * len(content))
        rest = {
            "flip": content[at + len(some) :],
            "insert": content[at:],
            "delete": content[at + len(some) :],
            "cut": b"",
        }
        content = content[:at] + (some if how in ("flip", "insert") else b"") + rest[how]
    return content


@settings(max_examples=30)
@given(kind=KINDS, content=st.binary(max_size=300))
def test_bytes_of_any_kind_are_read_or_told(garden: pn.Garden, scratch: Path, kind: str, content: bytes) -> None:
    outcome(garden, text(content, f"picked.{kind}")(scratch))


@settings(max_examples=60)
@given(kind=KINDS, changes=CHANGES)
def test_broken_files_are_read_or_told(
    garden: pn.Garden, scratch: Path, whole: dict[str, bytes], kind: str, changes: list[tuple[str, float, bytes]]
) -> None:
    outcome(garden, text(changed(whole[kind], changes), f"picked.{kind}")(scratch))


TROUBLE = st.text(
    st.sampled_from("\0\t\n\r \"'=+-@,;|/.:()[]0123456789eEBkg\ufeff\u2028\u00a0\u200f٣½é\U0001f331"), max_size=12
)
CELLS = st.one_of(
    TROUBLE, st.sampled_from(["B1", "2023-08-01", "5", "picked", "sown", "", "1.8.", "2 kg", "nan", "1e308"])
)
HEADINGS = st.lists(st.sampled_from([*FIELDS, "event", "record_id", "Grams (kg)"]), min_size=1, max_size=6, unique=True)


@st.composite
def tables(draw: st.DrawFn) -> dict[str, list[str]]:
    headings = draw(HEADINGS)
    rows = draw(st.lists(st.lists(CELLS, min_size=len(headings), max_size=len(headings)), max_size=4))
    return {heading: [row[place] for row in rows] for place, heading in enumerate(headings)}


@settings(max_examples=40)
@given(table=tables(), how=st.sampled_from(["stop", "set aside"]), dates=st.sampled_from([None, "day first"]))
def test_texts_of_any_kind_are_read_or_told(
    garden: pn.Garden, table: dict[str, list[str]], how: str, dates: str | None
) -> None:
    outcome(garden, pd.DataFrame(table, dtype=object), on_error=how, dates=dates, event=None)
    outcome(garden, pa.table({name: pa.array(cells, pa.string()) for name, cells in table.items()}), on_error=how)


VALUES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.binary(max_size=5), st.dates(),
    st.datetimes(), st.times(), st.timedeltas(), st.decimals(), st.complex_numbers(),
    st.lists(st.integers(), max_size=3), st.dictionaries(st.text(max_size=2), st.integers(), max_size=2),
    st.tuples(st.text(max_size=2)),
)  # fmt: skip


@settings(max_examples=40)
@given(values=st.lists(st.tuples(VALUES, VALUES, VALUES), max_size=4))
def test_values_of_any_kind_are_read_or_told(garden: pn.Garden, values: list[tuple[object, ...]]) -> None:
    outcome(garden, pd.DataFrame(values, columns=["labels", "on", "grams"], dtype=object))
