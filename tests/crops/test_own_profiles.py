"""A grower's own profiles, laid over the shipped ones; what is wrong in them is told by file and field."""

from __future__ import annotations

from pathlib import Path

import pytest

from perennia import crops
from perennia.errors import ArgumentError, IntakeError

OWN = """
crop = "Rheum × hybridum"
usual_picking_gap_days = { value = 14, source = "my own book" }
[[cautions]]
text = "The row by the road is not for eating."
source = "my own book"
"""
NEW = """
crop = "Crambe cordifolia"
common_names = ["greater sea kale"]
harvest_unit = "g"
harvest_noun = "shoots"
"""


def write(folder: Path, **texts: str) -> Path:
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def test_own_figures_take_the_place_of_shipped_ones_and_no_caution_is_lost(tmp_path: Path) -> None:
    own = crops.read_profiles(write(tmp_path, rhubarb=OWN, kale=NEW))
    shipped = crops.profiles()
    rhubarb, before = own["Rheum x hybridum"], shipped["Rheum x hybridum"]
    assert rhubarb.usual_picking_gap_days == crops.Figure(14, "my own book")
    assert rhubarb.grams_per_plant_season_max == before.grams_per_plant_season_max
    assert rhubarb.cautions[1:] == before.cautions
    assert own["Crambe cordifolia"].usual_picking_gap_days is None
    assert crops.profile("Crambe cordifolia", own) is own["Crambe cordifolia"]
    assert {crop for crop in own if own[crop] != shipped.get(crop)} == {"Rheum x hybridum", "Crambe cordifolia"}
    assert crops.profiles() == shipped, "nothing is kept"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("crop = Oca", "own.toml is not TOML"),
        ("harvest_unit = 'g'", "own.toml, crop: a profile needs its botanical name"),
        (NEW + "first_crop_season = 2", "own.toml, first_crop_season: is of the wrong kind; write { value = 3, source"),
        (NEW + "first_crop_season = { value = 2 }", "own.toml, first_crop_season.source: is missing; write text"),
        (NEW + "first_crop_season = { value = 2, source = ' ' }", "must state its source"),
        (NEW + "first_crop_season = { value = '2', source = 'my own book' }", "'2' is not a number"),
        (NEW + "first_crop_season = { value = 0, source = 'my own book' }", "first_crop_season must be 1 or more"),
        (NEW + "isolation_m = { value = -3, source = 'my own book' }", "isolation_m must be 0 or more"),
        (NEW + "isolaton_m = { value = 3, source = 'my own book' }", "no field isolaton_m; did you mean isolation_m?"),
        (NEW + "latest_regrowth = { value = '02-30', source = 'my own book' }", "must be a month and day such as"),
        (NEW + "storage_min_c = { value = 9, source = 'x' }\nstorage_max_c = { value = 3, source = 'x' }",
         "storage_min_c (9) is above storage_max_c (3)"),
        (NEW.replace('"g"', '"kg"'), "own.toml, harvest_unit: is of the wrong kind; write \"g\" or \"count\""),
    ],
)  # fmt: skip
def test_a_wrong_profile_is_told(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(IntakeError) as caught:
        crops.read_profiles(write(tmp_path, own=text))
    assert says in str(caught.value)
    assert "own.toml" in str(caught.value)


def test_a_folder_without_profiles_is_told(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match=r"holds no \.toml file"):
        crops.read_profiles(tmp_path)
    with pytest.raises(IntakeError, match="is not a folder"):
        crops.read_profiles(tmp_path / "none")
    with pytest.raises(IntakeError, match=r"has a profile in a\.toml already"):
        crops.read_profiles(write(tmp_path, a=NEW, b=NEW))
    with pytest.raises(ArgumentError, match="is given as a path"):
        crops.read_profiles(5)  # type: ignore[arg-type]
