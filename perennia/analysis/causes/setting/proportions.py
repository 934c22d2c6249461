"""Shares of flowers that set: logistic regression, its dispersion, the beta-binomial, and a mean of plants' shares.

Flowers of one plant share their plant, so that they are no independent trials: the plant is the unit. Sources:
McCullagh and Nelder 1989, Generalized Linear Models, chapter 4; Crowder 1978, J. R. Stat. Soc. C 27: 34-37
(beta-binomial).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import attrs
import numpy as np
import numpy.typing as npt
from scipy import optimize, special, stats

from perennia.analysis.permutation import Floats
from perennia.analysis.seasons.ageing import t_interval
from perennia.errors import AnalysisError

BETA_BINOMIAL_ABOVE = 10
"""Plants above which a beta-binomial is fitted; below, its spread between plants rests on too few."""
_STEPS = 25
_CLOSE = 1e-8
_LARGEST_LOGIT = 15.0
_SMALLEST_PHI = 1e-8


@attrs.frozen(eq=False)
class BinomialFit:
    """A logistic regression. coefficients, errors; fitted: chances; pearson: Pearson's X2 on freedom."""

    coefficients: Floats
    errors: Floats
    fitted: Floats
    pearson: float
    freedom: int

    @property
    def dispersion(self) -> float:
        """X2 a degree of freedom: 1 where trials are independent and the model holds."""
        return self.pearson / self.freedom


@attrs.frozen(eq=False)
class BetaBinomialFit:
    """A beta-binomial logistic regression by maximum likelihood. phi: correlation of two trials of one unit,
    1 / (a + b + 1); 0 where units differ no more than chance has it."""

    coefficients: Floats
    phi: float
    log_likelihood: float


@attrs.frozen
class MeanShare:
    """The mean of plants' shares. low, high: its t interval on n - 1 degrees of freedom, cut off at 0 and 1; None with
    why where there is none."""

    n: int
    mean: float
    low: float | None
    high: float | None
    why: str | None


def logistic(successes: npt.ArrayLike, totals: npt.ArrayLike, design: npt.ArrayLike) -> BinomialFit:
    """Logistic regression of counts by iteratively reweighted least squares."""
    k, n, x = _checked(successes, totals, design)
    chances, coefficients = fitted_chances(k[None, :], n, x)
    p = chances[0]
    weights = n * p * (1 - p)
    covariance = np.linalg.inv(x.T @ (weights[:, None] * x))
    # a unit without trials, or whose chance is 0 or 1 for good, says nothing of the spread
    pearson = float(np.sum(np.divide((k - n * p) ** 2, weights, out=np.zeros_like(weights), where=weights > 0)))
    return BinomialFit(coefficients[0], np.sqrt(np.diag(covariance)), p, pearson, len(k) - x.shape[1])


def fitted_chances(
    successes: Floats, totals: Floats, design: Floats, offset: Floats | None = None
) -> tuple[Floats, Floats]:
    """The chances and coefficients of logistic regressions of many rows of counts on one design.

    Where counts lie wholly on one side, logits end at 15 either way instead of growing without end.
    """
    base = np.zeros(totals.size) if offset is None else offset
    start = special.logit((successes.sum(1) + 0.5) / (totals.sum() + 1)) - np.average(base, weights=totals + 1e-9)
    coefficients = np.linalg.lstsq(design, np.ones(totals.size), rcond=None)[0][None, :] * start[:, None]
    pairs = (design[:, :, None] * design[:, None, :]).reshape(totals.size, -1)
    ridge = 1e-9 * np.eye(design.shape[1])
    for _ in range(_STEPS):
        logits = np.clip(base + coefficients @ design.T, -_LARGEST_LOGIT, _LARGEST_LOGIT)
        p = special.expit(logits)
        weights = totals * p * (1 - p) + 1e-12
        information = (weights @ pairs).reshape(-1, *ridge.shape) + ridge
        score = (successes - totals * p) @ design
        step = np.linalg.solve(information, score[:, :, None])[:, :, 0]
        step = np.clip(step, -3, 3)
        coefficients = coefficients + step
        if np.abs(step).max() < _CLOSE:
            break
    logits = np.clip(base + coefficients @ design.T, -_LARGEST_LOGIT, _LARGEST_LOGIT)
    return special.expit(logits), coefficients


