"""How the crop of groups of plants came in: mean curves over units, with a band where there are enough of them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.name_order import in_order
from perennia.analysis.result import Result
from perennia.analysis.seasons.curve_points import CurvePoints, curve_points
from perennia.analysis.seasons.curve_question import Axis, CurveMeasure, CurveQuestion, curve_question
from perennia.analysis.seasons.curves import DEGREE_DAY_METHOD
from perennia.analysis.seasons.group_means import RESAMPLES, Group, bands, curves_of, drawn_together, mean_of
from perennia.analysis.seasons.group_units import UNITS_WANTED, CurveUnit, curve_units
from perennia.analysis.seasons.group_wording import group_cautions, group_finding
from perennia.analysis.unknown_names import unknown_names
from perennia.checking import arguments
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.source import Source

GROUPED_BY = {
    "stock": "string", "season": "Int64", "crop": "string", "cultivar": "string", "bed": "string", "cover": "string",
    "site": "string", "raised_from": "string", "plant_season": "Int64", "wintering": "string",
}  # fmt: skip
"""What groups can be made by, and the kind of its column."""
_AXIS_KINDS: dict[Axis, str] = {
    "date": "datetime64[s]", "day_of_season": "Int64", "days_since_start": "Int64", "degree_days": "Float64",
}  # fmt: skip
_MEANS = {
    "axis": "", "n": "Int64", "mean_cumulative": "Float64", "low_cumulative": "Float64", "high_cumulative": "Float64",
    "mean_per_day": "Float64", "low_per_day": "Float64", "high_per_day": "Float64", "measure": "string",
}  # fmt: skip
_BY_UNIT = {
    "unit": "string", "season": "Int64", "axis": "", "cumulative": "Float64", "per_day": "Float64", "plants": "Int64",
    "measure": "string",
}  # fmt: skip
_METHOD = (
    "Mean over units of the crop a plant, cumulative and as the rate of that day; a unit adds nothing before its first "
    "picking's share begins and after the last of a season that is over; band: 95 % percentile bootstrap, "
    f"{RESAMPLES} seeded draws of units, the seasons of one plant drawn together; at 20 to 30 units it is a little "
    "narrow, holding the true mean of skewed crops about 92 times in 100"
)
_UNITS = (
    "a unit is a plant in one season, or all the labels linked by pickings shared that season, or a stand however many "
    "plants it has; crop a plant standing"
)


@attrs.frozen(kw_only=True, eq=False)
class GroupCurves(Result):
    """Mean curves of groups.

    unit_curves: the curve of every unit at the points of its group at which it is in the mean, to be drawn where there
    is no band. One row is one unit and point; its columns are those of the group, season_name where groups have one,
    unit, season, the axis, cumulative and per_day (a plant), plants and measure.
    """

    unit_curves: pd.DataFrame


def group_curves(
    source: Source,
    by: str | Collection[str] = ("stock",),
    *,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
    stock: str | Collection[str] | None = None,
    measure: CurveMeasure | None = None,
    axis: Axis = "date",
    step: float = 1,
) -> GroupCurves:
    """The mean curve of each group of units, with a band where there are enough of them.

    One row is one group and point of the axis, from the first point of any of its curves to the last. Columns: crop,
    season (along dates, or where asked), those of by, season_name where there is a season, the axis (on, day_of_season,
    days_since_start or degree_days), n (units in the mean there), mean_cumulative, low_cumulative and high_cumulative
    (ends of the band), mean_per_day, low_per_day and high_per_day (of that very day), and measure. Crop in g or by
    count, a plant.

    by: any of stock, season, crop, cultivar, bed, cover, site, raised_from, plant_season, wintering; crop and measure
    part groups always, and season along dates. The other choices are those of season_curves; one label chosen brings
    all that shared a picking with it. A unit is a plant season, or all labels linked by pickings shared that season,
    the sum of their crops over the sum of their plants. One that is over stays level after its last picking; one still
    running leaves the mean after its last entry. What is known to have given nothing is in it as 0. Whatever the step,
    there is a row where the first of them leaves it, and one at the end.

    The band is a 95 % percentile bootstrap over units (Efron and Tibshirani 1993, chapter 13), seeded, the seasons of
    one plant drawn together; below 20 at a point there is none, and the curves of units are what to draw.

    Raises AnalysisError for an unknown by, stock, measure or axis or a step below 1 day, ArgumentError when a choice
    is of another kind.
    """
    columns = _columns(by)
    question = curve_question(labels, crops, seasons, stock, measure, axis, step)
    points = curve_points(source, question, UNITS_WANTED)
    units, left_out = curve_units(source, question, columns, points)
    keyed = tuple(dict.fromkeys(["crop", *(["season"] if axis == "date" else []), *columns]))
    groups = [_group(members, keyed, columns, points, question) for members in _parted(units, keyed, columns)]
    return GroupCurves(
        table=_stacked([_means(group) for group in groups], _kinds(keyed, question, _MEANS), question.column),
        n=len(units),
        method=f"{_METHOD}; {DEGREE_DAY_METHOD}." if axis == "degree_days" else f"{_METHOD}.",
        units=f"{_UNITS}, in g or by count as the measure says.",
        cautions=(
            *unknown_names(source, labels, crops), *group_cautions(groups, columns, left_out, question),
            *points.cautions,
        ),
        findings=tuple(group_finding(group, question) for group in groups if group.curves.at.size),
        unit_curves=_stacked([_by_unit(group) for group in groups], _kinds(keyed, question, _BY_UNIT), question.column),
    )


def _columns(by: str | Collection[str]) -> tuple[str, ...]:
    names = arguments.names(by, "by")
    unknown = [name for name in names if name not in GROUPED_BY]
    if unknown:
        raise AnalysisError(f"groups cannot be made by {', '.join(unknown)}: choose of {', '.join(GROUPED_BY)}")
    return tuple(dict.fromkeys(names))


def _key(unit: CurveUnit, keyed: Sequence[str], columns: Sequence[str]) -> dict[str, Any]:
    values = {**dict(zip(columns, unit.levels, strict=True)), "crop": unit.crop, "season": unit.season}
    return {name: values[name] for name in keyed}


def _parted(
    units: Sequence[CurveUnit], keyed: Sequence[str], columns: Sequence[str]
) -> list[list[CurveUnit]]:  # fmt: skip
    """Units by group, groups in the order of their columns, what is not recorded last."""

    def place(unit: CurveUnit) -> tuple[Any, ...]:
        values = _key(unit, keyed, columns).values()
        # a growing year that begins in July is not that of the calendar, though both are numbered alike
        return (*((value is None, in_order(value) if isinstance(value, str) else value or 0) for value in values),
                unit.season_name if "season" in keyed else "", unit.measure)  # fmt: skip

    return [list(members) for _, members in groupby(sorted(units, key=place), key=place)]


def _group(
    units: Sequence[CurveUnit], keyed: Sequence[str], columns: Sequence[str], points: CurvePoints,
    question: CurveQuestion,
) -> Group:  # fmt: skip
    curves, together = curves_of(units, points, question), drawn_together(units)
    crop_band, rate_band = bands(curves, together)
    return Group(
        key=_key(units[0], keyed, columns), measure=units[0].measure,
        season_name=units[0].season_name if "season" in keyed else None,
        units=tuple(units), curves=curves, together=together, crop_band=crop_band, rate_band=rate_band,
    )  # fmt: skip


def _means(group: Group) -> dict[str, Any]:
    curves = group.curves
    return {
        **group.key, "season_name": group.season_name, "axis": curves.at, "n": group.n,
        "mean_cumulative": mean_of(curves.cumulative, curves.present),
        "low_cumulative": group.crop_band.low, "high_cumulative": group.crop_band.high,
        "mean_per_day": mean_of(curves.per_day, curves.present),
        "low_per_day": group.rate_band.low, "high_per_day": group.rate_band.high,
        "measure": group.measure,
    }  # fmt: skip


def _by_unit(group: Group) -> dict[str, Any]:
    unit, point = np.nonzero(group.curves.present)
    return {
        **group.key, "season_name": group.season_name,
        "unit": np.array([one.name for one in group.units], dtype=object)[unit],
        "season": np.array([one.season for one in group.units])[unit],
        "axis": group.curves.at[point],
        "cumulative": group.curves.cumulative[unit, point], "per_day": group.curves.per_day[unit, point],
        "plants": np.array([one.plants for one in group.units])[unit], "measure": group.measure,
    }  # fmt: skip


def _kinds(keyed: Sequence[str], question: CurveQuestion, columns: dict[str, str]) -> dict[str, str]:
    """Columns of a table and their kinds, "axis" standing for that of the axis asked."""
    named = {"season_name": "string"} if "season" in keyed else {}
    kinds = {**{name: GROUPED_BY[name] for name in keyed}, **named, **columns}
    return {name: _AXIS_KINDS[question.axis] if name == "axis" else kind for name, kind in kinds.items()}


def _stacked(blocks: Sequence[dict[str, Any]], kinds: dict[str, str], axis: str) -> pd.DataFrame:
    """One table of the blocks of all groups, a single value of a block being that of all its rows."""
    none = pd.DataFrame({name: pd.Series([], dtype=kind) for name, kind in kinds.items()})
    frames = [
        pd.DataFrame({name: _column(block[name], block["axis"].size, kind) for name, kind in kinds.items()})
        for block in blocks
        if block["axis"].size
    ]
    return pd.concat(frames or [none], ignore_index=True).rename(columns={"axis": axis})


def _column(value: Any, size: int, kind: str) -> pd.Series[Any]:
    if not isinstance(value, np.ndarray):
        return pd.Series([value], dtype=kind).repeat(size).reset_index(drop=True)
    if kind == "datetime64[s]":
        return pd.Series(value.astype("datetime64[D]").astype(kind))
    if kind == "Float64":
        # nan here is missing, never a number
        return pd.Series(pd.arrays.FloatingArray(np.nan_to_num(value), np.isnan(value)))
    return pd.Series(value, dtype=kind)
