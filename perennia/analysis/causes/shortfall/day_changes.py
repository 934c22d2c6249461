"""Between the days of a season: does setting change slowly, and do days differ beyond that?

Both hold the days as they were seen against series drawn from a fitted model (parametric bootstrap; Davison and Hinkley
1997, Bootstrap Methods and their Application, chapter 4), as the search for one date does.
"""

from __future__ import annotations

import attrs
import numpy as np

from perennia.analysis.causes.setting.date_null import (
    DayEffects,
    DaySeries,
    day_effects,
    drawn_series,
    trend,
    with_columns,
)
from perennia.analysis.causes.setting.proportions import fitted_chances
from perennia.analysis.permutation import Floats

_NEAR = 1e-9


@attrs.frozen
class DayChange:
    """What was seen of a change between days. size: for a slow change the difference of the last day from the first on
    the logit scale, for good and bad days their sd; p: of one at least as large; weight: of the squares between days
    that chance does not bring, what it takes up."""

    size: float
    p: float
    weight: float


def slow_change(series: DaySeries, draws: int, seed: int) -> DayChange:
    """A straight rise or fall over the season, against good and bad days that hang together but lead nowhere.

    The good and bad days are estimated beside a smooth trend, so that a true change does not pass for them.
    """
    flat, day = _flat(series), _centred_days(series)
    rest, weights = _drawn_from(series, flat, _effects_beside(series), draws, seed)
    # the day beside what else differed between days, for each series with its own weights
    inner = np.einsum("sd,di,dj->sij", weights, flat, flat) + _NEAR * np.eye(flat.shape[1])
    along = np.linalg.solve(inner, np.einsum("sd,di,d->si", weights, flat, day)[:, :, None])[:, :, 0]
    left = day - along @ flat.T
    own = np.maximum((weights * left**2).sum(1), _NEAR)
    change = (left * rest).sum(1) / own
    taken = float(change[0] ** 2 * own[0])
    as_far = int((np.abs(change) >= abs(change[0]) * (1 - _NEAR)).sum())
    return DayChange(float(change[0]), as_far / (draws + 1), max(taken - 1, 0.0))


def curved_change(series: DaySeries, draws: int, seed: int) -> float:
    """p of a bend in the season beside a straight rise or fall, as a hump or hollow, of good and bad days that hang
    together but bend nowhere: what is smooth and not straight is neither a slow change nor good and bad days."""
    day = _centred_days(series)
    straight = _flat(attrs.evolve(series, beside=np.column_stack([day, series.beside])))
    rest, weights = _drawn_from(series, straight, _effects_beside(series), draws, seed)
    bends = np.column_stack([day**2, day**3])
    inner = np.einsum("sd,di,dj->sij", weights, straight, straight) + _NEAR * np.eye(straight.shape[1])
    along = np.linalg.solve(inner, np.einsum("sd,di,dk->sik", weights, straight, bends))
    left = bends - np.einsum("di,sik->sdk", straight, along)
    score = np.einsum("sdk,sd->sk", left, rest)
    spread = np.einsum("sd,sdk,sdl->skl", weights, left, left) + _NEAR * np.eye(bends.shape[1])
    squares = np.einsum("sk,sk->s", score, np.linalg.solve(spread, score[:, :, None])[:, :, 0])
    return float((squares >= squares[0] * (1 - _NEAR)).sum() / (draws + 1))


def uneven_days(series: DaySeries, draws: int, seed: int) -> DayChange:
    """Days that differ from their smooth trend by more than the chance of each flower would have them."""
    rest, weights = _drawn_from(series, trend(series), DayEffects(0.0, 0.0), draws, seed)
    squares = (rest**2 / weights).sum(1)
    as_far = int((squares >= squares[0] * (1 - _NEAR)).sum())
    return DayChange(_effects_beside(series).sd, as_far / (draws + 1), max(float(squares[0] - squares[1:].mean()), 0.0))


def _flat(series: DaySeries) -> Floats:
    """One level for all days, beside what else differed between them."""
    return with_columns(np.ones((series.days.size, 1)), series.beside)


def _drawn_from(
    series: DaySeries, design: Floats, effects: DayEffects, draws: int, seed: int
) -> tuple[Floats, Floats]:
    """The series as seen and those drawn from its fit, a row each: events less those fitted anew, and weights."""
    chances, _ = fitted_chances(series.events[None, :], series.trials, design, series.offset)
    every = np.concatenate([series.events[None, :], drawn_series(series, chances[0], effects, draws, seed)])
    fitted, _ = fitted_chances(every, series.trials, design, series.offset)
    return every - series.trials * fitted, np.maximum(series.trials * fitted * (1 - fitted), _NEAR)


def _effects_beside(series: DaySeries) -> DayEffects:
    """Good and bad days beside a smooth trend."""
    design = trend(series)
    chances, _ = fitted_chances(series.events[None, :], series.trials, design, series.offset)
    return day_effects(series, chances[0], design.shape[1])


def _centred_days(series: DaySeries) -> Floats:
    return np.asarray((series.days - series.days.mean()) / max(float(np.ptp(series.days)), 1.0), dtype=np.float64)
