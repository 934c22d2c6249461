"""The stock comparison in sentences for a grower."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from perennia.analysis.decisions.comparing.once import said_once
from perennia.analysis.decisions.comparing.small_shares import SMALL
from perennia.analysis.decisions.comparing.stock_rows import KEPT, SURVIVOR, WITHOUT_SMALL_SHARES, Answer
from perennia.analysis.layout import Arms, nothing_shared, told_apart
from perennia.analysis.measures import Measure, choose_measure
from perennia.checking.words import counted

_FACTORS_TO_WATCH = ("site", "planting month", "space a plant, m2", "water given")


def stock_finding(answer: Answer, measure: Measure, arms: Arms, *, several: bool = False) -> str:
    """One row of the table as a sentence. several: whether it was one of several measures asked."""
    row = answer.row
    head = f"{answer.crop} {row['seasons']}, {answer.basis}, {measure.name}: "
    if answer.basis == KEPT and not row["lost"]:
        return f"{head}as per survivor, for no kept root was lost."
    if row["raw_gap"] is None and answer.effect is None:
        counts = f"{arms[0]} n = {len(answer.arm)}, {arms[1]} n = {len(answer.against)}"
        return f"{head}{counts}; {row['note'] or 'nothing to compare'}, so nothing is compared."
    sides = zip(arms, ("mean_arm", "mean_against"), ("n_arm", "n_against"), (answer.arm, answer.against), strict=True)
    head += ", ".join(
        f"{name} {_mean(row[mean], int(str(row[n])), len(units), measure, answer.season)}"
        for name, mean, n, units in sides
    )
    if answer.effect is not None:
        tested = f"{row['tested_arm']} against {row['tested_against']} in shared strata"
        note = f" Mind that {row['note']}." if row["note"] else ""
        p_holm = float(str(row["p_holm"])) if several else None
        drawn = answer.allotment.wording if answer.allotment else None
        return f"{head}; {tested}: {answer.effect.sentence(measure, p_holm, drawn)}{note}"
    gap = f"raw gap {measure.gap(float(str(row['raw_gap'])))}"
    if row["confounded_with"]:
        other = f"{row['confounded_with']}{_proof(answer)}"
        return f"{head}; {gap}, which may as well come from {other}: no p, no interval."
    return f"{head}; {gap}; {row['note']}."


def _mean(mean: object, n: int, units: int, measure: Measure, season: int | None) -> str:
    """The mean of an arm; in dates those that never cropped are in none, and are said beside it."""
    never = f", and {units - n} that never cropped" if units > n else ""
    if mean is None:
        return f"none with a date{never}"
    return f"{measure.figure(float(str(mean)), season)} (mean, n = {n}{never})"


def _proof(answer: Answer) -> str:
    if answer.overlap is None:
        return " (counts as per survivor)"
    named = [(factor, told_apart(answer.overlap, factor)) for factor in ("bed", "cover", "cultivar")]
    shown = [f"{factor}: {levels}" for factor, levels in named if levels is not None]
    return f" ({'; '.join(shown)})" if shown else ""


def stock_cautions(
    answers: Sequence[Answer], arms: Arms, beds_alike: Sequence[str], selections: Sequence[str]
) -> tuple[str, ...]:
    """Everything that stands against taking the figures at face value, with its counts."""
    cautions: list[str] = []
    if answers:
        by_lot = all(answer.allotment and answer.allotment.wording for answer in answers if answer.effect)
        chosen = "" if by_lot and any(answer.effect for answer in answers) else "; stock was not drawn by lot"
        cautions.append(f"These results speak of the seasons and beds seen{chosen}.")
    if beds_alike:
        cautions.append(
            f"Beds {', '.join(beds_alike)} were taken to be alike on your word; if they differ, the difference is in "
            "these figures."
        )
    survivors = [answer for answer in answers if answer.basis == SURVIVOR]
    told = [
        (f"{answer.crop} {answer.row['seasons']}", str(answer.row["measure"]), text)
        for answer in survivors for text in _of(answer, arms)
    ]  # fmt: skip
    cautions += said_once(told, len({answer.row["measure"] for answer in survivors}))
    if any(answer.basis == WITHOUT_SMALL_SHARES for answer in answers):
        cautions.append(
            f"Pickings off several labels link these to one unit; where they made up under {SMALL:.0%} of a plant's "
            "crop, a further line shows what comes out without them."
        )
    lost = sum({(answer.crop, answer.row["seasons"]): int(str(answer.row["lost"])) for answer in survivors}.values())
    if lost:
        cautions.append(
            f"Per survivor leaves out {counted(lost, 'kept root')} that never grew; "
            "per root kept counts each as no crop."
        )
    return (*cautions, *selections)


def _of(answer: Answer, arms: Arms) -> list[str]:
    row = answer.row
    texts = [
        (int(str(row[name])), text)
        for name, text in (
            ("mixed", "left out, their shared pickings mix stocks"),
            ("alone", "left out of the effect, no plant of the other stock shared cultivar, cover and bed with them"),
            ("unplaced", "left out of the effect, no bed is on record"),
            ("left_by_pooling", "left out in pooling: season running, plant already counted or no shared stratum"),
            ("moved", "stood in a second bed or under another cover for a time; their place is that of most days"),
            ("running", "not finished; their figures are to date"),
            ("never_cropped", "grew and never cropped; in dates they count as later than any, and are in no mean"),
        )
    ]
    said = [f"{counted(n, 'unit')} {text}" for n, text in texts if n]
    said += [f"{counted(n, 'unit')} left out, {reason}" for reason, n in sorted(answer.reasons.items())]
    if answer.ungrown:
        said.append(f"{counted(answer.ungrown, 'unit')} left out, ended before coming into growth")
    if answer.silent:
        said.append(f"{counted(answer.silent, 'unit')} left out, nothing is recorded of that season")
    if answer.others:
        said.append(f"other stock shown apart, not compared: {_listed(answer.others)}")
    if answer.overlap is not None:
        said += nothing_shared(answer.overlap, _FACTORS_TO_WATCH, arms)
    if answer.allotment is not None:
        said += [caution.removesuffix(".") for caution in answer.allotment.cautions]
    return said + _seed(answer, arms) + _written_down(answer, arms)


def _seed(answer: Answer, arms: Arms) -> list[str]:
    """Pods or fruit left for seed, which is a treatment that the arms had alike or not."""
    sides = (answer.arm, answer.against)
    left = [sum(unit.left_for_seed for unit in side) for side in sides]
    if not any(left):
        return []
    text = " and ".join(
        f"{n} of {counted(len(side), f'{name} unit')}" for n, side, name in zip(left, sides, arms, strict=True)
    )
    text += " had pods or fruit left for seed, which can hold back a crop"
    if left[0] * len(sides[1]) != left[1] * len(sides[0]):
        text += "; the arms were not treated alike in this"
    return [text]


def _written_down(answer: Answer, arms: Arms) -> list[str]:
    """Of measures taken by time or money, how much of the work had any written down."""
    measure = choose_measure(str(answer.row["measure"]))
    column = "timed" if "minutes" in measure.per else "costed" if "cost" in measure.per else None
    if column is None:
        return []
    counts = [
        f"{sum(getattr(unit, column) or 0 for unit in side)} of {sum(unit.works or 0 for unit in side)} "
        f"entries of work on {name} units"
        for name, side in zip(arms, (answer.arm, answer.against), strict=True)
    ]
    noun = "a time" if column == "timed" else "a cost"
    return [f"{noun} is written down in {' and '.join(counts)}; work without it is not in the figure"]


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{name} ({n})" for name, n in sorted(counts.items()))
