"""Crop profiles: what is usual and what is plausible for a crop, kept as data with a source beside every figure.

One TOML file a crop, keyed by its botanical name. A crop without a profile works everywhere; it only has
no usual picking gap, no plausible maxima and no cautions.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Literal

import attrs
import cattrs
import pyarrow as pa
from attrs import field, validators

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


def _stated(instance: object, attribute: attrs.Attribute[str], value: str) -> None:
    if not value.strip():
        raise ValueError(f"a {type(instance).__name__} of a crop profile must state its {attribute.name}")


@attrs.frozen
class Figure:
    """A figure and where it comes from; its unit is in the name of the profile's field."""

    value: float = field(validator=validators.ge(0))
    source: str = field(validator=_stated)


@attrs.frozen
class Caution:
    """What can hurt someone who grows or eats the crop, and who says so."""

    text: str = field(validator=_stated)
    source: str = field(validator=_stated)


@attrs.frozen(kw_only=True)
class CropProfile:
    """What is usual for one crop.

    harvest_unit is how the trade states its yield, grams or pieces; harvest_noun names the pieces.
    usual_picking_gap_days is the interval a season's first picking is taken to have gathered.
    A sowing up to sow_ahead_days before a season begins belongs to that season. season_starts
    (month-day) overrides the site's. The maxima are per single plant, and more than that is doubted,
    not refused; a missing one is not looked at.
    """

    crop: str = field(validator=_stated)
    common_names: tuple[str, ...]
    harvest_unit: Literal["g", "count"] = field(validator=validators.in_(("g", "count")))
    harvest_noun: str = field(validator=_stated)
    usual_picking_gap_days: Figure | None = None
    sow_ahead_days: Figure | None = None
    season_starts: str | None = None
    grams_per_plant_day_max: Figure | None = None
    grams_per_plant_season_max: Figure | None = None
    count_per_plant_season_max: Figure | None = None
    cautions: tuple[Caution, ...] = ()


def profile(crop: str) -> CropProfile | None:
    """The profile of a crop by its botanical name, the sign of a hybrid written x or ×, or None when there is none."""
    return _profiles().get(crop.replace("×", "x"))


def profiles() -> dict[str, CropProfile]:
    """Every profile by botanical name, in alphabetical order."""
    return dict(_profiles())


def as_table() -> pa.Table:
    """The figures that queries need.

    One row is one name of a crop: a hybrid has two, with x and with ×. Columns: crop (text), harvest_unit (g or count),
    usual_picking_gap_days (days, missing when unknown), sow_ahead_days (days, 0 when not given), season_starts
    (month-day, missing unless the crop overrides the site), grams_per_plant_day_max (g, missing when unknown).
    """
    rows = [
        {**_row(entry), "crop": name}
        for entry in _profiles().values()
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


@cache
def _profiles() -> dict[str, CropProfile]:
    converter = cattrs.Converter(forbid_extra_keys=True)
    files = [file for file in resources.files(__name__).iterdir() if file.name.endswith(".toml")]
    read = [converter.structure(tomllib.loads(file.read_text(encoding="utf-8")), CropProfile) for file in files]
    return {entry.crop: entry for entry in sorted(read, key=lambda entry: entry.crop)}
