"""Rows of a book edited since: told as conflicts, corrections only when asked; twins are known by what they say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.errors import RefusedError
from perennia.intake import read
from tests.intake.books import TODAY, garden_in, pickings, written

HEAD = "labels,on,grams,count\n"
DAY = date(2023, 8, 1)


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    garden = garden_in(tmp_path)
    read(garden, written(tmp_path, "picked.csv", HEAD + "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-01,5,\n"),
         book="k", today=TODAY)  # fmt: skip
    return garden


def test_an_edited_row_is_told_with_what_is_stored_and_what_is_written(garden: pn.Garden, tmp_path: Path) -> None:
    book = written(tmp_path, "picked.csv", HEAD + "B1,2023-08-01,180,\nB1,2023-08-01,90,\nB2,2023-08-01,6,\n")
    with pytest.raises(RefusedError) as refused:
        read(garden, book, book="k", today=TODAY)
    assert [(problem.row, problem.rule, problem.wrong) for problem in refused.value.problems] == [
        (2, "B4", "nothing is written here, 9 is stored"), (4, "B4", "6 is written here, 5 is stored"),
    ]  # fmt: skip
    assert "read it again with correct=" in refused.value.problems[0].remedy


def test_edited_rows_replace_what_is_stored_when_asked_and_are_known_then(garden: pn.Garden, tmp_path: Path) -> None:
    old = garden.table("harvest", labels=["B2"])["record_id"][0]
    text = HEAD + "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-01,6,\nB2,2023-08-02,7,\n"
    book = written(tmp_path, "picked.csv", text)
    report = read(garden, book, book="k", correct="scale read wrongly", today=TODAY)
    assert (report.stored, report.already_known, report.corrected, report.set_aside) == (1, 2, 1, 0)
    assert pickings(garden)[2] == ("B2", DAY, 6.0, None)
    assert read(garden, book, book="k", today=TODAY).already_known == 4
    again = read(garden, written(tmp_path, "picked.csv", text.replace(",6,", ",8,")), book="k", correct="again",
                 today=TODAY)  # fmt: skip
    assert (again.corrected, again.already_known) == (1, 3)
    assert pickings(garden)[2] == ("B2", DAY, 8.0, None)
    with pytest.raises(pn.errors.UnknownLabelError, match="was corrected before"):
        garden.correct(old, reason="no")


def test_an_edit_that_cannot_be_is_set_aside(garden: pn.Garden, tmp_path: Path) -> None:
    text = "label,on,cause\nB2,2024-05-01,frost\n"
    read(garden, written(tmp_path, "died.csv", text), book="k", today=TODAY)
    report = read(garden, written(tmp_path, "picked.csv", HEAD + "B2,2023-08-01,0,3\n"), book="k", on_error="set aside",
                  correct="so", today=TODAY)  # fmt: skip
    assert (report.corrected, report.set_aside) == (0, 1)
    assert "one of grams and count is 0 and the other is not" in report.problems[0].wrong


def test_a_new_twin_above_the_old_ones_is_a_new_row(garden: pn.Garden, tmp_path: Path) -> None:
    text = HEAD + "B1,2023-08-01,33,\nB1,2023-08-01,90,\nB1,2023-08-01,180,9\n"
    report = read(garden, written(tmp_path, "picked.csv", text), book="k", today=TODAY)
    assert (report.stored, report.already_known) == (1, 2)
    assert [row[2] for row in pickings(garden)] == [33.0, 90.0, 180.0, 5.0]


@settings(max_examples=15)
@given(st.lists(st.integers(1, 4), min_size=1, max_size=5), st.randoms(use_true_random=False), st.integers(1, 4))
def test_twins_in_any_order_are_known(
    tmp_path_factory: pytest.TempPathFactory, amounts: list[int], chance: object, more: int
) -> None:
    folder = tmp_path_factory.mktemp("twins")
    garden = garden_in(folder)

    def taken(grams: list[int]) -> tuple[int, int]:
        rows = "".join(f"B1,2023-08-01,{amount},\n" for amount in grams)
        report = read(garden, written(folder, "picked.csv", HEAD + rows), book="k", today=TODAY)
        return report.stored, report.already_known

    assert taken(amounts) == (len(amounts), 0)
    shuffled = sorted(amounts, key=lambda _: chance.random())  # type: ignore[attr-defined]
    assert taken(shuffled) == (0, len(amounts))
    assert taken([more, *shuffled]) == (1, len(amounts))
    assert sorted(row[2] for row in pickings(garden)) == sorted([more, *amounts])


def test_an_edited_bed_is_told_and_corrected_when_asked(garden: pn.Garden, tmp_path: Path) -> None:
    read(garden, written(tmp_path, "beds.csv", "name,site,area_m2\nc,home,3\n"), book="k", today=TODAY)
    book = written(tmp_path, "beds.csv", "name,site,area_m2\nc,home,5\n")
    with pytest.raises(RefusedError, match=r"area_m2: 5 is written here, 3 is stored"):
        read(garden, book, book="k", today=TODAY)
    assert read(garden, book, book="k", correct="measured", today=TODAY).corrected == 1
    assert garden.table("beds").set_index("bed")["area_m2"]["c"] == 5


def test_a_row_whose_day_was_mended_is_told_and_replaces_when_asked(garden: pn.Garden, tmp_path: Path) -> None:
    rows = "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-01,5,\n"
    read(garden, written(tmp_path, "picked.csv", HEAD + rows + "B1,2023-08-09,70,\n"), book="k", today=TODAY)
    text = HEAD + rows.replace("B1,2023-08-01,180", "B1,2023-08-02,180") + "B1,2023-08-09,70,\n"
    book = written(tmp_path, "picked.csv", text)
    with pytest.raises(RefusedError, match=r"row 2: says what the row of B1 on 2023-08-01 said, which is gone"):
        read(garden, book, book="k", today=TODAY)
    report = read(garden, book, book="k", correct="misread", today=TODAY)
    assert (report.stored, report.already_known, report.corrected) == (0, 3, 1)
    assert [row[1:3] for row in pickings(garden)] == [
        (DAY, 90.0), (date(2023, 8, 2), 180.0), (date(2023, 8, 9), 70.0), (DAY, 5.0)
    ]  # fmt: skip
    assert read(garden, book, book="k", today=TODAY).already_known == 4


def test_a_row_whose_label_was_mended_is_told(garden: pn.Garden, tmp_path: Path) -> None:
    text = HEAD + "B2,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-01,5,\n"
    with pytest.raises(RefusedError, match="says what the row of B1 on 2023-08-01 said"):
        read(garden, written(tmp_path, "picked.csv", text), book="k", today=TODAY)


def test_a_day_mended_in_the_garden_and_in_the_book_is_one_picking(garden: pn.Garden, tmp_path: Path) -> None:
    old = garden.table("harvest", labels=["B2"])["record_id"][0]
    garden.correct(old, pn.Picked("B2", "2023-08-03", 5), reason="wrong day", today=TODAY)
    text = HEAD + "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-03,5,\n"
    for _ in range(2):
        report = read(garden, written(tmp_path, "picked.csv", text), book="k", today=TODAY)
        assert (report.stored, report.already_known) == (0, 3)
    assert len(pickings(garden)) == 3


def test_another_years_file_of_the_same_book_has_no_moved_rows(garden: pn.Garden, tmp_path: Path) -> None:
    text = HEAD + "B1,2024-08-01,180,9\nB2,2024-08-01,5,\n"
    assert read(garden, written(tmp_path, "2024.csv", text), "picked", book="k", today=TODAY).stored == 2
    text = HEAD + "B2,2023-07-30,180,9\nB2,2023-08-01,5,\nB2,2023-08-02,90,\n"
    report = read(garden, written(tmp_path, "B2.csv", text), "picked", book="k", today=TODAY)
    assert (report.stored, report.already_known) == (2, 1), "rows of B1 are in another file"


def test_what_was_corrected_can_be_looked_up(garden: pn.Garden) -> None:
    old = garden.table("harvest", labels=["B2"])["record_id"][0]
    (new,) = garden.correct(old, pn.Picked("B2", "2023-08-03", 5), reason="wrong day", today=TODAY).record_ids
    garden.correct(new, reason="not mine", today=TODAY)
    rows = garden.corrections()
    assert rows[["record_id", "reason", "table"]].to_numpy().tolist() == [
        [old, "wrong day", "harvest"], [new, "not mine", "harvest"]
    ]  # fmt: skip
    assert rows["replacement_id"].tolist()[0] == new
    assert rows["replacement_id"].isna().tolist() == [False, True]
    assert garden.sizes()["harvest"] == 4
