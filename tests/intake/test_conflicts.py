"""Rows of a book edited since: told as conflicts, corrections only when asked; twins are known by what they say."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.errors import RefusedError
from perennia.intake import read
from tests.copies import copied
from tests.intake.books import TODAY, garden_in, pickings, written

HEAD = "labels,on,grams,count\n"
DAY = date(2023, 8, 1)


def taken_in(folder: Path) -> None:
    rows = "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-01,5,\n"
    read(garden_in(folder), written(folder, "picked.csv", HEAD + rows), book="k", today=TODAY)


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(taken_in, tmp_path) / "plot")


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


TWINS = st.lists(st.integers(1, 4), min_size=1, max_size=5)
OF_DAYS = st.dictionaries(st.tuples(st.sampled_from(["B1", "B2"]), st.integers(1, 5)), TWINS, min_size=1, max_size=6)


# an example has the twins of several days, for each reads a book three times
@settings(max_examples=5)
@given(OF_DAYS, st.randoms(use_true_random=False), st.integers(1, 4))
def test_twins_in_any_order_are_known(
    tmp_path_factory: pytest.TempPathFactory, amounts: dict[tuple[str, int], list[int]], chance: Random, more: int
) -> None:
    folder = tmp_path_factory.mktemp("twins")
    garden = garden_in(folder)

    def taken(rows: list[tuple[str, int, int]]) -> tuple[int, int]:
        text = "".join(f"{label},2023-08-0{day},{grams},\n" for label, day, grams in rows)
        report = read(garden, written(folder, "picked.csv", HEAD + text), book="k", today=TODAY)
        return report.stored, report.already_known

    rows = [(label, day, grams) for (label, day), twins in amounts.items() for grams in twins]
    added = [(label, day, more) for label, day in amounts]
    assert taken(rows) == (len(rows), 0)
    shuffled = sorted(rows, key=lambda _: chance.random())
    assert taken(shuffled) == (0, len(rows))
    assert taken([*added, *shuffled]) == (len(added), len(rows))
    found = [(label, on.day, grams) for label, on, grams, _ in pickings(garden)]
    assert sorted(found) == sorted([*added, *rows])


def test_an_edited_bed_is_told_and_corrected_when_asked(garden: pn.Garden, tmp_path: Path) -> None:
    read(garden, written(tmp_path, "beds.csv", "name,site,area_m2\nc,home,3\n"), book="k", today=TODAY)
    book = written(tmp_path, "beds.csv", "name,site,area_m2\nc,home,5\n")
    with pytest.raises(RefusedError, match=r"area_m2: 5 is written here, 3 is stored"):
        read(garden, book, book="k", today=TODAY)
    assert read(garden, book, book="k", correct="measured", today=TODAY).corrected == 1
    assert garden.table("beds").set_index("bed")["area_m2"]["c"] == 5


def test_the_file_of_another_year_of_a_book_does_not_make_the_last_days_of_december_gone(
    garden: pn.Garden, tmp_path: Path
) -> None:
    december, january = "B1,2024-12-20,60,\nB1,2024-12-29,50,\n", "B1,2025-01-04,40,\nB1,2025-01-11,30,\n"
    for text in (december, january, january, december):
        report = read(garden, written(tmp_path, "picked.csv", HEAD + text), book="k", today=TODAY)
        assert [doubt for doubt in report.doubts if doubt.kind == "gone"] == []
    # in one file with January, what is missing of December is told
    both = HEAD + december.partition("\n")[0] + "\n" + january
    report = read(garden, written(tmp_path, "picked.csv", both), book="k", today=TODAY)
    assert [str(doubt.on_to) for doubt in report.doubts if doubt.kind == "gone"] == ["2024-12-29"]


def test_a_row_gone_from_the_book_is_told_with_the_way_to_take_it_back(garden: pn.Garden, tmp_path: Path) -> None:
    text = HEAD + "B1,2023-08-02,170,9\nB1,2023-08-01,90,\nB2,2023-08-01,5,\n"
    report = read(garden, written(tmp_path, "picked.csv", text), book="k", today=TODAY)
    assert (report.stored, report.already_known) == (1, 2)
    (doubt,) = report.doubts
    assert (doubt.kind, doubt.label, str(doubt.on_to)) == ("gone", "B1", "2023-08-01")
    assert f"is no longer in it; if it is wrong, take it back (perennia correct GARDEN {doubt.record_id}" in doubt.text
    garden.correct(doubt.record_id, reason="misdated", today=TODAY)
    again = read(garden, tmp_path / "picked.csv", book="k", today=TODAY)
    assert (again.already_known, again.doubts) == (3, ())


def test_a_row_of_another_day_and_weight_leaves_one_gone(garden: pn.Garden, tmp_path: Path) -> None:
    rows = "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-09,6,\n"
    report = read(garden, written(tmp_path, "picked.csv", HEAD + rows), book="k", today=TODAY)
    assert [doubt.kind for doubt in report.doubts] == ["gone"]


def test_a_row_that_says_what_was_corrected_since_is_told(garden: pn.Garden, tmp_path: Path) -> None:
    old = garden.table("harvest", labels=["B2"])["record_id"][0]
    garden.correct(old, pn.Picked("B2", "2023-08-01", 7), reason="scale", today=TODAY)
    report = read(garden, tmp_path / "picked.csv", book="k", correct="so", today=TODAY)
    assert (report.already_known, report.corrected) == (3, 0)
    assert [doubt.kind for doubt in report.doubts] == ["outdated"]
    assert pickings(garden)[2] == ("B2", DAY, 7.0, None)


def test_a_day_mended_in_the_garden_and_in_the_book_is_one_picking(garden: pn.Garden, tmp_path: Path) -> None:
    old = garden.table("harvest", labels=["B2"])["record_id"][0]
    garden.correct(old, pn.Picked("B2", "2023-08-03", 5), reason="wrong day", today=TODAY)
    text = HEAD + "B1,2023-08-01,180,9\nB1,2023-08-01,90,\nB2,2023-08-03,5,\n"
    for _ in range(2):
        report = read(garden, written(tmp_path, "picked.csv", text), book="k", today=TODAY)
        assert (report.stored, report.already_known) == (0, 3)
    assert len(pickings(garden)) == 3


def test_another_years_file_of_the_same_book_lacks_no_rows(garden: pn.Garden, tmp_path: Path) -> None:
    text = HEAD + "B1,2024-08-01,180,9\nB2,2024-08-01,5,\n"
    report = read(garden, written(tmp_path, "2024.csv", text), "picked", book="K", today=TODAY)
    assert (report.stored, report.doubts) == (2, ()), "capitals make no other book"


def test_a_day_free_again_takes_a_new_picking(garden: pn.Garden, tmp_path: Path) -> None:
    rows = "B1,2023-08-01,180,9\nB1,2023-08-01,90,\n"
    old = garden.table("harvest", labels=["B2"])["record_id"][0]
    garden.correct(old, pn.Picked("B2", "2023-08-03", 5), reason="wrong day", today=TODAY)
    assert read(garden, written(tmp_path, "picked.csv", HEAD + rows + "B2,2023-08-03,5,\n"), book="k",
                today=TODAY).already_known == 3  # fmt: skip
    text = HEAD + rows + "B2,2023-08-01,11,\nB2,2023-08-03,5,\n"
    read(garden, written(tmp_path, "picked.csv", text), book="k", correct="completed", today=TODAY)
    assert [row[1:3] for row in pickings(garden) if row[0] == "B2"] == [(DAY, 11.0), (date(2023, 8, 3), 5.0)]


def test_what_is_filled_in_later_is_the_same_flower(garden: pn.Garden, tmp_path: Path) -> None:
    head, row = "event,label,truss,position,opened_on,set_on\n", "flower_fate,B1,1,1,2023-06-20,"
    read(garden, written(tmp_path, "flowers.csv", head + row + "\n"), book="k", today=TODAY)
    later = written(tmp_path, "flowers.csv", head + row + "2023-06-24\n")
    with pytest.raises(RefusedError, match="set_on: 2023-06-24 is written here, nothing is stored"):
        read(garden, later, book="k", today=TODAY)
    assert read(garden, later, book="k", correct="it set", today=TODAY).corrected == 1
    assert garden.sql("select count(*) as n from flowering")["n"][0] == 1


@pytest.mark.parametrize(("second", "wrong"), [("5", False), ("6", True)])
def test_a_bed_edited_in_two_rows(garden: pn.Garden, tmp_path: Path, second: str, wrong: bool) -> None:
    read(garden, written(tmp_path, "beds.csv", "name,site,area_m2\nc,home,3\n"), book="k", today=TODAY)
    twice = written(tmp_path, "beds.csv", f"name,site,area_m2\nc,home,5\nc,home,{second}\n")
    if wrong:
        with pytest.raises(RefusedError, match="is already stored with other content"):
            read(garden, twice, book="k", correct="measured", today=TODAY)
        assert garden.table("beds").set_index("bed")["area_m2"]["c"] == 3
    else:
        report = read(garden, twice, book="k", correct="measured", today=TODAY)
        assert (report.corrected, report.already_known) == (1, 1)


def test_an_id_that_a_row_brings_is_known_in_any_year(garden: pn.Garden, tmp_path: Path) -> None:
    head = "record_id,event,labels,on,grams\n"
    first = written(tmp_path, "own.csv", f"{head}{'ab' * 16},picked,B1,2023-09-01,50\n")
    assert read(garden, first, book="k", today=TODAY).stored == 1
    moved = written(tmp_path, "own.csv", f"{head}{'ab' * 16},picked,B1,2024-09-01,50\n")
    with pytest.raises(RefusedError, match="on: 2024-09-01 is written here, 2023-09-01 is stored"):
        read(garden, moved, book="k", today=TODAY)
    assert read(garden, moved, book="k", correct="a year out", today=TODAY).corrected == 1
    assert [str(row[1]) for row in pickings(garden) if row[2] == 50.0] == ["2024-09-01"]


def test_a_correction_by_the_book_says_why(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(pn.errors.IntakeError, match="correct is empty; say why"):
        read(garden, tmp_path / "picked.csv", book="k", correct=" ", on_error="set aside", today=TODAY)


def test_to_stop_stores_nothing_beside_an_edit(garden: pn.Garden, tmp_path: Path) -> None:
    text = HEAD + "B1,2023-08-01,181,9\nB1,2023-08-01,90,\nB2,2023-08-09,99,\n"
    with pytest.raises(RefusedError, match="nothing was stored: 1 record is wrong"):
        read(garden, written(tmp_path, "picked.csv", text), book="k", today=TODAY)
    assert len(pickings(garden)) == 3


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
