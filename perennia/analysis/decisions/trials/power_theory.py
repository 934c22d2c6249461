"""Power by theory: of the t test for normal values, and of Fisher's and the sign test by exact count.

For normal values the power of the t test is a tail of the noncentral t distribution (Cohen 1988, Statistical Power
Analysis for the Behavioral Sciences, 2nd edition, chapter 2). It is where the search for the power of a permutation
test begins, and what that is held against. Shares: the normal approximation without continuity correction (Fleiss,
Levin and Paik 2003, Statistical Methods for Rates and Proportions, chapter 4), and the exact count over all pairs of
binomial outcomes.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy import optimize, stats

from perennia.errors import AnalysisError

_FAR = 30.0
"""Standard errors beyond which a difference is certain to come out on its side."""
_LARGEST = 10_000_000.0
"""Units an arm beyond which nobody plans."""


def t_power(effect: float, n: float, *, alpha: float = 0.05, allocation: float = 1.0, two_sided: bool = True) -> float:
    """Power of the two-sample t test.

    effect: difference of means over the standard deviation. n: units in the first arm, allocation * n in the second.
    The two-sided power counts both tails.
    """
    df = n * (1 + allocation) - 2
    return _noncentral(effect * math.sqrt(n * allocation / (1 + allocation)), df, alpha, two_sided)


def paired_t_power(effect: float, pairs: float, *, alpha: float = 0.05, two_sided: bool = True) -> float:
    """Power of the paired t test; effect is the mean difference over the standard deviation of the differences."""
    return _noncentral(effect * math.sqrt(pairs), pairs - 1, alpha, two_sided)


def _noncentral(shift: float, df: float, alpha: float, two_sided: bool) -> float:
    if df <= 0:
        return 0.0
    critical = float(stats.t.isf(alpha / 2 if two_sided else alpha, df))
    if abs(shift) > _FAR:
        # beyond the reach of the distribution function; here only the spread found is still by chance
        far = (shift / critical) * (shift / critical)
        return float(stats.chi2.cdf(df * far, df)) if shift > 0 or two_sided else 0.0
    power = float(stats.nct.sf(critical, df, shift))
    return power + float(stats.nct.cdf(-critical, df, shift)) if two_sided else power


def units_for_t(
    effect: float, power: float, *, alpha: float = 0.05, allocation: float = 1.0, two_sided: bool = True
) -> float:
    """Units in the first arm at which the two-sample t test has this power, as a real number; round it up.

    Raises AnalysisError where no number of units reaches it.
    """
    return _solved(
        lambda n: t_power(abs(effect), n, alpha=alpha, allocation=allocation, two_sided=two_sided),
        power, lowest=max(2.0, 2.0 / allocation),
    )  # fmt: skip


def pairs_for_t(effect: float, power: float, *, alpha: float = 0.05, two_sided: bool = True) -> float:
    """Pairs at which the paired t test has this power, as a real number. Raises AnalysisError as units_for_t does."""
    return _solved(
        lambda n: paired_t_power(abs(effect), n, alpha=alpha, two_sided=two_sided), power, lowest=2.0
    )


def shares_power(first: float, second: float, n: float, *, alpha: float = 0.05) -> float:
    """Power of the normal test of two shares with n units in each arm; the far tail is left out."""
    mean = (first + second) / 2
    critical = float(stats.norm.isf(alpha / 2)) * math.sqrt(2 * mean * (1 - mean))
    spread = math.sqrt(first * (1 - first) + second * (1 - second))
    return float(stats.norm.cdf((math.sqrt(n) * abs(first - second) - critical) / spread))


def units_for_shares(first: float, second: float, power: float, *, alpha: float = 0.05) -> float:
    """Units an arm at which shares_power is reached, as a real number. Raises AnalysisError as units_for_t does."""
    return _solved(lambda n: shares_power(first, second, n, alpha=alpha), power, lowest=1e-6)


def fisher_power(first: float, second: float, n: int, m: int, *, alpha: float = 0.05) -> float:
    """Exact power of Fisher's two-sided test of n units with one share against m with another.

    Every pair of outcomes is weighed with its binomial chance; the two-sided p adds up all tables of the same margins
    that are no likelier than the one seen (Fisher 1935, J. R. Stat. Soc. 98: 39-82).
    """
    weights = np.outer(
        stats.binom.pmf(np.arange(n + 1), n, first), stats.binom.pmf(np.arange(m + 1), m, second)
    )
    power = 0.0
    for alive in range(n + m + 1):
        ones = np.arange(max(0, alive - m), min(n, alive) + 1)
        chances = stats.hypergeom.pmf(ones, n + m, alive, n)
        # 1e-7: as likely as the one seen but for rounding
        p = np.array([chances[chances <= chance * (1 + 1e-7)].sum() for chance in chances])
        power += float(weights[ones, alive - ones][p <= alpha * (1 + 1e-9)].sum())
    return power


def sign_power(share: float, pairs: int, *, alpha: float = 0.05) -> float:
    """Exact power of the two-sided sign test of pairs, of which this share goes one way."""
    ahead = np.arange(pairs + 1)
    p = 2 * np.minimum(stats.binom.cdf(ahead, pairs, 0.5), stats.binom.sf(ahead - 1, pairs, 0.5))
    return float(stats.binom.pmf(ahead, pairs, share)[p <= alpha * (1 + 1e-9)].sum())


def _solved(power_at: Callable[[float], float], wanted: float, lowest: float) -> float:
    if power_at(lowest) >= wanted:
        return lowest
    highest = max(4.0, 2 * lowest)
    while power_at(highest) < wanted:
        highest *= 2
        if highest > _LARGEST:
            raise AnalysisError("no number of units shows an effect as small as this; plan for a larger one")
    return float(optimize.brentq(lambda n: power_at(n) - wanted, lowest, highest, xtol=1e-9))
