"""Two groups of root-winters held against each other, among roots that shared winter and place, or not at all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import attrs

from perennia.analysis.decisions.surviving.root_winters import UNKNOWN, Winter, boxes_of
from perennia.analysis.decisions.surviving.shares import Share, pooled_difference, share_of_boxes
from perennia.analysis.decisions.surviving.survival_groups import NESTED, Group, apart_in, level_of
from perennia.analysis.holm import holm as adjust
from perennia.analysis.permutation import COUNTED_AT_MOST, two_arm_distribution
from perennia.analysis.units import NOT_RECORDED

DIFFERENCES = {
    "crop": "string", "group": "string", "against": "string", "apart_in": "string", "n_group": "Int64",
    "n_against": "Int64", "boxes_group": "Int64", "boxes_against": "Int64", "strata": "Int64", "alone": "Int64",
    "difference": "Float64",
    "low": "Float64", "high": "Float64", "level": "Float64", "p": "Float64", "p_holm": "Float64",
    "smallest_p": "Float64", "confounded_with": "string", "withheld": "string",
}  # fmt: skip
"""Columns of Survival.differences; one row a pair of groups that both have a decided winter, are
known for what they are, and differ in one of the things asked about, which apart_in names.

n_group, n_against: roots, and boxes_group, boxes_against: boxes, that shared a stratum (of winter, site, crop, cultivar
and wintering, but for what the groups are named by); strata: how many such; alone: roots that had none to be held
against. difference: share of group less share of against, within strata, low to high its interval at level. p: exact,
as if randomised within strata, boxes exchanged whole; p_holm: adjusted for all the pairs of the answer (Holm 1979,
Scand. J. Stat. 6: 65-70); smallest_p: the smallest that so many deaths in this layout could give. confounded_with: what
the two share no level of: then difference is the raw one of all their roots, without interval or p. withheld: why there
is no interval, and then no p either.
"""
_STRATA = ("winter", "site", "crop", "cultivar", "wintering")
_LEAST_PARTS = 60
# of these there is one of a kind: roots in it tell nothing of how another would have been
SINGLE = ("winter", "bed", "box")


@attrs.frozen
class _Stratum:
    """Decided winters of both groups that can be exchanged: boxes whole, or roots within one box that held both."""

    arms: tuple[tuple[Winter, ...], tuple[Winter, ...]]
    within_box: bool

    def shares(self, level: float) -> tuple[Share, Share]:
        first, second = (share_of_boxes(self.units(arm), level) for arm in self.arms)
        return first, second

    def units(self, arm: Sequence[Winter]) -> list[tuple[int, int]]:
        return [(int(winter.alive), 1) for winter in arm] if self.within_box else boxes_of(arm)


def differences(groups: Sequence[Group], across_crops: bool) -> list[dict[str, object]]:
    """A row for every pair of groups of one crop, or of any where crops are what is asked about."""
    # what is not known is no kind of its own
    known = [group for group in groups if group.decided and {NOT_RECORDED, UNKNOWN}.isdisjoint(group.key)]
    # of groups apart in two things at once nobody could tell which of the two it was
    pairs = [
        (one, other) for one, other in combinations(known, 2)
        if (across_crops or one.crop == other.crop) and len(apart_in(one.factors, one.key, other.key)) == 1
    ]  # fmt: skip
    rows = [_difference(one, other, across_crops) for one, other in pairs]
    return holm(rows)


def holm(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Rows with p_holm beside p, adjusted over all of them that have a p."""
    adjusted = adjust([None if row["p"] is None else float(str(row["p"])) for row in rows])
    return [{**row, "p_holm": p} for row, p in zip(rows, adjusted, strict=True)]


