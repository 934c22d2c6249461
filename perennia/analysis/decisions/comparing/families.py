"""Several answers of one question: their p adjusted for the number of measures, and the order they are told in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

import attrs

from perennia.analysis.holm import holm

Answered = TypeVar("Answered", bound=Any)


def answered_first(answers: Sequence[Answered]) -> list[Answered]:
    """The answers, those in which nothing is compared after the others."""
    return sorted(answers, key=lambda answer: answer.row["raw_gap"] is None and answer.effect is None)


def with_holm(answers: Sequence[Answered], family: Sequence[str]) -> list[Answered]:
    """The answers, each with p_holm in its row: adjusted over those that agree in the columns of family."""
    families: dict[tuple[object, ...], list[int]] = {}
    for place, answer in enumerate(answers):
        families.setdefault(tuple(answer.row[name] for name in family), []).append(place)
    adjusted: dict[int, float | None] = {}
    for places in families.values():
        adjusted |= zip(places, holm([answers[place].row["p"] for place in places]), strict=True)
    return [
        attrs.evolve(answer, row={**answer.row, "p_holm": adjusted[place]}) for place, answer in enumerate(answers)
    ]
