"""The change of roots against that of fresh stock in sentences for a grower."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from perennia.analysis.decisions.comparing.once import said_once
from perennia.analysis.measures import MEASURES, Measure, number, probability
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.analysis.decisions.comparing.change import ChangeAnswer

_ASSUMED = (
    "This takes it that old roots and seedlings feel a year alike. A late frost, which catches early shoots and no "
    "seedling, or a drought, which deep roots stand better, breaks that, and the gap is then of the year as well."
)


def change_finding(answer: ChangeAnswer, measure: Measure) -> str:
    """One row of the table as a sentence."""
    row = answer.row
    head = f"{row['crop']}, plant season {row['plant_season']} ({row['first_season']} to {row['later_season']}), "
    head += f"{measure.name}: "
    if row["gap"] is None:
        return f"{head}{row['note']}, so nothing is compared."
    roots, fresh = (
        f"{measure.figure(row[f'mean_{who}_first'], None)} to {measure.figure(row[f'mean_{who}_later'], None)}"
        for who in ("roots", "fresh")
    )
    sizes = f"{row['n_fresh_first']} and {row['n_fresh_later']}"
    head += f"the same roots went from {roots} (n = {row['n_roots']}), fresh stock from {fresh} (n = {sizes}); "
    head += f"the roots' change less that of fresh stock is {measure.gap(row['gap'])}"
    if row["p"] is None:
        return f"{head}; {row['note']}."
    text = f"{head} ({100 * row['level']:.4g} % interval {number(row['gap_low'], sign=True)} to "
    text += f"{number(row['gap_high'], sign=True)}, p {probability(row['p'])} as if randomised)"
    if row["ratio"] is not None:
        text += f"; as a ratio {number(row['ratio'])} ({number(row['ratio_low'])} to {number(row['ratio_high'])}, "
        text += f"p {probability(row['p_ratio'])})"
    return f"{text}. {_disagreement(row)}".strip()


def _disagreement(row: dict[str, Any]) -> str:
    """Where the two scales do not say the same: what a year does may add up or multiply, and nobody knows which."""
    if row["ratio"] is None:
        return ""
    if (row["gap"] > 0) != (row["ratio"] > 1):
        return (
            "The two scales disagree about the direction: fresh stock began at another level, so an equal loss is not "
            "an equal share; neither is the truth without knowing whether years add or multiply."
        )
    shown = [not row["gap_low"] <= 0 <= row["gap_high"], not row["ratio_low"] <= 1 <= row["ratio_high"]]
    if shown[0] != shown[1]:
        clear = "difference" if shown[0] else "ratio"
        return f"Only the {clear} is clear of no change; that the scales disagree is a reason for doubt."
    return ""


def change_cautions(answers: Sequence[ChangeAnswer]) -> tuple[str, ...]:
    """Everything that stands against taking the figures at face value, with its counts."""
    if not answers:
        return ()
    told = [
        (f"{row['crop']}, {row['first_season']} to {row['later_season']}", row["measure"], text)
        for answer in answers for row in [answer.row] for text in _of(answer)
    ]  # fmt: skip
    cautions = [_ASSUMED, *said_once(told, len({answer.row["measure"] for answer in answers}))]
    return (*cautions, "These results speak of the seasons and beds seen; which roots were kept was no lot.")


def _of(answer: ChangeAnswer) -> list[str]:
    row, measure = answer.row, MEASURES[answer.row["measure"]]
    said: list[str] = []
    for name, noun, text in (
        ("changed_place", "root", "left out, bed, cover or container changed between the seasons"),
        ("elsewhere", "fresh unit", "left out, no fresh stock stood in their place in the other season, or no bed is "
         "on record"),
        ("missing", "unit", "left out, a value is missing or they never cropped"),
    ):  # fmt: skip
        if row[name]:
            said.append(f"{counted(row[name], noun)} {text}")
    if row["gap"] is not None and answer.roots_at != answer.fresh_at:
        roots, fresh = ("; ".join(sorted(places)) for places in (answer.roots_at, answer.fresh_at))
        said.append(
            f"roots stood in {roots}, fresh stock in {fresh}, so a year may have treated the places differently"
        )
    if answer.kept_lead is not None:
        said.append(
            f"in their first season the roots kept differed by {measure.gap(answer.kept_lead)} from other fresh stock; "
            "roots kept for one good season fall back by themselves, which is in the gap"
        )
    return said
