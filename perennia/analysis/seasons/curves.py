"""How the crop of each plant and season came in, along dates, days of the season or of growth, or degree-days."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from perennia.analysis.name_order import BY_PLANT_SEASON, ordered
from perennia.analysis.permutation import Booleans
from perennia.analysis.seasons.curve_points import CUMULATIVE, CurvePoints, curve_points, multiples, read_at
from perennia.analysis.seasons.curve_question import WANTED, Axis, CurveMeasure, curve_question
from perennia.analysis.seasons.tables import UNIT, SeasonTable
from perennia.analysis.unknown_names import unknown_names
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

_SHARED = "select distinct plant, season from harvest where event = 'picked' and shared_by > 1 and plant is not null"
DEGREE_DAY_METHOD = (
    "degree-days from the day after growth started: the mean of the day's lowest and highest temperature above the "
    "crop's base, never below 0 (McMaster and Wilhelm 1997, method 1), in the bed's own weather where it has any in "
    "that time, else in its site's"
)


def season_curves(
    source: Source,
    *,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
    stock: str | Collection[str] | None = None,
    measure: CurveMeasure | None = None,
    axis: Axis = "date",
    step: float = 1,
) -> SeasonTable:
    """The crop of each plant and season day by day, cumulative and as a rate.

    One row is one plant, season and day from the start of its crop to its last picking or look. Columns as in the view
    season_curves; cumulative and per_day are in the measure (g or count), day_of_season counts from the first day
    of the growing year, days_since_start from sowing, planting or regrowth. A clearance counts in cumulative, not
    in per_day.

    labels, crops, seasons: which plants and seasons to take, all unless given. stock: one kind or several, such as
    "fresh" or "overwintered". measure: "g" or "count" for the plant seasons whose every picking was weighed, or
    counted; unless given, each crop's own. axis: "date", "day_of_season", "days_since_start" or "degree_days"; rows
    that have no value on it are left out and counted. step: a row every so many days; the first and last of a curve are
    always there. Along "degree_days" there is a column degree_days more, in degree-days since growth started, a row
    stands at every multiple of step and at a curve's end, and what lies within a day is read straight across it; a day
    without both temperatures ends the sum: no weather is made up.

    Raises AnalysisError for an unknown stock, measure or axis or a step below 1 day, ArgumentError when a choice is of
    another kind. Degree-days: McMaster and Wilhelm 1997, Agricultural and Forest Meteorology 87, 291-300, method 1.
    """
    question = curve_question(labels, crops, seasons, stock, measure, axis, step)
    points = curve_points(source, question, WANTED)
    if question.axis == "degree_days":
        frame = _interpolated(points, question.step)
    else:
        frame = points.frame[_kept(points, int(question.step))]
    drawn = points.frame[["plant", "season", "finished"]].drop_duplicates()
    running = drawn[~drawn["finished"]]
    said = [f"{counted(len(running), 'curve')} still running, which can rise."] if len(running) else []
    if shared := len(drawn.merge(source.sql(_SHARED), on=["plant", "season"])):
        said.append(f"{counted(shared, 'curve')} with shares of pickings off several labels, split evenly.")
    plants = points.frame["plant"].nunique()
    method = "Cumulative crop, straight between one picking, look or regrowth and the next"
    return SeasonTable(
        table=ordered(frame, BY_PLANT_SEASON), n=plants,
        method=f"{method}; {DEGREE_DAY_METHOD}." if axis == "degree_days" else f"{method}.",
        units=UNIT, cautions=(*unknown_names(source, labels, crops), *said, *points.cautions),
        findings=(
            f"{counted(len(points.bounds), 'curve')} of {counted(plants, 'plant')}." if plants else "No curve matches.",
        ),
    )  # fmt: skip


def _kept(points: CurvePoints, step: int) -> Booleans:
    """Every so many-th row of a curve, and its last."""
    bounds = np.array(points.bounds, dtype=np.int64).reshape(-1, 2)
    place = np.arange(points.curve.size) - bounds[points.curve, 0]
    kept: Booleans = (place % step == 0) | (np.arange(points.curve.size) == bounds[points.curve, 1] - 1)
    return kept


def _interpolated(points: CurvePoints, step: float) -> pd.DataFrame:
    """Rows at every multiple of step degree-days and at the end of each curve."""
    rows, parts, grids = [np.zeros(0, dtype=np.int64)], [np.zeros(0)], [np.zeros(0)]
    for first, last in points.bounds:
        axis, axis_before = points.axis[first:last], points.axis_before[first:last]
        grid = multiples(axis_before[0], axis[-1], step)
        row, part = read_at(axis, axis_before, grid)
        rows.append(first + row)
        parts.append(part)
        grids.append(grid)
    at, part = np.concatenate(rows), np.concatenate(parts)
    frame, before = points.frame.iloc[at].reset_index(drop=True), points.before.iloc[at].reset_index(drop=True)
    for name in CUMULATIVE:
        frame[name] = before[name] + (frame[name] - before[name]) * part
    return frame.assign(degree_days=pd.array(np.concatenate(grids), dtype="Float64"))
