"""Crop profiles: what is usual and what is plausible for a crop, kept as data with a source beside every figure.

One TOML file a crop, keyed by its botanical name. A crop without a profile works everywhere; it only has
no usual picking gap, no plausible maxima and no cautions.

A grower's own profiles are TOML files of the same form in the folder crops within a garden's folder: every check of
what is recorded there and every question to that garden goes by them. read_profiles reads those of any other folder.
To change two figures of a shipped profile and add a caution, this is a whole file:

    crop = "Rheum x hybridum"
    usual_picking_gap_days = { value = 14, source = "my own book, 2019 to 2024" }
    first_crop_season = { value = 3, source = "my own book, 2019 to 2024" }

    [[cautions]]
    text = "The row by the road is not for eating."
    source = "my own book"

A crop that has no shipped profile of that very name needs crop, common_names, harvest_unit ("g" or "count") and
harvest_noun at least.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pyarrow as pa

from perennia.crops import files
from perennia.crops.figures import (
    Caution,
    CropProfile,
    Figure,
    MonthDay,
    StageCoefficients,
    StageDays,
    figures_of,
)

__all__ = [
    "CAUTIONS_DEFER",
    "Caution",
    "CropProfile",
    "Figure",
    "MonthDay",
    "StageCoefficients",
    "StageDays",
    "OWN_FOLDER",
    "as_table",
    "figures_of",
    "in_force",
    "names_table",
    "profile",
    "profiles",
    "read_profiles",
]

CAUTIONS_DEFER = (
    "Cautions are reminders, not advice: follow your local food-safety authority, and ask a doctor or a poisons "
    "information centre at once when someone may have been harmed."
)
OWN_FOLDER = "crops"
"""The folder in a garden's folder that holds the grower's own profiles."""
_TABLE = pa.schema(
    [
        pa.field("crop", pa.string(), nullable=False),
        pa.field("harvest_unit", pa.string(), nullable=False),
        pa.field("usual_picking_gap_days", pa.int64()),
        pa.field("sow_ahead_days", pa.int64(), nullable=False),
        pa.field("season_starts", pa.string()),
        pa.field("latest_regrowth", pa.string()),
        pa.field("grams_per_plant_day_max", pa.float64()),
        pa.field("base_temperature_c", pa.float64()),
    ]
)
_NAMES = pa.schema([pa.field("name", pa.string(), nullable=False), pa.field("crop", pa.string(), nullable=False)])


def profile(crop: str, among: Mapping[str, CropProfile] | None = None) -> CropProfile | None:
    """The profile of a crop by its botanical name, the sign of a hybrid written x or ×, or None when there is none.

    It is looked for among the shipped profiles, or among those given, such as Garden.profiles.
    """
    return (files.shipped() if among is None else among).get(files.plain_name(crop))


def profiles() -> dict[str, CropProfile]:
    """Every shipped profile by botanical name, in alphabetical order."""
    return dict(files.shipped())


def read_profiles(folder: str | Path) -> dict[str, CropProfile]:
    """The shipped profiles with a grower's own laid over them, by botanical name, in alphabetical order.

    folder holds one .toml file a crop, each a plain file and no link; folders within it are not looked into, nor files
    whose name begins with a point. For a crop with a shipped profile, a
    field in the file takes the place of the shipped field whole, a field not in it stays, and cautions are added to the
    shipped ones, which nothing takes away. Nothing is kept: whoever is to use these profiles is given them.

    Raises IntakeError where the folder or a file cannot be read or a profile is wrong, naming file, field, what is
    wrong and what would be right; ArgumentError where the folder is no path.
    """
    return files.overlaid(files.given(folder))


def in_force(garden: Path) -> dict[str, CropProfile]:
    """The profiles that a garden in this folder goes by, by botanical name, in alphabetical order.

    Those of the garden's own folder crops are laid over the shipped ones as read_profiles says; where there is no such
    folder, or it is empty, they are the shipped ones. Raises IntakeError as read_profiles does, and where the folder is
    a link or a file.
    """
    return files.overlaid(files.kept(garden / OWN_FOLDER))


def as_table(among: Mapping[str, CropProfile]) -> pa.Table:
    """The figures that queries need, of the profiles given.

    One row is one crop. Columns: crop (botanical name, the sign of a hybrid written x), harvest_unit (g or count),
    usual_picking_gap_days (days, missing when unknown), sow_ahead_days (days, 0 when not given), season_starts
    (month-day, missing unless the crop overrides the site), latest_regrowth (month-day as it falls north of the
    equator, missing when unknown), grams_per_plant_day_max (g, missing when unknown), base_temperature_c (degrees C,
    missing when unknown).
    """
    return pa.Table.from_pylist([_row(entry) for entry in among.values()], schema=_TABLE)


def names_table(among: Mapping[str, CropProfile]) -> pa.Table:
    """The names a crop may be meant by: one row is one name of a profile, botanical or common.

    Columns: name (small letters, the sign of a hybrid written x), crop (the profile's botanical name).
    """
    rows = [
        {"name": name, "crop": entry.crop}
        for entry in among.values()
        for name in dict.fromkeys(files.plain_name(name).lower() for name in (entry.crop, *entry.common_names))
    ]
    return pa.Table.from_pylist(rows, schema=_NAMES)


def _row(entry: CropProfile) -> dict[str, object]:
    return {
        "crop": entry.crop,
        "harvest_unit": entry.harvest_unit,
        "usual_picking_gap_days": _value(entry.usual_picking_gap_days),
        "sow_ahead_days": _value(entry.sow_ahead_days) or 0,
        "season_starts": None if entry.season_starts is None else entry.season_starts.value,
        "latest_regrowth": None if entry.latest_regrowth is None else entry.latest_regrowth.value,
        "grams_per_plant_day_max": _value(entry.grams_per_plant_day_max),
        "base_temperature_c": _value(entry.base_temperature_c),
    }


def _value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value
