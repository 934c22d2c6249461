"""The terminal on books: take-in with its options, template, correct, export, weather."""

from __future__ import annotations

import json
import os
import threading
from contextlib import redirect_stderr, suppress
from pathlib import Path
from typing import TextIO

import openpyxl
import pytest

import perennia as pn
from perennia.cli.showing import working
from tests.intake.books import garden_in, pickings, written
from tests.test_cli import run


@pytest.fixture
def plot(tmp_path: Path) -> str:
    garden_in(tmp_path).close()
    return str(tmp_path / "plot")


def amounts(plot: str) -> list[object]:
    with pn.Garden.open(plot, read_only=True) as garden:
        return [row[2] for row in pickings(garden)]


def test_a_book_in_the_growers_own_words(plot: str, tmp_path: Path) -> None:
    book = written(tmp_path, "Ernte 2023.csv", "Pflanze;Tag;Menge;Wetter\n"
                   "B1;1.8.;0,25;trocken\nB9;2.8.;1;\nB2;2.8.;x;\n")  # fmt: skip
    words = (
        "take-in", plot, str(book), "--book", "kitchen", "--event", "picked", "--column", "Pflanze=labels",
        "--column", "Tag=on", "--column", "Menge=grams", "--column", "Wetter=", "--unit", "Menge=kg",
        "--dates", "day first",
    )  # fmt: skip
    code, out, err = run(*words)
    assert (code, err) == (0, "")
    assert "3 rows read from 1 file of kitchen: 1 stored, 0 already known, 2 set aside in" in out
    assert "- Ernte 2023.csv row 3: picked B9 on 2023-08-02, label: no plant labelled B9" in out
    assert "- Ernte 2023.csv row 4, grams: 'x' is not a number" in out
    assert amounts(plot) == [250.0]
    assert (tmp_path / "Ernte 2023 set aside.csv").exists()
    code, _, err = run(*words, "--stop")
    assert code == 1
    assert "nothing was stored: 1 record is wrong" in err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--column", "Menge"), "'Menge' is not written HEADING=FIELD"),
        (("--unit", "=kg"), "is not written FIELD=UNIT"),
        (("--dates", "year first"), "is not one of"),
        (("--station", "X"), "name it with --all site=NAME"),
        (("--event", "harvested"), "'harvested' is no event"),
    ],
)
def test_a_slip_in_the_options_ends_with_a_sentence(
    plot: str, tmp_path: Path, words: tuple[str, ...], message: str
) -> None:
    book = written(tmp_path, "picked.csv", "labels,on,grams\nB1,2023-08-01,1\n")
    code, out, err = run("take-in", plot, str(book), "--book", "k", *words)
    assert code != 0
    assert message in err
    assert "Traceback" not in out + err


def test_a_template_filled_in_and_taken_in(plot: str, tmp_path: Path) -> None:
    path, pages = tmp_path / "book.xlsx", tmp_path / "pages.html"
    code, out, _ = run("template", str(path), "--pages", str(pages))
    assert code == 0
    assert "A blank workbook lies in" in out
    assert pages.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    book = openpyxl.load_workbook(path)
    for column, value in zip("ABCD", ("picked", "B1", "2023-08-01", 120), strict=True):
        book["Harvest"][f"{column}20"] = value
    book.save(path)
    assert "1 row read from 1 file of k: 1 stored" in run("take-in", plot, str(path), "--book", "k")[1]
    assert run("template", str(path))[0] == 1, "a workbook is not written over"


def test_a_record_corrected_and_taken_back(plot: str, tmp_path: Path) -> None:
    run("take-in", plot, str(written(tmp_path, "picked.csv", "labels,on,grams\nB1,2023-08-01,180\n")), "--book", "k")
    assert "record_id" in run("history", plot, "B1", "--ids")[1]
    assert "record_id" not in run("history", plot, "B1")[1]

    def newest() -> str:
        return str(json.loads(run("history", plot, "B1", "--json")[1])[-1]["record_id"])

    first = newest()
    code, out, _ = run("correct", plot, first, "--set", "grams=0.2 kg", "--set", "note=scale", "--reason", "misread")
    assert (code, "1 row read: 1 corrected" in out) == (0, True)
    assert amounts(plot) == [200.0]
    code, _, err = run("correct", plot, first, "--set", "grams=1", "--reason", "again")
    assert (code, "was corrected before (misread); correct what replaced it" in err) == (1, True)
    assert run("correct", plot, newest(), "--set", "label=B2", "--set", "note=", "--reason", "wrong plant")[0] == 0
    with pn.Garden.open(plot) as garden:
        assert [row[0] for row in pickings(garden)] == ["B2"]
        assert garden.sql("select note from harvest")["note"].isna().all()
    last = json.loads(run("history", plot, "B2", "--json")[1])[-1]["record_id"]
    code, _, err = run("correct", plot, last, "--set", "grams=-4", "--reason", "so")
    assert (code, "-4 is below 0" in err) == (1, True)
    assert "1 taken back" in run("correct", plot, last, "--take-back", "--reason", "not mine")[1]
    assert amounts(plot) == []


