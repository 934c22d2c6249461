"""A garden written out: as the standard has it, safe to open in a spreadsheet, and the same garden when read again."""

from __future__ import annotations

import csv
import json
from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import attrs
import frictionless
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.errors import ArgumentError, IntakeError, RefusedError
from perennia.intake import export, read
from perennia.records import Record
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.records.convert import from_dict
from perennia.records.places import COVERS
from tests.copies import copied
from tests.lives import gardens
from tests.whole_gardens import TODAY, any_gardens, with_any_texts

TABLES = tuple(dict.fromkeys(cls.table for cls in RECORDS.values()))
# few and large ones: an example takes a garden in two or three times
FEWER = settings(max_examples=settings.default.max_examples // 5)
SOWN = (
    pn.Site("home", latitude=51.5), pn.Bed("b", "home"),
    pn.Sown("B1", "2023-05-10", crop="Oca", bed="b"), pn.Sown("B2", "2023-05-10", crop="Oca", bed="b"),
)  # fmt: skip


def garden_of(folder: Path, *records: Record) -> pn.Garden:
    garden = empty(folder)
    garden.record(*records, today=TODAY)
    return garden


def empty(folder: Path) -> pn.Garden:
    return pn.Garden.open(copied(pn.Garden.create, folder))


def said(garden: pn.Garden) -> dict[str, pa.Table]:
    """Every row that counts, but for when it was stored; numbers by their bits, for -0.0 is not 0.0."""
    return {table: _in_bits(garden.rows(table).drop_columns(["batch", "recorded_at"])) for table in TABLES}


def _in_bits(rows: pa.Table) -> pa.Table:
    columns = [
        rows[name].combine_chunks().view(pa.int64()) if pa.types.is_floating(rows[name].type) else rows[name]
        for name in rows.column_names
    ]
    return pa.table(columns, names=rows.column_names)


def assert_comes_back(garden: pn.Garden, folder: Path) -> None:
    export(garden, folder / "out")
    assert_valid(folder / "out")
    assert_nothing_runs(folder / "out")
    export(garden, folder / "packed", as_="parquet")
    before = said(garden)
    for out in ("out", "packed"):
        again = empty(folder / f"again {out}")
        report = read(again, folder / out, book="export", today=TODAY)
        assert report.stored == report.rows
        after = said(again)
        for table in TABLES:
            assert after[table].to_pylist() == before[table].to_pylist(), (out, table)


def assert_valid(folder: Path) -> None:
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.flatten(["type", "note", "rowNumber", "fieldName"]) == []
    assert report.valid
    assert not report.warnings
    assert report.stats["tasks"] == len(list(folder.iterdir())) - 1


def assert_nothing_runs(folder: Path) -> None:
    """No text begins as a formula does."""
    for resource in json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))["resources"]:
        texts = [field["name"] for field in resource["schema"]["fields"] if field["type"] == "string"]
        cells = [row[name] for row in rows_of(folder / resource["path"]) for name in texts]
        assert [cell for cell in cells if cell.startswith(tuple("=+-@\t\r\n"))] == []


def rows_of(path: Path) -> list[dict[str, str]]:
    csv.field_size_limit(2**20)
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def record_of(row: dict[str, Any]) -> Record:
    """The record that a row of a Parquet file stands for."""
    rules = rules_of(class_of(row["event"]))
    fields = {name: value for name, value in row.items() if name != "record_id" and value is not None}
    for name, value in fields.items():
        if name != "event" and rules[name].kind == "labels":
            fields[name] = value.split(",")
    return from_dict(fields)


def sorted_labels(record: Record) -> Record:
    labels = getattr(record, "labels", None)
    return record if labels is None else attrs.evolve(record, labels=sorted(labels))


def recorded(folder: Path) -> pn.Garden:
    return garden_of(
        folder, *SOWN, pn.Picked(["B2", "B1"], "2023-08-05", 240.5, use="kitchen", note="=1+2"),
        pn.Picked("B1", "2023-08", count=3), pn.Mulched("B1", "2023-11-20", 10),
    )  # fmt: skip


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(recorded, tmp_path / "plot"))


