"""Degree-days of a day from its lowest and highest temperature, by every method in common use.

Averages: McMaster and Wilhelm 1997, Agricultural and Forest Meteorology 87, 291-300. Triangles and sines, single and
double, with horizontal cutoff: Zalom, Goodell, Wilson, Barnett and Bentley 1983, Degree-days: the calculation and use
of heat units in pest management, University of California leaflet 21373. Temperatures in one unit, whichever it is; the
degree-days are in that unit. What is missing is nan, and makes the day's degree-days nan.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal, get_args

import numpy as np

from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError

Method = Literal["average", "average floored", "single triangle", "double triangle", "single sine", "double sine"]
METHODS: tuple[Method, ...] = get_args(Method)
_Warmth = Callable[[Floats, Floats, float], Floats]
"""Degree-days above one threshold, from the lowest and highest temperature."""
_ALIKE = 1e-9
"""Temperatures closer than that are one: between them no share of the day can be reckoned, nor matters."""


def degree_days_of(t_min: Floats, t_max: Floats, base: float, upper: float | None, method: Method) -> Floats:
    """The degree-days of each of the days, which follow one another.

    average: the mean of both temperatures, held to the base and, if given, to the upper threshold (method 1 of McMaster
    and Wilhelm). average floored: each of the two is held first (method 2; with an upper threshold, the modified
    average). The others follow the temperature through the day; above the upper threshold nothing more is added
    (horizontal cutoff). The double methods take the second half of a day to fall to the lowest temperature of the next,
    so that a day before one without it has no degree-days.

    Raises AnalysisError for an unknown method or an upper threshold that is not above the base.
    """
    if method not in METHODS:
        raise AnalysisError(f"there is no method {method!r} of degree-days; choose one of {', '.join(METHODS)}")
    if not math.isfinite(base) or (upper is not None and not (math.isfinite(upper) and upper > base)):
        raise AnalysisError(f"the upper threshold must be above the base, and is {upper} where the base is {base:g}")
    ceiling = math.inf if upper is None else upper
    if method == "average":
        return np.clip((t_min + t_max) / 2, base, ceiling) - base
    if method == "average floored":
        return (np.clip(t_min, base, ceiling) + np.clip(t_max, base, ceiling)) / 2 - base
    above: _Warmth = _triangle if method.endswith("triangle") else _sine
    today = _cut_off(above, t_min, t_max, base, upper)
    if method.startswith("single"):
        return today
    return (today + _cut_off(above, np.append(t_min[1:], np.nan), t_max, base, upper)) / 2


def _cut_off(above: _Warmth, low: Floats, high: Floats, base: float, upper: float | None) -> Floats:
    # an evening can fall to a next minimum that is above today's maximum
    low, high = np.minimum(low, high), np.maximum(low, high)
    whole = above(low, high, base)
    return whole if upper is None else whole - above(low, high, upper)


def _triangle(low: Floats, high: Floats, threshold: float) -> Floats:
    spread = np.where(high - low > _ALIKE, high - low, 1.0)
    crossing = (high - threshold) ** 2 / (2 * spread)
    return _by_case(low, high, threshold, crossing)


def _sine(low: Floats, high: Floats, threshold: float) -> Floats:
    mean, half = (low + high) / 2, (high - low) / 2
    angle = np.arcsin(np.clip((threshold - mean) / np.where(half > _ALIKE, half, 1.0), -1, 1))
    crossing = ((mean - threshold) * (math.pi / 2 - angle) + half * np.cos(angle)) / math.pi
    return _by_case(low, high, threshold, crossing)


def _by_case(low: Floats, high: Floats, threshold: float, crossing: Floats) -> Floats:
    """Wholly above the threshold the mean above it, wholly below nothing, else what the shape gives."""
    warm = np.where(low >= threshold, (low + high) / 2 - threshold, np.where(high <= threshold, 0.0, crossing))
    found: Floats = np.where(np.isnan(low) | np.isnan(high), np.nan, warm)
    return found
