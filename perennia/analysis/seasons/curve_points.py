"""The days of season curves with their place on an axis, and how a value between two of them is read."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.permutation import Booleans, Floats, Integers
from perennia.analysis.seasons.curve_question import CurveQuestion
from perennia.analysis.seasons.degree_day_sums import NOT_STARTED, Stretch, Sums, degree_day_sums
from perennia.analysis.units import known
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

CUMULATIVE = ["cumulative", "cumulative_g", "cumulative_count"]
_IN_MEASURE = {"g": ("cumulative_g", "g_per_day"), "count": ("cumulative_count", "count_per_day")}
_EPOCH = date(1970, 1, 1)


@attrs.frozen(eq=False)
class CurvePoints:
    """Days of curves that have a place on the axis, a curve's days together and in order.

    frame: rows of the view season_curves in the measure asked, with degree_days along that axis. curve: the curve of
    each row, numbered from 0 on. axis, axis_before: axis value at the end of the day and of the day before. cumulative,
    per_day: as in the frame. before: CUMULATIVE at the end of the day before. cut: by curve, whether its last days have
    no place on the axis. cautions: what was left out and why.
    """

    frame: pd.DataFrame
    curve: Integers
    axis: Floats
    axis_before: Floats
    cumulative: Floats
    per_day: Floats
    before: pd.DataFrame
    cut: Booleans
    cautions: tuple[str, ...]

    @property
    def bounds(self) -> list[tuple[int, int]]:
        """First row of every curve, and the row after its last."""
        return _bounds(self.curve)


def curve_points(source: Source, question: CurveQuestion, wanted: str) -> CurvePoints:
    """The points of the plant seasons that meet a condition, its parameters those of the question."""
    rows = f'select * from season_curves where {wanted} order by crop, label, season, plant, "on"'
    frame = source.sql(rows, question.chosen)
    if question.measure is not None:
        columns = _IN_MEASURE[question.measure]
        kept = frame[frame[columns[0]].notna()].reset_index(drop=True)
        frame = kept.assign(cumulative=kept[columns[0]], per_day=kept[columns[1]], measure=question.measure)
        frame = frame.astype({"measure": "string"})
    curve = frame.groupby(["plant", "season"], sort=False).ngroup().to_numpy().astype(np.int64)
    axis, axis_before, left_out = _placed(source, question, frame, curve)
    before = pd.DataFrame({name: _day_before(frame[name], curve) for name in CUMULATIVE})
    placed = ~np.isnan(axis)
    last = np.diff(curve, append=-1) != 0
    cut = np.zeros(int(curve.max(initial=-1)) + 1, dtype=bool)
    cut[curve[last & ~placed]] = True
    numbers, renumbered = np.unique(curve[placed], return_inverse=True)
    frame, before = frame[placed].reset_index(drop=True), before[placed].reset_index(drop=True)
    return CurvePoints(
        frame=frame, curve=renumbered, axis=axis[placed], axis_before=axis_before[placed],
        cumulative=frame["cumulative"].to_numpy(dtype=float), per_day=frame["per_day"].to_numpy(dtype=float),
        before=before, cut=cut[numbers],
        cautions=(*_unmeasured(source, question, wanted), *left_out),
    )  # fmt: skip


def read_at(axis: Floats, axis_before: Floats, at: Floats) -> tuple[Integers, Floats]:
    """Where axis values lie on one curve: the row of the day in which each is reached, and how far through that day.

    Values up to the start have part 0 of the first row, those after the end the number of rows. Where several days end
    at one value (days too cold to add a degree-day) the last of them is meant.
    """
    passed = np.searchsorted(axis, at, "right") - 1
    exact = (passed >= 0) & (axis[np.maximum(passed, 0)] == at)
    row = np.where(exact, passed, passed + 1)
    within = np.minimum(row, axis.size - 1)
    width = axis[within] - axis_before[within]
    part = np.where(exact | (width <= 0), 1.0, (at - axis_before[within]) / np.where(width > 0, width, 1.0))
    return row, np.clip(part, 0.0, 1.0)


def multiples(start: float, end: float, step: float) -> Floats:
    """Every multiple of step above a start and below an end, and the end."""
    inner = np.arange(np.floor(start / step) + 1, np.ceil(end / step)) * step
    return np.append(inner[inner < end], end)


def _day_before(cumulative: pd.Series[float], curve: Integers) -> pd.Series[float]:
    """The crop at the end of the day before: nothing before the first, missing where it is missing."""
    return cumulative.shift().where(~_first_rows(curve), cumulative * 0)


def _bounds(curve: Integers) -> list[tuple[int, int]]:
    opens = np.flatnonzero(_first_rows(curve))
    closes = np.flatnonzero(np.diff(curve, append=-1)) + 1
    return list(zip(opens.tolist(), closes.tolist(), strict=True))


def _first_rows(curve: Integers) -> Booleans:
    first: Booleans = np.diff(curve, prepend=-1) != 0
    return first


def _placed(
    source: Source, question: CurveQuestion, frame: pd.DataFrame, curve: Integers
) -> tuple[Floats, Floats, list[str]]:
    """Axis values at the ends of the days and of the days before, and what has none, in words."""
    if question.axis == "degree_days":
        return _in_degree_days(source, frame, curve)
    column = frame[question.column]
    if question.axis == "date":
        axis = column.to_numpy().astype("datetime64[D]").astype(float)
    else:
        axis = column.to_numpy(dtype=float, na_value=np.nan)
    missing = np.isnan(axis)
    left_out = [_left_out(int(missing.sum()), len(np.unique(curve[missing])), NOT_STARTED)] if missing.any() else []
    return axis, axis - 1, left_out


def _in_degree_days(source: Source, frame: pd.DataFrame, curve: Integers) -> tuple[Floats, Floats, list[str]]:
    stretches, moved = _stretches(source, frame, _bounds(curve))
    sums = degree_day_sums(source, stretches)
    axis = np.concatenate([np.zeros(0), *(one.values[1:] for one in sums)])
    earlier = np.concatenate([np.zeros(0), *(one.values[:-1] for one in sums)])
    frame["degree_days"] = pd.arrays.FloatingArray(np.nan_to_num(axis), np.isnan(axis))
    cautions = _without_degree_days(sums)
    if moved:
        text = "of plants that moved within the season; degree-days are those of the place of most days."
        cautions.append(f"{counted(moved, 'curve')} {text}")
    # a day before the start has no sum, and nothing had been summed by its end
    return axis, np.where(np.isnan(earlier), 0.0, earlier), cautions


def _stretches(source: Source, frame: pd.DataFrame, bounds: list[tuple[int, int]]) -> tuple[list[Stretch], int]:
    """Each curve's days and place, and how many of the plants moved."""
    days = frame["on"].to_numpy().astype("datetime64[D]").astype(np.int64)
    first = [opens for opens, _ in bounds]
    begun = frame.iloc[first]
    # read whole: which plants have a curve is known to the view alone
    places = source.sql("select plant, season, site, bed, moved from plant_seasons").set_index(["plant", "season"])
    found = places.reindex(pd.MultiIndex.from_frame(begun[["plant", "season"]]))
    rows = zip(bounds, begun["days_since_start"], begun["crop"], found["bed"], found["site"], strict=True)
    stretches = [
        Stretch(
            first=int(days[opens]), last=int(days[closes - 1]),
            started=None if pd.isna(since) else int(days[opens]) - int(since),
            crop=str(crop), bed=known(bed), site=known(site),
        )
        for (opens, closes), since, crop, bed, site in rows
    ]  # fmt: skip
    return stretches, int(found["moved"].fillna(False).sum())


