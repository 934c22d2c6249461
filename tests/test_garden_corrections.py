"""Corrections of beds, and tables that nobody's to_tables made, through the garden's door."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

import perennia as pn
from perennia.errors import RefusedError
from perennia.intake import read
from perennia.store.schemas import to_tables
from tests.copies import copied

TODAY = date(2025, 6, 1)
PLACES = (pn.Site("home"), pn.Bed("b", "home", area_m2=4))


def empty(folder: Path) -> pn.Garden:
    """A garden in which nothing is recorded."""
    return pn.Garden.open(copied(pn.Garden.create, folder / "plot"))


def test_a_corrected_bed_is_the_bed_from_then_on(tmp_path: Path) -> None:
    sown, picked = pn.Sown("A1", "2023-05-10", crop="Oca", bed="b"), pn.Picked("A1", "2023-08-01", 90)
    with empty(tmp_path) as garden:
        bed_id = garden.record(*PLACES, sown, picked, today=TODAY).record_ids[1]
        (new_id,) = garden.correct(bed_id, pn.Bed("b", "home", area_m2=9), reason="measured", today=TODAY).record_ids
        assert new_id != bed_id
        assert garden.sql("select g_per_m2 from season_summary")["g_per_m2"].tolist() == [10.0]
        garden.record(pn.Moved("A1", "2023-09-01", "b"), today=TODAY)
        garden.correct(new_id, pn.Bed("b", "home", area_m2=3), reason="measured again", today=TODAY)
        assert garden.sql("select g_per_m2 from season_summary")["g_per_m2"].tolist() == [30.0]
        with pytest.raises(RefusedError, match="1 record names the site 'home'"):
            garden.correct(garden_id(garden), reason="gone", today=TODAY)


def garden_id(garden: pn.Garden) -> str:
    """The id of the site, by which it can be corrected."""
    return garden.record(PLACES[0], today=TODAY).record_ids[0]


def test_a_bed_that_was_taken_back_can_be_recorded_again(tmp_path: Path) -> None:
    with empty(tmp_path) as garden:
        bed_id = garden.record(*PLACES, today=TODAY).record_ids[1]
        garden.correct(bed_id, reason="never dug", today=TODAY)
        again = garden.record(PLACES[1], PLACES[1], today=TODAY)
        assert (again.stored, again.already_known, again.record_ids[0] != bed_id) == (1, 1, True)
        garden.correct(again.record_ids[0], reason="never dug", today=TODAY)
        other = garden.record(pn.Bed("b", "home", area_m2=2), today=TODAY)
        assert other.stored == 1
        garden.record(pn.Sown("A1", "2023-05-10", crop="Oca", bed="b"), pn.Picked("A1", "2023-08-01", 90), today=TODAY)
        assert garden.sql("select g_per_m2 from season_summary")["g_per_m2"].tolist() == [45.0]
        assert garden.record(PLACES[1], today=TODAY).already_known == 1
        with pytest.raises(RefusedError, match="bed b: is already stored with other content"):
            garden.record(pn.Bed("b", "home", area_m2=7), today=TODAY)


def test_a_bed_recorded_again_is_held_against_its_correction(tmp_path: Path) -> None:
    measured = pn.Bed("b", "home", area_m2=9)
    with empty(tmp_path) as garden:
        bed_id = garden.record(*PLACES, today=TODAY).record_ids[1]
        (new_id,) = garden.correct(bed_id, measured, reason="measured", today=TODAY).record_ids
        as_before = garden.record(*PLACES, today=TODAY)
        assert (as_before.stored, as_before.already_known) == (0, 2)
        as_corrected = garden.record(measured, today=TODAY)
        assert (as_corrected.stored, as_corrected.record_ids) == (0, (new_id,))
        with pytest.raises(RefusedError, match="bed b: is already stored with other content"):
            garden.record(pn.Bed("b", "home", area_m2=5), today=TODAY)


def test_a_place_renamed_in_the_garden_and_in_the_book_is_one(tmp_path: Path) -> None:
    with empty(tmp_path) as garden:
        bed_id = garden.record(*PLACES, today=TODAY).record_ids[1]
        garden.correct(bed_id, pn.Bed("c", "home", area_m2=4), reason="its name is c", today=TODAY)
        assert garden.record(pn.Bed("c", "home", area_m2=4), today=TODAY).already_known == 1
        assert garden.record(*PLACES, today=TODAY).already_known == 2
        with pytest.raises(RefusedError, match="is already stored with other content"):
            garden.record(pn.Bed("c", "home", area_m2=5), today=TODAY)
        assert garden.table("beds")["bed"].tolist() == ["c"]


def test_a_correction_cannot_take_the_name_of_another_bed(tmp_path: Path) -> None:
    with empty(tmp_path) as garden:
        ids = garden.record(*PLACES, pn.Site("away"), pn.Bed("c", "home"), today=TODAY).record_ids
        with pytest.raises(RefusedError, match=r"another bed is called 'b'; choose another name.*\[B8\]"):
            garden.correct(ids[3], pn.Bed("b", "home"), reason="misread", today=TODAY)
        with pytest.raises(RefusedError, match="another site is called 'home'"):
            garden.correct(ids[2], pn.Site("home"), reason="misread", today=TODAY)
        garden.correct(ids[3], pn.Bed("d", "home"), reason="misread", today=TODAY)
        assert garden.table("beds")["bed"].tolist() == ["b", "d"]


def test_the_ids_of_places_are_in_their_views(tmp_path: Path) -> None:
    with empty(tmp_path) as garden:
        site_id, bed_id = garden.record(*PLACES, today=TODAY).record_ids
        assert garden.table("sites")["record_id"].tolist() == [site_id]
        garden.correct(garden.table("beds")["record_id"][0], pn.Bed("b", "home", area_m2=6), reason="measured")
        (bed,) = garden.table("beds", as_="arrow").to_pylist()
        assert (bed["area_m2"], bed["record_id"] != bed_id) == (6.0, True)


def test_taking_a_book_in_again_never_brings_back_a_bed_that_was_taken_back(tmp_path: Path) -> None:
    book = tmp_path / "places.csv"
    book.write_text("event,name,site,area_m2\nsite,home,,\nbed,b,home,4\n", encoding="utf-8")
    with empty(tmp_path) as garden:
        assert read(garden, book, book="places").stored == 2
        bed_id = garden.record(*PLACES, today=TODAY).record_ids[1]
        garden.correct(bed_id, reason="never dug", today=TODAY)
        assert (read(garden, book, book="places").stored, len(garden.table("plants"))) == (0, 0)
        with pytest.raises(RefusedError, match="no bed called 'b'"):
            garden.record(pn.Sown("A1", "2023-05-10", crop="Oca", bed="b"), today=TODAY)


@pytest.mark.parametrize(
    "spoiled",
    [
        lambda life: life.drop_columns(["record_id"]),
        lambda life: life.drop_columns(["batch_position"]),
        lambda life: life.to_pandas(),
        lambda life: life.drop_columns(["on_to"]).append_column("on_to", pa.array(["2023-05-10"])),
    ],
)
def test_a_misshapen_table_is_refused_in_words(tmp_path: Path, spoiled: Callable[[pa.Table], Any]) -> None:
    life = to_tables([pn.Sown("A1", "2023-05-10", crop="Oca")])["life"]
    with (
        empty(tmp_path) as garden,
        pytest.raises(RefusedError, match=r"nothing was stored.*\n.*table life.*\[B6\]"),
    ):
        garden.record_tables({"life": spoiled(life)}, today=TODAY)
