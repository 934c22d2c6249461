"""A grower's own profiles: laid over the shipped ones field by field, and refused by file and field when wrong."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from perennia import crops
from perennia.errors import ArgumentError, IntakeError
from perennia.queries.connection import Rows, connect

RHUBARB = 'crop = "Rheum × hybridum"\n'
NEW = """
crop = "Crambe cordifolia"
common_names = ["greater sea kale"]
harvest_unit = "g"
harvest_noun = "shoots"
"""


def _kept(folder: Path, text: str, name: str = "mine.toml") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_a_field_takes_the_place_of_the_shipped_one_and_the_others_stay(tmp_path: Path) -> None:
    _kept(tmp_path, RHUBARB + 'usual_picking_gap_days = { value = 14, source = "my own book" }')
    shipped = crops.profile("Rheum x hybridum")
    own = crops.read_profiles(tmp_path)
    entry = crops.profile("Rheum × hybridum", own)
    assert shipped is not None
    assert entry is not None
    assert entry is own["Rheum x hybridum"]
    assert entry.usual_picking_gap_days == crops.Figure(14, "my own book")
    assert entry.first_crop_season == shipped.first_crop_season
    assert entry.crop_coefficient == shipped.crop_coefficient
    assert entry.cautions == shipped.cautions


def test_nothing_is_kept_beyond_what_was_asked(tmp_path: Path) -> None:
    before = crops.profiles()
    crops.read_profiles(_kept(tmp_path, RHUBARB + 'harvest_unit = "count"' + "\n"))
    assert crops.profiles() == before
    assert crops.profile("Crambe cordifolia") is None


def test_a_crop_of_ones_own_comes_beside_the_shipped_ones(tmp_path: Path) -> None:
    own = crops.read_profiles(_kept(tmp_path, "\ufeff" + NEW))
    assert set(own) - set(crops.profiles()) == {"Crambe cordifolia"}
    assert list(own) == sorted(own)
    assert own["Crambe cordifolia"].usual_picking_gap_days is None
    assert own["Crambe cordifolia"].cautions == ()


def test_no_file_takes_a_shipped_caution_away(tmp_path: Path) -> None:
    _kept(tmp_path, RHUBARB + '[[cautions]]\ntext = "Not from the row by the road."\nsource = "my own book"\n')
    _kept(tmp_path, 'crop = "Phaseolus coccineus"\ncautions = []\n', "beans.toml")
    own = crops.read_profiles(tmp_path)
    shipped = crops.profiles()
    assert own["Rheum x hybridum"].cautions == (
        crops.Caution("Not from the row by the road.", "my own book"),
        *shipped["Rheum x hybridum"].cautions,
    )
    assert own["Phaseolus coccineus"].cautions == shipped["Phaseolus coccineus"].cautions


@pytest.mark.parametrize(
    ("text", "field", "right"),
    [
        ("base_temperature_c = 8", "base_temperature_c", "write { value = 3, source ="),
        ('base_temperature_c = { value = "8", source = "my book" }', "base_temperature_c.value", "without quotes"),
        ('base_temperature_c = { value = true, source = "my book" }', "base_temperature_c.value", "write a number"),
        ("base_temperature_c = { value = 8 }", "base_temperature_c.source", "write text in quotes"),
        ('base_temperature_c = { value = 8, source = " " }', "base_temperature_c", "must state its source"),
        ('base_temperatur_c = { value = 8, source = "my book" }', "base_temperatur_c", "mean base_temperature_c?"),
        ("colour = 3", "colour", "the fields are crop, common_names"),
        ('harvest_unit = "kg"', "harvest_unit", 'write "g" or "count"'),
        ('common_names = "rhubarb"', "common_names", "write a list in brackets"),
        ("common_names = [3]", "common_names[0]", "put it in quotes"),
        ("common_names = []", "common_names", "at least one name"),
        ("isolation_m = { value = -9, source = 'my book' }", "isolation_m", "must be 0 or more"),
        ("isolation_m = { value = nan, source = 'my book' }", "isolation_m", "finite number"),
        ("isolation_m = { value = 9, source = 'my book', unit = 'm' }", "isolation_m", "the fields are value, source"),
        ("latest_regrowth = { value = '15 June', source = 'my book' }", "latest_regrowth", "such as 04-01"),
        ("season_starts = 4", "season_starts", 'write { value = "06-15"'),
        ('season_starts = "04-01"', "season_starts", 'write { value = "06-15"'),
        ("season_starts = { value = 'W14-1', source = 'my book' }", "season_starts", "such as 04-01"),
        ("usual_picking_gap_days = { value = 3.5, source = 'my book' }", "usual_picking_gap_days", "whole days"),
        ("sow_ahead_days = { value = 1000, source = 'my book' }", "sow_ahead_days", "at most 366"),
        (f"isolation_m = {{ value = 1{'0' * 400}, source = 'my book' }}", "isolation_m.value", "a plant can reach"),
        ("storage_min_c = { value = 9, source = 'a' }\nstorage_max_c = { value = 4, source = 'a' }",
         "storage_min_c", "(4)"),
        ("[stage_days]\ninitial = { value = 9, source = 'my book' }", "stage_days.mid", "is missing; write { value"),
        ("[[cautions]]\ntext = 'Wash it.'", "cautions[0].source", "is missing"),
        ("cautions = 'none'", "cautions", "[[cautions]] tables"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_by_file_and_field(tmp_path: Path, text: str, field: str, right: str) -> None:
    with pytest.raises(IntakeError) as caught:
        crops.read_profiles(_kept(tmp_path, f"{RHUBARB}{text}\n"))
    message = str(caught.value)
    assert str(tmp_path / "mine.toml") in message
    assert field in message
    assert right in message


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    _kept(tmp_path, RHUBARB + "harvest_noun = 3\nisolation_m = 4\n")
    with pytest.raises(IntakeError, match=r"(?s)harvest_noun: 3 is not text.*isolation_m: is of the wrong kind"):
        crops.read_profiles(tmp_path)


def test_a_new_crop_needs_its_four_names(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match=r'harvest_unit: is missing; write "g" or "count"'):
        crops.read_profiles(_kept(tmp_path, NEW.replace('harvest_unit = "g"\n', "")))
    with pytest.raises(IntakeError, match="crop: a profile needs its botanical name"):
        crops.read_profiles(_kept(tmp_path, 'common_names = ["rhubarb"]'))


def test_one_file_a_crop(tmp_path: Path) -> None:
    _kept(tmp_path, NEW, "a.toml")
    _kept(tmp_path, NEW, "b.toml")
    with pytest.raises(IntakeError, match=r"b\.toml, crop: Crambe cordifolia has a profile in a\.toml already"):
        crops.read_profiles(tmp_path)


def test_what_is_no_profile_at_all_is_told(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match=r"holds no \.toml file"):
        crops.read_profiles(tmp_path)
    with pytest.raises(IntakeError, match="is not a folder"):
        crops.read_profiles(tmp_path / "nowhere")
    with pytest.raises(ArgumentError, match="given as a path, not as int"):
        crops.read_profiles(3)
    with pytest.raises(IntakeError, match=r"mine\.toml is not TOML"):
        crops.read_profiles(_kept(tmp_path, "crop = "))
    with pytest.raises(IntakeError, match=r"mine\.toml is not TOML"):
        crops.read_profiles(_kept(tmp_path, "crop = " + "[" * 100_000))
    with pytest.raises(IntakeError, match=r"mine\.toml is not TOML"):
        crops.read_profiles(_kept(tmp_path, "crop = 1" + "0" * 5000))
    (tmp_path / "mine.toml").write_bytes(b'crop = "\xff"')
    with pytest.raises(IntakeError, match=r"mine\.toml is not text in UTF-8"):
        crops.read_profiles(tmp_path)


def test_only_plain_files_are_read(tmp_path: Path) -> None:
    outside, inside = tmp_path / "outside.toml", tmp_path / "plot" / "crops"
    inside.mkdir(parents=True)
    outside.write_text(NEW, encoding="utf-8")
    link = inside / "mine.toml"
    for make in (lambda: link.symlink_to(outside), link.mkdir, lambda: os.mkfifo(link)):
        make()
        with pytest.raises(IntakeError, match=r"mine\.toml is no plain file; put the file itself there"):
            crops.in_force(tmp_path / "plot")
        link.rmdir() if link.is_dir() else link.unlink()
    # what an editor keeps beside a file while it is changed
    (inside / ".#mine.toml").symlink_to("someone@somewhere")
    assert crops.in_force(tmp_path / "plot") == crops.profiles()


def test_the_folder_of_a_garden_is_a_folder_in_it(tmp_path: Path) -> None:
    assert crops.in_force(tmp_path) == crops.profiles()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / "crops").symlink_to(elsewhere)
    with pytest.raises(IntakeError, match="crops is no folder of the garden"):
        crops.in_force(tmp_path)
    (tmp_path / "crops").unlink()
    (tmp_path / "crops").write_text(NEW, encoding="utf-8")
    with pytest.raises(IntakeError, match="crops is no folder of the garden"):
        crops.in_force(tmp_path)


@pytest.mark.parametrize("crop", ["'); DROP TABLE inside.life_rows; --", 'Crambe "x"', "Crambe 'x'"])
def test_a_name_with_quotes_is_a_name(tmp_path: Path, crop: str) -> None:
    _kept(tmp_path, NEW.replace('"Crambe cordifolia"', f"'''{crop}'''"))
    own = crops.read_profiles(tmp_path)
    with connect(Rows(files={}, profiles=own)) as connection:
        found = connection.execute("SELECT harvest_unit FROM inside.crop_profiles WHERE crop = ?", [crop]).fetchall()
    assert found == [("g",)]