def _without_degree_days(sums: Sequence[Sums]) -> list[str]:
    cautions = []
    for why in sorted({one.why_missing for one in sums if one.why_missing is not None}):
        lacking = [one for one in sums if one.why_missing == why]
        text = _left_out(sum(int(np.isnan(one.values[1:]).sum()) for one in lacking), len(lacking), why)
        weatherless = np.unique(np.concatenate([one.weatherless for one in lacking]))
        if weatherless.size:
            day = _EPOCH + timedelta(int(weatherless[0]))
            text = f"{text[:-1]}; {day} is the first of {counted(weatherless.size, 'day')} of growth without both, and "
            text += "no sum goes over a gap."
        cautions.append(text)
    return cautions


def _left_out(rows: int, curves: int, why: str) -> str:
    return f"{counted(rows, 'row')} of {counted(curves, 'curve')} left out, for {why}."


def _unmeasured(source: Source, question: CurveQuestion, wanted: str) -> list[str]:
    """Plant seasons without a curve because pickings lack the measure, and pickings in no curve."""
    rows = (
        "select measure, unweighed, uncounted, spans_left_out, "
        "clearance_g > 0 or clearance_count > 0 as stripped from season_totals "
        f"where (plant, season) in (select plant, season from plant_seasons where {wanted})"
    )
    totals = source.sql(rows, question.chosen)
    lacking, why = {
        "g": (totals["unweighed"] > 0, "a picking was not weighed"),
        "count": (totals["uncounted"] > 0, "a picking was not counted"),
        None: (totals["measure"].isna() & (totals["unweighed"] > 0), "some pickings were not weighed and some not "
               "counted"),
    }[question.measure]  # fmt: skip
    cautions = []
    if n := int(lacking.sum()):
        cautions.append(f"{counted(n, 'plant season')} left out, for {why}.")
    if vague := int(totals["spans_left_out"].sum()):
        cautions.append(f"{counted(vague, 'picking')} dated too vaguely (over 14 days) to be in any curve.")
    if stripped := int(totals["stripped"].fillna(False).sum()):
        text = "with a clearance: the cumulative crop rises by it, the rate does not."
        cautions.append(f"{counted(stripped, 'plant season')} {text}")
    return cautions
