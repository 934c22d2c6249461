"""Planned power is reached: trials drawn from the truth that was planned for, put to the library's own exact tests.

By hand, 10,000 trials a case: PYTHONPATH=. python tests/calibration/test_planned_power_smoke.py
"""

from __future__ import annotations

import json
import sys
from typing import Any

import attrs
import numpy as np
import pytest

from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.power import PlannedTest, Residuals, Truth
from perennia.analysis.decisions.trials.units_needed import Needed, sets_needed
from perennia.analysis.exact import Scores, exact_two_sample
from perennia.analysis.permutation import Floats

TRIALS = 400
POINTS = 0.03
"""How near planned power must come to what is reached."""


@attrs.frozen
class Case:
    """A plan: beds with their places, the difference in standard deviations, and how plants differ."""

    beds: dict[str, int]
    difference: float
    residuals: Residuals = "normal"
    scores: Scores = "ranks"
    allocation: tuple[int, int] = (1, 1)
    block_size: int | None = None
    wanted: float = 0.8

    def needed(self) -> Needed:
        """The smallest layout that was promised to do."""
        blocks = lay.blocks_of(self.beds, self.allocation, self.block_size)
        found = sets_needed(
            lambda sets: lay.sizes_in(blocks, sets, self.allocation), self.allocation, self.difference, self.wanted,
            Truth(self.residuals, 1.0, 4.0), PlannedTest(self.scores, 0.05),
        )  # fmt: skip
        assert found is not None
        return found


CASES = {
    "two beds": Case({"n": 30, "s": 30}, 1.2),
    "few plants": Case({"n": 12}, 2.2),
    "heavy tails": Case({"n": 40, "s": 20}, 1.2, residuals="heavy"),
    "skewed": Case({"n": 40}, 1.4, residuals="lognormal"),
    "small blocks": Case({"n": 60}, 1.5, block_size=4),
    "unequal arms": Case({"n": 40, "s": 30}, 1.3, allocation=(1, 2)),
    "means": Case({"n": 12, "s": 12}, 1.8, scores="values"),
    "power 90 %": Case({"n": 60}, 1.2, wanted=0.9),
}


def reached(case: Case, needed: Needed, trials: int) -> float:
    """Share of trials whose exact test ends at 5 % or below; beds differ a lot, and the tests must not mind."""
    random = np.random.default_rng(77)
    hits = 0
    for _ in range(trials):
        strata = []
        for first, second in needed.sizes:
            x, y = _drawn(random, case.residuals, first, case.difference), _drawn(random, case.residuals, second, 0.0)
            bed = 5 * random.random()
            strata.append((x + bed, y + bed))
        hits += exact_two_sample(strata, scores=case.scores).p <= 0.05
    return hits / trials


def _drawn(random: np.random.Generator, residuals: Residuals, n: int, gain: float) -> Floats:
    """Plants of mean 4 and standard deviation 1 with a gain, drawn in another way than the library does."""
    if residuals == "lognormal":
        spread = np.log(1 + 1 / 16) ** 0.5
        return random.lognormal(np.log(4 + gain) - spread**2 / 2, spread, n)
    if residuals == "heavy":
        # Student's t as a normal over the root of a chi-square, its variance 3 brought to 1
        return 4 + gain + random.normal(size=n) / np.sqrt(random.chisquare(3, n) / 3) / 3**0.5
    return random.normal(4 + gain, 1, n)


@pytest.mark.parametrize("name", CASES)
def test_planned_power_is_reached(name: str) -> None:
    case = CASES[name]
    needed = case.needed()
    power = needed.power.power
    assert power >= case.wanted
    found = reached(case, needed, TRIALS)
    assert abs(found - power) <= POINTS + 3 * (power * (1 - power) / TRIALS) ** 0.5


def by_hand(trials: int = 10_000) -> None:
    """One JSON object a case: power wanted, planned and reached, and whether it is within 3 points and its error."""
    for name, case in CASES.items():
        needed = case.needed()
        power, found = needed.power.power, reached(case, needed, trials)
        line: dict[str, Any] = {
            "name": name, "sizes": needed.sizes, "wanted": case.wanted, "planned": round(power, 4),
            "value": round(found, 4), "bound": POINTS,
            "holds": bool(abs(found - power) <= POINTS and found >= case.wanted - POINTS),
        }  # fmt: skip
        sys.stdout.write(json.dumps(line) + "\n")


if __name__ == "__main__":
    by_hand()
