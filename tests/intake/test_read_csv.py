"""Plain CSV books: exact names in, nothing invented, each bad cell named by file, row and column."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.errors import IntakeError, RefusedError
from perennia.intake import read
from perennia.intake.delimited import read_delimited
from tests.copies import copied

TODAY = date(2025, 6, 1)
LIFE = (
    "event,label,on,crop,plants,note\n"
    "sown,B1,2023-05-10,Phaseolus coccineus,,\nsown,B2,2023-05,Phaseolus coccineus,3,a hill\n"
)
HARVEST = 'event,labels,on,grams,count,clearance\npicked,B1,2023-08-01,180,9,\npicked,"B1, B2",2023-08-05,240,,yes\n'


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(pn.Garden.create, tmp_path / "plot"))


def write(tmp_path: Path, **files: str) -> Path:
    folder = tmp_path / "book"
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def test_a_folder_of_files_is_one_batch(garden: pn.Garden, tmp_path: Path) -> None:
    report = read(garden, write(tmp_path, life=LIFE, harvest=HARVEST), book="garden", today=TODAY)
    assert (report.rows, report.stored, report.already_known) == (4, 4, 0)
    assert garden.table("plants")["plants"].tolist() == [1, 3]
    assert garden.table("harvest")["clearance"].tolist() == [False, True, True]
    assert "4 rows read from 2 files of garden: 4 stored" in report.summary()


def test_the_same_book_stores_nothing_new_and_a_grown_one_only_the_new_rows(garden: pn.Garden, tmp_path: Path) -> None:
    folder = write(tmp_path, life=LIFE, harvest=HARVEST)
    read(garden, folder, book="garden", today=TODAY)
    (folder / "harvest.csv").rename(folder / "picked 2023.csv")
    assert read(garden, folder, book="garden", today=TODAY).already_known == 4
    (folder / "picked 2023.csv").write_text(HARVEST + "picked,B1,2023-08-01,180,9,\n", encoding="utf-8")
    grown = read(garden, folder, book="garden", today=TODAY)
    assert (grown.stored, grown.already_known) == (1, 4), "a twin of a row of the same day is a picking of its own"
    assert read(garden, folder / "picked 2023.csv", book="another", today=TODAY).stored == 3


def test_an_edited_row_is_a_conflict(garden: pn.Garden, tmp_path: Path) -> None:
    folder = write(tmp_path, life=LIFE, harvest=HARVEST)
    read(garden, folder, book="garden", today=TODAY)
    write(tmp_path, harvest=HARVEST.replace("180", "190"))
    with pytest.raises(RefusedError, match=r"harvest.csv row 2: picked B1, grams: 190 is written here, 180 is stored"):
        read(garden, folder, book="garden", today=TODAY)


def test_a_row_edited_after_its_correction_is_a_conflict_unless_it_says_what_stands(
    garden: pn.Garden, tmp_path: Path
) -> None:
    heads, sown = "event,labels,on,grams\n", pn.Sown("B1", "2023-05-10", crop="Oca")
    garden.record(sown, today=TODAY)
    read(garden, write(tmp_path, harvest=heads + "picked,B1,2023-08-01,180\n"), book="garden", today=TODAY)
    for grams in (81, 18):
        picked_id = garden.table("harvest")["record_id"][0]
        garden.correct(picked_id, pn.Picked("B1", "2023-08-01", grams), reason="misread", today=TODAY)
    for grams in (180, 81, 18):
        folder = write(tmp_path, harvest=f"{heads}picked,B1,2023-08-01,{grams}\n")
        assert read(garden, folder, book="garden ", today=TODAY).already_known == 1
    with pytest.raises(RefusedError, match="200 is written here, 18 is stored"):
        read(garden, write(tmp_path, harvest=heads + "picked,B1,2023-08-01,200\n"), book="garden", today=TODAY)
    assert garden.table("harvest")["grams"].tolist() == [18.0]


def test_a_row_taken_back_and_then_edited_in_the_book_is_a_new_one_once(garden: pn.Garden, tmp_path: Path) -> None:
    heads = "event,labels,on,grams\n"
    garden.record(pn.Sown("B1", "2023-05-10", crop="Oca"), today=TODAY)
    folder = write(tmp_path, harvest=heads + "picked,B1,2023-08-01,180\n")
    read(garden, folder, book="garden", today=TODAY)
    garden.correct(garden.table("harvest")["record_id"][0], reason="not mine", today=TODAY)
    assert read(garden, folder, book="garden", today=TODAY).already_known == 1
    folder = write(tmp_path, harvest=heads + "picked,B1,2023-08-01,200\n")
    assert [read(garden, folder, book="garden", today=TODAY).stored for _ in range(2)] == [1, 0]
    assert garden.table("harvest")["grams"].tolist() == [200.0]


def test_a_corrected_row_does_not_come_back(garden: pn.Garden, tmp_path: Path) -> None:
    folder = write(tmp_path, life=LIFE, harvest=HARVEST)
    read(garden, folder, book="garden", today=TODAY)
    wrong = garden.table("harvest", labels=["B1"])["record_id"].iloc[0]
    garden.correct(wrong, reason="misread", today=TODAY)
    left = len(garden.table("harvest"))
    assert read(garden, folder, book="garden", today=TODAY).stored == 0
    garden.compact()
    assert read(garden, folder, book="garden", today=TODAY).stored == 0
    assert len(garden.table("harvest")) == left


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("picked,B1,2023-08-32,1,,", r"harvest.csv row 4, on: '2023-08-32' is not a day of the calendar"),
        ("picked,B1,1/8/2023,1,,", r"harvest.csv row 4, on: '1/8/2023' is not an ISO 8601 date"),
        (
            "picked,B1,2023-08-09,a lot,,",
            r"harvest.csv row 4, grams: 'a lot' is not a number; it must be a number of g",
        ),
        ("picked,B1,2023-08-09,-3,,", r"harvest.csv row 4: picked B1 on 2023-08-09, grams: -3 is below 0"),
        ("picked,B1,2023-08-09,,2.5,", r"harvest.csv row 4, count: '2.5' is not a whole number"),
        ("picked,B1,2023-08-09,,,", r"none of grams, count is given"),
        ("picked,B1,2023-08-09,1,,perhaps", r"harvest.csv row 4, clearance: 'perhaps' is neither true nor false"),
        ("picked,,2023-08-09,1,,", r"harvest.csv row 4, labels: is missing"),
        ("picked,B1,,1,,", r"harvest.csv row 4, on: is missing"),
        (
            "picked,B1/2023,2023-08-09,1,,",
            r"harvest.csv row 4: picked B1/2023 on 2023-08-09, labels: 'B1/2023' is not a name",
        ),
        ('picked,"B1, B1",2023-08-09,1,,', r"harvest.csv row 4: picked B1 on 2023-08-09, labels: names a label twice"),
        ("picked,B7,2023-08-09,1,,", r"harvest.csv row 4: picked B7 on 2023-08-09, label: no plant labelled B7"),
        ("left_for_seed,B1,2023-08-09,,2,yes", r"clearance: 'yes' is in a column that left_for_seed has not"),
        ('left_for_seed,"B1, B2",2023-08-09,,2,', r"label: 'B1, B2' is not a name"),
        ("picked,B1,2031-08-09,1,,", r"harvest.csv row 4: picked B1 on 2031-08-09, on: 2031-08-09 lies ahead of today"),
        ("picket,B1,2023-08-09,1,,", r"harvest.csv row 4, event: 'picket' is no event; write picked"),
        ("harvested,B1,2023-08-09,1,,", r"harvest.csv row 4, event: 'harvested' is no event"),
        (",B1,2023-08-09,1,,", r"harvest.csv row 4, event: is missing"),
        ("\n,,,,,\npicked,B7,2023-08-09,1,,", r"harvest.csv row 6: picked B7 on 2023-08-09"),
        ("picked,B1,2023-08-09,nan,,", r"harvest.csv row 4.*grams: 'nan' is not a number"),
        ("picked,B1,2023-08-09,inf,,", r"harvest.csv row 4.*grams: 'inf' is not a number"),
        ("picked,B1,2023-08-09,1e999,,", r"harvest.csv row 4.*grams: .*is too large"),
        ("picked,B1,2023-08-09,1_000,,", r"harvest.csv row 4.*grams: '1_000' is not a number"),
        ("picked,B1,2023-08-09,-,,", r"harvest.csv row 4.*grams: '-' is not a number; write 0 for nothing found"),
        (
            'picked,B1,2023-08-09,"1,5",,',
            r"harvest.csv row 4.*grams: '1,5' has a comma where numbers here have a point",
        ),
        ("picked,ditto,2023-08-09,1,,", r"harvest.csv row 4, labels: is a ditto mark; write out what it stands for"),
        ('picked,"""",2023-08-09,1,,', r"harvest.csv row 4, labels: is a ditto mark"),
    ],
)
def test_a_bad_cell_is_named_and_nothing_stored(garden: pn.Garden, tmp_path: Path, row: str, message: str) -> None:
    folder = write(tmp_path, life=LIFE, harvest=HARVEST + row + "\n")
    with pytest.raises(RefusedError, match=message):
        read(garden, folder, book="garden", today=TODAY)
    garden.refresh()
    assert garden.table("life").empty


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("label,on\nB1,2023-05-10\n", "has no column 'event'"),
        ("event,label,label,on\nsown,B1,B1,2023-05-10\n", "has several columns for label"),
        ("", "is empty; its first row must hold the column names"),
        ("event,label\nsown,B1,2023-05-10,extra\n", "row 2 has more cells than headings"),
        ("event,label,weight\nsown,B1,1\n", "has a column 'weight', which is no field"),
        ("event,label,weight,\nsown,B1,1,\n", "has a column 'weight'"),
        ("event,,label\nsown,,B1\n", "has no heading over column 2"),
        ('event,label,note\nsown,B1,"from Ann\nsown,B2,late\n', "row 2 cannot be read .*a cell that begins with"),
        ('event,label,note\nsown,B1,a "b" c\nsown,B2,"b"c\n', "row 3 cannot be read"),
        ('event,label,note\nsown,B1,"from Ann\nsown,B2,late\nsown,B3,"\n', "row 2 has a cell that holds whole rows"),
    ],
)
def test_a_file_that_is_no_book_is_an_intake_error(garden: pn.Garden, tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(IntakeError, match=message):
        read(garden, write(tmp_path, life=text), book="garden")


def test_a_cell_may_hold_several_lines(garden: pn.Garden, tmp_path: Path) -> None:
    note = '"slugs, snails, mice, and, voles\n5"" deep, covered"'
    folder = write(tmp_path, life=f"event,label,on,crop,note\nsown,B1,2023-05-10,Oca,{note}\n")
    assert read(garden, folder, book="garden", today=TODAY).stored == 1
    assert garden.table("life")["note"].tolist() == ['slugs, snails, mice, and, voles\n5" deep, covered']


def test_a_shared_picking_is_the_same_whatever_the_order_of_its_labels(garden: pn.Garden, tmp_path: Path) -> None:
    life = "event,label,on,crop\nsown,B1,2023-05-10,Oca\nsown,B2,2023-05-10,Oca\n"
    for labels, stored in (("B1,B2", 3), ("B2,B1", 0)):
        harvest = f'event,labels,on,grams\npicked,"{labels}",2023-08-01,90\n'
        folder = write(tmp_path, life=life, harvest=harvest)
        assert read(garden, folder, book="garden", today=TODAY).stored == stored


def test_a_byte_order_mark_is_no_part_of_a_name(garden: pn.Garden, tmp_path: Path) -> None:
    folder = write(tmp_path, life="\ufeff" + LIFE)
    assert read(garden, folder, book="garden", today=TODAY).stored == 2


def test_blank_rows_and_empty_cells_past_the_headings_are_nothing(garden: pn.Garden, tmp_path: Path) -> None:
    folder = write(tmp_path, life=LIFE.replace("\n", ",,\n") + "\n,,,,,,,\n")
    assert read(garden, folder, book="garden", today=TODAY).rows == 2


def test_a_file_that_is_not_there_or_no_text_is_told(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="there is no file"):
        read(garden, tmp_path / "nofile.csv", book="garden")
    (tmp_path / "sheet.csv").write_bytes(b"PK\x03\x04\xff\xfe\x00")
    with pytest.raises(IntakeError, match="holds bytes of value 0, which no text has"):
        read(garden, tmp_path / "sheet.csv", book="garden")


def test_an_empty_folder_and_a_nameless_book_are_refused(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="there is no CSV, XLSX or Parquet file"):
        read(garden, write(tmp_path), book="garden")
    with pytest.raises(IntakeError, match="the book has no name"):
        read(garden, write(tmp_path, life=LIFE), book=" ")


CELLS = st.text(st.sampled_from('a",;\n\r x1é'), max_size=6)


@settings(max_examples=300)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=6), st.sampled_from(["\n", "\r\n"]),
       st.booleans())  # fmt: skip
