"""What is accepted and still looked at: gaps that must have happened, pickings beyond a crop, crops near a profile."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import attrs
import pytest

from perennia.crops import profiles
from perennia.records import (
    Acquired,
    AlreadyHere,
    DiedBack,
    Divided,
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

NO_PROFILE = "Ullucus tuberosus"
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
    (doubt,) = checked(AlreadyHere("R1", "../2018", NO_PROFILE), Stored("R1", "2018-11-01", "bare root")).doubts
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
        (BEAN, {"grams": 0}, False), (NO_PROFILE, {"grams": 1.0}, True), (NO_PROFILE, {"grams": 1.1}, False),
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
    assert checked(Sown("A1", "2023-05-10", crop=NO_PROFILE), Picked("A1", "2023-08-01", 90_000)).doubts == ()


@pytest.mark.parametrize(
    ("crop", "near"),
    [
        ("Phaseolus coccinius", "Phaseolus coccineus"), ("phaseolus coccineus", "Phaseolus coccineus"),
        ("Phaesolus coccineus", "Phaseolus coccineus"), ("runner bean", "Phaseolus coccineus"),
        ("Runner Beans", "Phaseolus coccineus"), ("Rheum hybridum", "Rheum x hybridum"),
        ("Rheum ×hybridum", "Rheum x hybridum"), ("Oca", "Oxalis tuberosa"), ("Eggplants", "Solanum melongena"),
    ],
)  # fmt: skip
def test_a_crop_named_much_like_one_with_a_profile_is_told(crop: str, near: str) -> None:
    (doubt,) = checked(Sown("B1", "2023-05-10", crop=crop)).doubts
    assert (doubt.kind, doubt.event, doubt.on_to) == ("crop", "sown", date(2023, 5, 10))
    assert doubt.text == f"B1: crop {crop!r} has no profile; near it: {near}; correct the record if it is meant"


@pytest.mark.parametrize(
    "crop",
    [
        NO_PROFILE, BEAN, "Rheum × hybridum", "Phaseolus vulgaris", "Capsicum chacoense", "Capsicum cardenasii",
        "Cynara cardunculus", "Brassica oleracea Acephala Group", "Lathyrus tuberosus", "bean", "potato",
    ],
)  # fmt: skip
def test_another_crop_is_not_taken_for_a_slip(crop: str) -> None:
    assert checked(Sown("B1", "2023-05-10", crop=crop)).doubts == ()


def test_no_crop_with_a_profile_is_taken_for_a_slip_of_another() -> None:
    """Where no crop stands under its own name, each is near its own profile alone."""
    renamed = {
        f"no. {place}": attrs.evolve(entry, crop=f"no. {place}", common_names=(crop, *entry.common_names))
        for place, (crop, entry) in enumerate(profiles().items())
    }
    sown = [Sown(f"B{place}", "2023-05-10", crop=crop) for place, crop in enumerate(profiles())]
    doubts = sorted(checked(*sown, profiles=renamed).doubts, key=lambda doubt: int(doubt.label[1:]))
    assert len(doubts) == len(sown)
    for place, doubt in enumerate(doubts):
        assert f"near it: no. {place};" in doubt.text


def test_every_beginning_tells_of_its_crop_and_the_later_ones_do_not(tmp_path: Path) -> None:
    begun = (
        Sown("A1", "2023-05-10", crop="Rheum hybridum"),
        AlreadyHere("A2", "2023-05-10", "Rheum hybridum"),
        Acquired("A3", "2023-05-10", crop="Rheum hybridum", kind="root"),
    )
    assert [(doubt.label, doubt.event) for doubt in checked(*begun).doubts] == [
        ("A1", "sown"), ("A2", "already_here"), ("A3", "acquired")
    ]  # fmt: skip
    files = stored(tmp_path, *begun)
    assert checked(Divided("A2", "2024-04-01", into=["A4", "A5"]), files=files).doubts == ()


def test_a_profile_of_ones_own_is_a_profile() -> None:
    oca = attrs.evolve(profiles()["Oxalis tuberosa"], crop="Oca")
    assert checked(Sown("B1", "2023-05-10", crop="Oca"), profiles={"Oca": oca}).doubts == ()
    squash = attrs.evolve(oca, crop="Cucurbita ficifolia", common_names=("fig-leaf gourd",))
    (doubt,) = checked(Sown("B1", "2023-05-10", crop="Fig leaf gourd"), profiles={squash.crop: squash}).doubts
    assert "near it: Cucurbita ficifolia;" in doubt.text


def test_every_profile_a_name_may_mean_is_told() -> None:
    oca = profiles()["Oxalis tuberosa"]
    pink, red = (attrs.evolve(oca, crop=crop, common_names=("oca",)) for crop in ("Oxalis a", "Oxalis b"))
    (doubt,) = checked(Sown("B1", "2023-05-10", crop="oca"), profiles={red.crop: red, pink.crop: pink}).doubts
    assert "near it: Oxalis a, Oxalis b;" in doubt.text
