"""The stock comparison in sentences for a grower."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from perennia.analysis.decisions.layout import Arms, nothing_shared, told_apart
from perennia.analysis.decisions.stock_rows import KEPT, SURVIVOR, Answer
from perennia.analysis.measures import Measure
from perennia.checking.words import counted

_FACTORS_TO_WATCH = ("site", "planting month", "space a plant, m2", "water given")


def stock_finding(answer: Answer, measure: Measure, arms: Arms) -> str:
    """One row of the table as a sentence."""
    row = answer.row
    head = f"{answer.crop} {row['seasons']}, {answer.basis}, {measure.name}: "
    if answer.basis == KEPT and not row["lost"]:
        return f"{head}as per survivor, for no kept root was lost."
    if row["raw_gap"] is None:
        counts = f"{arms[0]} n = {len(answer.arm)}, {arms[1]} n = {len(answer.against)}"
        return f"{head}{counts}; {row['note'] or 'nothing to compare'}, so nothing is compared."
    sides = zip(arms, ("mean_arm", "mean_against"), (answer.arm, answer.against), strict=True)
    head += ", ".join(
        f"{name} {measure.figure(float(str(row[mean])), answer.season)} (mean, n = {len(units)})"
        for name, mean, units in sides
    )
    if answer.effect is not None:
        tested = f"{row['tested_arm']} against {row['tested_against']} in shared strata"
        note = f" Mind that {row['note']}." if row["note"] else ""
        return f"{head}; {tested}: {answer.effect.sentence(measure)}{note}"
    gap = f"raw gap {measure.gap(float(str(row['raw_gap'])))}"
    if row["confounded_with"]:
        other = f"{row['confounded_with']}{_proof(answer)}"
        return f"{head}; {gap}, which may as well come from {other}: no p, no interval."
    return f"{head}; {gap}; {row['note']}."


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
        cautions.append(
            "These results speak of the seasons and beds seen; stock was not drawn by lot unless you did so yourself."
        )
    if beds_alike:
        cautions.append(
            f"Beds {', '.join(beds_alike)} were taken to be alike on your word; if they differ, the difference is in "
            "these figures."
        )
    for answer in answers:
        if answer.basis == SURVIVOR:
            cautions += [f"{answer.crop} {answer.row['seasons']}: {text}." for text in _of(answer, arms)]
    lost = sum(int(str(answer.row["lost"])) for answer in answers if answer.basis == SURVIVOR)
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
    for name, side in zip(arms, (answer.arm, answer.against), strict=True):
        seed = sum(unit.left_for_seed for unit in side)
        if seed:
            said.append(f"{counted(seed, f'{name} unit')} had pods or fruit left for seed, which can hold back a crop")
    return said


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{name} ({n})" for name, n in sorted(counts.items()))