def test_every_cell_is_read_as_the_csv_module_reads_it(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]], ends: str, all_quoted: bool
) -> None:
    # the csv module leaves a lone carriage return bare
    assume(all_quoted or not any("\r" in cell for row in rows for cell in row))
    path = tmp_path_factory.mktemp("cells") / "notes.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        quoting = csv.QUOTE_ALL if all_quoted else csv.QUOTE_MINIMAL
        writer = csv.writer(file, lineterminator=ends, quoting=quoting)
        writer.writerows([["label", "on", "note"], *rows])
    sheet = read_delimited(path)
    cells = [tuple(row) for part in sheet.parts() for row in zip(*(c.to_pylist() for c in part.cells), strict=True)]
    expected = [tuple(cell if cell.strip() else None for cell in row) for row in rows]
    assert cells == [row for row in expected if any(row)]
    assert [row for part in sheet.parts() for row in part.rows.to_pylist()] == [
        number for number, row in enumerate(expected, start=2) if any(row)
    ]  # fmt: skip


@pytest.mark.parametrize(("words", "end"), [
    ("long, ", "\n"), ("long, ", ""), ("long\na,", "\n"), ("long, ", '\n"x",lone"mark\n'), ("long, ", "\n\nx,y\n"),
])  # fmt: skip
def test_a_file_of_many_blocks_is_read_as_the_csv_module_reads_it(tmp_path: Path, words: str, end: str) -> None:
    path = tmp_path / "long.csv"
    rows = "\n".join(f'"B{number}","{number} {words * 2_000}."' for number in range(1_500))
    path.write_text(f"label,note\n{rows}{end}", encoding="utf-8", newline="")
    with path.open(encoding="utf-8", newline="") as file:
        expected = [(number, *cells) for number, cells in enumerate(csv.reader(file), start=1) if cells][1:]
    found = [
        row
        for part in read_delimited(path).parts()
        for row in zip(part.rows.to_pylist(), *(column.to_pylist() for column in part.cells), strict=True)
    ]
    assert path.stat().st_size > 2 * 2**23
    assert found == expected


def test_a_cell_of_two_lines_is_one_cell_also_where_a_block_is_cut(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    # a thousand bytes a row, so that the first 8 MiB end in the first line of the cell
    rows = [f'B{number:06d},"{"x" * 989}"\n' for number in range(8_500)]
    rows[8_388] = f'B{8_388:06d},"{"x" * 800},\na{"x" * 186}"\n'
    path.write_text(f"label,note{'x' * 989}\n{''.join(rows[1:])}", encoding="utf-8", newline="")
    lines = [part.cells[1].to_pylist()[place] for part in read_delimited(path).parts()
             for place, label in enumerate(part.cells[0].to_pylist()) if label == "B008388"]  # fmt: skip
    assert lines == ["x" * 800 + ",\na" + "x" * 186]
