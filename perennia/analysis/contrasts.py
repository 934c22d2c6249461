"""Contrasts of independent means, each with a spread of its own: estimate, interval and p by Student's t."""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs
from scipy import stats


@attrs.frozen
class Part:
    """One independent part of a contrast: the variance of its estimate, and the degrees of freedom that rests on."""

    variance: float
    freedom: float


@attrs.frozen
class Contrast:
    """A contrast with its interval; freedom after Welch and Satterthwaite. p is two-sided, against no difference."""

    estimate: float
    low: float
    high: float
    p: float
    freedom: float


def contrast(estimate: float, parts: Sequence[Part], level: float) -> Contrast | None:
    """The interval of a sum or difference of independent estimates; None where nothing of the spread is known.

    Satterthwaite 1946, Biometrics Bull. 2: 110-114, doi:10.2307/3002019; Welch 1947, Biometrika 34: 28-35,
    doi:10.1093/biomet/34.1-2.28.
    """
    variance = math.fsum(part.variance for part in parts)
    if variance <= 0 or any(part.freedom <= 0 for part in parts):
        return None
    freedom = variance**2 / math.fsum(part.variance**2 / part.freedom for part in parts)
    error = math.sqrt(variance)
    reach = float(stats.t.ppf((1 + level) / 2, freedom)) * error
    p = 2 * float(stats.t.sf(abs(estimate) / error, freedom))
    return Contrast(estimate, estimate - reach, estimate + reach, p, freedom)
