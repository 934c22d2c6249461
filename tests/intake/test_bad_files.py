"""Files that are no books, cut short, changed, or no files at all: told in words, and nothing half-stored."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

import perennia as pn
from perennia.cli import main
from perennia.errors import ArgumentError, IntakeError, PerenniaError, RefusedError
from perennia.intake import IntakeReport, correct, ghcn_daily, read
from tests.intake.bad_books import (
    ASIDE_HEAD,
    HEAD,
    ROW,
    SHEET,
    Make,
    folder_named,
    good,
    held,
    link,
    outcome,
    packed,
    pipe,
    text,
)
from tests.intake.books import TODAY, garden_in, written

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
