"""What the plants of a season gave together."""

from __future__ import annotations

import pandas as pd


def summed(frame: pd.DataFrame, column: str) -> float | None:
    """The sum of a column of season_summary over those that have a value in it. None where none has, or where only
    plants that gave nothing have one and others were picked: a crop that was counted and not weighed is not 0 g."""
    known = frame[column].dropna()
    picked = frame["picks"] > 0
    if known.empty or (not known.sum() and bool((picked & frame[column].isna()).any())):
        return None
    return float(known.sum())
