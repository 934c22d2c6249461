"""Kaplan-Meier shares alive and the log-rank test, on plain arrays of lifetimes.

A life still running, or ended otherwise than by death, is censored at its time; on a day with both, deaths come first.
A life that came under watch late is at risk after its entry only (left truncation).

Sources: Kaplan and Meier 1958, J. Am. Stat. Assoc. 53: 457-481, doi:10.1080/01621459.1958.10501452; the standard error
after Greenwood 1926; the interval on the scale of log(-log share), Kalbfleisch and Prentice 1980, which stays between 0
and 1; the log-rank test with the hypergeometric variance, Mantel 1966, Cancer Chemother. Rep. 50: 163-170, summed over
strata where there are any. statsmodels works out the curve and the test.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
import numpy.typing as npt
from scipy import stats

from perennia.analysis.decisions.surviving.shares import check_level
from perennia.errors import AnalysisError

Array = npt.NDArray[np.float64]
_SAME = 1e-9


@attrs.frozen
class Step:
    """One time at which lives ended or were censored: at_risk before it, deaths and censored at it, and the share alive
    after it with Greenwood's standard error and its interval; low and high are None where the share is 0 or 1 and there
    is no such interval, and se where the share is 0."""

    time: float
    at_risk: int
    deaths: int
    censored: int
    share: float
    se: float | None
    low: float | None
    high: float | None


@attrs.frozen
class LogRank:
    """chi2 on df degrees of freedom and its p; observed and expected deaths a group, in the order of the groups."""

    groups: tuple[str, ...]
    n: tuple[int, ...]
    observed: tuple[int, ...]
    chi2: float
    df: int
    p: float


def kaplan_meier(
    times: Sequence[float], died: Sequence[bool], *, entry: Sequence[float] | None = None, level: float = 0.95
) -> list[Step]:
    """The share alive after every time at which a life ended or was censored, in order; empty without a life.

    Raises AnalysisError for arrays of unequal length, a time or entry that is not finite, a life that ends no later
    than it entered, or a level that is not between 0 and 1.
    """
    check_level(level)
    ends, deaths, entries = _checked(times, died, entry)
    if not ends.size:
        return []
    # loaded where it is used, for it takes longer than all the rest
    from statsmodels.duration.survfunc import SurvfuncRight

    curve = SurvfuncRight(ends, deaths.astype(int), entry=None if entry is None else entries)
    shares = dict(zip(curve.surv_times, zip(curve.surv_prob, curve.surv_prob_se, strict=True), strict=True))
    steps: list[Step] = []
    share, error = 1.0, 0.0
    for time in np.unique(ends):
        if time in shares:
            share, error = (float(value) for value in shares[time])
        at = ends == time
        low, high = _log_log(share, error, level)
        steps.append(Step(
            time=float(time), at_risk=int(((entries < time) & (ends >= time)).sum()), deaths=int((at & deaths).sum()),
            censored=int((at & ~deaths).sum()), share=share, se=error if share > _SAME else None, low=low, high=high,
        ))  # fmt: skip
    return steps


def median_of(steps: Sequence[Step]) -> float | None:
    """The first time after which at most half are alive, or None while more than half are."""
    return next((step.time for step in steps if step.share <= 0.5 + _SAME), None)


def log_rank(
    times: Sequence[float],
    died: Sequence[bool],
    groups: Sequence[str],
    *,
    entry: Sequence[float] | None = None,
    strata: Sequence[str] | None = None,
) -> LogRank | None:
    """Whether groups die alike, within strata where given; None where no death could tell them apart.

    Raises AnalysisError for arrays that do not fit together, or fewer than two groups.
    """
    ends, deaths, entries = _checked(times, died, entry)
    names = tuple(sorted(set(groups)))
    if len(groups) != ends.size or (strata is not None and len(strata) != ends.size):
        raise AnalysisError("a log-rank test needs one group and one stratum for every life")
    if len(names) < 2:
        raise AnalysisError("a log-rank test needs two groups or more")
    coded = np.array([names.index(group) for group in groups])
    if strata is not None:
        ends, entries = _one_after_another(ends, entries, strata)
    late = entry is not None or strata is not None
    from statsmodels.duration.survfunc import survdiff

    try:
        chi2, _ = survdiff(ends, deaths.astype(int), coded, entry=entries if late else None)
    except np.linalg.LinAlgError:
        return None
    if not np.isfinite(chi2):
        return None
    df = len(names) - 1
    return LogRank(
        groups=names,
        n=tuple(int((coded == code).sum()) for code in range(len(names))),
        observed=tuple(int(deaths[coded == code].sum()) for code in range(len(names))),
        chi2=float(chi2), df=df, p=float(stats.chi2.sf(chi2, df)),
    )  # fmt: skip


def _one_after_another(ends: Array, entries: Array, strata: Sequence[str]) -> tuple[Array, Array]:
    """Times moved so far on, stratum by stratum, that no life is at risk with one of another stratum.

    The sums over strata are then those over all times. (statsmodels 0.15 takes strata and entries, but
    fail on both together.)
    """
    opens = np.where(np.isfinite(entries), entries, ends.min() - 1.0)
    apart = float(ends.max() - opens.min()) + 1.0
    moved = np.unique(np.array(strata), return_inverse=True)[1] * apart
    return ends + moved, opens + moved


def _log_log(share: float, error: float, level: float) -> tuple[float | None, float | None]:
    if not _SAME < share < 1 - _SAME:
        return None, None
    reach = stats.norm.ppf((1 + level) / 2) * error / (share * abs(np.log(share)))
    return float(share ** np.exp(reach)), float(share ** np.exp(-reach))


def _checked(
    times: Sequence[float], died: Sequence[bool], entry: Sequence[float] | None
) -> tuple[Array, npt.NDArray[np.bool_], Array]:
    ends, deaths = np.asarray(times, dtype=np.float64), np.asarray(died, dtype=bool)
    entries = np.full(ends.shape, -np.inf) if entry is None else np.asarray(entry, dtype=np.float64)
    if ends.ndim != 1 or deaths.shape != ends.shape or entries.shape != ends.shape:
        raise AnalysisError("lifetimes need one time, one flag for death and one entry a life")
    if not np.isfinite(ends).all() or (entry is not None and not np.isfinite(entries).all()):
        raise AnalysisError("lifetimes take finite times only; leave the missing ones out and count them")
    if (ends <= entries).any():
        raise AnalysisError("a life that ends when it comes under watch, or before, tells nothing; leave it out")
    return ends, deaths, entries
