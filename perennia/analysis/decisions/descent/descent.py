"""The walk from one plant to all it comes from, or to all that come from it, along the rows of the view parentage."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Literal

import attrs

Way = Literal["up", "down"]


@attrs.frozen
class Link:
    """One plant and one mother of it, as a row of the view parentage has them; by is division, cutting or seed."""

    plant: str
    mother: str
    by: str
    lot: str | None
    on_from: date | None
    on_to: date
    mothers: int
    certain: bool

    def end(self, way: Way) -> str:
        """The plant this link leads to."""
        return self.mother if way == "up" else self.plant

    def start(self, way: Way) -> str:
        """The plant this link is taken from."""
        return self.plant if way == "up" else self.mother


@attrs.frozen
class Relative:
    """One plant with the shortest way to it.

    link: the last link of that way, none for the plant asked about. vegetative, by_seed: how many of its links are
    divisions and cuttings, and how many are seed. certain: whether each of its links is.
    """

    plant: str
    link: Link | None
    vegetative: int
    by_seed: int
    certain: bool

    @property
    def steps(self) -> int:
        """Links between it and the plant asked about."""
        return self.vegetative + self.by_seed


def relatives(plant: str, links: Sequence[Link], way: Way) -> list[Relative]:
    """All ancestors (up) or descendants (down) of a plant, nearest first, each once; links lead from it that way.

    Of two ways as short to a relative the certain one is taken, then the one with fewer generations of seed. What is
    found does not depend on the order of the links, and a circle of links is gone round once.
    """
    leading = links_from(links, way)
    found: dict[str, Relative] = {plant: Relative(plant, None, 0, 0, True)}
    front = [found[plant]]
    while front:
        reached = [
            _beyond(relative, link, way)
            for relative in front
            for link in leading.get(relative.plant, ())
            if link.end(way) not in found
        ]
        front = []
        for relative in sorted(reached, key=_preference):
            if relative.plant not in found:
                found[relative.plant] = relative
                front.append(relative)
    return list(found.values())[1:]


def links_from(links: Iterable[Link], way: Way) -> dict[str, list[Link]]:
    """Links by the plant they are taken from, in the order of days."""
    leading: dict[str, list[Link]] = {}
    for link in sorted(links, key=lambda link: (link.on_to, link.by, link.plant, link.mother)):
        leading.setdefault(link.start(way), []).append(link)
    return leading


def _beyond(relative: Relative, link: Link, way: Way) -> Relative:
    seed = link.by == "seed"
    return Relative(
        plant=link.end(way), link=link, vegetative=relative.vegetative + (not seed), by_seed=relative.by_seed + seed,
        certain=relative.certain and link.certain,
    )  # fmt: skip


def _preference(relative: Relative) -> tuple[object, ...]:
    link = relative.link
    nearer = (link.on_to, link.plant, link.mother) if link else ()
    return (not relative.certain, relative.by_seed, *nearer)