@pytest.mark.parametrize("words", [("ab" * 16,), ("ab" * 16, "--take-back", "--set", "a=b"), (), ("--from", "x", "ab")])
def test_a_correction_is_one_thing_at_a_time(plot: str, words: tuple[str, ...]) -> None:
    code, _, err = run("correct", plot, *words, "--reason", "so")
    assert (code, "give RECORD_ID with --set or with --take-back, or --from FILE alone" in err) == (2, True)


def test_an_export_mended_in_a_spreadsheet(plot: str, tmp_path: Path) -> None:
    run("take-in", plot, str(written(tmp_path, "picked.csv", "labels,on,grams\nB1,2023-08-01,180\n")), "--book", "k")
    assert "5 records of 4 tables written to" not in run("export", plot, str(tmp_path / "out"))[2]
    path = tmp_path / "out" / "harvest.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("180", "190"), encoding="utf-8")
    assert "1 row read: 1 corrected" in run("correct", plot, "--from", str(path), "--reason", "misread")[1]
    assert amounts(plot) == [190.0]
    code, out, _ = run("export", plot, str(tmp_path / "packed"), "--parquet", "--as-of", "2999-01-01")
    assert (code, "5 records of 4 tables written to" in out) == (0, True)
    assert (tmp_path / "packed" / "harvest.parquet").exists()
    code, _, err = run("export", plot, str(tmp_path / "out"))
    assert (code, "is not empty" in err) == (1, True)


def test_edited_rows_are_told_and_corrected_when_asked(plot: str, tmp_path: Path) -> None:
    words = ("take-in", plot, str(tmp_path / "picked.csv"), "--book", "k")
    written(tmp_path, "picked.csv", "labels,on,grams\nB1,2023-08-01,180\n")
    run(*words)
    written(tmp_path, "picked.csv", "labels,on,grams\nB1,2023-08-01,185\n")
    assert "grams: 185 is written here, 180 is stored" in run(*words)[1]
    assert "1 corrected" in run(*words, "--correct", "misread")[1]
    assert amounts(plot) == [185.0]


def test_a_stations_weather_says_what_it_lacks(plot: str, tmp_path: Path) -> None:
    # invented values in the layout of one value a row
    rows = ["20230701,TMAX,250,,,S,", "20230701,TMIN,101,,,S,", "20230704,TMAX,260,,X,S,", "20230705,PRCP,25,,,S,"]
    text = "".join(f"XXX00000001,{row}\n" for row in rows)
    path = written(tmp_path, "2023.csv", text)
    code, out, _ = run("take-in", plot, str(path), "--book", "met", "--station", "XXX00000001", "--all", "site=home")
    assert code == 0
    assert "2 rows read from 1 file of met: 2 stored" in out
    assert "1 value of TMAX that failed a quality check of the source" in out
    assert "3 of the 5 days from 2023-07-01 to 2023-07-05 have no row" in out
    with pn.Garden.open(plot) as garden:
        days = garden.sql("select t_max_c, t_min_c, rain_mm from weather", as_="arrow").to_pylist()
    assert {"t_max_c": 25.0, "t_min_c": 10.1, "rain_mm": None} in days


def worked(stderr: TextIO) -> None:
    """Work that is over once it was said, where it is said at all."""
    with redirect_stderr(stderr), working("adding up", after_s=0):
        for thread in threading.enumerate():
            if isinstance(thread, threading.Timer):
                thread.join()


def read_to_the_end(terminal: int) -> bytes:
    """All that was written to a terminal whose other end is closed."""
    said = b""
    # some systems end it with an error
    with suppress(OSError):
        while chunk := os.read(terminal, 10_000):
            said += chunk
    return said


def test_long_work_is_said_in_a_terminal_and_nowhere_else(capfd: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    terminal, end = os.openpty()
    with os.fdopen(end, "w", encoding="utf-8") as screen:
        worked(screen)
    assert b"adding up" in read_to_the_end(terminal)
    os.close(terminal)
    with (tmp_path / "said.txt").open("w", encoding="utf-8") as file:
        worked(file)
    assert (tmp_path / "said.txt").read_bytes() == b""
    assert capfd.readouterr() == ("", "")
