"""What the records say of one candidate, and the two ways of holding set against them: by opening days, by plants."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import date
from statistics import fmean
from typing import Literal

import attrs

from perennia.analysis.causes.setting.flowers import Flower, FlowerBook
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.checking.words import counted, named_few

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
    not. told_for, told_against: sentences. unknown: what the records do not hold of it. days: days of opening on which
    it was at work, None where it is not a matter of days. by_plants: whether the contrast is between plants."""

    seen: Seen
    contrast: Set = "no contrast"
    told_for: tuple[str, ...] = ()
    told_against: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    days: frozenset[date] | None = None
    by_plants: bool = False


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
        """Both shares with their numbers, or that one side has no flower to compare with."""
        sides = ((there, self.there, self.there_set), (elsewhere, self.elsewhere, self.elsewhere_set))
        return ", ".join(
            f"{_share(k, n)} set of those {which}" if n else f"with no decided flowers {which} to compare with"
            for which, n, k in sides
        )


def by_opening_day(asked: Asked, days: Collection[date], others: Collection[date] | None = None) -> Split:
    """Set among the flowers that opened on these days and on the others, or on all others."""
    return split_of([
        (one.opened_on in days, one.set) for one in _flowers(asked.book)
        if one.opened_on and (others is None or one.opened_on in days or one.opened_on in others)
    ])  # fmt: skip


def by_flower(asked: Asked, there: Callable[[Flower], bool]) -> Split:
    """Set among the flowers with a day of opening of which this holds, and among the others."""
    return split_of([(there(one), one.set) for one in _flowers(asked.book) if one.opened_on])


def share_by_plant(asked: Asked) -> Mapping[str, tuple[int, int]]:
    """Pods set and decided flowers of each plant."""
    found: dict[str, tuple[int, int]] = {}
    for one in _flowers(asked.book):
        if one.set is not None:
            k, n = found.get(one.plant, (0, 0))
            found[one.plant] = (k + one.set, n + 1)
    return found


def held_by_plants(asked: Asked, plants: Collection[str], what: str, others: str) -> tuple[Set, tuple[str, ...]]:
    """The contrast between these plants and the others, and a sentence that names every plant's share.

    The plant is the unit: fewer set where the mean of their shares is lower and none of them set as much as any other;
    no fewer where the mean is not lower; anything between is no contrast, for plants of one bed differ.
    """
    shares = {plant: share for plant, share in share_by_plant(asked).items() if share[1] >= FEWEST}
    with_it = {plant: k / n for plant, (k, n) in sorted(shares.items()) if plant in plants}
    without = {plant: k / n for plant, (k, n) in sorted(shares.items()) if plant not in plants}
    if not with_it or not without:
        return "no contrast", ()
    said = [named_few([f"{plant} {_share(*shares[plant])}" for plant in side], 6) for side in (with_it, without)]
    text = f"of {what} set {said[0]}; of {others} {said[1]}"
    words = (f"{text} (plants are the units; what else differed between them is not taken off)",)
    lower = fmean(without.values()) - fmean(with_it.values())
    if lower <= _NOTICED:
        return "no fewer set", words
    return ("fewer set" if max(with_it.values()) < min(without.values()) else "no contrast"), words


def _flowers(book: FlowerBook | None) -> tuple[Flower, ...]:
    return book.flowers if book else ()


def split_of(outcomes: list[tuple[bool, bool | None]]) -> Split:
    """Flowers by whether they are of the one side and whether they set, those undecided left out."""
    told = [(there, bool(was_set)) for there, was_set in outcomes if was_set is not None]
    inside = [was_set for there, was_set in told if there]
    outside = [was_set for there, was_set in told if not there]
    return Split(len(inside), sum(inside), len(outside), sum(outside))


def _share(k: int, n: int) -> str:
    return f"{100 * k / n:.0f} % of {counted(n, 'flower')}" if n else "no decided flower"
