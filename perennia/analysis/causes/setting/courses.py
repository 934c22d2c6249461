"""A book of flowers as arrays: outcomes, days, loads at opening; and the series of days in which dates are sought."""

from __future__ import annotations

from datetime import date
from typing import Literal

import attrs
import numpy as np
from scipy import special

from perennia.analysis.causes.setting.date_null import DaySeries
from perennia.analysis.causes.setting.flowers import Flower, FlowerBook
from perennia.analysis.causes.setting.within_days import FlowerArrays
from perennia.analysis.permutation import Booleans, Floats, Integers

Stage = Literal["set", "full size"]

_FEWEST_EXPECTED = 0.3
"""Losses that age alone would bring below which a day says nothing of losses."""
_REMOVED = ("picked", "damaged")
_NEVER = np.iinfo(np.int64).max


@attrs.frozen(eq=False)
class Courses:
    """Flowers with a day of opening, in order of truss and position.

    plant, truss: numbers of each. rank: place among the flowers of its truss from 0 to 1. opened: ordinal of its day.
    kept: whether it set, or came to full size, NaN where undecided. set_on: ordinal of the day its pod was seen, far
    off where none was. lost: whether it dropped on a day known. until: last day on which it was known to be there.
    removed: whether its pod was picked or damaged. open: whether it may yet set or drop.
    """

    plant: Integers
    truss: Integers
    rank: Floats
    opened: Integers
    kept: Floats
    set_on: Integers
    lost: Booleans
    until: Integers
    removed: Booleans
    open: Booleans

    @property
    def decided(self) -> Booleans:
        """Which flowers have an outcome, and opened before the first day of which any flower is open still: of later
        days the failures are known before the successes are, or the other way round."""
        first_open = self.opened[self.open].min(initial=_NEVER)
        return np.asarray(~np.isnan(self.kept) & (self.opened < first_open))


def courses(book: FlowerBook, stage: Stage = "set") -> Courses:
    """The dated flowers of a book."""
    flowers = sorted((one for one in book.flowers if one.opened_on), key=lambda one: (one.truss, one.position))
    plants = {name: number for number, name in enumerate(sorted({one.plant for one in flowers}))}
    trusses = {name: number for number, name in enumerate(sorted({one.truss for one in flowers}))}
    truss = np.array([trusses[one.truss] for one in flowers], dtype=np.int64)
    return Courses(
        plant=np.array([plants[one.plant] for one in flowers], dtype=np.int64),
        truss=truss,
        rank=ranks(truss),
        opened=_days([one.opened_on for one in flowers]),
        kept=np.array([_outcome(one, stage) for one in flowers], dtype=np.float64),
        set_on=_days([one.set_on for one in flowers]),
        lost=np.array([one.lost_on is not None for one in flowers], dtype=bool),
        until=_days([_until(one, book.last_day) for one in flowers]),
        removed=np.array([one.end in _REMOVED and one.ended_on is not None for one in flowers], dtype=bool),
        open=np.array([one.still_open or (stage == "full size" and one.growing) for one in flowers], dtype=bool),
    )


def ranks(truss: Integers) -> Floats:
    """The place of each flower on its truss, from 0 for the first to 1 for the last; flowers stand in order."""
    _, first, counts = np.unique(truss, return_index=True, return_counts=True)
    place = np.arange(truss.size) - np.repeat(first, counts)
    return np.asarray(place / np.maximum(np.repeat(counts, counts) - 1, 1), dtype=np.float64)


def flower_arrays(found: Courses) -> FlowerArrays:
    """The decided flowers, with the pods growing on the truss and left on the plant on the day each opened."""
    keep = found.decided
    return FlowerArrays(
        found.kept[keep], found.plant[keep], found.truss[keep], found.rank[keep], found.opened[keep],
        pods_growing(found, found.truss)[keep], pods_left(found)[keep],
    )  # fmt: skip


def pods_growing(found: Courses, group: Integers) -> Floats:
    """Pods on the truss or plant of each flower on the day it opened: set by then and still there after it."""
    growing = np.zeros(group.size)
    was_set = found.set_on < _NEVER
    for one in np.unique(group):
        ours = group == one
        begun, ended = (np.sort(days[ours & was_set]) for days in (found.set_on, found.until))
        day = found.opened[ours]
        # none ends before it is begun, so that those ended are among those begun
        growing[ours] = np.searchsorted(begun, day, "right") - np.searchsorted(ended, day, "right")
    return growing


