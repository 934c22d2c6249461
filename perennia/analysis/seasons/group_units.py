"""The units whose curves are averaged: labels linked by shared pickings are one, and what cannot be is left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

import attrs

from perennia.analysis.measures import own_measure
from perennia.analysis.seasons.curve_points import CurvePoints
from perennia.analysis.seasons.curve_question import WANTED, CurveMeasure, CurveQuestion
from perennia.analysis.seasons.degree_day_sums import has_base
from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.crops import CropProfile
    from perennia.source import Source

UNITS_WANTED = (
    "(plant, season) in (select plant, season from season_summary where (crop, season, unit) in "
    f"(select crop, season, unit from season_summary where {WANTED}))"
)
"""Condition on a view with a plant and season: all labels of every unit of which one meets WANTED."""
_ROWS = (
    "select summary.*, starts.started_on from season_summary as summary join plant_seasons as starts "
    f"using (plant, season) where {UNITS_WANTED} order by crop, season, unit, plant"
)
_TOTALS: dict[CurveMeasure, str] = {"g": "total_g", "count": "count"}
_IN: dict[str, CurveMeasure] = {"total_g": "g", "count": "count"}


@attrs.frozen(eq=False)
class LabelCurve:
    """First row of one label's curve in the points and the row after its last. running: whether the season is still
    running. cut: whether the rest has no place on the axis."""

    first: int
    last: int
    running: bool
    cut: bool
    measure: CurveMeasure

    @property
    def stops(self) -> bool:
        """Whether it stops there; else it stays level."""
        return self.running or self.cut


@attrs.frozen(eq=False)
class CurveUnit:
    """One unit in one season. levels: its value of each column of by. curves: one a label, none where it is known to
    have given nothing. rows: those of season_summary of its labels."""

    crop: str
    season: int
    season_name: str
    name: str
    measure: CurveMeasure
    levels: tuple[Any, ...]
    plants: int
    curves: tuple[LabelCurve, ...]
    rows: tuple[Row, ...]

    @property
    def members(self) -> frozenset[str]:
        """The plants in it."""
        return frozenset(str(row["plant"]) for row in self.rows)

    @property
    def cut(self) -> bool:
        """Whether it ends early, for the rest of a curve has no place on the axis."""
        return any(curve.cut for curve in self.curves)


def curve_units(
    source: Source, question: CurveQuestion, by: Sequence[str], points: CurvePoints
) -> tuple[list[CurveUnit], Counter[str]]:
    """The units that have a curve, in the order of crop, season and name, and why others have none, counted."""
    rows = rows_of(source.sql(_ROWS, question.chosen))
    # labels that share a picking across kinds of stock are no unit of either kind
    apart = dict.fromkeys([*by, "stock"] if question.chosen["stock"] else by)
    curves = _label_curves(points)
    unpicked = {
        crop: question.measure or _IN[own_measure(crop, labels, source.profiles).name]
        for crop, labels in ((crop, list(group)) for crop, group in groupby(rows, key=lambda row: str(row["crop"])))
    }
    units: list[CurveUnit] = []
    left_out: Counter[str] = Counter()
    for (crop, season, name), group in groupby(rows, key=lambda row: (row["crop"], row["season"], row["unit"])):
        labels = tuple(group)
        found = [curves.get((str(row["plant"]), season)) for row in labels]
        own = tuple(curve for curve in found if curve is not None)
        nothing = not own and _gave_nothing(labels[0], unpicked[crop], question.axis, source.profiles)
        why = _why_left_out(labels, tuple(apart), own, nothing)
        if why is not None:
            left_out[why] += 1
            continue
        units.append(CurveUnit(
            crop=crop, season=int(season), season_name=str(labels[0]["season_name"]), name=str(name),
            measure=own[0].measure if own else unpicked[crop], levels=tuple(labels[0][column] for column in by),
            plants=sum(int(row["plants"]) for row in labels), curves=own, rows=labels,
        ))  # fmt: skip
    return units, left_out


def _label_curves(points: CurvePoints) -> dict[tuple[str, int], LabelCurve]:
    begun = points.frame.iloc[[first for first, _ in points.bounds]]
    rows = zip(begun["plant"], begun["season"], begun["finished"], begun["measure"], points.bounds, points.cut,
               strict=True)  # fmt: skip
    return {
        (str(plant), int(season)): LabelCurve(first, last, not finished, bool(cut), measure)
        for plant, season, finished, measure, (first, last), cut in rows
    }


def _why_left_out(
    labels: Sequence[Row], apart: Sequence[str], curves: Sequence[LabelCurve], nothing: bool
) -> str | None:  # fmt: skip
    differing = next((name for name in apart if len({row[name] for row in labels}) > 1), None)
    if differing is not None:
        return f"their labels, linked by shared pickings, differ in {differing}"
    if not curves and all(row["grew"] is False for row in labels):
        return "no growth that season"
    if not nothing and len(curves) < len(labels):
        if all(row["picks"] == 0 for row in labels):
            return "nothing was picked of them so far, or nothing shows that there was no crop"
        return "no curve of every label in this measure and along this axis"
    if len({curve.measure for curve in curves}) > 1:
        return "their labels are measured differently"
    if any(row["spans_left_out"] for row in labels):
        return "a picking of theirs is dated too vaguely (over 14 days) to be in a curve"
    if any(row["plants"] is None or row["plants"] < 1 for row in labels):
        return "the number of their plants is missing"
    return None


def _gave_nothing(row: Row, measure: CurveMeasure, axis: str, profiles: Mapping[str, CropProfile]) -> bool:
    """Whether a plant is known to have given no crop in a season that is over, and has a place on the axis."""
    placed = axis not in ("days_since_start", "degree_days") or row["started_on"] is not None
    warm = axis != "degree_days" or has_base(str(row["crop"]), profiles)
    return bool(row["finished"] and row["picks"] == 0 and row[_TOTALS[measure]] == 0 and placed and warm)
