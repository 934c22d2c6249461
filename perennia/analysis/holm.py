"""Holm's step-down adjustment of several p."""

from __future__ import annotations

from collections.abc import Sequence


def holm(p_values: Sequence[float | None]) -> list[float | None]:
    """Each p adjusted for how many there are, at most 1; missing ones stay missing and are not counted.

    Holm 1979, Scand. J. Stat. 6: 65-70: the smallest of m is taken m times, the next m - 1 times, and so on, none less
    than one before it. The chance of any false claim among all is held, however the p hang together.
    """
    known = sorted((p, place) for place, p in enumerate(p_values) if p is not None)
    adjusted: list[float | None] = [None] * len(p_values)
    highest = 0.0
    for rank, (p, place) in enumerate(known):
        highest = max(highest, min(1.0, p * (len(known) - rank)))
        adjusted[place] = highest
    return adjusted
