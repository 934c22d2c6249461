"""Crop profiles: every file is read, every figure has a source, and the table says what the profiles say."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import attrs
import cattrs
import pytest

from perennia import crops
from perennia.crops import files
from perennia.records.catalogue import RECORDS, rules_of

PROFILES = crops.profiles()
MONTH_DAYS = rules_of(RECORDS["site"])["season_starts"].choices
UNSOURCED = {"common practice, no source", "from memory, not verified"}
# gathered in one go, or nearly: no usual gap between pickings
GATHERED_ONCE = {
    "Crambe maritima", "Dahlia x hybrida", "Helianthus tuberosus", "Ipomoea batatas", "Oxalis tuberosa",
    "Smallanthus sonchifolius",
}  # fmt: skip
PEPPERS = {
    "Capsicum annuum", "Capsicum baccatum", "Capsicum chinense", "Capsicum frutescens", "Capsicum pubescens"
}  # fmt: skip
KEPT_IN_THE_GROUND = {
    "Asparagus officinalis", "Brassica oleracea", "Crambe maritima", "Cynara cardunculus var. scolymus",
    "Fragaria x ananassa", "Rheum x hybridum",
}  # fmt: skip
KEPT_BY_CLONES = {
    "Dahlia x hybrida", "Helianthus tuberosus", "Ipomoea batatas", "Oxalis tuberosa", "Rheum x hybridum",
    "Smallanthus sonchifolius",
}  # fmt: skip
WATERED_AS_A_GROUP = {"Crambe maritima", "Rheum x hybridum"}
# what may be missing, and why it is
ABSENT = {
    "usual_picking_gap_days": GATHERED_ONCE,
    # no crop so far needs another start than its site's
    "season_starts": set(PROFILES),
    # only peppers are sown before the year in which they are to crop
    "sow_ahead_days": set(PROFILES) - PEPPERS,
    "storage_min_c": KEPT_IN_THE_GROUND,
    # no upper end was found for a tomato in its pot
    "storage_max_c": KEPT_IN_THE_GROUND | {"Solanum lycopersicum"},
    # a group of perennial vegetables in FAO-56 has the single coefficient alone
    "basal_crop_coefficient": WATERED_AS_A_GROUP,
    "root_depth_min_m": WATERED_AS_A_GROUP,
    "root_depth_max_m": WATERED_AS_A_GROUP,
    "depletion_fraction": WATERED_AS_A_GROUP,
    # its table of stages has none of these
    "stage_days": KEPT_BY_CLONES - {"Ipomoea batatas"} | {
        "Brassica oleracea", "Crambe maritima", "Fragaria x ananassa"
    },
    # evergreen, or seldom brought through a winter as a whole plant
    "latest_regrowth": {"Brassica oleracea", "Ipomoea batatas", "Solanum lycopersicum", "Solanum melongena"},
    "seed_viability_years": KEPT_BY_CLONES,
    # clones, one that crosses with no other, and four of which no distance was found
    "isolation_m": KEPT_BY_CLONES | {
        "Capsicum pubescens", "Asparagus officinalis", "Crambe maritima", "Cynara cardunculus var. scolymus",
        "Fragaria x ananassa",
    },
}  # fmt: skip
KEYS = (
    "common_names", "harvest_unit", "usual_picking_gap_days", "first_crop_season", "season_starts", "sow_ahead_days",
    "base_temperature_c", "storage_min_c", "storage_max_c", "grams_per_plant_day_max", "grams_per_plant_season_max",
    "grams_per_plant_season_usual_min", "grams_per_plant_season_usual_max", "mean_unit_weight_min_g",
    "mean_unit_weight_max_g", "crop_coefficient", "basal_crop_coefficient", "root_depth_min_m", "root_depth_max_m",
    "depletion_fraction", "stage_days", "latest_regrowth", "seed_viability_years", "isolation_m", "cautions",
)  # fmt: skip
TOML_FILES = sorted(Path(str(resources.files("perennia.crops"))).glob("*.toml"))


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


@pytest.mark.parametrize("key", KEYS)
def test_a_key_is_there_or_its_absence_is_known(key: str) -> None:
    assert {crop for crop, entry in PROFILES.items() if not getattr(entry, key)} == ABSENT.get(key, set())


@pytest.mark.parametrize("crop", PROFILES)
def test_a_profile_is_whole(crop: str) -> None:
    entry = PROFILES[crop]
    assert entry.crop == crop
    assert entry.usual_picking_gap_days is None or 1 <= entry.usual_picking_gap_days.value <= 21
    assert entry.season_starts is None or entry.season_starts.value in MONTH_DAYS
    assert entry.latest_regrowth is None or entry.latest_regrowth.value in MONTH_DAYS
    assert {name for name, _ in crops.figures_of(entry)} >= {"crop_coefficient.mid", "base_temperature_c"}


def _with_values(table: Any) -> Iterator[dict[str, Any]]:
    """Every table within a table that holds a figure, a day or a caution."""
    for inner in table.values() if isinstance(table, dict) else table:
        if isinstance(inner, dict) and ("value" in inner or "text" in inner):
            yield inner
        elif isinstance(inner, dict | list):
            yield from _with_values(inner)


@pytest.mark.parametrize("path", TOML_FILES, ids=lambda path: path.stem)
def test_no_figure_is_without_its_source(path: Path) -> None:
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    sourced = list(_with_values(table))
    for entry in sourced:
        source = entry["source"]
        assert source in UNSOURCED or len(source.split()) >= 3, f"name the source of {entry} in full"
    bare = {name for name, value in table.items() if not isinstance(value, dict | list)}
    assert bare <= {"crop", "harvest_unit", "harvest_noun"}
    taken = sourced[0].pop("source")
    assert taken
    with pytest.raises(cattrs.BaseValidationError):
        files._CONVERTER.structure(table, crops.CropProfile)


def test_a_figure_of_water_names_the_edition() -> None:
    """The tables were changed by a later edition, so the year belongs to the figure."""
    found = 0
    for entry in PROFILES.values():
        for name, figure in crops.figures_of(entry):
            if name.partition("_")[0] in {"crop", "basal", "stage", "root", "depletion"}:
                assert "Drainage Paper 56" in figure.source, (entry.crop, name)
                assert "1998" in figure.source
                found += 1
    assert found > 150


@pytest.mark.parametrize(
    ("crop", "single", "basal", "depth_m", "fraction", "days"),
    [
        ("Phaseolus coccineus", (0.50, 1.05, 0.90), (0.15, 1.00, 0.80), (0.5, 0.7), 0.45, (20, 30, 30, 10)),
        ("Capsicum annuum", (0.60, 1.05, 0.90), (0.15, 1.00, 0.80), (0.5, 1.0), 0.30, (30, 35, 40, 20)),
        ("Solanum melongena", (0.60, 1.05, 0.90), (0.15, 1.00, 0.80), (0.7, 1.2), 0.45, (30, 45, 40, 25)),
        ("Cynara cardunculus var. scolymus", (0.5, 1.0, 0.95), (0.15, 0.95, 0.9), (0.6, 0.9), 0.45, (20, 25, 250, 30)),
        ("Asparagus officinalis", (0.50, 0.95, 0.30), (0.15, 0.90, 0.20), (1.2, 1.8), 0.45, (90, 30, 200, 45)),
        ("Fragaria x ananassa", (0.40, 0.85, 0.75), (0.30, 0.80, 0.70), (0.2, 0.3), 0.20, None),
        ("Ipomoea batatas", (0.50, 1.15, 0.65), (0.15, 1.10, 0.55), (1.0, 1.5), 0.65, (20, 30, 60, 40)),
        ("Solanum lycopersicum", (0.60, 1.15, 0.80), (0.15, 1.10, 0.70), (0.7, 1.5), 0.40, (30, 40, 45, 30)),
    ],
)
def test_water_figures_are_those_of_the_published_tables(
    crop: str,
    single: tuple[float, ...],
    basal: tuple[float, ...],
    depth_m: tuple[float, float],
    fraction: float,
    days: tuple[int, ...] | None,
) -> None:
    """FAO Irrigation and Drainage Paper 56 (1998), Tables 11, 12, 17 and 22, read in open copies."""
    figures = {name: figure.value for name, figure in crops.figures_of(PROFILES[crop])}

    def of(field: str) -> tuple[float, ...] | None:
        return tuple(value for name, value in figures.items() if name.startswith(f"{field}.")) or None

    assert of("crop_coefficient") == single
    assert of("basal_crop_coefficient") == basal
    assert of("stage_days") == days
    assert (figures["root_depth_min_m"], figures["root_depth_max_m"]) == depth_m
    assert figures["depletion_fraction"] == fraction


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
        ("Capsicum chinense", "gloves"),
        ("Capsicum frutescens", "gloves"),
        ("Capsicum baccatum", "gloves"),
        ("Phaseolus coccineus", "microwave"),
        ("Phaseolus coccineus", "canes"),
        ("Solanum lycopersicum", "canes"),
        ("Solanum lycopersicum", "leaves"),
        ("Solanum melongena", "leaves"),
        ("Oxalis tuberosa", "oxalates"),
        ("Helianthus tuberosus", "inulin"),
        ("Smallanthus sonchifolius", "inulin"),
        ("Dahlia x hybrida", "pesticides"),
        ("Fragaria x ananassa", "allergic"),
        ("Brassica oleracea", "warfarin"),
    ],
)
def test_known_hazards_are_cautioned(crop: str, word: str) -> None:
    assert any(word in caution.text for caution in PROFILES[crop].cautions)


def test_the_table_holds_the_profiles_row_by_row() -> None:
    table = crops.as_table(PROFILES)
    assert table.column_names == [
        "crop", "harvest_unit", "usual_picking_gap_days", "sow_ahead_days", "season_starts", "latest_regrowth",
        "grams_per_plant_day_max", "base_temperature_c",
    ]  # fmt: skip
    assert table["crop"].to_pylist() == list(PROFILES)
    rows = {row["crop"]: row for row in table.to_pylist()}
    assert rows["Phaseolus coccineus"] == {
        "crop": "Phaseolus coccineus",
        "harvest_unit": "g",
        "usual_picking_gap_days": 3,
        "sow_ahead_days": 0,
        "season_starts": None,
        "latest_regrowth": "05-31",
        "grams_per_plant_day_max": 1500.0,
        "base_temperature_c": 8.0,
    }
    assert rows["Capsicum pubescens"]["sow_ahead_days"] == 45
    assert rows["Cynara cardunculus var. scolymus"]["harvest_unit"] == "count"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"harvest_unit": "kg"}, "harvest_unit"),
        ({"crop": " "}, "must state its crop"),
        ({"harvest_noun": ""}, "must state its harvest_noun"),
        ({"common_names": ()}, "common_names must hold at least one name"),
        ({"usual_picking_gap_days": crops.Figure(2.5, "common practice, no source")}, "must be whole days"),
        ({"sow_ahead_days": crops.Figure(367, "common practice, no source")}, "must be whole days, at most 366"),
        ({"isolation_m": crops.Figure(-3, "common practice, no source")}, "isolation_m must be 0 or more"),
        ({"first_crop_season": crops.Figure(0, "common practice, no source")}, "first_crop_season must be 1 or more"),
        ({"depletion_fraction": crops.Figure(45, "common practice, no source")}, "a part of 1"),
        ({"ceiling_temperature_c": crops.Figure(4, "common practice, no source")}, r"base_temperature_c \(5\) is a"),
        ({"grams_per_plant_day_max": crops.Figure(99_999, "common practice, no source")}, "season_max"),
    ],
)
def test_a_profile_refuses_what_it_cannot_use(change: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        attrs.evolve(PROFILES["Rheum x hybridum"], **change)


def test_only_a_temperature_may_be_below_nothing() -> None:
    frozen = crops.Figure(-2, "common practice, no source")
    assert attrs.evolve(PROFILES["Rheum x hybridum"], storage_min_c=frozen).storage_min_c == frozen


def test_a_figure_needs_a_source_and_a_caution_too() -> None:
    with pytest.raises(ValueError, match="must state its source"):
        crops.Figure(3, "")
    with pytest.raises(ValueError, match="must be a finite number"):
        crops.Figure(float("nan"), "common practice, no source")
    with pytest.raises(ValueError, match="must state its source"):
        crops.Caution("Never eat the leaf.", " ")
    with pytest.raises(ValueError, match="must state its source"):
        crops.MonthDay("06-15", " ")
    for wrong in ("15 June", "02-30", "02-29", "W14-1", "6-15", "０６-15"):
        with pytest.raises(ValueError, match="must be a month and day"):
            crops.MonthDay(wrong, "common practice, no source")
