"""Pairs of a plant's first season and a later one, and one row of the season comparison from them."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence

import attrs

from perennia.analysis.decisions.comparing import effect as eff
from perennia.analysis.decisions.comparing.stock_rows import KEPT, SURVIVOR, UNRANKED
from perennia.analysis.linked import linked_plants
from perennia.analysis.measures import Measure, probability
from perennia.analysis.places import changed_place
from perennia.analysis.selection import picked_out
from perennia.analysis.units import Row, Unit, unit_from, was_lost
from perennia.analysis.values import calendar_day

__all__ = [
    "CHANGES", "COLUMNS", "KEPT", "SURVIVOR", "Pair", "PairAnswer", "PairQuestion", "changed_place", "pair_answers",
]  # fmt: skip

COLUMNS = {
    "crop": "string", "plant_season": "Int64", "basis": "string", "measure": "string", "years": "string",
    "n_first": "Int64", "n_reached": "Int64", "n_pairs": "Int64", "tested_pairs": "Int64",
    "mean_first": "Float64", "mean_later": "Float64", "raw_gap": "Float64",
    **eff.COLUMNS,
    "confounded_with": "string", "changed_place": "Int64", "never_cropped": "Int64", "missing": "Int64",
    "running": "Int64", "lost": "Int64",
    "silent": "Int64", "note": "string",
}  # fmt: skip
"""Columns of SeasonComparison.table; one row a crop, later plant season and basis.

