"""What flowers came to: the trusses flower by flower and count by count, or the days of opening and of loss."""

from __future__ import annotations

from matplotlib.figure import Figure

from perennia.analysis import DegreeDays, PodSet, WaterBalance
from perennia.errors import ArgumentError
from perennia.report.drawing import figure_of
from perennia.report.set_days import set_days
from perennia.report.truss_map import truss_map

_KINDS = ("trusses", "dates")


@figure_of(PodSet, axes="several", nothing="No flowering is on record for what was asked.")
def pod_set(
    result: PodSet, *, kind: str = "trusses", water: WaterBalance | None = None, warmth: DegreeDays | None = None
) -> Figure:
    """kind trusses: where and when each flower opened and how it ended, and the counts of trusses that were only
    counted. kind dates: share set by day of opening and losses by day of loss, above the water and the nights of the
    same days, where water gives the balance of the bed and warmth the degree-days of the place.

    Raises ArgumentError for another kind, and for water or warmth that are no such results or belong to no kind asked.
    """
    if kind not in _KINDS:
        raise ArgumentError(f"kind is {kind!r}; choose one of {', '.join(_KINDS)}")
    if kind == "trusses":
        if water is not None or warmth is not None:
            raise ArgumentError("water and warmth are drawn under dates; ask for kind='dates'")
        return truss_map(result)
    if water is not None and not isinstance(water, WaterBalance):
        raise ArgumentError(f"water is {type(water).__name__}; give what water_balance(...) gives")
    if warmth is not None and not isinstance(warmth, DegreeDays):
        raise ArgumentError(f"warmth is {type(warmth).__name__}; give what degree_days(...) gives")
    return set_days(result, water, warmth)
