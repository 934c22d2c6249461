"""Crop profiles: what is usual and what is plausible for a crop, kept as data with a source beside every figure.

One TOML file a crop, keyed by its botanical name. A crop without a profile works everywhere; it only has
no usual picking gap, no plausible maxima and no cautions.

A grower's own profiles are TOML files of the same form in a folder of the grower's choice, given to
read_profiles. To change two figures of a shipped profile and add a caution, this is a whole file:

    crop = "Rheum x hybridum"
    usual_picking_gap_days = { value = 14, source = "my own book, 2019 to 2024" }
    first_crop_season = { value = 3, source = "my own book, 2019 to 2024" }

    [[cautions]]
    text = "The row by the road is not for eating."
    source = "my own book"

A crop that has no shipped profile needs crop, common_names, harvest_unit ("g" or "count") and harvest_noun at least.
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
    "as_table",
    "figures_of",
    "profile",
    "profiles",
    "read_profiles",
]

CAUTIONS_DEFER = (
    "Cautions are reminders, not advice: follow your local food-safety authority, and ask a doctor or a poisons "
    "information centre at once when someone may have been harmed."
)
_TABLE = pa.schema(
    [
        pa.field("crop", pa.string(), nullable=False),
        pa.field("harvest_unit", pa.string(), nullable=False),
        pa.field("usual_picking_gap_days", pa.int64()),
        pa.field("sow_ahead_days", pa.int64(), nullable=False),
        pa.field("season_starts", pa.string()),
        pa.field("grams_per_plant_day_max", pa.float64()),
    ]
)


def profile(crop: str, among: Mapping[str, CropProfile] | None = None) -> CropProfile | None:
    """The profile of a crop by its botanical name, the sign of a hybrid written x or ×, or None when there is none.

    It is looked for among the shipped profiles, or among those given, such as read_profiles returns.
    """
    return (files.shipped() if among is None else among).get(files.plain_name(crop))


def profiles() -> dict[str, CropProfile]:
    """Every shipped profile by botanical name, in alphabetical order."""
    return dict(files.shipped())


def read_profiles(folder: str | Path) -> dict[str, CropProfile]:
    """The shipped profiles with a grower's own laid over them, by botanical name, in alphabetical order.

    folder holds one .toml file a crop; folders within it are not looked into. For a crop with a shipped profile, a
    field in the file takes the place of the shipped field whole, a field not in it stays, and cautions are added to the
    shipped ones, which nothing takes away. Nothing is kept: whoever is to use these profiles is given them. Queries and
    views go by the shipped profiles (as_table).

    Raises IntakeError where the folder or a file cannot be read or a profile is wrong, naming file, field, what is
    wrong and what would be right; ArgumentError where the folder is no path.
    """
    return files.overlaid(folder)


def as_table() -> pa.Table:
    """The figures that queries need.

    One row is one name of a crop: a hybrid has two, with x and with ×. Columns: crop (text), harvest_unit (g or count),
    usual_picking_gap_days (days, missing when unknown), sow_ahead_days (days, 0 when not given), season_starts
    (month-day, missing unless the crop overrides the site), grams_per_plant_day_max (g, missing when unknown).
    """
    rows = [
        {**_row(entry), "crop": name}
        for entry in files.shipped().values()
        for name in dict.fromkeys((entry.crop, entry.crop.replace(" x ", " × ")))
    ]
    return pa.Table.from_pylist(rows, schema=_TABLE)


def _row(entry: CropProfile) -> dict[str, object]:
    return {
        "crop": entry.crop,
        "harvest_unit": entry.harvest_unit,
        "usual_picking_gap_days": _value(entry.usual_picking_gap_days),
        "sow_ahead_days": _value(entry.sow_ahead_days) or 0,
        "season_starts": entry.season_starts,
        "grams_per_plant_day_max": _value(entry.grams_per_plant_day_max),
    }


def _value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value
