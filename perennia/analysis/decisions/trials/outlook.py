"""What a layout can and cannot tell apart at one spread."""

from __future__ import annotations

from collections.abc import Sequence

import attrs

from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.power import (
    simulated_power,
    smallest_difference,
    smallest_margin,
    smallest_p,
)
from perennia.analysis.decisions.trials.trial_asked import Asked
from perennia.analysis.decisions.trials.trial_layout import Block
from perennia.analysis.decisions.trials.units_needed import Needed

OUTLOOK = {
    "spread": "string", "sd": "Float64", "difference": "Float64", "needed_arm": "Int64", "needed_against": "Int64",
    "needed_power": "Float64", "n_arm": "Int64", "n_against": "Int64", "smallest_p": "Float64", "power": "Float64",
    "error": "Float64", "simulations": "Int64", "detectable": "Float64", "margin": "Float64",
}  # fmt: skip
"""Columns of TrialPlan.outlook; one row a spread: as given, or its estimate and the ends of its interval.

sd: the spread. difference: what is to be told apart. needed_arm, needed_against: the fewest units of each arm that
reach the power wanted, and needed_power what they have; missing where no difference is given or 1,000 units do not.
n_arm, n_against: units laid out. smallest_p: the smallest p of that layout. power: its chance to tell the difference
apart, with the standard error of simulating it that often (simulations). detectable: the smallest gain it tells apart
with the power wanted; missing where none is. margin: the smallest margin within which like arms are shown to lie, by
two one-sided tests, with that power. Differences are in the measure's unit, of dates in days.
"""


@attrs.frozen
class Outlook:
    """One row of OUTLOOK."""

    spread: str
    sd: float
    difference: float | None
    needed_arm: int | None
    needed_against: int | None
    needed_power: float | None
    n_arm: int
    n_against: int
    smallest_p: float
    power: float | None
    error: float | None
    simulations: int | None
    detectable: float | None
    margin: float | None


def outlook_at(
    asked: Asked, blocks: Sequence[Block], sets: int, difference: float | None, name: str, sd: float,
    mean: float | None, needed: Needed | None,
) -> Outlook:  # fmt: skip
    """The outlook of so many sets at a spread called name."""
    first, second = asked.allocation
    sizes = lay.sizes_in(blocks, sets, asked.allocation)
    truth = asked.truth(sd, mean)
    found = None if difference is None else simulated_power(sizes, difference, truth, asked.test)
    return Outlook(
        spread=name, sd=sd, difference=difference,
        needed_arm=needed.sets * first if needed else None,
        needed_against=needed.sets * second if needed else None,
        needed_power=needed.power.power if needed else None,
        n_arm=sets * first, n_against=sets * second, smallest_p=smallest_p(sizes),
        power=found.power if found else None, error=found.error if found else None,
        simulations=found.simulations if found else None,
        detectable=smallest_difference(sizes, asked.power, truth, asked.test),
        margin=smallest_margin(sizes, asked.power, truth, asked.test),
    )  # fmt: skip
