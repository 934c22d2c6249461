"""A planned trial in sentences for a grower."""

from __future__ import annotations

from collections.abc import Sequence

from perennia.analysis.decisions.comparing.effect import REACH
from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.outlook import Outlook
from perennia.analysis.decisions.trials.power import RESIDUALS
from perennia.analysis.decisions.trials.spread import Spread
from perennia.analysis.decisions.trials.trial_asked import Asked
from perennia.analysis.decisions.trials.trial_layout import Block
from perennia.analysis.decisions.trials.units_needed import MOST_UNITS
from perennia.analysis.exact import SEED
from perennia.analysis.measures import Measure, number, probability
from perennia.analysis.units import STOCKS
from perennia.checking.words import counted

_TESTS = {
    "ranks": "Mann-Whitney rank-sum permutation test within blocks",
    "values": "Fisher-Pitman permutation test of the means within blocks",
}
_WEAK_DF = 10


def trial_method(asked: Asked, blocks: Sequence[Block], sets: int, own: Outlook) -> str:
    """How the plan was reached, with all that is needed to reach it again."""
    used = sum(taken > 0 for taken in lay.sets_in(blocks, sets))
    simulated = f"{own.simulations} trials a figure" if own.simulations else "trials"
    return (
        f"power of the {_TESTS[asked.test.scores]}, two-sided at {_percent(1 - asked.level)}, simulated "
        f"({simulated}, seed {SEED}) with {RESIDUALS[asked.residuals]} differences between plants, from the number of "
        f"the t test on; {counted(used, 'block')} in {counted(len(asked.beds), 'bed')}, {asked.allocation[0]} to "
        f"{asked.allocation[1]}, laid out with seed {asked.seed}: {lay.METHOD}."
    )


def trial_findings(
    asked: Asked, measured: Measure, known: Spread, difference: float | None, outlook: Sequence[Outlook], room: int
) -> tuple[str, ...]:
    """Units needed, what the places at hand can and cannot tell apart, and the spread all of it rests on."""
    own = outlook[len(outlook) // 2]
    found = []
    if difference is not None:
        found.append(_needed(asked, measured, known, difference, own, room))
    found.append(_laid_out(asked, own))
    found.append(_apart(asked, measured, own))
    found.append(known.sentence(measured))
    if len(outlook) > 1:
        found.append(_at_the_ends(asked, measured, outlook))
    return tuple(found)


def _needed(
    asked: Asked, measured: Measure, known: Spread, difference: float, own: Outlook, room: int
) -> str:
    ratio = ""
    if asked.ratio is not None and known.mean is not None:
        ratio = f", a ratio of {number(asked.ratio)} to a mean of {number(known.mean)} ({known.mean_of}),"
    head = f"To tell apart a difference of {measured.gap(difference)}{ratio} with power {_percent(asked.power)}"
    if own.needed_arm is None or own.needed_power is None:
        return f"{head}: not even {MOST_UNITS} plants an arm would do; look for a larger difference."
    text = (
        f"{head}: {own.needed_arm} {asked.arms[0]} and {own.needed_against} {asked.arms[1]} plants "
        f"(power {_percent(own.needed_power)})."
    )
    short = own.needed_arm > room * asked.allocation[0]
    return f"{text} The places and labels at hand hold {room * asked.allocation[0]} and " \
           f"{room * asked.allocation[1]}." if short else text  # fmt: skip


def _laid_out(asked: Asked, own: Outlook) -> str:
    text = f"Laid out: {own.n_arm} {asked.arms[0]} and {own.n_against} {asked.arms[1]} plants"
    if own.power is not None and own.error is not None:
        text += f", with power {_percent(own.power)} (simulation error {_percent(own.error)})"
    text += f"; smallest p this layout could give {probability(own.smallest_p)}"
    if own.smallest_p > REACH:
        text += ", so it cannot reach 5 % whatever the crop"
    return text + "."


def _apart(asked: Asked, measured: Measure, own: Outlook) -> str:
    power = _percent(asked.power)
    if own.detectable is None:
        text = "No difference, however large, would be told apart with this layout"
    else:
        text = (
            f"It tells apart differences from {_size(measured, own.detectable)} on with power {power}; of smaller ones "
            "it will often say nothing, which is no sign that the arms are alike"
        )
    if own.margin is None:
        return f"{text}. It cannot show that they are alike, whatever the margin."
    return (
        f"{text}. Arms that do not differ it shows to be alike within {_size(measured, own.margin)} with power {power} "
        f"(two one-sided tests at {_percent(1 - asked.level)}), and within no smaller margin."
    )


def _at_the_ends(asked: Asked, measured: Measure, outlook: Sequence[Outlook]) -> str:
    said = []
    for row in (outlook[0], outlook[-1]):
        text = f"at {number(row.sd)} "
        if row.power is not None:
            many = f"over {MOST_UNITS}" if row.needed_arm is None else str(row.needed_arm)
            text += f"power {_percent(row.power)} as laid out, {many} {asked.arms[0]} plants needed"
        elif row.detectable is not None:
            text += f"differences from {_size(measured, row.detectable)} on"
        else:
            text += "nothing told apart"
        said.append(text)
    return f"At the ends of the spread's interval: {said[0]}; {said[1]}."


def trial_cautions(
    asked: Asked, measured: Measure, known: Spread, own: Outlook, unknown_beds: Sequence[str]
) -> tuple[str, ...]:
    """What stands against taking the plan at face value."""
    found = [
        f"Power was worked out for {RESIDUALS[asked.residuals]} differences between plants and the same spread in both "
        "arms, no two crops alike; plants lost or picked together take power away, so plant some to spare."
    ]
    if set(asked.arms) <= set(STOCKS):
        found.append(
            "The lot decides which place holds which stock, and so takes bed and place out of the comparison; it does "
            "not make kept roots a fair sample. Draw by lot which roots are kept, or their lead may have been theirs "
            "already."
        )
    found.append("What is done to one arm only (cover, water, planting day) comes out as if it were the arm.")
    if known.low is None:
        found.append(f"The spread is your own figure ({number(known.sd)}); the plan is as good as that.")
    elif known.df < _WEAK_DF:
        found.append(
            f"The spread rests on {known.df} degrees of freedom; go by the high end of its interval, not its estimate."
        )
    if known.left_out:
        found.append(
            f"{counted(known.left_out, 'unit')} of several plants or labels left out of the spread, for their means "
            "differ less than plants do."
        )
    if unknown_beds:
        found.append(f"Not on record yet: bed {', '.join(unknown_beds)}; record it before planting.")
    return tuple(found)


def _size(measured: Measure, value: float) -> str:
    return measured.gap(value).lstrip("+")


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"
