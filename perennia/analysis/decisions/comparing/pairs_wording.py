"""The season comparison in sentences for a grower."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from perennia.analysis.decisions.comparing.once import said_once
from perennia.analysis.decisions.comparing.pairs import KEPT, SURVIVOR, PairAnswer
from perennia.analysis.measures import Measure, choose_measure
from perennia.checking.words import counted

_UNRECORDED = "bed (not recorded)"


def pair_finding(answer: PairAnswer, measure: Measure, *, several: bool = False) -> str:
    """One row of the table as a sentence. several: whether it was one of several measures asked."""
    row = answer.row
    head = f"{answer.crop}, plant season {answer.plant_season} against the first, {answer.basis}, {measure.name}: "
    if answer.basis == KEPT and not row["lost"]:
        return f"{head}as per survivor, for no kept root was lost."
    if row["raw_gap"] is None and answer.effect is None:
        return f"{head}{row['n_reached']} of {row['n_first']} plants reached it; {row['note']}, so nothing is compared."
    never = int(str(row["never_cropped"]))
    means = [row["mean_first"], row["mean_later"]]
    if None in means:
        head += f"{counted(never, 'pair')}, each without a crop in one of the seasons"
    else:
        first, later = (measure.figure(float(str(mean)), None) for mean in means)
        head += f"first {first}, later {later} (means of {counted(len(answer.pairs) - never, 'pair')})"
    if answer.effect is not None:
        p_holm = float(str(row["p_holm"])) if several else None
        sentence = answer.effect.sentence(measure, p_holm)
        return f"{head}; {counted(int(str(row['tested_pairs'])), 'pair')} in place: {sentence}"
    gap = f"raw gap {measure.gap(float(str(row['raw_gap'])))}"
    if row["confounded_with"]:
        counts = ", ".join(f"{change['what']} ({change['pairs']})" for change in answer.changes)
        note = f" Mind that {row['note']}." if row["note"] else ""
        return (
            f"{head}; {gap}, which may as well come from {_change(str(row['confounded_with']))} "
            f"(pairs by what changed: {counts}): no p, no interval.{note}"
        )
    return f"{head}; {gap}; {row['note']}."


def _change(what: str) -> str:
    """What may have made the gap: a bed that nobody wrote down is not known to have changed."""
    known = [name for name in what.split(", ") if name != _UNRECORDED]
    texts = [f"the change of {', '.join(known)}"] * bool(known)
    texts += ["another place, the bed not being recorded in both seasons"] * (_UNRECORDED in what)
    return " and ".join(texts)


def pair_cautions(answers: Sequence[PairAnswer]) -> tuple[str, ...]:
    """Everything that stands against taking the figures at face value, with its counts."""
    cautions: list[str] = []
    told = [
        (f"{answer.crop}, plant season {answer.plant_season}", str(answer.row["measure"]), text)
        for answer in answers if answer.basis == SURVIVOR for text in _of(answer)
    ]  # fmt: skip
    cautions += said_once(told, len({answer.row["measure"] for answer in answers}))
    if any(answer.basis == KEPT and answer.row["lost"] for answer in answers):
        cautions.append("Per survivor leaves out kept roots that never grew; per root kept counts each as no crop.")
    if answers:
        cautions.append("These results speak of the seasons and beds seen.")
    return tuple(cautions)


def _of(answer: PairAnswer) -> list[str]:
    row = answer.row
    measure = choose_measure(str(row["measure"]))
    said = [f"later seasons hold only survivors, {row['n_reached']} of {row['n_first']} plants"]
    if answer.reached and answer.fallen:
        means = [measure.figure(statistics.fmean(values), None) for values in (answer.reached, answer.fallen)]
        said[0] += (
            f"; in their first season those had averaged {means[0]} (n = {len(answer.reached)}), "
            f"the others {means[1]} (n = {len(answer.fallen)})"
        )
    if len({(pair.first.season, pair.later.season) for pair in answer.pairs}) == 1:
        said.append(f"all pairs share the same years ({row['years']}), so age and year are not told apart")
    elif answer.pairs:
        said.append(f"pairs come from several years ({row['years']}), so age and year are only partly mixed")
    for name, text in (
        ("changed_place", "changed bed, cover or container and left out of the effect"),
        ("running", "left out, the later season is still running and a crop to date is not held against a whole one"),
        ("missing", "left out, a value is missing in one season, or there was no crop in either"),
        ("never_cropped", "without a crop in one season; in dates it counts as later than any other"),
        ("lost", "lost in the winter, though the root was kept"),
        ("silent", "left out, nothing is recorded of the later season"),
    ):
        n = int(str(row[name]))
        if n:
            said.append(f"{counted(n, 'plant' if name in ('lost', 'silent') else 'pair')} {text}")
    shared = sum(pair.first.labels > 1 for pair in answer.pairs)
    if shared:
        said.append(f"{counted(shared, 'pair')} of several plants linked by shared pickings")
    return said
