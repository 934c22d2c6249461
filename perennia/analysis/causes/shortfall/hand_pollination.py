"""Trusses pollinated by hand held against others of the same plant, flower by flower of the same day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.flowers import Flower
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import care_rows
from perennia.analysis.causes.shortfall.evidence import FEWEST, Evidence, split_of

if TYPE_CHECKING:
    from perennia.source import Source

_HELPED = 0.1
"""Difference in share from which pollination by hand is said to have helped (own rule)."""
TRUSSES_TO_RULE_OUT = 4
"""Trusses on either side below which no help is not taken as visits enough (own rule)."""


def hand_pollination(source: Source, asked: Asked) -> Evidence | None:
    """Set on trusses pollinated by hand against the others, where they are named; None where there are too few.

    Only flowers of a plant and day of which both kinds opened: trusses treated in one week and others that flowered in
    another, or on other plants, differ by more than the pollination.
    """
    named = {
        (str(row["plant"]), str(truss))
        for row in care_rows(source, asked, "hand_pollinated") if row["plant"] is not None
        for truss in (() if row["trusses"] is None else row["trusses"])
    }  # fmt: skip
    strata: dict[object, tuple[list[Flower], list[Flower]]] = {}
    for one in asked.book.flowers if asked.book else ():
        if one.opened_on and one.set is not None:
            strata.setdefault((one.plant, one.opened_on), ([], []))[one.truss in named].append(one)
    both = [(left, helped) for left, helped in strata.values() if left and helped]
    alone, treated = ([one for pair in both for one in pair[side]] for side in (0, 1))
    if min(len(alone), len(treated)) < FEWEST:
        return None
    words = split_of([*((True, one.set) for one in treated), *((False, one.set) for one in alone)]).words(
        "pollinated by hand", "left alone on the same plants and days"
    )
    if _difference(both) > _HELPED:
        return Evidence("seen", "fewer set", (f"{words}: more set where they were pollinated by hand",))
    enough = min(len({one.truss for one in side}) for side in (alone, treated)) >= TRUSSES_TO_RULE_OUT
    text = f"{words}: no more set where they were pollinated by hand"
    return Evidence("not seen" if enough else "in part", "no fewer set", (), (text,))


def _difference(strata: list[tuple[list[Flower], list[Flower]]]) -> float:
    """The difference in share between flowers pollinated by hand and others of their plant and day, each plant and day
    weighed by the flowers it has of both, after Mantel and Haenszel."""
    weights, total = 0.0, 0.0
    for alone, treated in strata:
        weight = len(alone) * len(treated) / (len(alone) + len(treated))
        shares = [sum(bool(one.set) for one in side) / len(side) for side in (alone, treated)]
        weights += weight
        total += weight * (shares[1] - shares[0])
    return total / weights
