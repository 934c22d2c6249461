"""The blank workbook: complete by the records themselves, explained, safe to type dates into, never written over."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook import Workbook
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from perennia.errors import ArgumentError, IntakeError
from perennia.intake import template
from perennia.intake.headings import heading_of
from perennia.records import Picked
from perennia.records.catalogue import RECORDS, class_of, rules_of
from perennia.records.convert import from_dict, to_dict
from perennia.records.fields import FieldRule

TITLES = ["Sites", "Beds", "Life", "Harvest", "Flowering", "Care", "Weather", "Seed"]
LATE_ROW = 5000


@pytest.fixture(scope="module")
def workbook(tmp_path_factory: pytest.TempPathFactory) -> Workbook:
    return openpyxl.load_workbook(template(tmp_path_factory.mktemp("blank") / "books.xlsx"))


def headings(page: Worksheet) -> list[str]:
    return [cell.value for cell in page[1]]


def column_of(heading: str) -> str:
    """The field's name a heading stands for."""
    return re.sub(r" \(.*\)$", "", heading)


def letters(page: Worksheet) -> dict[str, str]:
    return {column_of(cell.value): cell.column_letter for cell in page[1]}


def validation(page: Worksheet, name: str, row: int = LATE_ROW) -> DataValidation | None:
    at = f"{letters(page)[name]}{row}"
    found = [each for each in page.data_validations.dataValidation if at in each.sqref]
    assert len(found) <= 1
    return found[0] if found else None


def listed(workbook: Workbook, formula: str) -> list[str]:
    """The values that a drop-down's formula points at."""
    title, _, cells = formula.partition("!")
    return [row[0].value for row in workbook[title][cells.replace("$", "")]]


def plants_column(page: Worksheet, name: str) -> str:
    """label and labels share the one of the two columns that the sheet has."""
    return next(n for n in ("labels", "label") if n in letters(page)) if name in ("label", "labels") else name


def fields_of(table: str) -> dict[str, list[tuple[str, FieldRule]]]:
    """Each field of a table's events with the events that have it."""
    fields: dict[str, list[tuple[str, FieldRule]]] = {}
    for event, cls in RECORDS.items():
        if cls.table == table:
            for name, rule in rules_of(cls).items():
                fields.setdefault(name, []).append((event, rule))
    return fields


def test_there_is_a_sheet_a_table_between_the_words_and_the_hidden_lists(workbook: Workbook) -> None:
    assert workbook.sheetnames == ["Read me", *TITLES, "Choices"]
    assert {cls.table.capitalize() for cls in RECORDS.values()} == set(TITLES)
    assert workbook["Choices"].sheet_state == "hidden"
    assert workbook.active.title == "Read me"


@pytest.mark.parametrize("title", TITLES)
def test_every_field_of_every_event_has_one_column(workbook: Workbook, title: str) -> None:
    page = workbook[title]
    names = [column_of(heading) for heading in headings(page)]
    assert names[0] == "event"
    assert len(set(names)) == len(names)
    fields = fields_of(title.lower())
    assert set(names[1:]) == {plants_column(page, name) for name in fields}
    first = [name for name in ("labels", "label", "on") if name in names]
    assert names[1 : 1 + len(first)] == first
    assert names[-1] == "note"


@pytest.mark.parametrize("title", TITLES)
def test_a_heading_says_the_unit_where_the_grower_may_change_it(workbook: Workbook, title: str) -> None:
    heads = dict(zip(letters(workbook[title]), headings(workbook[title]), strict=True))
    words = {"g": " (g)", "l": " (litres)", "mm": " (mm)", "deg C": " (C)"}
    for name, uses in fields_of(title.lower()).items():
        column = plants_column(workbook[title], name)
        assert {heading_of(column, rule) for _, rule in uses} == {heads[column]}, "one column has one unit"
        assert {column + words.get(rule.unit, "") for _, rule in uses} == {heads[column]}


def test_one_column_holds_one_label_or_several_by_the_sheet(workbook: Workbook) -> None:
    of = {title: {"label", "labels"} & set(letters(workbook[title])) for title in TITLES}
    assert of == {
        "Sites": set(), "Beds": set(), "Weather": set(), "Life": {"label"}, "Flowering": {"label"}, "Seed": {"label"},
        "Harvest": {"labels"}, "Care": {"labels"},
    }  # fmt: skip


@pytest.mark.parametrize("title", TITLES)
def test_every_event_and_choice_is_in_a_drop_down_far_down_the_sheet(workbook: Workbook, title: str) -> None:
    page = workbook[title]
    events = validation(page, "event")
    assert events is not None
    assert events.type == "list"
    assert listed(workbook, events.formula1) == [e for e, cls in RECORDS.items() if cls.table == title.lower()]
    assert events.errorStyle == "warning", "Died back is read as died_back and is not to be forbidden"
    for name, uses in fields_of(title.lower()).items():
        found = validation(page, plants_column(page, name))
        if any(rule.choices for _, rule in uses):
            assert found is not None
            assert set(listed(workbook, found.formula1)) == {choice for _, rule in uses for choice in rule.choices}
        elif uses[0][1].kind == "flag":
            assert found is not None
            assert listed(workbook, found.formula1) == ["yes", "no"]
        elif uses[0][1].kind in ("text", "label"):
            assert found is None, "text is free"