def _difference(one: Group, other: Group, across_crops: bool) -> dict[str, object]:
    strata, factors = _strata(one, other, across_crops)
    row: dict[str, object] = dict.fromkeys(DIFFERENCES)
    row["apart_in"] = apart_in(one.factors, one.key, other.key)[0]
    row |= {
        "crop": one.crop if one.crop == other.crop else None, "group": _named(one, across_crops),
        "against": _named(other, across_crops), "level": one.level, "strata": len(strata),
        "alone": len(one.decided) + len(other.decided) - sum(len(arm) for s in strata for arm in s.arms),
    }  # fmt: skip
    if not strata:
        raw = pooled_difference([(one.share, other.share)])
        return row | {
            "n_group": one.share.roots, "n_against": other.share.roots, "boxes_group": one.share.boxes,
            "boxes_against": other.share.boxes, "difference": raw[0] if raw else None,
            "confounded_with": _apart(one, other, factors),
        }  # fmt: skip
    shares = [stratum.shares(one.level) for stratum in strata]
    found = pooled_difference(shares)
    gap, low, high = found if found is not None else (None, None, None)
    p, smallest = _exact(strata)
    return row | {
        "n_group": sum(first.roots for first, _ in shares), "n_against": sum(second.roots for _, second in shares),
        "boxes_group": sum(first.boxes for first, _ in shares),
        "boxes_against": sum(second.boxes for _, second in shares),
        "difference": gap, "low": low, "high": high, "p": None if low is None else p, "smallest_p": smallest,
        "withheld": next((share.withheld for pair in shares for share in pair if share.withheld), None),
    }  # fmt: skip


def _named(group: Group, across_crops: bool) -> str:
    return ", ".join(group.key) if across_crops else group.name


def _strata(one: Group, other: Group, across_crops: bool) -> tuple[list[_Stratum], list[str]]:
    asked = [factor for factor in one.factors if factor != "crop" or across_crops]
    set_apart = {*asked, *(nested for factor in asked for nested in NESTED.get(factor, ()))} - {*SINGLE}
    factors = [factor for factor in dict.fromkeys((*_STRATA, *(f for f in asked if f in SINGLE)))
               if factor not in set_apart]  # fmt: skip
    sorted_in: dict[tuple[str, ...], tuple[list[Winter], list[Winter]]] = {}
    for place, group in enumerate((one, other)):
        for winter in group.decided:
            key = tuple(level_of(winter, factor) for factor in factors)
            sorted_in.setdefault(key, ([], []))[place].append(winter)
    return [stratum for key in sorted(sorted_in) for stratum in _exchangeable(*sorted_in[key])], factors


def _exchangeable(first: list[Winter], second: list[Winter]) -> list[_Stratum]:
    """Boxes that held both groups are a stratum each; the others are exchanged whole."""
    held = {winter.cluster for winter in first} & {winter.cluster for winter in second}
    parts = [tuple(winter for winter in arm if winter.cluster not in held) for arm in (first, second)]
    found = [_Stratum((parts[0], parts[1]), within_box=False)] if parts[0] and parts[1] else []
    for cluster in sorted(held, key=str):
        inside = [tuple(winter for winter in arm if winter.cluster == cluster) for arm in (first, second)]
        found.append(_Stratum((inside[0], inside[1]), within_box=True))
    return found


def _apart(one: Group, other: Group, factors: Sequence[str]) -> str:
    apart = [
        factor for factor in factors
        if {level_of(winter, factor) for winter in one.decided}.isdisjoint(
            level_of(winter, factor) for winter in other.decided
        )
    ]  # fmt: skip
    return ", ".join(apart) or f"{', '.join(factors)} taken together"


def _exact(strata: Sequence[_Stratum]) -> tuple[float, float]:
    """p of the sum of dead shares in the first arm, and the smallest the same boxes could give if dealt out otherwise.

    Both are of the exact distribution: for roots that stood apart Fisher's, added up over strata. Shares of boxes are
    taken in whole parts, so fine that the sums can be counted; the test is exact for the parts taken.
    """
    boxes = [[stratum.units(arm) for arm in stratum.arms] for stratum in strata]
    parts = math.lcm(*(roots for arms in boxes for arm in arms for _, roots in arm))
    units = sum(len(arm) for arms in boxes for arm in arms)
    parts = min(parts, max(_LEAST_PARTS, COUNTED_AT_MOST // units**3)) if parts > 1 else 1
    scores = [[[round(parts * (roots - alive) / roots) for alive, roots in arm] for arm in arms] for arms in boxes]
    key = tuple((len(first), tuple(sorted([*first, *second]))) for first, second in scores)
    found = two_arm_distribution(key)
    seen = sum(sum(first) for first, _ in scores)
    tails = float(found.upper[seen]), float(found.lower[seen])
    fewest, most = found.lower[found.lower > 0].min(), found.upper[found.upper > 0].min()
    return min(1.0, 2 * min(tails)), min(1.0, 2 * float(min(fewest, most)))