@FEWER
@given(any_gardens())
def test_a_garden_of_any_values_comes_back_and_runs_nothing(records: list[Record]) -> None:
    with TemporaryDirectory() as folder:
        assert_comes_back(garden_of(Path(folder, "plot"), *records), Path(folder))


@FEWER
@given(gardens(labels=12, bursts=24).flatmap(lambda records: st.tuples(*map(with_any_texts, records))))
def test_a_garden_of_any_lives_comes_back(records: tuple[Record, ...]) -> None:
    with TemporaryDirectory() as folder:
        assert_comes_back(garden_of(Path(folder, "plot"), *records), Path(folder))


@FEWER
@given(any_gardens())
def test_parquet_holds_the_records_as_the_schema_says(records: list[Record]) -> None:
    with TemporaryDirectory() as folder:
        garden = empty(Path(folder, "plot"))
        receipt = garden.record(*records, today=TODAY)
        export(garden, Path(folder, "out"), as_="parquet")
        assert_valid(Path(folder, "out"))
        found = {}
        for resource in json.loads(Path(folder, "out", "datapackage.json").read_text())["resources"]:
            rows = pq.read_table(Path(folder, "out", resource["path"])).to_pylist()
            found |= {row["record_id"]: record_of(row) for row in rows}
            checked = frictionless.Resource(data=rows, schema=frictionless.Schema(resource["schema"])).validate()
            assert checked.flatten(["type", "note", "rowNumber", "fieldName"]) == []
    assert found == dict(zip(receipt.record_ids, map(sorted_labels, records), strict=True))


# alone in a file, for by its lines, commas and quotes a reader tells how the file is written
@pytest.mark.parametrize("note", ["seen\nsown,B1", "x\nB1,sown", "a\rb\r\nc", '"', 'a "b", c'])
def test_a_note_alone_comes_back_to_the_letter(tmp_path: Path, note: str) -> None:
    assert_comes_back(garden_of(tmp_path / "plot", pn.Site("home", note=note)), tmp_path)


def test_notes_come_back_to_the_letter(tmp_path: Path) -> None:
    notes = (" late \t", "'=1", "=1", "''", "a\u2028b", "\ufeffx", "true", "0")
    sites = [pn.Site(f"site {number}", note=note) for number, note in enumerate(notes)]
    assert_comes_back(garden_of(tmp_path / "plot", *sites), tmp_path)


def test_odd_values_come_back(tmp_path: Path) -> None:
    records = (
        pn.Picked("B1", "2023-08-05", count=2**53), pn.Picked("B1", "2023-08-06", -0.0), pn.Picked("B1", "../2023", 1),
        pn.Picked("B1", "2023-08~", 5e-324), pn.Picked("B1", "2023-08-05", 0.1 + 0.2), pn.Died("B2", "2023-08/2024-02"),
        pn.Divided("B1", "2024-03-01", into=["-C", "=D"], note="x"), pn.Watered("2023-08-05", bed="b", litres=2.0**53),
        pn.HandPollinated("2023-08-05", labels=["B2", "B1"], trusses=["t2", "t1"]),
    )  # fmt: skip
    assert_comes_back(garden_of(tmp_path / "plot", *SOWN, *records), tmp_path)


def test_a_cell_of_thousands_of_names_comes_back(tmp_path: Path) -> None:
    trusses = [f"{number:05d} {'x' * 54}" for number in range(2400)]
    garden = garden_of(tmp_path / "plot", *SOWN, pn.HandPollinated("2023-08-05", labels=["B1"], trusses=trusses))
    assert_comes_back(garden, tmp_path)
    assert max(map(len, rows_of(tmp_path / "out" / "care.csv")[0].values())) > 131_072


