"""The same rows by any road are the same records: CSV in every form, workbooks, Parquet, Arrow tables, frames."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import perennia as pn
from perennia.errors import ArgumentError, IntakeError, RefusedError
from perennia.intake import read
from tests.intake.books import TODAY, garden_in, pickings, written

TEXTS = {
    "labels": ["B1", "B1, B2", "B2", "B1"],
    "on": ["2023-08-01", "2023-08-05", "2023-08", "2023-08-01"],
    "grams": ["180.5", None, "0", "90"],
    "count": ["9", "4", None, None],
}
FRAME = pd.DataFrame({
    "labels": ["B1", "B1, B2", "B2", "B1"], "on": ["2023-08-01", "2023-08-05", "2023-08", "2023-08-01"],
    "grams": [180.5, np.nan, 0, 90], "count": pd.array([9, 4, None, None], "Int64"),
})  # fmt: skip


def csv(folder: Path, delimiter: str, decimal: str, ends: str, encoding: str) -> Path:
    quote = "" if delimiter in ";\t" else '"'
    rows = [delimiter.join(TEXTS)]
    for cells in zip(*TEXTS.values(), strict=True):
        texts = [(cell or "").replace(".", decimal) for cell in cells]
        rows.append(delimiter.join(f"{quote}{text}{quote}" if "," in text else text for text in texts))
    return written(folder, "picked.csv", ends.join([*rows, ""]), encoding)


def in_workbook(folder: Path) -> Path:
    FRAME.to_excel(folder / "picked.xlsx", sheet_name="Picked", index=False)
    return folder / "picked.xlsx"


def in_parquet(folder: Path) -> Path:
    pq.write_table(pa.table(TEXTS), folder / "picked.parquet")
    return folder / "picked.parquet"


ROADS: dict[str, Callable[[Path], Any]] = {
    "commas": lambda folder: csv(folder, ",", ".", "\n", "utf-8"),
    "semicolons and decimal commas": lambda folder: csv(folder, ";", ",", "\r\n", "utf-8-sig"),
    "tabs in UTF-16": lambda folder: csv(folder, "\t", ",", "\r\n", "utf-16"),
    "lone carriage returns": lambda folder: csv(folder, ";", ".", "\r", "utf-8"),
    "workbook": in_workbook,
    "Parquet": in_parquet,
    "Arrow": lambda folder: pa.table(TEXTS),
    "Arrow with dictionaries": lambda folder: pa.table({n: pa.array(t).dictionary_encode() for n, t in TEXTS.items()}),
    "record batch": lambda folder: pa.RecordBatch.from_pydict(TEXTS),
    "frame": lambda folder: FRAME,
    "frame of objects": lambda folder: FRAME.astype(object).assign(
        on=[date(2023, 8, 1), pd.Timestamp("2023-08-05"), "2023-08", np.datetime64("2023-08-01")]
    ),
    "frame with an index": lambda folder: FRAME.set_index("labels"),
}  # fmt: skip


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    """A garden that knows the rows from a plain CSV file."""
    folder = tmp_path_factory.mktemp("known")
    garden = garden_in(folder)
    assert read(garden, ROADS["commas"](folder), "picked", book="k", today=TODAY).stored == 4
    return garden


@pytest.mark.parametrize("road", ROADS)
def test_the_same_rows_are_known_by_whatever_road_they_come(known: pn.Garden, tmp_path: Path, road: str) -> None:
    report = read(known, ROADS[road](tmp_path), "Picked", book="k", today=TODAY)
    assert (report.rows, report.already_known, report.stored) == (4, 4, 0)
    assert pickings(known)[0] == ("B1", date(2023, 8, 1), 90.0, None)


def test_columns_units_constants_and_notes(tmp_path: Path) -> None:
    garden = garden_in(tmp_path)
    path = written(tmp_path, "Ernte 2023.csv", "Datum;Gewicht;Wer\n1.8.;0,25;Käthe\n2/8;8 oz;Käthe\n", "cp1252")
    report = read(
        garden, path, "picked", book="k", columns={"Datum": "on", "Gewicht": "grams", "Wer": None},
        units={"Gewicht": "kg"}, dates="day first", constants={"label": "B1"}, today=TODAY,
    )  # fmt: skip
    assert pickings(garden) == [
        ("B1", date(2023, 8, 1), 250.0, None), ("B1", date(2023, 8, 2), 226.796185, None)
    ]  # fmt: skip
    assert report.notes == (
        "Ernte 2023.csv is not UTF-8 and was read as Windows-1252; check words such as 'Käthe', "
        "and give encoding=... if they are wrong",
    )
    assert read(garden, path, "picked", book="k", columns={"Datum": "on", "Gewicht": "grams", "Wer": None},
                units={"grams": "kg"}, dates="day first", constants={"labels": "B1"}, encoding="cp1252",
                today=TODAY).notes == ()  # fmt: skip


@pytest.mark.parametrize(
    ("text", "options", "message"),
    [
        ("labels,on,grams\n", {"event": "harvested"}, "'harvested' is no event"),
        ("labels,on,crop weight\n", {}, r"'crop weight', which is no field.*--column 'crop weight=FIELD'"),
        ("labels,on,grms\n", {}, r"'grms', which is no field \(near it: grams"),
        ("labels,on,grams\n", {"columns": {"weight": "grams"}}, "no sheet has a column 'weight'"),
        ("labels,on,grams\n", {"units": {"litres": "l"}}, "no sheet has a column 'litres'"),
        ("labels,on,grams\n", {"units": {"grams": "stone"}}, "'stone' is no unit this can be written in"),
        ("labels,on,grams (kg)\n", {"units": {"grams": "lb"}}, "has the heading 'grams .kg.', but units says 'lb'"),
        ("labels,on,grams,Grams\n", {}, "has several columns for grams: grams, Grams"),
        ("labels;grams\nB1;1,234\n", {}, "numbers such as 1,234, which can mean thousands or thousandths"),
        (",".join(f"c{n}" for n in range(10_000)) + "\n", {}, "has 10000 columns, the first of them c0, c1, c2"),
    ],
)
def test_headings_that_cannot_be_read_are_told(
    known: pn.Garden, tmp_path: Path, text: str, options: dict[str, Any], message: str
) -> None:
    path = written(tmp_path, "picked.csv", text + "B1,2023-08-01,1\n" * (";" not in text))
    with pytest.raises((IntakeError, RefusedError), match=message):
        read(known, path, book="k", today=TODAY, **options)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"columns": ["grams"]}, "columns is .*; give a dict such as"),
        ({"columns": {"grams": "gramms"}}, r"columns has 'gramms', which is no field \(near it: grams"),
        ({"units": {"grams": 3}}, "units has 3, which is no unit"),
        ({"dates": "dmy"}, "give 'day first' or 'month first'"),
        ({"on_error": "skip"}, "on_error is 'skip'; give 'stop' or 'set aside'"),
        ({"decimal": ";"}, "decimal is ';'"),
        ({"year": "last"}, "year is 'last'"),
    ],
)
def test_options_of_another_kind_are_answered_in_words(known: pn.Garden, options: Any, message: str) -> None:
    with pytest.raises(ArgumentError, match=message):
        read(known, pa.table(TEXTS), "picked", book="k", today=TODAY, **options)


def test_stands_looks_and_shared_pickings_are_kept_as_written(tmp_path: Path) -> None:
    garden = garden_in(tmp_path)
    read(garden, written(tmp_path, "sown.csv", "label,on,crop,plants\nrow,2023-05,Pisum sativum,40\n"), book="k",
         today=TODAY)  # fmt: skip
    text = 'event,labels,label,on,grams,count\npicked,"B1,B2",,2023-08-01,300,\npicked,row,,2023-08-01,,12\n'
    text += "picked,B1,,2023-08-02,0,\nleft_for_seed,,B1,2023-08-03,,2\npicked,,B2,2023-08-04,5,\n"
    assert read(garden, written(tmp_path, "harvest.csv", text), book="k", today=TODAY).stored == 5
    assert pickings(garden) == [
        ("B1", date(2023, 8, 1), 150.0, None), ("B1", date(2023, 8, 2), 0.0, None),
        ("B2", date(2023, 8, 1), 150.0, None), ("B2", date(2023, 8, 4), 5.0, None),
        ("row", date(2023, 8, 1), None, 12.0),
    ]  # fmt: skip
    assert garden.sql("select plants from plants where label = 'row'")["plants"].tolist() == [40]


def test_a_daily_table_of_weather_comes_in_by_mapping_and_its_gaps_are_said(tmp_path: Path) -> None:
    garden = garden_in(tmp_path)
    text = "Day,Low F,High F,Rain (inches)\n2023-07-01,50,68,0.1\n2023-07-02,,70,0\n2023-07-05,59,77,\n"
    report = read(
        garden, written(tmp_path, "met.csv", text), "weather", book="met",
        columns={"Day": "on", "Low F": "t_min_c", "High F": "t_max_c", "Rain": "rain_mm"},
        units={"t_min_c": "F", "t_max_c": "F"}, constants={"site": "home"}, today=TODAY,
    )  # fmt: skip
    assert report.stored == 3
    rows = garden.sql("select t_min_c, t_max_c, rain_mm from weather order by \"on\"", as_="arrow").to_pylist()
    assert rows[0] == {"t_min_c": 10.0, "t_max_c": 20.0, "rain_mm": 2.54}
    assert (rows[1]["t_min_c"], rows[2]["rain_mm"]) == (None, None)
    assert any("2 of the 5 days" in note and "2023-07-03" in note for note in report.notes), report.notes
