"""Does one date stand out of a series of daily counts more than a smooth trend with good and bad days would have it?

Days are alike in weather and visits for every flower that opened on them, and neighbouring days are alike: were flowers
shuffled over dates, almost any cause would be told as a date. So the series is drawn anew from a smooth logistic trend
with correlated day effects, both estimated from it, is fitted anew and scanned anew (parametric bootstrap; Davison and
Hinkley 1997, Bootstrap Methods and their Application, chapter 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import attrs
import numpy as np
from scipy import special

from perennia.analysis.causes.setting.date_scan import Candidates, Kind, scan
from perennia.analysis.causes.setting.proportions import fitted_chances
from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError

DRAWS = 999
"""Series drawn behind one p."""
SEED = 1908
DAYS_NEEDED = 12
"""Days below which a trend, good and bad days and a date are not told apart (own rule)."""
LEAST = 3
"""Days on either side of a date, or of a gap, that a change needs to show."""
_DEGREE = 3
_DAYS_A_DEGREE = 6
_NEAR = 1e-9


Side = Literal["either", "fewer", "more"]
Family = tuple[Sequence[Candidates], Side]
"""Candidates that share one p, and the side that is looked at."""


@attrs.frozen(eq=False)
class DaySeries:
    """Events of trials by day. days: numbers of the days, rising. beside: what else differed between days, a column
    each; offset: logit of the chance that ages alone would give, 0 where nothing is known of it."""

    days: Floats
    events: Floats
    trials: Floats
    beside: Floats
    offset: Floats


@attrs.frozen
class DayEffects:
    """Good and bad days on the logit scale: sd, and correlation of one day with the next."""

    sd: float
    correlation: float


@attrs.frozen
class DateTest:
    """The date that stands out most among candidates. kind: of the candidate; first, last: its days; change: on the
    logit scale; f: its F; p: of an F at least as large under smooth trend and correlated days; smallest_p: the smallest
    so many draws give; explained: share of the squares about the trend that it takes off."""

    kind: Kind
    first: float
    last: float
    change: float
    f: float
    p: float
    smallest_p: float
    explained: float
    effects: DayEffects


def trend(series: DaySeries) -> Floats:
    """The smooth part: a polynomial in the day, up to the third degree, and what else differed between days."""
    span = np.ptp(series.days)
    x = 2 * (series.days - series.days.min()) / (span or 1.0) - 1
    degree = min(_DEGREE, series.days.size // _DAYS_A_DEGREE)
    return with_columns(np.polynomial.legendre.legvander(x, degree), series.beside)


def with_columns(design: Floats, columns: Floats) -> Floats:
    """A design with those further columns that it does not hold already."""
    for column in columns.T:
        left = column - design @ np.linalg.lstsq(design, column, rcond=None)[0]
        # a column that the design already holds would leave the equations without one answer
        if np.ptp(column) > _NEAR and float(left @ left) > 0.02 * float(((column - column.mean()) ** 2).sum()):
            design = np.column_stack([design, column])
    return design


def date_tests(
    series: DaySeries, families: Sequence[Family],
    draws: int = DRAWS, seed: int = SEED,
) -> list[DateTest | None]:  # fmt: skip
    """For each family of candidates the one that stands out most; None where none can be told. A family of "fewer"
    looks at falls only, one of "more" at rises. Raises AnalysisError for a series of fewer than DAYS_NEEDED days."""
    if series.days.size < DAYS_NEEDED:
        raise AnalysisError(f"a date can be looked for from {DAYS_NEEDED} days on, here {series.days.size}")
    total = float(series.events.sum())
    if not 0 < total < float(series.trials.sum()):
        return [None for _ in families]
    design = trend(series)
    chances, _ = fitted_chances(series.events[None, :], series.trials, design, series.offset)
    effects = day_effects(series, chances[0], design.shape[1])
    drawn = np.concatenate([series.events[None, :], drawn_series(series, chances[0], effects, draws, seed)])
    fitted, _ = fitted_chances(drawn, series.trials, design, series.offset)
    weights = np.maximum(series.trials * fitted * (1 - fitted), _NEAR)
    working = (drawn - series.trials * fitted) / weights
    return [_stands_out(series, family, side, working, weights, design, effects) for family, side in families]


def day_effects(series: DaySeries, chances: Floats, columns: int) -> DayEffects:
    """Moments of the residuals of the trend: what they spread beyond chance, and how neighbours go together."""
    weights = np.maximum(series.trials * chances * (1 - chances), _NEAR)
    left = (series.events - series.trials * chances) / weights
    days = series.days.size
    share = (days - columns) / days
    beyond = float((weights * left**2).sum()) - (days - columns)
    variance = max(beyond / (float(weights.sum()) * share), 0.0)
    if variance < 1e-6:
        return DayEffects(0.0, 0.0)
    both = np.sqrt(weights[1:] * weights[:-1])
    usual = float(np.median(np.diff(series.days)))
    apart = np.diff(series.days) <= usual
    raw = float((both * left[1:] * left[:-1])[apart].sum() / (variance * both[apart].sum()))
    # a fitted trend takes part of a slow swing with it: the bias of Marriott and Pope 1954 (Biometrika 41: 390-402),
    # written for the mean alone, widened for every column of the trend
    mended = (raw + columns / days) / (1 - min((columns + 2) / days, 0.5))
    correlation = float(np.clip(mended, 0.0, 0.85))
    # and with it part of the spread, the more so the more neighbours are alike
    lost = columns / days * 2 * correlation / (1 - correlation)
    return DayEffects((variance / (1 - min(lost, 0.6))) ** 0.5, correlation ** (1 / usual))


def drawn_series(series: DaySeries, chances: Floats, effects: DayEffects, draws: int, seed: int) -> Floats:
    """Counts from the trend with correlated day effects."""
    random = np.random.default_rng(seed)
    logits = np.tile(special.logit(np.clip(chances, 1e-7, 1 - 1e-7)), (draws, 1))
    if effects.sd > 0:
        noise = random.normal(size=(draws, series.days.size))
        days = np.empty_like(noise)
        days[:, 0] = noise[:, 0]
        for place, gap in enumerate(np.diff(series.days), start=1):
            alike = effects.correlation**gap
            days[:, place] = alike * days[:, place - 1] + (1 - alike**2) ** 0.5 * noise[:, place]
        logits += effects.sd * days
    return random.binomial(series.trials.astype(np.int64), special.expit(logits)).astype(np.float64)


def _stands_out(
    series: DaySeries, family: Sequence[Candidates], side: Side, working: Floats, weights: Floats, design: Floats,
    effects: DayEffects,
) -> DateTest | None:  # fmt: skip
    """The candidate with the largest F as seen, held against the largest of every drawn series."""
    start, stop, first, last = (
        np.concatenate([getattr(one, name) for one in family]) for name in ("start", "stop", "first", "last")
    )
    if not start.size:
        return None
    found = scan(working, weights, design, start, stop)
    told = {"either": found.change != 0, "fewer": found.change < 0, "more": found.change > 0}[side]
    f = np.where(told, found.f, 0.0)
    largest = f.max(axis=1)
    best = int(f[0].argmax())
    if largest[0] <= 0:
        return None
    at_least = int((largest >= largest[0] * (1 - _NEAR)).sum())
    kinds = [one.kind for one in family for _ in one.start]
    return DateTest(
        kinds[best], float(series.days[first[best]]), float(series.days[last[best]]), float(found.change[0, best]),
        float(largest[0]), at_least / f.shape[0], 1 / f.shape[0],
        float(1 - found.rss_with()[0, best] / found.rss[0]), effects,
    )  # fmt: skip
