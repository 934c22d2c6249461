"""The share of roots that lived, with an interval that knows which of them shared a box.

Where every root stood for itself, the interval is Wilson's score interval (Newcombe 1998, Stat. Med. 17: 857-872,
doi:10.1002/(SICI)1097-0258(19980430)17:8<857::AID-SIM777>3.0.CO;2-E, method 3). Where roots shared boxes, rot or frost
takes a box as a whole and the box is the cluster: the variance is that of the ratio estimator over boxes (Rao and Scott
1992, Biometrics 48: 577-585, doi:10.2307/2532311), and the interval is the exact binomial one at the effective number
of roots with the degrees of freedom of the boxes (Korn and Graubard 1998, Survey Methodology 24: 193-201), the design
effect never taken below 1. Two rules are our own. A few boxes can look alike by chance, so a quarter of a box all alive
and a quarter all dead are added where boxes are compared: without them the interval held as little as 89 in a hundred
simulated truths at 95 (tests/calibration/survival_gardens.py). And roots tell no less than boxes that live or die whole
would (Kish 1965, Survey Sampling): that many are counted where all roots lived or all died, when boxes tell nothing of
how alike roots in one are.

The interval of a difference squares and adds the distances to the ends of both intervals (Newcombe 1998, Stat. Med. 17:
873-890, doi:10.1002/(SICI)1097-0258(19980430)17:8<873::AID-SIM779>3.0.CO;2-I, method 10; for intervals of any kind Zou
and Donner 2008, Stat. Med. 27: 1693-1702, doi:10.1002/sim.3095). Addresses from memory.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
from scipy import stats

from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError

LEAST_BOXES = 3
"""Below so many boxes no interval is given: two say next to nothing of how boxes differ."""
_DOUBT = 0.25
"""How much of a box."""
WILSON = "Wilson score interval"
CLUSTERED = "exact binomial interval at the effective number of roots, the box as the cluster (Korn and Graubard)"


@attrs.frozen
class Share:
    """A share of roots alive. roots: decided ones; boxes: clusters, a root in no shared box being one of its own.

    share, low, high: parts of 1; share is None without a root, low and high where withheld says why there is no
    interval. method: how the interval was made, empty without one.
    """

    roots: int
    boxes: int
    alive: int
    share: float | None
    low: float | None
    high: float | None
    method: str
    withheld: str | None


def share_of_boxes(boxes: Sequence[tuple[int, int]], level: float = 0.95) -> Share:
    """The share alive of clusters given as (alive, roots), none of them empty.

    Raises AnalysisError for a level that is not between 0 and 1 or a cluster that cannot be.
    """
    check_level(level)
    if any(not 0 <= alive <= roots or roots < 1 for alive, roots in boxes):
        raise AnalysisError("a box holds one root or more, and from none to all of them alive")
    roots, alive = sum(size for _, size in boxes), sum(living for living, _ in boxes)
    if roots == 0:
        return Share(0, 0, 0, None, None, None, "", "no root's winter is decided")
    shared = any(size > 1 for _, size in boxes)
    if not shared:
        wilson = stats.binomtest(alive, roots).proportion_ci(level, method="wilson")
        return Share(roots, len(boxes), alive, alive / roots, float(wilson.low), float(wilson.high), WILSON, None)
    if len(boxes) < LEAST_BOXES:
        return Share(
            roots, len(boxes), alive, alive / roots, None, None, "",
            f"roots shared {'a box' if len(boxes) == 1 else 'boxes'}, and below {LEAST_BOXES} boxes nothing tells how "
            "boxes differ",
        )  # fmt: skip
    effective = effective_roots(boxes, level)
    low, high = _exact(alive / roots * effective, effective, level)
    return Share(roots, len(boxes), alive, alive / roots, low, high, CLUSTERED, None)


def _exact(alive: float, roots: float, level: float) -> tuple[float, float]:
    """The exact binomial interval (Clopper and Pearson 1934, Biometrika 26: 404-413), also of numbers that are not
    whole."""
    tail = (1 - level) / 2
    low = float(stats.beta.ppf(tail, alive, roots - alive + 1)) if alive > 0 else 0.0
    high = float(stats.beta.ppf(1 - tail, alive + 1, roots - alive)) if alive < roots else 1.0
    return low, high


def effective_roots(boxes: Sequence[tuple[int, int]], level: float = 0.95) -> float:
    """How many roots that each stood for itself would tell as much as these boxes (Korn and Graubard 1998)."""
    alive, sizes = np.array(boxes, dtype=np.float64).T
    roots, number = float(sizes.sum()), len(boxes)
    whole = roots**2 / float((sizes**2).sum())
    if alive.sum() in (0.0, roots):
        return whole
    design_effect = max(1.0, _design_effect(alive, sizes))
    tail = (1 + level) / 2
    narrowed = float(stats.t.ppf(tail, roots - 1) / stats.t.ppf(tail, number - 1)) ** 2
    return max(whole, roots / design_effect * min(1.0, narrowed))


def _design_effect(alive: Floats, sizes: Floats) -> float:
    """How much wider boxes of these roots spread than roots apart, with a part of a box all alive and one all dead."""
    weights = np.append(np.ones(sizes.size), [_DOUBT, _DOUBT])
    sizes, alive = np.append(sizes, [sizes.mean()] * 2), np.append(alive, [sizes.mean(), 0.0])
    roots, number = float(weights @ sizes), float(weights.sum())
    share = float(weights @ alive) / roots
    spread = number / (number - 1) * float(weights @ (alive - sizes * share) ** 2) / roots**2
    return spread / (share * (1 - share) / roots)


def difference(one: Share, other: Share) -> tuple[float, float] | None:
    """The interval for the share of one less that of the other, or None where either has none."""
    found = pooled_difference([(one, other)])
    return None if found is None or found[1] is None or found[2] is None else (found[1], found[2])


def pooled_difference(strata: Sequence[tuple[Share, Share]]) -> tuple[float, float | None, float | None] | None:
    """The difference of shares within strata and its interval, None without a stratum that holds both.

    Strata are weighed as Mantel and Haenszel do, by n1 n2 / (n1 + n2) roots; the interval is missing where a stratum's
    share has none.
    """
    both = [(one, other) for one, other in strata if one.share is not None and other.share is not None]
    if not both:
        return None
    weights = np.array([one.roots * other.roots / (one.roots + other.roots) for one, other in both])
    weights /= weights.sum()
    shares = np.array([[one.share, other.share] for one, other in both], dtype=np.float64)
    ends = np.array([[one.low, one.high, other.low, other.high] for one, other in both], dtype=np.float64)
    gap = float(weights @ (shares[:, 0] - shares[:, 1]))
    if np.isnan(ends).any():
        return gap, None, None
    below = np.hypot(shares[:, 0] - ends[:, 0], ends[:, 3] - shares[:, 1])
    above = np.hypot(ends[:, 1] - shares[:, 0], shares[:, 1] - ends[:, 2])
    return gap, gap - float(np.linalg.norm(weights * below)), gap + float(np.linalg.norm(weights * above))


def check_level(level: float) -> float:
    """The level. Raises AnalysisError."""
    if isinstance(level, bool) or not isinstance(level, int | float) or not 0 < level < 1:
        raise AnalysisError(f"level {level!r} is not between 0 and 1; 0.95 is usual")
    return float(level)
