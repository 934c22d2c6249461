"""What plants can be compared in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any, Literal

import attrs

from perennia import crops
from perennia.errors import AnalysisError

_ANY_YEAR = 2001
"""A year without a leap day, to show a mean day of several seasons."""


@attrs.frozen
class Measure:
    """A column of season_summary that can be compared.

    kind: "amount" adds up over labels and is taken a plant; "rate" is already by area; "day" is a date, compared in
    days. while_running: whether it means something before the season has ended.
    """

    name: str
    kind: Literal["amount", "rate", "day"]
    unit: str
    meaning: str
    while_running: bool

    def figure(self, value: float, season: int | None) -> str:
        """A value as a grower reads it; a day, counted from 1 January of the season's year, as a date."""
        if self.kind != "day":
            return f"{number(value)} {self.unit}"
        year = _ANY_YEAR if season is None else season
        shown = date(year, 1, 1) + timedelta(days=round(value) - 1)
        if shown.year == year:
            return f"{shown.day} {shown:%B}"
        return f"{shown.day} {shown:%B} of the year after" if season is None else f"{shown.day} {shown:%B %Y}"

    def gap(self, value: float) -> str:
        """A difference with its sign."""
        return f"{number(value, sign=True)} {'days' if self.kind == 'day' else self.unit}"


MEASURES = {
    measure.name: measure
    for measure in (
        Measure("total_g", "amount", "g a plant", "crop of the season by weight", True),
        Measure("count", "amount", "a plant", "crop of the season by count", True),
        Measure("g_per_m2", "rate", "g a m2", "crop of the season by area", False),
        Measure("first_pick", "day", "date", "day of the first pick", True),
        Measure("t50", "day", "date", "day by which half of the crop was in", False),
        Measure("peak_on", "day", "date", "middle of the week of heaviest picking", False),
    )
}


def choose_measure(name: str) -> Measure:
    """The measure of that name. Raises AnalysisError naming the choices."""
    if not isinstance(name, str) or name not in MEASURES:
        raise AnalysisError(f"unknown measure {name!r}: choose one of {', '.join(MEASURES)}")
    return MEASURES[name]


def own_measure(
    crop: str, rows: Iterable[Mapping[str, Any]], profiles: Mapping[str, crops.CropProfile] | None
) -> Measure:
    """What a crop is measured in where nobody asks: by its profile total_g or count, by total_g without one; the other
    where no row of season_summary has a value in that. profiles: those in force; None for the shipped ones."""
    profile = crops.profile(crop, profiles)
    names = ("count", "total_g") if profile is not None and profile.harvest_unit == "count" else ("total_g", "count")
    known = {name for row in rows for name in names if row[name] is not None}
    return MEASURES[next((name for name in names if name in known), names[0])]


def measures_named(rows: Iterable[Mapping[str, object]], asked: str | None) -> str:
    """The measures that rows of an answer are in, by name; without a row the one that was asked for, if any."""
    return ", ".join(sorted({str(row["measure"]) for row in rows})) or (asked or "")


def number(value: float, *, sign: bool = False) -> str:
    """About three figures, never an exponent."""
    size = abs(value)
    places = 0 if size >= 100 or value == round(value) else 1 if size >= 10 else 2
    return f"{value:+.{places}f}" if sign else f"{value:.{places}f}"


def probability(value: float) -> str:
    """A p with three figures, never rounded to nothing."""
    return "below 0.0001" if value < 0.0001 else f"{value:.3g}"