basis: per survivor, or per root kept. n_first: plants with a first season on record for which that later season has
come. n_reached: those of them that grew in it. n_pairs: pairs with both values and both seasons over (for first_pick,
running ones too), that mean_first, mean_later and raw_gap, their difference, rest on. tested_pairs: pairs that kept
their place, that the effect (columns in effect.COLUMNS) rests on. confounded_with: what changed of their place, where
that leaves no effect; note: why there is none otherwise. years: first and later seasons of
the pairs. changed_place: pairs left out of the effect. running, missing: pairs left out of all, because the later
season is not over or a value is missing. never_cropped: pairs of which one season gave nothing, which in a date counts
as later than any and is in no mean. lost: roots put by that never grew. silent: plants of
which nothing is recorded in the later season, which count nowhere else.
"""
CHANGES = {"crop": "string", "plant_season": "Int64", "what": "string", "pairs": "Int64"}
"""Columns of SeasonComparison.changes; one row a crop, later plant season and kind of change, counting pairs."""



@attrs.frozen
class PairQuestion:
    """What is asked of every crop and later season. asked: None where only the pairs are wanted, and no test of them.
    """

    measure: Measure
    asked: eff.Asked | None


@attrs.frozen
class Pair:
    """The same plants in their first and a later season. changed: what of their place changed, empty if nothing."""

    first: Unit
    later: Unit
    changed: tuple[str, ...]

    @property
    def usable(self) -> bool:
        """Whether both seasons have a value; what cropped in neither has no date in either."""
        return self.first.value is not None and self.later.value is not None and not (
            math.isinf(self.first.value) and math.isinf(self.later.value)
        )

    @property
    def dated(self) -> bool:
        """Whether neither season of a usable pair went by without a crop, which is later than any date."""
        return all(map(math.isfinite, self.values))

    @property
    def values(self) -> tuple[float, float]:
        """Later and first value of a usable pair."""
        return self.later.known_value, self.first.known_value


@attrs.frozen(eq=False)
class PairAnswer:
    """One row with what it rests on. pairs: those with both values. fallen: first-season values of plants that did
    not reach the later season, reached: of those that did."""

    crop: str
    plant_season: int
    basis: str
    pairs: tuple[Pair, ...]
    reached: tuple[float, ...]
    fallen: tuple[float, ...]
    effect: eff.Effect | None
    changes: tuple[dict[str, object], ...]
    row: dict[str, object]


def pair_answers(
    rows: Sequence[Row], crop: str, question: PairQuestion, plant_season: int | None
) -> list[PairAnswer]:
    """Answers for the rows of one crop by later plant season; none where no plant has both."""
    ours = [row for row in rows if row["plant_season"] is not None]
    later = sorted({int(row["plant_season"]) for row in ours if row["plant_season"] > 1})
    return [
        answer
        for season in later
        if plant_season in (None, season)
        for answer in _answers_at(ours, crop, season, question)
    ]


def _answers_at(rows: Sequence[Row], crop: str, plant_season: int, question: PairQuestion) -> list[PairAnswer]:
    # a site's seasons begin on days of their own, so that one can be a season ahead of another
    last: dict[object, int] = {}
    for row in rows:
        last[row["site"]] = max(last.get(row["site"], 0), int(row["season"]))
    first = {
        str(row["plant"]): row
        for row in rows
        if row["plant_season"] == 1 and row["grew"] is True
        and int(row["season"]) + plant_season - 1 <= last[row["site"]]
    }  # fmt: skip
    later = {str(row["plant"]): row for row in rows if row["plant_season"] == plant_season and row["plant"] in first}
    # of some nobody wrote down whether they grew: neither survivors nor lost
    silent = {plant for plant, row in later.items() if row["grew"] is None}
    first = {plant: row for plant, row in first.items() if plant not in silent}
    grew = {plant: row for plant, row in later.items() if row["grew"] is True}
    lost = {plant: row for plant, row in later.items() if was_lost(row)}
    if not later:
        return []
    answers = [_answer(first, grew, {}, (crop, plant_season, SURVIVOR), question)]
    if question.measure.adds_up and any(row["kept_root"] is True for row in later.values()):
        answers.append(_answer(first, grew, lost, (crop, plant_season, KEPT), question))
    return [attrs.evolve(answer, row={**answer.row, "lost": len(lost), "silent": len(silent)}) for answer in answers]


def _answer(
    first: Mapping[str, Row],
    grew: Mapping[str, Row],
    lost: Mapping[str, Row],
    where: tuple[str, int, str],
    question: PairQuestion,
) -> PairAnswer:
    crop, plant_season, basis = where
    seen = {**grew, **lost}
    groups = linked_plants([row for plant, row in seen.items() for row in (first[plant], row)])
    every = [_pair(group, first, seen, question.measure) for group in groups]
    known = [pair for pair in every if pair.usable]
    pairs = [pair for pair in known if question.measure.name == "first_pick" or not pair.later.running]
    tested = [pair for pair in pairs if not pair.changed]
    overweight = _lost_weigh_too_much(every, tested)
    running = len(known) - len(pairs)
    note = _note(pairs, overweight, running)
    if note == _RUNNING:
        pairs, tested = [], []
    asked = question.asked
    unranked = asked is not None and asked.scores != "ranks" and not all(pair.dated for pair in tested)
    firsts = {plant: unit_from([row], question.measure, calendar_day).value for plant, row in first.items()}
    values = {plant: value for plant, value in firsts.items() if value is not None and math.isfinite(value)}
    reached = tuple(value for plant, value in values.items() if plant in grew)
    fallen = tuple(value for plant, value in values.items() if plant not in grew)
    # per root kept the winter picks nobody out, for those it took are there with no crop
    carried = [value for plant, value in values.items() if plant in seen]
    left = [value for plant, value in values.items() if plant not in seen]
    chosen = picked_out(carried, left) if tested and asked is not None else None
    effect = None
    if asked is not None and tested and not overweight and not unranked and chosen is None:
        effect = eff.paired_effect(
            [pair.values[0] for pair in tested], [pair.values[1] for pair in tested], question.measure, asked
        )  # fmt: skip
    changed = sorted({what for pair in pairs for what in pair.changed})
    return PairAnswer(
        crop=crop, plant_season=plant_season, basis=basis, pairs=tuple(pairs),
        reached=reached, fallen=fallen, effect=effect, changes=_changes(pairs, crop, plant_season),
        row={
            "crop": crop, "plant_season": plant_season, "basis": basis, "measure": question.measure.name,
            "years": ", ".join(sorted({f"{p.first.season_name} to {p.later.season_name}" for p in pairs})) or None,
            "n_first": len(first), "n_reached": len(grew), "n_pairs": len(pairs),
            "tested_pairs": len(tested) if effect else 0,
            **_means(pairs),
            **(effect.columns() if effect else eff.NO_EFFECT),
            "confounded_with": ", ".join(changed) if changed and effect is None and chosen is None else None,
            "changed_place": len(pairs) - len(tested), "missing": len(every) - len(known),
            "never_cropped": sum(not pair.dated for pair in pairs),
            "running": running,
            "note": note or (UNRANKED if unranked else None) or (None if chosen is None else _chosen(chosen)),
        },
    )  # fmt: skip


def _lost_weigh_too_much(every: Sequence[Pair], tested: Sequence[Pair]) -> bool:
    """Whether lost roots would stand beside only some of the living that their winter has left."""
    living = sum(not pair.later.lost for pair in every)
    living_tested = sum(not pair.later.lost for pair in tested)
    return living_tested < len(tested) and living_tested < living


_RUNNING = "the later season is still running, and a crop to date is not held against a whole one"


def _note(pairs: Sequence[Pair], overweight: bool, running: int) -> str | None:
    if running and not any(pair.later.grew for pair in pairs):
        return _RUNNING
    if not pairs:
        return "no pair has a value in both seasons"
    if overweight:
        return "living plants had to be left out, so the roots lost would weigh too much and there is no test"
    return None


def _chosen(p: float) -> str:
    return (
        f"the plants that reached it had differed from the others in their first season already (p {probability(p)}), "
        "and plants picked out by one season fall back without any ageing, so there is no test"
    )


def _means(pairs: Sequence[Pair]) -> dict[str, object]:
    dated = [pair.values for pair in pairs if pair.dated]
    if not dated:
        return {"mean_first": None, "mean_later": None, "raw_gap": None}
    later = statistics.fmean(values[0] for values in dated)
    first = statistics.fmean(values[1] for values in dated)
    return {"mean_first": first, "mean_later": later, "raw_gap": later - first}


def _changes(pairs: Sequence[Pair], crop: str, plant_season: int) -> tuple[dict[str, object], ...]:
    counts: dict[str, int] = {}
    for pair in pairs:
        for what in pair.changed or ("nothing",):
            counts[what] = counts.get(what, 0) + 1
    return tuple(
        {"crop": crop, "plant_season": plant_season, "what": what, "pairs": n} for what, n in sorted(counts.items())
    )


def _pair(plants: Sequence[str], first: Mapping[str, Row], later: Mapping[str, Row], measure: Measure) -> Pair:
    """A pair of the same plants; what others had of a shared picking is already taken off in season_summary."""
    before = unit_from([first[plant] for plant in plants], measure, calendar_day)
    after = unit_from([later[plant] for plant in plants], measure, calendar_day)
    return Pair(before, after, changed_place([(first[plant], later[plant]) for plant in plants]))