def pods_left(found: Courses) -> Floats:
    """Pods on the plant of each flower on the day it opened, did all plants set alike: the flowers the plant had opened
    long enough before, times the share that sets, times the share of its pods not picked or damaged by then.

    The pods that did grow are no measure of load to hold setting against: they are what has set, and a plant that by
    chance set little early would seem to set much later for want of load.
    """
    was_set = found.set_on < _NEVER
    left = np.zeros(found.opened.size)
    if not was_set.any():
        return left
    lag = int(np.median((found.set_on - found.opened)[was_set]))
    share = float(was_set.mean())
    for plant in np.unique(found.plant):
        ours = found.plant == plant
        day = found.opened[ours]
        opened = np.searchsorted(np.sort(found.opened[ours]), day - lag, "right")
        begun = np.searchsorted(np.sort(found.set_on[ours & was_set]), day, "right")
        taken = np.searchsorted(np.sort(found.until[ours & was_set & found.removed]), day, "right")
        left[ours] = opened * share * (1 - taken / np.maximum(begun, 1))
    return left


def unequal_removal(found: Courses) -> float | None:
    """How unequal picking and thinning were between plants: over the opening days, the middle of the widest difference
    between plants in the share of their pods taken so far; None where no day has two plants with five pods."""
    widest = []
    for day in np.unique(found.opened):
        shares = []
        for plant in np.unique(found.plant[found.opened == day]):
            ours = (found.plant == plant) & (found.set_on <= day)
            if ours.sum() >= 5:
                shares.append(float((found.removed & (found.until <= day))[ours].mean()))
        if len(shares) > 1:
            widest.append(max(shares) - min(shares))
    return float(np.median(widest)) if widest else None


def opening_series(found: Courses) -> DaySeries | None:
    """Flowers that set, of those that opened, by opening day; beside it stands their mean place on the truss."""
    keep = found.decided
    if not keep.any():
        return None
    days, place = np.unique(found.opened[keep], return_inverse=True)
    trials = np.bincount(place).astype(np.float64)
    return DaySeries(
        days.astype(np.float64), np.bincount(place, found.kept[keep]).astype(np.float64), trials,
        (np.bincount(place, found.rank[keep]) / trials)[:, None], np.zeros(days.size),
    )  # fmt: skip


def loss_series(found: Courses) -> DaySeries | None:
    """Flowers and pods lost, of those at risk, by the day their loss was seen; offset is what their ages and the days
    since the look before would bring."""
    if not found.lost.any():
        return None
    ages = (found.until - found.opened)[found.lost]
    days, since = _looks(found)
    age = days[:, None] - found.opened
    there = (age >= 0) & (days[:, None] <= found.until) & (age <= ages.max())
    span = int(ages.max()) + 1
    lost = np.bincount(ages, minlength=span)
    at_risk = np.bincount(age[there], np.broadcast_to(since[:, None], age.shape)[there], minlength=span)
    hazard = np.divide(lost, at_risk, out=np.zeros(span), where=at_risk > 0)
    of_age = np.where(there, np.minimum(since[:, None] * hazard[np.clip(age, 0, span - 1)], 1.0), 0.0)
    expected, trials = of_age.sum(1), (of_age > 0).sum(1).astype(np.float64)
    events = np.bincount(np.searchsorted(days, found.until[found.lost]), minlength=days.size).astype(np.float64)
    keep = (expected >= _FEWEST_EXPECTED) & (trials > expected)
    if not keep.any():
        return None
    chance = expected[keep] / trials[keep]
    return DaySeries(
        days[keep].astype(np.float64), events[keep], trials[keep], np.empty((int(keep.sum()), 0)), special.logit(chance)
    )


def _looks(found: Courses) -> tuple[Integers, Floats]:
    """Days on which anything of any flower was seen, up to the last loss, and the days since the look before: a loss
    between two looks is seen at the later one, and a day without a look has no losses to see."""
    seen = np.concatenate([found.opened, found.set_on[found.set_on < _NEVER], found.until[found.lost | found.removed]])
    days = np.unique(seen[seen <= found.until[found.lost].max()])
    return days, np.diff(days, prepend=days[0] - 1).astype(np.float64)


def _outcome(flower: Flower, stage: Stage) -> float:
    known = flower.set if stage == "set" else flower.full
    return np.nan if known is None else float(known)


def _until(flower: Flower, last_day: date) -> date | None:
    """The last day a flower or its pod was known to be there."""
    if flower.ended_on is not None:
        return flower.ended_on
    if flower.end is None and not flower.lost_sight:
        return last_day
    return flower.set_on or flower.opened_on


def _days(days: list[date | None]) -> Integers:
    return np.array([_NEVER if day is None else day.toordinal() for day in days], dtype=np.int64)