@pytest.mark.parametrize("title", TITLES)
def test_numbers_are_held_to_their_limits_but_not_in_another_unit(workbook: Workbook, title: str) -> None:
    page = workbook[title]
    for name, uses in fields_of(title.lower()).items():
        rules = [rule for _, rule in uses]
        if rules[0].kind not in ("number", "whole"):
            continue
        found = validation(page, name)
        assert found is not None
        assert found.type == ("whole" if rules[0].kind == "whole" else "decimal")
        least, most = float(found.formula1), float(found.formula2)
        if rules[0].unit in ("g", "l", "mm", "deg C"):
            assert least == (-1e12 if rules[0].unit == "deg C" else 0)
            assert most == 1e12
        else:
            assert least == min(-1e12 if rule.minimum is None else rule.minimum for rule in rules)
            assert most == max(1e12 if rule.maximum is None else rule.maximum for rule in rules)


@pytest.mark.parametrize("title", TITLES)
def test_messages_are_short_enough_for_a_spreadsheet(workbook: Workbook, title: str) -> None:
    for found in workbook[title].data_validations.dataValidation:
        assert found.error or found.prompt
        assert found.showErrorMessage == bool(found.error)
        assert found.showInputMessage == bool(found.prompt)
        assert len(found.error or "") <= 225
        assert len(found.prompt or "") <= 255
        assert max(len(found.errorTitle or ""), len(found.promptTitle or "")) <= 32


@pytest.mark.parametrize("title", TITLES)
def test_what_a_spreadsheet_could_take_for_a_date_is_kept_as_typed(workbook: Workbook, title: str) -> None:
    page = workbook[title]
    for name, uses in fields_of(title.lower()).items():
        column = plants_column(page, name)
        counted = uses[0][1].kind in ("number", "whole", "flag")
        assert page.column_dimensions[letters(page)[column]].number_format == ("General" if counted else "@")
    assert page.column_dimensions["A"].number_format == "@"
    for row in page.iter_rows(min_row=2):
        for cell in row:
            assert cell.number_format == ("@" if isinstance(cell.value, str) else "General") or cell.value is None


@pytest.mark.parametrize("title", TITLES)
def test_each_heading_is_explained(workbook: Workbook, title: str) -> None:
    page = workbook[title]
    for name, uses in fields_of(title.lower()).items():
        comment = page[f"{letters(page)[plants_column(page, name)]}1"].comment
        assert comment is not None
        for event, rule in uses:
            assert rule.meaning in comment.text
            assert event in comment.text or "For every event." in comment.text
            if rule.unit:
                assert f"of {rule.unit}" in comment.text
    assert page["A1"].comment is not None
    assert page.freeze_panes == "C2"


def test_a_comment_says_which_events_need_the_column(workbook: Workbook) -> None:
    page = workbook["Harvest"]
    said = {name: page[f"{letter}1"].comment.text for name, letter in letters(page).items()}
    assert said["bed"].endswith("Must be given for books_kept.")
    assert said["labels"].endswith("Must be given for picked, left_for_seed.")
    assert "Must" not in said["grams"]
    assert said["clearance"].endswith("Write yes or no.\n\nAn empty cell means no.")
    assert "An empty cell" not in said["grams"]
    assert "the heading may say kg or oz or lb instead" in said["grams"]
    assert "weight picked off all labels together" in said["grams"]
    assert workbook["Life"]["C1"].comment.text.endswith("Must be given in every line.")


def test_cells_are_shaded_by_the_event_of_their_line(workbook: Workbook) -> None:
    page = workbook["Harvest"]
    looks = {
        str(cells.sqref): [(rule.formula[0], rule.dxf) for rule in rules]
        for cells, rules in page.conditional_formatting._cf_rules.items()
    }
    letter = letters(page)["bed"]
    (grey, fill), (frame, border) = looks[f"{letter}2:{letter}10000"]
    own = re.findall(r"Choices!\S+?(?=,0)", grey)
    assert [listed(workbook, each) for each in own] == [["picked", "left_for_seed", "books_kept"], ["books_kept"]]
    assert re.fullmatch(r"AND\(ISNUMBER\(MATCH\(.+,0\)\),NOT\(ISNUMBER\(MATCH\(.+,0\)\)\)\)", grey)
    assert frame.startswith("AND(ISNUMBER(MATCH(SUBSTITUTE(TRIM(SUBSTITUTE(LOWER($A2)")
    assert fill.fill.bgColor.rgb.endswith("CFCFCF")
    assert [listed(workbook, each) for each in re.findall(r"Choices!\S+?(?=,0)", frame)] == [["books_kept"]]
    assert frame.endswith(f'{letter}2="")')
    assert border.border.left.style == "thin"
    assert f"{letters(page)['note']}2:{letters(page)['note']}10000" not in looks, "a note may go with any event"


