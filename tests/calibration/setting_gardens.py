"""Gardens of flowers with a known cause of failure: random, one day, a spell, slow, position, load, none, two at once,
and mechanisms that no form of failure has.

All figures are invented. Each plant has trusses that start on days spread evenly over START_DAYS; a truss opens two or
three flowers a day from its base.
"""

from __future__ import annotations

from datetime import date, timedelta

import attrs
import numpy as np

from perennia.analysis.causes.setting.flowers import Flower, FlowerBook

FIRST = date(2024, 6, 20)
START_DAYS = 30
FLOWERS = 20
SPELL_DAYS = 6
CAUSES = {
    "random": frozenset({"random"}),
    "stop": frozenset({"stop"}),
    "stress": frozenset({"stress"}),
    "position": frozenset({"position"}),
    "load": frozenset({"load"}),
    "none": frozenset({"days"}),
    "stop and position": frozenset({"stop", "position"}),
    "stress and load": frozenset({"stress", "load"}),
    "position and days": frozenset({"position", "days"}),
    "spell": frozenset({"spell"}),
    "stop and stress": frozenset({"stop", "stress"}),
    "spell and position": frozenset({"spell", "position"}),
    "load and position": frozenset({"load", "position"}),
    "load and days": frozenset({"load", "days"}),
    "spell and load": frozenset({"spell", "load"}),
    "whole trusses": frozenset({"trusses"}),
    "every third flower": frozenset({"thirds"}),
    "one plant gives up": frozenset({"one plant"}),
    "some plants slowly": frozenset({"some slowly"}),
    "weak plants": frozenset({"weak plants"}),
    "rise and fall": frozenset({"hump"}),
    "some plants for a week": frozenset({"some briefly"}),
}
"""By name, what works in the garden: days are good and bad ones, correlated from day to day, with no other cause; a
spell is six opening days on which next to nothing sets. The last seven are mechanisms that no form of failure has."""
_NUMBERS = {
    "load": 0, "none": 1, "position": 2, "position and days": 3, "random": 4, "stop": 5, "stop and position": 6,
    "stress": 7, "stress and load": 8, **{cause: place for place, cause in enumerate(CAUSES) if place >= 9},
}  # fmt: skip
"""Where the random numbers of a cause begin; held fast, so that a new cause changes no other."""

_PICKED_AT = 16
_LATE_DROP = 0.05


@attrs.frozen(eq=False)
class Planted:
    """Flowers as they open, in order of truss and position."""

    plant: np.ndarray
    truss: np.ndarray
    position: np.ndarray
    opened: np.ndarray


@attrs.frozen
class Strength:
    """How strong what works is, on the logit scale or as a share. plants: sd between plants; days: sd of good and bad
    days, days_alike their correlation; stop: share of open flowers and young pods that one day takes; slow: fall over
    the season; position: fall over the upper half of a truss; load: fall a pod growing on the plant; spell: fall on its
    days."""

    plants: float = 0.3
    days: float = 0.6
    days_alike: float = 0.6
    stop: float = 0.9
    slow: float = 3.0
    position: float = 2.5
    load: float = 0.12
    spell: float = 4.0


