"""Crop profiles: every file is read, every figure has a source, and the table says what the profiles say."""

from __future__ import annotations

import attrs
import pytest

from perennia import crops
from perennia.records.catalogue import RECORDS, rules_of

PROFILES = crops.profiles()
MONTH_DAYS = rules_of(RECORDS["site"])["season_starts"].choices
UNSOURCED = {"common practice, no source", "from memory, not verified"}


LIFTED_OR_CUT_ONCE = {
    "Crambe maritima", "Dahlia x hybrida", "Helianthus tuberosus", "Ipomoea batatas", "Oxalis tuberosa",
    "Smallanthus sonchifolius",
}  # fmt: skip


def test_the_crops_with_a_profile() -> None:
    assert list(PROFILES) == [
        "Asparagus officinalis", "Brassica oleracea", "Capsicum annuum", "Capsicum baccatum", "Capsicum chinense",
        "Capsicum frutescens", "Capsicum pubescens", "Crambe maritima", "Cynara cardunculus var. scolymus",
        "Dahlia x hybrida", "Fragaria x ananassa", "Helianthus tuberosus", "Ipomoea batatas", "Oxalis tuberosa",
        "Phaseolus coccineus", "Rheum x hybridum", "Smallanthus sonchifolius", "Solanum lycopersicum",
        "Solanum melongena",
    ]  # fmt: skip


def test_a_crop_without_a_profile_has_none() -> None:
    assert crops.profile("Crambe cordifolia") is None
    assert crops.profile("Rheum × hybridum") is crops.profile("Rheum x hybridum") is not None
    assert crops.profile("runner bean") is None, "common names are ambiguous and never looked up"


def test_the_caller_cannot_change_the_profiles() -> None:
    crops.profiles().clear()
    assert crops.profile("Rheum x hybridum") is PROFILES["Rheum x hybridum"]
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        PROFILES["Rheum x hybridum"].harvest_unit = "count"  # type: ignore[misc]


@pytest.mark.parametrize("crop", PROFILES)
def test_a_profile_is_whole(crop: str) -> None:
    entry = PROFILES[crop]
    assert entry.crop == crop
    assert entry.common_names
    assert (entry.usual_picking_gap_days is None) == (crop in LIFTED_OR_CUT_ONCE)
    assert entry.usual_picking_gap_days is None or 1 <= entry.usual_picking_gap_days.value <= 31
    assert entry.grams_per_plant_day_max is not None
    assert entry.grams_per_plant_season_max is not None
    assert entry.first_crop_season is not None
    assert entry.cautions
    assert entry.season_starts is None or entry.season_starts in MONTH_DAYS
    for name, figure in crops.figures_of(entry):
        assert figure.source in UNSOURCED or len(figure.source.split()) >= 3, f"{name}: name the source in full"


def test_only_the_crop_sold_by_the_head_is_counted() -> None:
    assert {crop for crop, entry in PROFILES.items() if entry.harvest_unit == "count"} == {
        "Cynara cardunculus var. scolymus"
    }


@pytest.mark.parametrize(
    ("crop", "word"),
    [
        ("Phaseolus coccineus", "raw"),
        ("Phaseolus coccineus", "slow cooker"),
        ("Phaseolus coccineus", "root"),
        ("Rheum x hybridum", "leaf"),
        ("Rheum x hybridum", "freeze"),
        ("Capsicum annuum", "gloves"),
        ("Capsicum pubescens", "gloves"),
        ("Capsicum annuum", "leaves"),
        ("Asparagus officinalis", "berries"),
    ],
)
def test_known_hazards_are_cautioned(crop: str, word: str) -> None:
    assert any(word in caution.text for caution in PROFILES[crop].cautions)


def test_the_table_holds_the_profiles_row_by_row() -> None:
    table = crops.as_table()
    assert table.column_names == [
        "crop", "harvest_unit", "usual_picking_gap_days", "sow_ahead_days", "season_starts", "grams_per_plant_day_max"
    ]  # fmt: skip
    names = table["crop"].to_pylist()
    assert [name for name in names if "×" not in name] == list(PROFILES)
    assert "Rheum × hybridum" in names
    rows = {row["crop"]: row for row in table.to_pylist()}
    assert rows["Phaseolus coccineus"] == {
        "crop": "Phaseolus coccineus",
        "harvest_unit": "g",
        "usual_picking_gap_days": 3,
        "sow_ahead_days": 0,
        "season_starts": None,
        "grams_per_plant_day_max": 1500.0,
    }
    assert rows["Capsicum pubescens"]["sow_ahead_days"] == 45
    assert rows["Cynara cardunculus var. scolymus"]["harvest_unit"] == "count"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"harvest_unit": "kg"}, "harvest_unit"),
        ({"crop": " "}, "must state its crop"),
        ({"harvest_noun": ""}, "must state its harvest_noun"),
    ],
)
def test_a_profile_refuses_what_it_cannot_use(change: dict[str, str], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        attrs.evolve(PROFILES["Rheum x hybridum"], **change)


def test_a_figure_needs_a_source_and_is_not_negative() -> None:
    with pytest.raises(ValueError, match="must state its source"):
        crops.Figure(3, "")
    with pytest.raises(ValueError, match="isolation_m must be 0 or more, not -3"):
        attrs.evolve(PROFILES["Rheum x hybridum"], isolation_m=crops.Figure(-3, "common practice, no source"))
    with pytest.raises(ValueError, match="must state its source"):
        crops.Caution("Never eat the leaf.", " ")