def test_a_file_reads_as_a_book_does(garden: pn.Garden, tmp_path: Path) -> None:
    report = export(garden, tmp_path / "out")
    text = (tmp_path / "out" / "harvest.csv").read_text(encoding="utf-8")
    head, together, alone = text.splitlines()
    assert head == '"record_id","event","labels","on","grams","count","use","clearance","note"'
    assert together[35:] == '"picked","B1,B2","2023-08-05",240.5,,"kitchen",false,"\'=1+2"'
    assert alone[35:] == '"picked","B1","2023-08-01/2023-08-31",,3,,false,'
    assert set(garden.table("harvest")["record_id"]) == {together[1:33], alone[1:33]}
    assert report.files == ("sites.csv", "beds.csv", "life.csv", "harvest.csv", "datapackage.json")
    assert report.records == {"sites": 1, "beds": 1, "life": 3, "harvest": 2}
    assert report.summary() == f"7 records of 4 tables written to {tmp_path / 'out'}"
    assert {path.name for path in report.folder.iterdir()} == set(report.files)


def test_the_descriptor_says_what_the_rules_say(garden: pn.Garden, tmp_path: Path) -> None:
    export(garden, tmp_path / "out")
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    harvest = next(resource for resource in package["resources"] if resource["name"] == "harvest")
    path = tmp_path / "out" / "harvest.csv"
    assert (harvest["path"], harvest["bytes"]) == ("harvest.csv", path.stat().st_size)
    assert harvest["schema"]["primaryKey"] == ["record_id"]
    fields = {field["name"]: field for field in harvest["schema"]["fields"]}
    assert fields["grams"] == {
        "name": "grams", "type": "number", "description": "weight picked off all labels together, g", "unit": "g",
        "constraints": {"minimum": 0},
    }  # fmt: skip
    assert fields["count"]["type"] == "integer"
    assert fields["count"]["constraints"] == {"minimum": 0}, "pods left are 1 or more, but a look can find none"
    assert "(picked)" in fields["count"]["description"]
    assert "(left_for_seed)" in fields["count"]["description"]
    assert fields["event"]["constraints"] == {"required": True, "enum": ["picked", "left_for_seed", "books_kept"]}
    assert "constraints" not in fields["on"], "complete books have no single day"
    beds = next(resource for resource in package["resources"] if resource["name"] == "beds")
    cover = next(field for field in beds["schema"]["fields"] if field["name"] == "cover")
    assert cover["constraints"] == {"required": True, "enum": list(COVERS)}


def test_the_package_is_named_and_dated_by_the_books(tmp_path: Path) -> None:
    names = {"Ölberg, plot 2": "olberg-plot-2", "畑": "garden", None: "garden"}
    for number, (name, expected) in enumerate(names.items()):
        garden = pn.Garden.create(tmp_path / f"plot{number}", name=name)
        garden.record(pn.Site("home"))
        before = garden.rows("sites")["recorded_at"][0].as_py()
        garden.compact()
        export(garden, tmp_path / f"out{number}")
        package = json.loads((tmp_path / f"out{number}" / "datapackage.json").read_text(encoding="utf-8"))
        assert (package["name"], package["title"]) == (expected, name or "garden")
        assert datetime.fromisoformat(package["created"]) == before
        assert_valid(tmp_path / f"out{number}")


@pytest.mark.parametrize("as_", ["csv", "parquet"])
def test_the_same_books_give_the_same_files(garden: pn.Garden, tmp_path: Path, as_: Any) -> None:
    export(garden, tmp_path / "first", as_=as_)
    garden.compact()
    with pn.Garden.open(garden.path) as again:
        report = export(again, tmp_path / "second", as_=as_)
    for name in report.files:
        assert (tmp_path / "first" / name).read_bytes() == (tmp_path / "second" / name).read_bytes(), name


def test_what_was_corrected_stays_in_the_garden_unless_it_counted_then(garden: pn.Garden, tmp_path: Path) -> None:
    wrong = garden.table("harvest", labels=["B2"])["record_id"].iloc[0]
    before = datetime.now(UTC)
    garden.correct(wrong, pn.Picked("B2", "2023-08-05", 24), reason="one nought too many", today=TODAY)
    export(garden, tmp_path / "now")
    assert sorted(row["grams"] for row in rows_of(tmp_path / "now" / "harvest.csv")) == ["", "24"]
    garden.compact()
    with pn.Garden.open(garden.path, as_of=before) as earlier:
        export(earlier, tmp_path / "then")
        assert sorted(row["grams"] for row in rows_of(tmp_path / "then" / "harvest.csv")) == ["", "240.5"]
        assert_valid(tmp_path / "then")
    with pn.Garden.open(garden.path, as_of=date(2001, 1, 1)) as nothing:
        with pytest.raises(IntakeError, match="has no records to write"):
            export(nothing, tmp_path / "nothing")
        assert not (tmp_path / "nothing").exists()


