"""Figures of named rows: their names on the y axis, the first on top."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from perennia.report.look import SMALL_PT

ROW_IN = 0.18
_POINTS = 400
MOST_ROWS = 40
"""Rows that are still read one by one on a printed page."""


def name_rows(ax: Axes, names: Sequence[str]) -> None:
    """One name a row at 0, 1, 2 ... downwards."""
    ax.set_yticks(range(len(names)), labels=list(names), parse_math=False)
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.tick_params(axis="y", length=0, labelsize=SMALL_PT - 0.5)


def thinned(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows in order, of very many every so-many-th and the last: a line through them looks the same."""
    step = max(1, len(rows) // _POINTS)
    kept = np.arange(0, len(rows), step)
    return rows.iloc[np.union1d(kept, [len(rows) - 1])]


def height_of(rows: int, more_in: float = 0.6) -> float:
    """Height of axes of so many rows, in inches."""
    return rows * ROW_IN + more_in
