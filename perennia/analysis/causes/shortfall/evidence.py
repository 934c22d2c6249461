"""What the records say of one candidate, and the two ways of holding set against them: by opening days, by plants."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from typing import Literal

import attrs

from perennia.analysis.causes.setting.flowers import Flower, FlowerBook
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.checking.words import counted

Seen = Literal["seen", "not seen", "in part", "not recorded"]
"""Whether the records show the candidate at work: in part, where only some of the days or plants are recorded and it is
not seen on those."""
Set = Literal["fewer set", "no fewer set", "no contrast"]

FEWEST = 20
"""Decided flowers on either side below which shares are not held against each other (own rule)."""
_NOTICED = 0.05


@attrs.frozen
class Evidence:
    """seen: whether it was at work by the records. contrast: whether fewer flowers set where it was than where it was
    not. told_for, told_against: sentences. unknown: what the records do not hold of it."""

    seen: Seen
    contrast: Set = "no contrast"
    told_for: tuple[str, ...] = ()
    told_against: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


@attrs.frozen
class Split:
    """Decided flowers and those that set, where something was and where it was not."""

    there: int
    there_set: int
    elsewhere: int
    elsewhere_set: int

    @property
    def contrast(self) -> Set:
        if min(self.there, self.elsewhere) < FEWEST:
            return "no contrast"
        lower = self.there_set / self.there < self.elsewhere_set / self.elsewhere - _NOTICED
        return "fewer set" if lower else "no fewer set"

    def words(self, there: str, elsewhere: str) -> str:
        """Both shares with their numbers."""
        return (
            f"{_share(self.there_set, self.there)} set of those {there}, "
            f"{_share(self.elsewhere_set, self.elsewhere)} of those {elsewhere}"
        )


def by_opening_day(asked: Asked, days: Collection[date], others: Collection[date] | None = None) -> Split:
    """Set among the flowers that opened on these days and on the others, or on all others."""
    return _split([
        (one.opened_on in days, one.set) for one in _flowers(asked.book)
        if one.opened_on and (others is None or one.opened_on in days or one.opened_on in others)
    ])  # fmt: skip


def by_plant(asked: Asked, plants: Collection[str]) -> Split:
    """Set among the flowers of these plants and of the others."""
    return _split([(one.plant in plants, one.set) for one in _flowers(asked.book)])


def by_truss(asked: Asked, trusses: Collection[tuple[str, str]]) -> Split:
    """Set among the flowers of these trusses and of the others."""
    return _split([(one.truss in trusses, one.set) for one in _flowers(asked.book)])


def share_by_plant(asked: Asked) -> Mapping[str, tuple[int, int]]:
    """Pods set and decided flowers of each plant."""
    found: dict[str, tuple[int, int]] = {}
    for one in _flowers(asked.book):
        if one.set is not None:
            k, n = found.get(one.plant, (0, 0))
            found[one.plant] = (k + one.set, n + 1)
    return found


def held_by_plants(asked: Asked, plants: Collection[str], what: str, others: str) -> tuple[Set, tuple[str, ...]]:
    """The contrast between these plants and the others, and a sentence that names every plant's share, for the plant is
    the unit."""
    split = by_plant(asked, plants)
    shares = share_by_plant(asked)
    with_it = [f"{plant} {_share(*shares[plant])}" for plant in sorted(shares) if plant in plants]
    without = [f"{plant} {_share(*shares[plant])}" for plant in sorted(shares) if plant not in plants]
    if not with_it or not without:
        return "no contrast", ()
    text = f"of {what} set {_few(with_it)}; of {others} {_few(without)}"
    return split.contrast, (f"{text} (plants are the units; what else differed between them is not taken off)",)


def _few(parts: list[str]) -> str:
    shown = ", ".join(parts[:6])
    return shown if len(parts) <= 6 else f"{shown} and {len(parts) - 6} more"


def _flowers(book: FlowerBook | None) -> tuple[Flower, ...]:
    return book.flowers if book else ()


def _split(outcomes: list[tuple[bool, bool | None]]) -> Split:
    told = [(there, bool(was_set)) for there, was_set in outcomes if was_set is not None]
    inside = [was_set for there, was_set in told if there]
    outside = [was_set for there, was_set in told if not there]
    return Split(len(inside), sum(inside), len(outside), sum(outside))


def _share(k: int, n: int) -> str:
    return f"{100 * k / n:.0f} % of {counted(n, 'flower')}" if n else "none"
