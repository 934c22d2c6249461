"""Root-winters sorted into the groups that were asked for: a row each with the share that lived."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import attrs

from perennia.analysis.decisions.surviving.root_winters import DIED, LEFT, NOT_REGROWN, OPEN, Winter, share_alive
from perennia.analysis.decisions.surviving.shares import Share
from perennia.analysis.units import NOT_RECORDED
from perennia.checking import arguments
from perennia.errors import AnalysisError

_LEVELS: dict[str, Callable[[Winter], object]] = {
    "wintering": lambda winter: winter.wintering,
    "winter": lambda winter: winter.winter_name,
    "crop": lambda winter: winter.crop,
    "cultivar": lambda winter: winter.cultivar,
    "site": lambda winter: winter.site,
    "bed": lambda winter: winter.bed,
    "box": lambda winter: winter.box,
    "plant_season": lambda winter: winter.plant_season,
    "raised_from": lambda winter: winter.raised_from,
}
FACTORS = tuple(_LEVELS)
"""What roots can be grouped by."""
NESTED = {"crop": ("cultivar",), "bed": ("site",), "box": ("site", "wintering")}
"""Naming groups by the first holds the others apart with it."""
FIGURES = {
    "n_roots": "Int64", "n_plants": "Int64", "n_boxes": "Int64", "alive": "Int64", "dead": "Int64",
    "not_regrown": "Int64", "interval_censored": "Int64", "open": "Int64", "left": "Int64", "share": "Float64",
    "low": "Float64", "high": "Float64", "level": "Float64", "method": "string", "withheld": "string",
}  # fmt: skip
"""Columns of the table of survival after the crop and what it was grouped by; one row a group.

n_roots: winters of a root that are decided, alive and dead together; n_plants: how many plants they are of; n_boxes:
how many boxes, a root that shared none being one of its own. dead: found dead or not_regrown by the crop's latest
regrowth; interval_censored: those of them whose death lies between two days a fortnight or more apart. open: not yet
decided, and left: taken out or divided before it could show; neither is in n_roots. share: part of n_roots alive; low,
high: its interval at level, by method; withheld: why there is none.
"""


@attrs.frozen
class Group:
    """Winters alike in crop and in what was asked for; key names them in that order, crop first."""

    factors: tuple[str, ...]
    key: tuple[str, ...]
    winters: tuple[Winter, ...]
    share: Share
    level: float

    @property
    def name(self) -> str:
        """What tells the group from others of its crop; of a group by crop alone, the crop."""
        return ", ".join(self.key[1:]) or self.key[0]

    @property
    def crop(self) -> str:
        """Its crop."""
        return self.key[0]

    @property
    def decided(self) -> list[Winter]:
        """Its winters that are decided."""
        return [winter for winter in self.winters if winter.decided]

    def number(self, outcome: str) -> int:
        """How many of its winters ended so."""
        return sum(winter.outcome == outcome for winter in self.winters)

    @property
    def row(self) -> dict[str, object]:
        """The group as a row of the table."""
        found = self.share
        named: dict[str, object] = dict(zip(self.factors, self.key, strict=True))
        return named | {
            "n_roots": found.roots, "n_plants": len({winter.plant for winter in self.decided}),
            "n_boxes": found.boxes, "alive": found.alive, "dead": self.number(DIED) + self.number(NOT_REGROWN),
            "not_regrown": self.number(NOT_REGROWN),
            "interval_censored": sum(winter.interval_censored for winter in self.winters),
            "open": self.number(OPEN), "left": self.number(LEFT),
            "share": found.share, "low": found.low, "high": found.high, "level": self.level,
            "method": found.method or None, "withheld": found.withheld,
        }  # fmt: skip


def choose_factors(by: Sequence[str]) -> tuple[str, ...]:
    """What to group by, crop first. Raises AnalysisError for another word or one named twice, ArgumentError."""
    named = arguments.names(by, "by")
    unknown = [name for name in named if name not in FACTORS]
    if unknown or len(set(named)) < len(named):
        raise AnalysisError(f"by takes each of {', '.join(FACTORS)} at most once, not {by!r}")
    return ("crop", *(name for name in named if name != "crop"))


def apart_in(factors: Sequence[str], one: Sequence[str], other: Sequence[str]) -> list[str]:
    """The factors in which two keys differ, without those that differ because another does."""
    apart = [factor for factor, mine, yours in zip(factors, one, other, strict=True) if mine != yours]
    follows = {nested for factor in apart for nested in NESTED.get(factor, ())}
    return [factor for factor in apart if factor not in follows]


def level_of(winter: Winter, factor: str) -> str:
    """The level of a factor that a winter has."""
    value = _LEVELS[factor](winter)
    return NOT_RECORDED if value is None else str(value)


def groups_of(winters: Iterable[Winter], factors: Sequence[str], level: float) -> list[Group]:
    """The winters by the factors, in the order of their names, numbers by size."""
    found: dict[tuple[str, ...], list[Winter]] = {}
    for winter in winters:
        found.setdefault(tuple(level_of(winter, factor) for factor in factors), []).append(winter)
    return [
        Group(tuple(factors), key, tuple(found[key]), share_alive(found[key], level), level)
        for key in sorted(found, key=_by_size)
    ]


def _by_size(key: tuple[str, ...]) -> tuple[tuple[int, str], ...]:
    return tuple((int(part) if part.isdecimal() else -1, part) for part in key)
