"""Files and workbooks that are no books, and the law that whatever is read ends in a report or in words."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.chart import BarChart

import perennia as pn
from perennia.errors import PerenniaError
from perennia.intake import IntakeReport, read
from perennia.queries.connection import RECORD_TABLES
from tests.intake.books import TODAY

HEAD = "labels,on,grams\n"
ROW = "B1,2023-08-01,180\n"
ASIDE_HEAD = "set aside because,set aside from,set aside row,event,labels,on,grams\n"
SHEET = "xl/worksheets/sheet1.xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
Make = Callable[[Path], Any]


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
