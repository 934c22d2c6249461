"""The effect of one comparison: shift and ratio with their intervals, as columns of a table and as a sentence."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from numbers import Real

import attrs
import numpy as np
import numpy.typing as npt

from perennia.analysis.exact import (
    ExactTest,
    Scores,
    exact_paired,
    exact_two_sample,
    ratio_paired,
    ratio_two_sample,
)
from perennia.analysis.measures import Measure, number, probability
from perennia.errors import AnalysisError

COLUMNS = {
    "shift": "Float64", "shift_low": "Float64", "shift_high": "Float64",
    "ratio": "Float64", "ratio_low": "Float64", "ratio_high": "Float64",
    "level": "Float64", "p": "Float64", "smallest_p": "Float64",
}  # fmt: skip
"""Columns of an effect; an end that is missing beside an estimate is unbounded."""
REACH = 0.05
"""The p a grower is used to: a layout that cannot go below it is told so."""


@attrs.frozen
class Effect:
    """A shift, and for crops the ratio, both from the same test."""

    shift: ExactTest
    ratio: ExactTest | None

    def columns(self) -> dict[str, object]:
        """Values for COLUMNS."""
        ratio = self.ratio
        return {
            "shift": self.shift.estimate, "shift_low": self.shift.low, "shift_high": self.shift.high,
            "ratio": ratio.estimate if ratio else None,
            "ratio_low": ratio.low if ratio else None, "ratio_high": ratio.high if ratio else None,
            "level": self.shift.level, "p": self.shift.p, "smallest_p": self.shift.smallest_p,
        }  # fmt: skip

    def sentence(self, measure: Measure) -> str:
        """Shift, ratio, p and what this layout could have shown at all."""
        shift = self.shift
        text = f"shift {measure.gap(shift.estimate)} ({_percent(shift.level)} interval {_ends(shift, sign=True)})"
        if self.ratio is None and measure.kind != "day":
            text += ", no ratio of nothing to nothing"
        elif self.ratio is not None and math.isinf(self.ratio.estimate):
            text += ", no finite ratio"
        elif self.ratio is not None:
            text += f", ratio {number(self.ratio.estimate)} ({_ends(self.ratio, sign=False)})"
        text += f"; p {probability(shift.p)} as if randomised, smallest p this layout could give "
        text += probability(shift.smallest_p)
        if shift.smallest_p > REACH:
            text += "; this layout cannot reach 5 % whatever the crop, "
            text += f"and its interval is one of {_percent(shift.level)}"
        return text + "."


NO_EFFECT: dict[str, object] = dict.fromkeys(COLUMNS)


def two_arm_effect(
    strata: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]], measure: Measure, scores: Scores, level: float
) -> Effect:
    """The effect between two arms within strata."""
    shift = exact_two_sample(strata, scores=scores, level=level)
    if measure.kind == "day" or _without_ratio(side for pair in strata for side in pair):
        return Effect(shift, None)
    return Effect(shift, ratio_two_sample(strata, scores=scores, level=level))


def paired_effect(
    later: Sequence[float], first: Sequence[float], measure: Measure, scores: Scores, level: float
) -> Effect:
    """The effect within pairs, later against first."""
    shift = exact_paired(np.subtract(later, first), scores=scores, level=level)
    if measure.kind == "day" or _without_ratio((later, first)):
        return Effect(shift, None)
    return Effect(shift, ratio_paired(later, first, scores=scores, level=level))


def _without_ratio(sides: Iterable[npt.ArrayLike]) -> bool:
    """Whether a ratio says nothing: of crops below nothing, or of nothing to nothing."""
    values = np.concatenate([np.asarray(side, dtype=float) for side in sides])
    return bool(values.min() < 0 or values.max() <= 0)


def choose_scores(statistic: str, level: float) -> Scores:
    """The scores named. Raises AnalysisError for another name, or for a level outside (0, 1)."""
    if not isinstance(level, Real) or not 0 < level < 1:
        raise AnalysisError(f"level {level!r} is not between 0 and 1; 0.95 is usual")
    if statistic == "ranks":
        return "ranks"
    if statistic == "values":
        return "values"
    raise AnalysisError(f"unknown statistic {statistic!r}: choose 'ranks' or 'values'")


def _percent(level: float) -> str:
    return f"{100 * level:.4g} %"


def _ends(test: ExactTest, *, sign: bool) -> str:
    low = "unbounded below" if test.low is None else number(test.low, sign=sign)
    high = "unbounded above" if test.high is None or math.isinf(test.high) else number(test.high, sign=sign)
    return f"{low} to {high}"
