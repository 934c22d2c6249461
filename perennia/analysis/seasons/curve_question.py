"""What is asked of season curves: which, in what measure, and along which axis."""

from __future__ import annotations

from collections.abc import Collection
from typing import Literal, get_args

import attrs

from perennia.analysis.seasons.tables import CHOSEN, choices
from perennia.analysis.units import STOCKS
from perennia.checking import arguments
from perennia.errors import AnalysisError

Axis = Literal["date", "day_of_season", "days_since_start", "degree_days"]
CurveMeasure = Literal["g", "count"]
WANTED = f"{CHOSEN} and ($stock is null or list_contains($stock, stock))"
"""Condition on a view with a stock, its parameters those of CurveQuestion.chosen."""
COLUMNS: dict[Axis, str] = {
    "date": "on", "day_of_season": "day_of_season", "days_since_start": "days_since_start",
    "degree_days": "degree_days",
}  # fmt: skip
"""Column that holds the axis value."""


@attrs.frozen
class CurveQuestion:
    """A checked question. chosen: parameters of WANTED. measure: None for each crop's own. step: days, or degree-days
    along that axis."""

    chosen: dict[str, object]
    measure: CurveMeasure | None
    axis: Axis
    step: float

    @property
    def column(self) -> str:
        """Name of the column that holds the axis value."""
        return COLUMNS[self.axis]


def curve_question(
    labels: Collection[str] | None,
    crops: Collection[str] | None,
    seasons: Collection[int] | None,
    stock: str | Collection[str] | None,
    measure: str | None,
    axis: str,
    step: float,
) -> CurveQuestion:
    """The question, checked. Raises AnalysisError for an unknown stock, measure or axis, or a step no curve can have,
    ArgumentError for what is of another kind."""
    wanted_axis = _one_of(axis, get_args(Axis), "axis")
    wanted_measure = None if measure is None else _one_of(measure, get_args(CurveMeasure), "measure")
    stocks = None if stock is None else [_one_of(name, STOCKS, "stock") for name in arguments.names(stock, "stock")]
    return CurveQuestion(
        {**choices(labels, crops, seasons), "stock": stocks},
        next((name for name in get_args(CurveMeasure) if name == wanted_measure), None),
        next(name for name in COLUMNS if name == wanted_axis),
        _step(step, wanted_axis),
    )


def _one_of(value: str, known: Collection[str], what: str) -> str:
    if arguments.a_name(value, what) not in known:
        raise AnalysisError(f"unknown {what} {value!r}: choose one of {', '.join(known)}")
    return value


def _step(step: float, axis: str) -> float:
    if axis == "degree_days":
        return arguments.a_number_above_0(step, "step")
    days = arguments.a_whole_number(step, "step", 7)
    if days < 1:
        raise AnalysisError(f"step is {step!r} days; give 1 for every day, 7 for one a week")
    return days