def as_record(line: dict[str, Any]) -> dict[str, Any]:
    """A line's cells as the fields of its record, by the record's own rules."""
    event = line.pop("event").removeprefix("example: ")
    rules = rules_of(class_of(event))
    fields: dict[str, Any] = {"event": event}
    for heading, value in line.items():
        name = column_of(heading)
        if name in ("label", "labels"):
            name = "labels" if "labels" in rules else "label"
        kind = rules[name].kind
        if kind == "flag":
            value = {"yes": True, "no": False}[value]
        fields[name] = [part.strip() for part in value.split(",")] if kind == "labels" else value
    return fields


@pytest.mark.parametrize("title", TITLES)
def test_the_example_lines_are_marked_and_are_such_as_the_records_take(workbook: Workbook, title: str) -> None:
    page = workbook[title]
    rows = list(page.iter_rows(min_row=2, values_only=True))
    assert 1 <= len(rows) <= 2
    for number, row in enumerate(rows, start=2):
        line = {head: value for head, value in zip(headings(page), row, strict=True) if value is not None}
        assert line["event"].startswith("example: ")
        assert "invented" in line["note"]
        assert page[f"A{number}"].font.italic
        fields = as_record(line)
        assert to_dict(from_dict(fields))["event"] in RECORDS
        assert RECORDS[fields["event"]].table == title.lower()


def test_the_first_sheet_tells_every_event_field_and_need(workbook: Workbook) -> None:
    rows = list(workbook["Read me"].iter_rows(values_only=True))
    # some columns have the name of an event; the events stand first
    events = rows[: next(place for place, row in enumerate(rows) if row[0] == "Columns of the sheet Sites")]
    told = {row[0]: row for row in events if row[0] in RECORDS}
    assert list(told) == list(RECORDS)
    for event, cls in RECORDS.items():
        _, means, must, may = told[event][:4]
        plain = " ".join(str(cls.__doc__).replace("``", '"').split())
        assert means == plain.replace("clearance=True", "clearance=yes")
        given = re.split(r"[,;] ", f"{must}, {may}")
        for name, rule in rules_of(cls).items():
            heading = heading_of(name, rule)
            near = {heading, heading.replace("label", "labels")} if name == "label" else {heading}
            assert near & {re.sub(r" \(empty: .*\)$", "", words) for words in given}, (event, name)
    assert told["picked"][2] == "labels, on; at least one of grams, count"
    assert "clearance (empty: no)" in told["picked"][3]
    assert told["watered"][2] == "on; either bed or labels; either litres or mm"
    columns = [row for row in rows if row[0] == "grams (g)"]
    assert len(columns) == 2, "on Harvest and on Seed"
    assert columns[0][3] == "a number of g, 0 or more; the heading may say kg or oz or lb instead"


def test_the_first_sheet_warns_of_what_spoils_a_book(workbook: Workbook) -> None:
    words = "\n".join(str(row[1]) for row in workbook["Read me"].iter_rows(values_only=True))
    for said in ("2024-04~", "formatted as text", "found nothing", "ditto", "formulas", "merged", "one name from year",
                 "perennia correct", "B1, B2"):  # fmt: skip
        assert said in words
    assert not workbook["Read me"].merged_cells.ranges


def test_it_is_the_same_whenever_written(tmp_path: Path) -> None:
    first, second = (template(tmp_path / name).read_bytes() for name in ("first.xlsx", "second.xlsx"))
    assert first == second
    properties = openpyxl.load_workbook(tmp_path / "first.xlsx").properties
    assert properties.created == properties.modified
    assert properties.created.year == 1980
    with zipfile.ZipFile(tmp_path / "first.xlsx") as archive:
        assert {part.date_time for part in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_nothing_is_written_over_or_elsewhere_than_asked(tmp_path: Path) -> None:
    mine = tmp_path / "books.xlsx"
    mine.write_text("my entries")
    with pytest.raises(IntakeError, match=r"books.xlsx is there already and may hold your entries; name a new file"):
        template(mine)
    assert mine.read_text() == "my entries"
    with pytest.raises(IntakeError, match=r"ends in .xlsx; write books.xlsx"):
        template(tmp_path / "books.csv")
    with pytest.raises(IntakeError, match=r"there is no folder .*shed; make it first"):
        template(tmp_path / "shed" / "books.xlsx")
    with pytest.raises(ArgumentError, match="path is 7, which is no text"):
        template(7)
    assert [path.name for path in tmp_path.iterdir()] == ["books.xlsx"]


def test_without_openpyxl_it_says_what_to_install(tmp_path: Path) -> None:
    code = (
        "import sys; sys.modules['openpyxl'] = None\n"
        "from perennia.errors import IntakeError\nfrom perennia.intake import template\n"
        f"try:\n    template({str(tmp_path / 'books.xlsx')!r})\nexcept IntakeError as error:\n    print(error)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said == "a workbook needs openpyxl; install it with pip install 'perennia[intake]'\n"
    assert not list(tmp_path.iterdir())


def test_field_order_follows_the_record(workbook: Workbook) -> None:
    names = list(letters(workbook["Harvest"]))
    own = [name for name in rules_of(Picked) if name in names]
    assert all(names.index(a) < names.index(b) for a, b in pairwise(own))