def garden(
    cause: str, seed: int, *, plants: int = 5, trusses: int = 12, unequal_picking: bool = False,
    looks_every: int = 1, strength: Strength | None = None,
) -> FlowerBook:  # fmt: skip
    """One garden under a cause of CAUSES. unequal_picking: half of the plants are picked small, the others late.
    looks_every: days between looks, at which all that came since the last is written down."""
    random = np.random.default_rng([seed, _NUMBERS[cause]])
    works, force = CAUSES[cause], strength or Strength()
    stand = _planted(random, plants, trusses)
    last = int(stand.opened.max()) + 1
    logits = np.zeros(stand.opened.size) + force.plants * random.normal(size=plants)[stand.plant]
    if "days" in works:
        logits += force.days * _days(random, last, force.days_alike)[stand.opened]
    if "stress" in works:
        logits += force.slow * (0.5 - stand.opened / last)
    if "position" in works:
        rank = (stand.position - 1) / (FLOWERS - 1)
        logits += 0.5 - force.position * np.clip(2 * rank - 0.7, 0, 1)
    if "spell" in works:
        first = int(random.integers(last // 3, 2 * last // 3))
        logits -= force.spell * ((stand.opened >= first) & (stand.opened < first + SPELL_DAYS))
    logits += _outside_the_forms(random, stand, works, last)
    picked_at = np.full(plants, _PICKED_AT)
    if unequal_picking:
        picked_at = np.where(np.arange(plants) % 2, 8, 40)
    stopped = int(random.integers(last // 3, 2 * last // 3)) if "stop" in works else None
    return _book(_fates(random, stand, logits, picked_at, force, "load" in works, stopped, looks_every))


def _outside_the_forms(
    random: np.random.Generator, stand: Planted, works: frozenset[str], last: int
) -> np.ndarray:
    """Mechanisms that none of the forms describes, on the logit scale."""
    logits = np.zeros(stand.opened.size)
    if "trusses" in works:
        logits += 1.2 * random.normal(size=int(stand.truss.max()) + 1)[stand.truss]
    if "thirds" in works:
        logits += 0.7 - 2.5 * (stand.position % 3 == 0)
    if "one plant" in works:
        logits -= 4.0 * ((stand.plant == 0) & (stand.opened > last // 2))
    if "some slowly" in works:
        logits += (stand.plant < 2) * 4.0 * (0.5 - stand.opened / last)
    if "weak plants" in works:
        logits -= 2.5 * (stand.plant < 2)
    if "hump" in works:
        logits += 1.2 - 3.0 * np.abs(2 * stand.opened / last - 1)
    if "some briefly" in works:
        first = int(random.integers(last // 3, 2 * last // 3))
        logits -= 4.0 * ((stand.plant < 2) & (stand.opened >= first) & (stand.opened < first + SPELL_DAYS))
    return logits


def _planted(random: np.random.Generator, plants: int, trusses: int) -> Planted:
    starts = random.integers(0, START_DAYS, size=plants * trusses)
    rows = []
    for truss, start in enumerate(starts):
        day, position = int(start), 1
        while position <= FLOWERS:
            for _ in range(int(random.integers(2, 4))):
                if position <= FLOWERS:
                    rows.append((truss // trusses, truss, position, day))
                    position += 1
            day += 1
    return Planted(*(np.array(column) for column in zip(*rows, strict=True)))


def _days(random: np.random.Generator, n: int, alike: float) -> np.ndarray:
    noise = random.normal(size=n)
    for day in range(1, n):
        noise[day] = alike * noise[day - 1] + (1 - alike**2) ** 0.5 * noise[day]
    return noise


def _fates(
    random: np.random.Generator, stand: Planted, logits: np.ndarray, picked_at: np.ndarray, force: Strength,
    by_load: bool, stopped: int | None, looks_every: int,
) -> list[Flower]:  # fmt: skip
    """What became of each flower, day after day, for the load of a day is made by the days before."""
    n = stand.opened.size
    set_on = stand.opened + random.integers(3, 6, n)
    dropped_on = stand.opened + random.integers(2, 6, n)
    late_on = set_on + random.integers(4, 8, n)
    late = random.random(n) < _LATE_DROP
    taken = random.random(n) < force.stop
    ended = np.zeros(n, dtype=int)
    is_set = np.zeros(n, dtype=bool)
    ends = np.empty(n, dtype=object)
    for day in range(int(stand.opened.max()) + 1):
        opening = np.flatnonzero(stand.opened == day)
        growing = is_set & (set_on <= day) & (ended > day)
        load = np.bincount(stand.plant[growing], minlength=int(stand.plant.max()) + 1)
        # centred on what a plant carries on the way, so that half of all flowers set
        off = force.load * (load[stand.plant[opening]] - 25) if by_load else 0.0
        chance = 1 / (1 + np.exp(-(logits[opening] - off)))
        is_set[opening] = random.random(opening.size) < chance
        ended[opening] = np.where(is_set[opening], set_on[opening] + picked_at[stand.plant[opening]],
                                  dropped_on[opening])  # fmt: skip
        ends[opening] = np.where(is_set[opening], "picked", "flower dropped")
        gone = opening[is_set[opening] & late[opening]]
        ended[gone], ends[gone] = late_on[gone], "pod dropped"
    if stopped is not None:
        young = taken & (stand.opened <= stopped) & (stand.opened > stopped - 7) & (ended > stopped)
        was_set = young & is_set & (set_on <= stopped)
        ends[young] = np.where(was_set[young], "pod dropped", "flower dropped")
        ended[young], is_set[young] = stopped, was_set[young]

    def on(days: np.ndarray, i: int) -> date:
        return FIRST + timedelta(-(-int(days[i]) // looks_every) * looks_every)

    return [
        Flower(f"P{stand.plant[i]}", (f"P{stand.plant[i]}", f"t{stand.truss[i]:03}"), int(stand.position[i]),
               on(stand.opened, i), on(set_on, i) if is_set[i] else None, on(ended, i), str(ends[i]),
               lost_sight=False)
        for i in range(n)
    ]  # fmt: skip


def _book(flowers: list[Flower]) -> FlowerBook:
    last = max(one.ended_on for one in flowers if one.ended_on)
    return FlowerBook("bean", 2024, "2024", tuple(flowers), (), 0, 0, last)
