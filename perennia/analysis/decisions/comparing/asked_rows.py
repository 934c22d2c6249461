"""The rows of season_summary that a comparison rests on, with those of season_efforts where a measure needs them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from perennia.analysis.measures import OF_EFFORTS, Measure

if TYPE_CHECKING:
    import pandas as pd

    from perennia.source import Source

_ROWS = "select * from season_summary where crop = coalesce(?, crop) and season between ? and ?"
_WITH_EFFORTS = (
    "select summary.*, efforts.occupied_days, efforts.minutes, efforts.cost, efforts.works, efforts.timed, "
    "efforts.costed from season_summary as summary join season_efforts as efforts "
    "on efforts.plant = summary.plant and efforts.season = summary.season "
    "where summary.crop = coalesce(?, summary.crop) and summary.season between ? and ?"
)


def asked_rows(
    source: Source, measures: Sequence[Measure], crop: str | None, first: int = 0, last: int = 9999
) -> pd.DataFrame:
    """One row a plant and season of the crop (of all when None) from the first season to the last."""
    needs_efforts = any(not OF_EFFORTS.isdisjoint(measure.per) for measure in measures)
    return source.sql(_WITH_EFFORTS if needs_efforts else _ROWS, [crop, first, last])
