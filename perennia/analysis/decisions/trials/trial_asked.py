"""What a plan of a trial is asked for, every part of it looked at before anything is worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import attrs

from perennia.analysis.decisions.comparing.effect import REACH, asked_for
from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.power import RESIDUALS, PlannedTest, Residuals, Truth
from perennia.analysis.decisions.trials.spread import Spread
from perennia.analysis.decisions.trials.trial_layout import Arms, Block
from perennia.analysis.decisions.trials.units_needed import Needed, sets_needed
from perennia.analysis.measures import Measure
from perennia.checking import arguments
from perennia.errors import AnalysisError
from perennia.records.fields import is_label

_MOST_PLACES = 2_000


@attrs.frozen
class Asked:
    """A plan as asked for."""

    crop: str
    beds: Mapping[str, int]
    seed: int
    arms: Arms
    difference: float | None
    ratio: float | None
    power: float
    level: float
    spread: float | None
    mean: float | None
    residuals: Residuals
    test: PlannedTest
    allocation: tuple[int, int]
    block_size: int | None
    units: int | None
    labels: Mapping[str, Sequence[str]]
    name: str

    def truth(self, sd: float, mean: float | None) -> Truth:
        """What plants are taken to be like at this spread."""
        return Truth(self.residuals, sd, mean)

    def difference_for(self, measured: Measure, known: Spread) -> float | None:
        """The difference to tell apart in the measure's unit, None where none was given."""
        if self.ratio is None:
            return self.difference
        if measured.kind == "day":
            raise AnalysisError(f"{measured.name} is a date, which has no ratio; give difference= in days")
        if known.mean is None or known.mean <= 0:
            raise AnalysisError(
                f"a ratio needs the mean of {self.arms[1]} plants, which is not on record; give mean=, or difference="
            )
        return (self.ratio - 1) * known.mean

    def sets_needed(
        self, blocks: Sequence[Block], difference: float | None, sd: float, mean: float | None
    ) -> Needed | None:
        """The smallest number of sets that reaches the power, None where nothing does or no difference was given."""
        if difference is None:
            return None
        return sets_needed(
            lambda sets: lay.sizes_in(blocks, sets, self.allocation), self.allocation, difference, self.power,
            self.truth(sd, mean), self.test, reach=REACH,
        )  # fmt: skip


def asked_of(
    *, crop: Any, beds: Any, seed: Any, arms: Any, difference: Any, ratio: Any, power: Any, level: Any, spread: Any,
    mean: Any, residuals: Any, statistic: Any, allocation: Any, block_size: Any, units: Any, labels: Any, name: Any,
) -> Asked:  # fmt: skip
    """The parts of a call, checked. Raises AnalysisError, ArgumentError for what is of another kind."""
    scores = asked_for(statistic, level).scores
    two = _two_arms(arms)
    shares = _allocation(allocation)
    number = arguments.a_whole_number(seed, "seed", 7)
    if number < 0:
        raise AnalysisError(f"seed is {seed!r}; give a whole number from 0 on, and write it down with the plan")
    if difference is not None and ratio is not None:
        raise AnalysisError("difference and ratio at once; give the one you think in")
    if not 0.05 < arguments.a_number(power, "power", "a chance between 0.05 and 1, 0.8 is usual") < 1:
        raise AnalysisError(f"power is {power!r}; give a chance between 0.05 and 1, 0.8 is usual")
    if not isinstance(residuals, str) or residuals not in RESIDUALS:
        raise AnalysisError(f"unknown residuals {residuals!r}: choose one of {', '.join(RESIDUALS)}")
    return Asked(
        crop=arguments.a_name(crop, "crop"), beds=_beds(beds), seed=number, arms=two,
        difference=_difference(difference), ratio=_ratio(ratio), power=float(power), level=float(level),
        spread=None if spread is None else arguments.a_number_above_0(spread, "spread"),
        mean=None if mean is None else arguments.a_number_above_0(mean, "mean"),
        residuals=residuals, test=PlannedTest(scores, 1 - float(level)), allocation=shares,
        block_size=None if block_size is None else arguments.a_whole_number(block_size, "block_size", 4),
        units=_units(units, two, shares), labels=_labels(labels, two),
        name=_trial_name(f"{two[0]} against {two[1]}, seed {number}".replace(",", "") if name is None else name),
    )  # fmt: skip


def _trial_name(name: Any) -> str:
    if not is_label(name):
        raise AnalysisError(f"name is {name!r}; a trial has a name of 1 to 60 characters without / or comma")
    return str(name)


def _two_arms(arms: Any) -> Arms:
    named = arguments.names(arms, "arms")
    if len(named) != 2 or named[0] == named[1] or not all(is_label(arm) for arm in named):
        raise AnalysisError(f"arms takes two different names, such as ('overwintered', 'fresh'), not {arms!r}")
    return named[0], named[1]


def _allocation(allocation: Any) -> tuple[int, int]:
    try:
        first, second = (arguments.a_whole_number(share, "allocation", 1) for share in allocation)
    except (TypeError, ValueError) as error:
        raise AnalysisError(f"allocation is {allocation!r}; give two whole numbers, such as (1, 2)") from error
    if min(first, second) < 1 or max(first, second) > 20:
        raise AnalysisError(f"allocation is {allocation!r}; give two whole numbers from 1 to 20")
    common = math.gcd(first, second)
    return first // common, second // common


def _beds(beds: Any) -> dict[str, int]:
    if not isinstance(beds, Mapping) or not beds:
        raise AnalysisError(f"beds is {beds!r}; give each bed with its places, such as {{'north': 8, 'south': 8}}")
    found = {}
    for bed, places in beds.items():
        if not is_label(bed):
            raise AnalysisError(f"{bed!r} is no name of a bed")
        found[str(bed)] = arguments.a_whole_number(places, f"places of {bed}", 8)
    if sum(found.values()) > _MOST_PLACES or min(found.values()) < 1:
        raise AnalysisError(f"beds have from 1 place on, and together at most {_MOST_PLACES}, not {beds!r}")
    return found


def _difference(value: Any) -> float | None:
    if value is None:
        return None
    number = arguments.a_number(value, "difference", "the smallest one that matters, which is not 0")
    if number == 0:
        raise AnalysisError(f"difference is {value!r}; give the smallest one that matters, which is not 0")
    return number


def _ratio(value: Any) -> float | None:
    if value is None:
        return None
    number = arguments.a_number_above_0(value, "ratio")
    if number == 1:
        raise AnalysisError("a ratio of 1 is no difference; give the smallest one that matters, such as 1.3")
    return number


def _units(units: Any, arms: Arms, allocation: tuple[int, int]) -> int | None:
    if units is None:
        return None
    number = arguments.a_whole_number(units, "units", 6)
    if number < 1 or number % allocation[0]:
        raise AnalysisError(f"units is {units!r}; give plants of {arms[0]}, a multiple of {allocation[0]}")
    return number


def _labels(labels: Any, arms: Arms) -> dict[str, tuple[str, ...]]:
    if labels is None:
        return {}
    if not isinstance(labels, Mapping) or not set(labels) <= set(arms):
        raise AnalysisError(f"labels is {labels!r}; give lists by arm, the arms being {arms[0]} and {arms[1]}")
    found = {str(arm): tuple(arguments.names(named, f"labels of {arm}")) for arm, named in labels.items()}
    every = [label for named in found.values() for label in named]
    wrong = [label for label in every if not is_label(label) or every.count(label) > 1]
    if wrong:
        raise AnalysisError(f"{wrong[0]!r} is no label, or stands among the labels twice")
    return found
