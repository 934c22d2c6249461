"""What plants can be compared in."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Literal

import attrs

from perennia import crops
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    import pandas as pd

_ANY_YEAR = 2001
"""A year without a leap day, to show a mean day of several seasons."""


@attrs.frozen
class Measure:
    """What of a season can be compared.

    kind: "amount" adds up over labels and is taken a plant; "rate" is already by area; "day" is a date, compared in
    days; "length" is a number of days; "quotient" is total_g over the product of the columns in per (of season_summary
    or season_efforts), times scale. while_running: whether it means something before the season has ended.
    """

    name: str
    kind: Literal["amount", "rate", "day", "length", "quotient"]
    unit: str
    meaning: str
    while_running: bool
    per: tuple[str, ...] = ()
    scale: float = 1.0

    @property
    def adds_up(self) -> bool:
        """Whether a plant that gave nothing has 0 of it."""
        return self.kind == "amount"

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
        if math.isinf(value):
            return "later than can be said" if value > 0 else "earlier than can be said"
        return f"{number(value, sign=True)} {'days' if self.kind == 'day' else self.unit}"


MEASURES = {
    measure.name: measure
    for measure in (
        Measure("total_g", "amount", "g a plant", "crop of the season by weight", True),
        Measure("count", "amount", "a plant", "crop of the season by count", True),
        Measure("g_per_m2", "rate", "g a m2", "crop of the season by area", False),
        Measure("g_per_m2_week", "quotient", "g a m2 and week", "crop by area and weeks it took up the ground", False,
                ("space_m2", "occupied_days"), 7.0),
        Measure("first_pick", "day", "date", "day of the first pick", True),
        Measure("t50", "day", "date", "day by which half of the crop was in", False),
        Measure("peak_on", "day", "date", "middle of the week of heaviest picking", False),
        Measure("season_days", "length", "days", "days from the first picking to the last, both counted", False),
        Measure("mean_unit_g", "quotient", "g each", "mean weight of a pod, fruit or stalk", False, ("count",)),
        Measure("g_per_hour", "quotient", "g an hour", "crop by the hours written down", False, ("minutes",), 60.0),
        Measure("g_per_cost", "quotient", "g a unit of money", "crop by the money written down", False, ("cost",)),
    )
}  # fmt: skip
OF_EFFORTS = frozenset({"occupied_days", "minutes", "cost"})
"""Columns of season_efforts that measures are taken by."""


def choose_measures(names: str | Sequence[str] | None) -> tuple[Measure, ...]:
    """The measures of those names, each once; none for None. Raises AnalysisError naming the choices."""
    if names is None:
        return ()
    if isinstance(names, str):
        return (choose_measure(names),)
    try:
        listed = list(names)
    except TypeError as error:
        raise AnalysisError(f"measure is {names!r}; give one of {', '.join(MEASURES)}, or several") from error
    if not listed:
        raise AnalysisError(f"measure is empty; give one of {', '.join(MEASURES)}, or leave it out")
    return tuple(dict.fromkeys(choose_measure(name) for name in listed))


def check_columns(frame: pd.DataFrame, measures: Iterable[Measure]) -> None:
    """Raises AnalysisError where rows lack a column a measure is taken by."""
    for measure in measures:
        lacking = [name for name in measure.per if name not in frame.columns]
        if lacking:
            raise AnalysisError(
                f"{measure.name} needs the columns {', '.join(lacking)}; join season_efforts to season_summary"
            )


def choose_measure(name: str) -> Measure:
    """The measure of that name. Raises AnalysisError naming the choices."""
    if not isinstance(name, str) or name not in MEASURES:
        raise AnalysisError(f"unknown measure {name!r}: choose one of {', '.join(MEASURES)}")
    return MEASURES[name]


def own_measure(
    crop: str, rows: Iterable[Mapping[str, Any]], profiles: Mapping[str, crops.CropProfile] | None
) -> Measure:
    """What a crop is measured in where nobody asks: by its profile total_g or count, by total_g without one; the other
    where no row of season_summary has a crop in that and one has in the other. profiles: those in force; None for the
    shipped ones."""
    profile = crops.profile(crop, profiles)
    names = ("count", "total_g") if profile is not None and profile.harvest_unit == "count" else ("total_g", "count")
    found = {(name, row[name] > 0) for row in rows for name in names if row[name] is not None}
    # a plant never picked has 0 in both: it says nothing of whether the others were weighed or counted
    told = [name for bore in (True, False) for name in names if (name, bore) in found]
    return MEASURES[(told or names)[0]]


def measures_named(rows: Iterable[Mapping[str, object]], asked: Iterable[Measure]) -> str:
    """The measures that rows of an answer are in, by name; without a row those that were asked for."""
    return ", ".join(sorted({str(row["measure"]) for row in rows})) or ", ".join(measure.name for measure in asked)


def number(value: float, *, sign: bool = False) -> str:
    """About three figures, never an exponent."""
    size = abs(value)
    # sums of shares miss a whole number by their last bits
    whole = math.isclose(value, round(value), rel_tol=1e-9, abs_tol=1e-9)
    # nothing has no sign
    value = value if not whole else float(round(value)) + 0.0
    places = 0 if size >= 100 or whole else 1 if size >= 10 else 2
    return f"{value:+.{places}f}" if sign else f"{value:.{places}f}"


def probability(value: float) -> str:
    """A p with three figures, never rounded to nothing."""
    return "below 0.0001" if value < 0.0001 else f"{value:.3g}"
