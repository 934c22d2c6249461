"""Names in the order in which a person would write them, in every table and figure alike."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

BY_PLANT_SEASON = ("crop", "label", "season", "plant")
"""Columns by which a table of plant seasons stands."""
_DIGITS = re.compile(r"\d+")
_LAST = "\U0010ffff"


def in_order(value: Any) -> str:
    """A name as a text to sort by: numbers within it in their own order, so that B2 comes before B10; nothing last."""
    return _LAST if value is None else _DIGITS.sub(_counted, str(value).casefold())


def _counted(digits: re.Match[str]) -> str:
    """A number behind the number of its digits, and before any letter."""
    number = str(int(digits[0]))
    return f"\x01{chr(len(number))}{number}"


def ordered(frame: pd.DataFrame, by: Sequence[str]) -> pd.DataFrame:
    """The rows in the order of some columns, texts among them as in_order has them and what is missing last; rows alike
    in all of them stay as they were."""
    if frame.empty:
        return frame
    keys: list[npt.NDArray[np.int64]] = []
    for name in by:
        keys.insert(0, _places(frame[name]))
        places = np.lexsort(keys)
        if _all_apart(keys, places):
            break
    # mostly they are in order as they come, and a large frame is not copied for nothing
    if np.array_equal(places, np.arange(len(frame))) and frame.index.equals(pd.RangeIndex(len(frame))):
        return frame
    return frame.iloc[places].reset_index(drop=True)


def _all_apart(keys: list[npt.NDArray[np.int64]], places: npt.NDArray[np.int64]) -> bool:
    """Whether no two rows are alike in all keys, so that no further one is asked."""
    apart = np.zeros(len(places) - 1, dtype=bool)
    for key in keys:
        apart |= np.diff(key[places]) != 0
    return bool(apart.all())


def _places(column: pd.Series[Any]) -> npt.NDArray[np.int64]:
    """The place of each value among the distinct ones."""
    codes, distinct = pd.factorize(column)
    values = distinct.tolist()
    keys = [in_order(value) if isinstance(value, str) else value for value in values]
    rising = sorted(range(len(values)), key=keys.__getitem__)
    place = np.full(len(values) + 1, len(values), dtype=np.int64)
    place[rising] = np.arange(len(values))
    return place[codes]