def beta_binomial(successes: npt.ArrayLike, totals: npt.ArrayLike, design: npt.ArrayLike) -> BetaBinomialFit:
    """Beta-binomial logistic regression by maximum likelihood."""
    k, n, x = _checked(successes, totals, design)
    start = np.append(logistic(k, n, x).coefficients, special.logit(0.05))
    best = min(
        (optimize.minimize(_loss, np.append(start[:-1], special.logit(phi)), args=(k, n, x), method="Nelder-Mead",
                           options={"maxiter": 4000, "maxfev": 4000, "xatol": 1e-7, "fatol": 1e-9})
         for phi in (0.01, 0.1)),
        key=lambda found: float(found.fun),
    )  # fmt: skip
    phi = float(special.expit(best.x[-1]))
    return BetaBinomialFit(best.x[:-1], phi if phi > 1e-6 else 0.0, -float(best.fun))


def beta_binomial_interval(
    successes: npt.ArrayLike, totals: npt.ArrayLike, level: float
) -> tuple[BetaBinomialFit, float, float]:
    """The beta-binomial mean chance with its profile likelihood interval."""
    k = np.asarray(successes, dtype=np.float64)
    n = np.asarray(totals, dtype=np.float64)
    ones = np.ones((k.size, 1))
    fit = beta_binomial(k, n, ones)
    drop = float(stats.chi2.ppf(level, 1)) / 2

    def below(logit: float) -> float:
        found = optimize.minimize_scalar(lambda phi: _loss(np.array([logit, phi]), k, n, ones),
                                         bounds=(-18.0, 6.0), method="bounded")  # fmt: skip
        return fit.log_likelihood + float(found.fun) - drop

    middle = float(fit.coefficients[0])
    ends = [_end(below, middle, side * _LARGEST_LOGIT) for side in (-1, 1)]
    return fit, float(special.expit(ends[0])), float(special.expit(ends[1]))


def mean_share(successes: Sequence[int], totals: Sequence[int], level: float) -> MeanShare | None:
    """The mean of plants' shares, each plant counting alike; plants without a decided flower are not among them."""
    shares = [k / n for k, n in zip(successes, totals, strict=True) if n]
    if not shares:
        return None
    mean = sum(shares) / len(shares)
    if len(shares) < 2:
        return MeanShare(1, mean, None, None, "one plant alone does not show how plants differ")
    if max(shares) - min(shares) < 1e-12:
        return MeanShare(len(shares), mean, None, None, "all plants have the same share, which shows no spread")
    low, high = t_interval(shares, level)
    return MeanShare(len(shares), mean, max(low, 0.0), min(high, 1.0), None)


def _checked(
    successes: npt.ArrayLike, totals: npt.ArrayLike, design: npt.ArrayLike
) -> tuple[Floats, Floats, Floats]:
    k, n, x = (np.asarray(given, dtype=np.float64) for given in (successes, totals, design))
    if k.shape != n.shape or k.ndim != 1 or x.shape[:1] != k.shape or x.ndim != 2:
        raise AnalysisError(f"counts need totals and a design of as many rows, here {k.shape}, {n.shape}, {x.shape}")
    if not all(np.isfinite(given).all() for given in (k, n, x)) or (k < 0).any() or (k > n).any():
        raise AnalysisError("counts are whole numbers from 0 to their totals; leave missing ones out and count them")
    return k, n, x


def _loss(values: Floats, k: Floats, n: Floats, x: Floats) -> float:
    """Minus the beta-binomial log-likelihood; the last value is the logit of phi."""
    chance = special.expit(np.clip(x @ values[:-1], -_LARGEST_LOGIT, _LARGEST_LOGIT))
    phi = min(max(float(special.expit(values[-1])), _SMALLEST_PHI), 1 - _SMALLEST_PHI)
    total = 1 / phi - 1
    return -float(np.sum(stats.betabinom.logpmf(k, n, chance * total, (1 - chance) * total)))


def _end(below: Callable[[float], float], middle: float, far: float) -> float:
    """Where the profile falls under the likelihood asked for, or the far end where it never does."""
    if below(far) < 0:
        return far
    return float(optimize.brentq(below, middle, far, xtol=1e-6))
