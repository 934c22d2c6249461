"""Columns of a result as what matplotlib draws."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]


def numbers(frame: pd.DataFrame, name: str) -> Floats:
    """A column as floats, missing values as nan."""
    return np.asarray(frame[name].to_numpy(dtype=float, na_value=np.nan), dtype=np.float64)


def known(values: Floats) -> Floats:
    """Those that are numbers: neither missing nor infinite."""
    return values[np.isfinite(values)]


def highest(frame: pd.DataFrame, *names: str) -> float:
    """The largest number of some columns; 1 where there is none above 0, so that an axis has a length."""
    return max([float(known(numbers(frame, name)).max(initial=0.0)) for name in names]) or 1.0