def test_a_garden_with_a_corrected_bed_comes_back(tmp_path: Path) -> None:
    garden = garden_of(tmp_path / "plot", *SOWN)
    wrong = garden.rows("beds")["record_id"][0].as_py().hex()
    garden.correct(wrong, pn.Bed("b", "home", area_m2=6), reason="measured", today=TODAY)
    assert_comes_back(garden, tmp_path)


def test_a_tampered_file_is_told_apart(garden: pn.Garden, tmp_path: Path) -> None:
    for as_ in ("csv", "parquet"):
        export(garden, tmp_path / as_, as_=as_)
        path = tmp_path / as_ / f"life.{as_}"
        path.write_bytes(path.read_bytes().replace(b"Oca", b"Oat"))
        report = frictionless.validate(str(tmp_path / as_ / "datapackage.json"))
        assert [error for (error,) in report.flatten(["type"])] == ["hash-count"]


def test_a_row_added_to_an_export_is_a_row_of_the_book(garden: pn.Garden, tmp_path: Path) -> None:
    export(garden, tmp_path / "out")
    path = tmp_path / "out" / "harvest.csv"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + ',picked,"B1, B2",2023-08-09,80,,,,\n', encoding="utf-8")
    report = read(garden, tmp_path / "out", book="export", today=TODAY)
    assert (report.stored, report.already_known) == (1, 7)
    path.write_text(text.replace(text.splitlines()[1][1:33], "0" * 31), encoding="utf-8")
    with pytest.raises(RefusedError, match=r"harvest.csv row 2, record_id: '0{31}' is no record id; it has 32"):
        read(garden, tmp_path / "out", book="export", today=TODAY)


def test_a_mark_left_open_in_an_export_is_told(garden: pn.Garden, tmp_path: Path) -> None:
    export(garden, tmp_path / "out")
    path = tmp_path / "out" / "life.csv"
    path.write_text(path.read_text(encoding="utf-8").replace('"Oca"', '"Oca', 1), encoding="utf-8")
    with pytest.raises(IntakeError, match=r"life\.csv row 2 cannot be read"):
        read(garden, tmp_path / "out", book="export", today=TODAY)


def test_a_folder_that_holds_anything_is_left_alone(garden: pn.Garden, tmp_path: Path) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "ann.txt").write_text("dear ...")
    with pytest.raises(IntakeError, match="letters is not empty; choose a new or empty folder"):
        export(garden, tmp_path / "letters")
    with pytest.raises(IntakeError, match="is not empty"):
        export(garden, tmp_path / "letters" / "ann.txt")
    with pytest.raises(IntakeError, match="could not be written whole"):
        export(garden, tmp_path / "letters" / "ann.txt" / "out")
    with pytest.raises(IntakeError, match="lies in the garden's own folder"):
        export(garden, garden.path / "harvest" / "out")
    assert [path.name for path in (tmp_path / "letters").iterdir()] == ["ann.txt"]
    with pytest.raises(IntakeError, match="is no path of plain text"):
        export(garden, "out\0")
    (tmp_path / "empty").mkdir()
    assert export(garden, str(tmp_path / "empty")).folder == tmp_path / "empty"


def test_the_descriptor_comes_last(garden: pn.Garden, tmp_path: Path) -> None:
    files = export(garden, tmp_path / "out").files
    written = {name: (tmp_path / "out" / name).stat().st_mtime_ns for name in files}
    assert written["datapackage.json"] == max(written.values())


def test_another_form_is_refused_in_words(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(ArgumentError, match="as_ is 'xlsx'; give 'csv' or 'parquet'"):
        export(garden, tmp_path / "out", as_="xlsx")
    with pytest.raises(ArgumentError, match="the folder of the export"):
        export(garden, None)
    assert not (tmp_path / "out").exists()
