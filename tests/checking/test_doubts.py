"""What is accepted and still looked at: gaps that must have happened, and pickings beyond what a crop gives."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from perennia.records import (
    AlreadyHere,
    DiedBack,
    Lifted,
    Picked,
    Record,
    Regrew,
    Replanted,
    Sown,
    StoreChecked,
    Stored,
)
from tests.checking.batches import BEAN, checked, stored

SOWN = Sown("A1", "2023-05-10", crop=BEAN)
STORED = (Lifted("A1", "2023-11-04"), Stored("A1", "2023-11-10", "bare root"))
REGREW = Regrew("A1", "2024-05-02")


def gaps(*records: Record, **context: object) -> list[tuple[str, date | None, date]]:
    """Event and span of each gap a batch leaves."""
    doubts = checked(*records, **context).doubts  # type: ignore[arg-type]
    assert all(doubt.kind == "gap" for doubt in doubts)
    return [(doubt.event, doubt.on_from, doubt.on_to) for doubt in doubts]


def test_a_gap_is_told_with_the_days_in_which_it_must_lie() -> None:
    (doubt,) = checked(SOWN, *STORED, REGREW).doubts
    assert (doubt.label, doubt.kind, doubt.event) == ("A1", "gap", "replanted")
    assert (doubt.on_from, doubt.on_to) == (date(2023, 11, 10), date(2024, 5, 2))
    assert doubt.text == (
        "A1: replanted is not recorded but must have happened between 2023-11-10 and 2024-05-02; "
        "record it with its bed if you know when and where"
    )
    assert len(bytes.fromhex(doubt.record_id)) == 16


def test_no_gap_where_everything_is_recorded() -> None:
    assert gaps(SOWN, *STORED, Replanted("A1", "2024-04-20"), REGREW) == []
    assert gaps(SOWN, Picked("A1", "2023-08-01", 5)) == []


def test_several_things_missed_at_once_are_told_each() -> None:
    found = gaps(SOWN, StoreChecked("A1", "2024-01-10", "sound"), today=date(2025, 6, 1))
    assert [event for event, *_ in found] == ["lifted", "stored"]


def test_a_picking_off_a_plant_at_rest_leaves_the_regrowth_in_doubt() -> None:
    here = AlreadyHere("R1", "2023-03-01", "Rheum x hybridum")
    life = (here, DiedBack("R1", "2023-11-01"))
    assert gaps(*life, Picked("R1", "2024-05-01", 500)) == [("regrew", date(2023, 11, 1), date(2024, 5, 1))]
    assert gaps(*life, Picked("R1", "2024-05-01", 0)) == []
    assert gaps(*life, Picked("R1", "2024-05-01", 500), Regrew("R1", "2024-03")) == []


def test_only_gaps_that_the_batch_opens_or_touches_are_told(tmp_path: Path) -> None:
    files = stored(tmp_path, SOWN, *STORED, REGREW)
    assert checked(Picked("A1", "2024-07-01", 5), files=files).doubts == ()
    # a late entry between them moves the days of the gap, which is then told anew
    assert gaps(StoreChecked("A1", "2024-02-01", "sound"), files=files) == [
        ("replanted", date(2024, 2, 1), date(2024, 5, 2))
    ]


def test_a_late_entry_closes_a_gap(tmp_path: Path) -> None:
    files = stored(tmp_path, SOWN, *STORED, REGREW)
    assert gaps(Replanted("A1", "2024-04"), files=files) == []


def test_a_gap_after_an_open_start_is_told_by_its_last_day() -> None:
    (doubt,) = checked(AlreadyHere("R1", "../2018", "Oca"), Stored("R1", "2018-11-01", "bare root")).doubts
    assert doubt.text.startswith("R1: lifted is not recorded but must have happened by 2018-11-01;")


@pytest.mark.parametrize(("grams", "plants", "heavy"), [(9000, 1, True), (300, 1, False), (9000, 40, False)])
def test_a_picking_beyond_the_crop_is_told(grams: float, plants: int, heavy: bool) -> None:
    sown = Sown("A1", "2023-05-10", crop=BEAN, plants=plants)
    doubts = checked(sown, Picked("A1", "2023-08-01", grams)).doubts
    assert [doubt.kind for doubt in doubts] == (["heavy"] if heavy else [])
    if heavy:
        assert doubts[0].text.startswith("A1: 9000 g picked on 2023-08-01 is more than the ")
        assert doubts[0].text.endswith("g a day that its crop's profile holds likely; check the unit and the label")


@pytest.mark.parametrize(
    ("crop", "picked", "light"),
    [
        (BEAN, {"grams": 0.42}, True), (BEAN, {"grams": 1.5}, True), (BEAN, {"grams": 1.6}, False),
        (BEAN, {"grams": 1.5, "count": 3}, False), (BEAN, {"grams": 1.4, "count": 3}, True),
        (BEAN, {"grams": 0}, False), ("Oca", {"grams": 1.0}, True), ("Oca", {"grams": 1.1}, False),
    ],
)  # fmt: skip
def test_a_weight_that_looks_like_kilograms_is_told(crop: str, picked: dict[str, float], light: bool) -> None:
    doubts = checked(Sown("A1", "2023-05-10", crop=crop, plants=9), Picked("A1", "2023-08-01", **picked)).doubts
    assert [doubt.kind for doubt in doubts] == (["light"] if light else [])
    if light:
        assert doubts[0].text.endswith("g picked on 2023-08-01 would be likely in kilograms; weights are in grams")


def test_the_weight_of_a_shared_picking_is_judged_by_the_share() -> None:
    sown = [Sown(f"A{number}", "2023-05-10", crop=BEAN) for number in range(10)]
    together = Picked([f"A{number}" for number in range(10)], "2023-08-01", 4000)
    assert checked(*sown, together).doubts == ()
    assert {doubt.kind for doubt in checked(*sown, Picked("A1", "2023-08-01", 4000)).doubts} == {"heavy"}


def test_a_crop_without_a_profile_has_no_heavy_picking() -> None:
    assert checked(Sown("A1", "2023-05-10", crop="Oca"), Picked("A1", "2023-08-01", 90_000)).doubts == ()


