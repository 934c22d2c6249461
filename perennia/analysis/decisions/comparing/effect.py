"""The effect of one comparison: shift and ratio with their intervals, as columns of a table and as a sentence."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from numbers import Real

import attrs
import numpy as np
import numpy.typing as npt

from perennia.analysis.exact import (
    Equivalence,
    ExactTest,
    Scores,
    equivalent_paired,
    equivalent_two_sample,
    exact_paired,
    exact_two_sample,
    ratio_paired,
    ratio_two_sample,
)
from perennia.analysis.measures import Measure, number, probability
from perennia.checking import arguments
from perennia.errors import AnalysisError

COLUMNS = {
    "shift": "Float64", "shift_low": "Float64", "shift_high": "Float64",
    "ratio": "Float64", "ratio_low": "Float64", "ratio_high": "Float64",
    "level": "Float64", "p": "Float64", "p_holm": "Float64", "smallest_p": "Float64",
    "margin": "Float64", "p_equivalence": "Float64", "smallest_margin": "Float64", "margin_of_n": "Float64",
}  # fmt: skip
"""Columns of an effect; an end that is missing beside an estimate is unbounded.

shift, in the unit of the measure, and ratio: of the first arm or the later season against the other, with the interval
_low to _high at level. p: two-sided, and smallest_p the smallest that this layout could give. p_holm: p adjusted for
the several measures asked together of one row (Holm 1979). margin, p_equivalence, smallest_margin, margin_of_n: see
exact.Equivalence, missing unless a margin was given.
"""
REACH = 0.05
"""The p a grower is used to: a layout that cannot go below it is told so."""


@attrs.frozen
class Effect:
    """A shift, and for crops the ratio, both from the same test, and whether the shift is within a margin."""

    shift: ExactTest
    ratio: ExactTest | None
    equivalence: Equivalence | None = None

    def columns(self) -> dict[str, object]:
        """Values for COLUMNS."""
        ratio, within = self.ratio, self.equivalence
        return {
            "shift": self.shift.estimate, "shift_low": self.shift.low, "shift_high": self.shift.high,
            "ratio": ratio.estimate if ratio else None,
            "ratio_low": ratio.low if ratio else None, "ratio_high": ratio.high if ratio else None,
            "level": self.shift.level, "p": self.shift.p, "p_holm": self.shift.p, "smallest_p": self.shift.smallest_p,
            "margin": within.margin if within else None, "p_equivalence": within.p if within else None,
            "smallest_margin": within.smallest_margin if within else None,
            "margin_of_n": within.margin_of_n if within else None,
        }  # fmt: skip

    def sentence(self, measure: Measure, p_holm: float | None = None, by_lot: str | None = None) -> str:
        """Shift, ratio, p and what this layout could have shown at all. p_holm: p among several measures; by_lot: the
        trial in which the arms were drawn by lot."""
        shift = self.shift
        bounded = _bounded(shift)
        text = f"shift {measure.gap(shift.estimate)} "
        text += f"({_percent(shift.level)} interval {_ends(shift, sign=True)})" if bounded else "(so few bound nothing)"
        if self.ratio is None and measure.kind != "day":
            text += ", no ratio of nothing to nothing"
        elif self.ratio is not None and math.isinf(self.ratio.estimate):
            text += ", no finite ratio"
        elif self.ratio is not None:
            text += f", ratio {number(self.ratio.estimate)}"
            text += f" ({_ends(self.ratio, sign=False)})" if bounded else ""
        text += f"; p {probability(shift.p)} {by_lot or 'as if randomised'}"
        if p_holm is not None:
            text += f" ({probability(p_holm)} among the measures asked, after Holm)"
        text += f", smallest p this layout could give {probability(shift.smallest_p)}"
        if shift.smallest_p > REACH:
            text += "; this layout cannot reach 5 % whatever the crop"
            text += f", and its interval is one of {_percent(shift.level)}" if bounded else ""
        if self.equivalence is not None:
            text += f"; {_within(self.equivalence, measure)}"
        return text + "."


NO_EFFECT: dict[str, object] = dict.fromkeys(COLUMNS)


@attrs.frozen
class Asked:
    """How every effect of one question is reached. margin: the shift that would not matter, if equivalence is asked."""

    scores: Scores
    level: float
    margin: float | None = None


def two_arm_effect(strata: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]], measure: Measure, asked: Asked) -> Effect:
    """The effect between two arms within strata."""
    shift = exact_two_sample(strata, scores=asked.scores, level=asked.level)
    ratio = within = None
    if measure.kind != "day" and not _without_ratio(side for pair in strata for side in pair):
        ratio = ratio_two_sample(strata, scores=asked.scores, level=asked.level)
    if asked.margin is not None:
        within = equivalent_two_sample(strata, asked.margin, scores=asked.scores)
    return Effect(shift, ratio, within)


def paired_effect(later: Sequence[float], first: Sequence[float], measure: Measure, asked: Asked) -> Effect:
    """The effect within pairs, later against first; both must not be infinite."""
    gaps = np.subtract(later, first)
    shift = exact_paired(gaps, scores=asked.scores, level=asked.level)
    ratio = within = None
    if measure.kind != "day" and not _without_ratio((later, first)):
        ratio = ratio_paired(later, first, scores=asked.scores, level=asked.level)
    if asked.margin is not None:
        within = equivalent_paired(gaps, asked.margin, scores=asked.scores)
    return Effect(shift, ratio, within)


def _without_ratio(sides: Iterable[npt.ArrayLike]) -> bool:
    """Whether a ratio says nothing: of crops below nothing, or of nothing to nothing."""
    values = np.concatenate([np.asarray(side, dtype=float) for side in sides])
    return bool(values.min() < 0 or values.max() <= 0)


def asked_for(
    statistic: str, level: float, margin: float | None = None, measures: Sequence[Measure] = ()
) -> Asked:
    """How effects are to be reached, in the measures asked for. Raises AnalysisError for another statistic, for a level
    outside (0, 1), or a margin without the one measure it is in, ArgumentError for one that is no number above 0."""
    if not isinstance(level, Real) or not 0 < level < 1:
        raise AnalysisError(f"level {level!r} is not between 0 and 1; 0.95 is usual")
    limit = None if margin is None else arguments.a_number_above_0(margin, "margin")
    if margin is not None and statistic in ("ranks", "values") and len(measures) != 1:
        raise AnalysisError("margin is in the unit of one measure; give that measure, such as total_g")
    if statistic == "ranks":
        return Asked("ranks", level, limit)
    if statistic == "values":
        return Asked("values", level, limit)
    raise AnalysisError(f"unknown statistic {statistic!r}: choose 'ranks' or 'values'")


def _within(found: Equivalence, measure: Measure) -> str:
    """Equivalence in words."""
    unit = "days" if measure.kind == "day" else measure.unit
    says = "they differ by less than" if found.p <= REACH else "they are not shown to differ by less than"
    text = f"{says} {number(found.margin)} {unit} (two one-sided tests, p {probability(found.p)}"
    if found.margin_of_n is None:
        return text + "; no margin can be shown with so few)"
    return text + f"; with this n and spread no margin under {number(found.margin_of_n)} {unit} could be shown)"


def _end(value: float, *, sign: bool) -> str:
    return "beyond any number" if math.isinf(value) else number(value, sign=sign)


def _percent(level: float) -> str:
    return f"{100 * level:.4g} %"


def _bounded(test: ExactTest) -> bool:
    """Whether its interval ends anywhere."""
    return test.low not in (None, -math.inf) or test.high not in (None, math.inf)


def _ends(test: ExactTest, *, sign: bool) -> str:
    low = "unbounded below" if test.low is None or test.low == -math.inf else _end(test.low, sign=sign)
    high = "unbounded above" if test.high is None or test.high == math.inf else _end(test.high, sign=sign)
    return f"{low} to {high}"
