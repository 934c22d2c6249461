"""Simulated boxes of roots of a known share alive: how often intervals hold it and tests find what is not there.

Roots of one box live or die together to a degree: the share of a box is drawn from a beta distribution, ``alike`` being
the correlation between two roots of a box. ``python tests/calibration/survival_gardens.py --gardens 10000`` prints a
JSON object a case.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np

from perennia.analysis.decisions.surviving.lifetimes import log_rank
from perennia.analysis.decisions.surviving.root_winters import Winter
from perennia.analysis.decisions.surviving.shares import share_of_boxes
from perennia.analysis.decisions.surviving.survival_differences import differences
from perennia.analysis.decisions.surviving.survival_groups import groups_of

LEVEL = 0.95
_ROOT: dict[str, Any] = dict.fromkeys(field.name for field in attrs.fields(Winter)) | {
    "label": "root", "crop": "invented", "winter": 2023, "winter_name": "2023", "plants": 1,
}  # fmt: skip


@attrs.frozen
class Case:
    """So many boxes of so many roots, each in one (sizes differ by half where uneven), and their true share alive."""

    boxes: int
    roots: int
    share: float
    alike: float
    uneven: bool = False


CASES = [
    Case(boxes, roots, share, alike, uneven)
    for boxes, roots in ((3, 4), (3, 10), (5, 5), (10, 3), (10, 10), (30, 1))
    for share in (0.5, 0.8, 0.95)
    for alike in (0.0, 0.2, 0.6)
    for uneven in (False, True)
    if roots > 1 or (alike == 0.0 and not uneven)
]


def drawn(case: Case, random: np.random.Generator) -> list[tuple[int, int]]:
    """Roots alive and all, box by box."""
    sizes = np.full(case.boxes, case.roots)
    if case.uneven:
        sizes = np.maximum(1, np.where(np.arange(case.boxes) % 2, sizes // 2, sizes + sizes // 2))
    shares = np.full(case.boxes, case.share)
    if case.alike:
        weight = 1 / case.alike - 1
        shares = random.beta(weight * case.share, weight * (1 - case.share), case.boxes)
    return list(zip(random.binomial(sizes, shares).tolist(), sizes.tolist(), strict=True))


def coverage(case: Case, gardens: int, seed: int = 41) -> tuple[float, float]:
    """How often the interval holds the true share, and its mean width."""
    random = np.random.default_rng(seed)
    held, widths = 0, 0.0
    for _ in range(gardens):
        found = share_of_boxes(drawn(case, random), LEVEL)
        low, high = (0.0 if end is None else end for end in (found.low, found.high))
        held += low <= case.share <= high
        widths += high - low
    return held / gardens, widths / gardens


def size_between_boxes(case: Case, gardens: int, seed: int = 42) -> float:
    """How often two winterings that are the same in truth, with so many boxes each, give a p of 0.05 or less."""
    random = np.random.default_rng(seed)
    small = 0
    for _ in range(gardens):
        winters = [winter for arm in ("heated", "none") for winter in _wintered(arm, drawn(case, random))]
        (row,) = differences(groups_of(winters, ("crop", "wintering"), LEVEL), across_crops=False)
        small += float(str(row["p"])) <= 0.05
    return small / gardens


def difference_coverage(case: Case, gap: float, gardens: int, seed: int = 43) -> float:
    """How often the interval of a difference of shares, with so many boxes an arm, holds the true one."""
    random = np.random.default_rng(seed)
    held = 0
    for _ in range(gardens):
        lower = attrs.evolve(case, share=case.share - gap)
        winters = [*_wintered("heated", drawn(case, random)), *_wintered("none", drawn(lower, random))]
        (row,) = differences(groups_of(winters, ("crop", "wintering"), LEVEL), across_crops=False)
        held += float(str(row["low"])) <= gap <= float(str(row["high"]))
    return held / gardens


def size_of_log_rank(plants: int, gardens: int, seed: int = 44) -> float:
    """How often two groups that die alike, a third of them in any winter, give a log-rank p of 0.05 or less."""
    random = np.random.default_rng(seed)
    small = 0
    for _ in range(gardens):
        lived = random.geometric(1 / 3, 2 * plants) + 0.5
        ended = random.integers(1, 6, 2 * plants)
        found = log_rank(
            np.minimum(lived, ended).tolist(), (lived < ended).tolist(), ["a"] * plants + ["b"] * plants
        )
        small += found is not None and found.p <= 0.05
    return small / gardens


def _wintered(protection: str, boxes: list[tuple[int, int]]) -> Iterator[Winter]:
    for number, (alive, roots) in enumerate(boxes):
        for root in range(roots):
            yield Winter(**_ROOT | {
                "plant": f"{protection} {number} {root}", "box": f"{protection} {number}",
                "wintering": f"bare root, {protection}", "outcome": "survived" if root < alive else "died",
            })  # fmt: skip


def main() -> None:
    """Print what each case comes to."""
    asked = argparse.ArgumentParser(description=main.__doc__)
    asked.add_argument("--gardens", type=int, default=10_000)
    gardens = asked.parse_args().gardens
    for case in CASES:
        held, width = coverage(case, gardens)
        said = {"name": "coverage", **attrs.asdict(case), "held": held, "width": round(width, 3)}
        print(json.dumps(said), flush=True)
    for case in (Case(4, 5, 0.8, 0.3), Case(6, 3, 0.8, 0.3), Case(12, 1, 0.8, 0.0)):
        print(json.dumps({"name": "size", **attrs.asdict(case), "small": size_between_boxes(case, gardens)}))
        print(json.dumps({"name": "difference", **attrs.asdict(case), "gap": 0.3,
                          "held": difference_coverage(case, 0.3, gardens)}))  # fmt: skip
    for plants in (10, 20, 50):
        print(json.dumps({"name": "log-rank size", "plants": plants, "small": size_of_log_rank(plants, gardens)}))


if __name__ == "__main__":
    main()
