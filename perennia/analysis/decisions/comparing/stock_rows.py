"""One answer of the stock comparison: two arms of one crop in one season, or pooled, on one basis."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence

import attrs
import pandas as pd

from perennia.analysis import layout as lay
from perennia.analysis.decisions.comparing import effect as eff
from perennia.analysis.decisions.comparing.by_unit import stock_unit_rows
from perennia.analysis.decisions.trials.allotment import Allotment, allotted_by_lot
from perennia.analysis.layout import Arms, Layout
from perennia.analysis.measures import Measure
from perennia.analysis.selection import KEPT as KEPT
from perennia.analysis.selection import SURVIVOR as SURVIVOR
from perennia.analysis.units import Row, Unit

WITHOUT_SMALL_SHARES = "per survivor, small shares left out"
"""A line beside the others, in which pickings off several labels that made up under a twentieth of a plant's crop are
left out, so that they link no plants."""

COLUMNS = {
    "crop": "string", "season": "Int64", "seasons": "string", "basis": "string", "measure": "string",
    "arm": "string", "against": "string", "n_arm": "Int64", "n_against": "Int64",
    "tested_arm": "Int64", "tested_against": "Int64", "strata": "Int64",
    "mean_arm": "Float64", "mean_against": "Float64", "raw_gap": "Float64",
    **eff.COLUMNS,
    "confounded_with": "string", "lost": "Int64", "never_cropped": "Int64", "mixed": "Int64", "missing": "Int64",
    "alone": "Int64", "unplaced": "Int64", "left_by_pooling": "Int64", "moved": "Int64", "running": "Int64",
    "note": "string",
}  # fmt: skip
"""Columns of StockComparison.table; one row a crop, season and basis.

seasons: those the row is of. basis: per survivor, or per root kept, or with small shares left out. arm, against: the
kinds of stock. n_arm, n_against: units with a value, that mean_arm, mean_against and raw_gap, their difference, rest
on. tested_arm, tested_against: units in strata that hold both arms, that the effect (columns in effect.COLUMNS) rests
on. confounded_with: what the arms share none of, where there is no test; note: why there is none otherwise. lost: kept
roots that never grew. never_cropped: units that gave nothing all season, which in a date count as later than any and
are in no mean. Left out of the effect: mixed (labels of different stock), missing (no value), alone (no stratum shared
with the other arm), unplaced (no bed on record), left_by_pooling (season running, plant already counted, or no stratum
shared). Still in it: moved (changed place within the season), running (season not finished).
"""


@attrs.frozen
class Question:
    """What is asked of every crop and season."""

    measure: Measure
    arms: Arms
    beds_alike: frozenset[str]
    asked: eff.Asked
    pooled: bool
    allotments: Sequence[Row] = ()
    """Rows of trial_arms."""


@attrs.frozen(eq=False)
class Answer:
    """One row with what it rests on.

    arm, against: units with a value, infinite ones among them. others: units of other stock, by stock. ungrown: units
    that never came into growth and were no kept roots. silent: units of which nothing is recorded. allotment: what is
    on record of how the units came to their arms, None where nothing was tested. overlap: only on the basis of
    survivors. by_unit: arm and against as rows of by_unit.STOCK_UNITS.
    """

    crop: str
    season: int | None
    seasons: tuple[int, ...]
    basis: str
    arm: tuple[Unit, ...]
    against: tuple[Unit, ...]
    others: Counter[str]
    ungrown: int
    silent: int
    reasons: Counter[str]
    effect: eff.Effect | None
    allotment: Allotment | None
    overlap: pd.DataFrame | None
    by_unit: list[dict[str, object]]
    row: dict[str, object]


@attrs.frozen
class _Sides:
    """The units of one basis: usable ones by arm, and those left out on the way."""

    arm: list[Unit]
    against: list[Unit]
    missing: list[Unit]
    unplaceable: bool
    left_by_pooling: int


def answer_rows(
    units: Sequence[Unit], question: Question, bases: Sequence[str] = (SURVIVOR, KEPT)
) -> list[Answer]:
    """Answers for one crop (and season): per survivor, and per root kept for what adds up and if both arms are there.

    None if neither arm is.
    """
    wanted = [unit for unit in units if unit.stock in question.arms or not unit.mixed.isdisjoint(question.arms)]
    if not wanted:
        return []
    answers = [_answer(units, question, bases[0])]
    both = {unit.stock for unit in wanted} == set(question.arms)
    if KEPT in bases and both and question.measure.adds_up and any(unit.kept_root for unit in wanted):
        answers.append(_answer(units, question, KEPT))
    return answers


def _answer(units: Sequence[Unit], question: Question, basis: str) -> Answer:
    sides = _sides(units, question, basis)
    both = [*sides.arm, *sides.against]
    # pooled, seasons that are over do not wait for one that is not
    asked_of = both if question.pooled else [unit for unit in units if unit.stock in question.arms and unit.grew]
    withheld = not question.measure.while_running and any(unit.running for unit in asked_of)
    layout = lay.lay_out(sides.arm, sides.against, question.beds_alike)
    allotment = allotted_by_lot(question.allotments, *layout.tested, question.arms)
    if allotment.trial is not None:
        layout = lay.lay_out(sides.arm, sides.against, question.beds_alike, allotment.block_of)
    unranked = question.asked.scores != "ranks" and any(math.isinf(unit.known_value) for unit in both)
    testable = not withheld and not sides.unplaceable and not unranked and bool(layout.strata)
    effect = eff.two_arm_effect(layout.strata, question.measure, question.asked) if testable else None
    seasons = tuple(sorted({unit.season for unit in both or units}))
    names = ", ".join(sorted({unit.season_name for unit in both or units}))
    season = None if question.pooled else seasons[0]
    identity = _identity(units[0].crop, season, names, basis, question)
    in_test = [unit for side in layout.tested for unit in side] if effect else []
    return Answer(
        crop=units[0].crop, season=season, seasons=seasons, basis=basis,
        arm=tuple(sides.arm), against=tuple(sides.against),
        others=Counter(str(unit.stock or "stock not recorded") for unit in units
                       if unit.grew and unit.stock not in question.arms and not unit.mixed),
        ungrown=sum(not unit.grew and not unit.lost and not unit.silent for unit in units
                    if unit.stock in question.arms),
        silent=sum(unit.silent for unit in units if unit.stock in question.arms),
        reasons=Counter(str(unit.why_missing) for unit in sides.missing),
        effect=effect,
        allotment=allotment if effect else None,
        overlap=lay.overlap(sides.arm, sides.against, units[0].crop, season) if basis == SURVIVOR else None,
        by_unit=stock_unit_rows(identity, both, in_test, question.beds_alike, allotment.block_of),
        row={
            **identity,
            **_means(sides, withheld),
            **_tested(layout if testable else None),
            **(effect.columns() if effect else eff.NO_EFFECT),
            **_left_out(units, sides, layout, question),
            "note": UNRANKED if unranked and not withheld else _note(sides, question, withheld),
        },
    )  # fmt: skip


def _sides(units: Sequence[Unit], question: Question, basis: str) -> _Sides:
    living = [unit for unit in units if unit.grew and unit.stock in question.arms]
    counted, unplaceable = living, False
    if basis == KEPT:
        lost = [unit for unit in units if unit.lost and unit.stock in question.arms]
        placed = lay.place_lost(lost, living, question.beds_alike)
        counted, unplaceable = [*living, *(lost if placed is None else placed)], placed is None
    usable = [unit for unit in counted if unit.value is not None]
    left = 0
    if question.pooled:
        once = _once_each(usable, question)
        left, usable = len(usable) - len(once), once or usable
    return _Sides(
        arm=[unit for unit in usable if unit.stock == question.arms[0]],
        against=[unit for unit in usable if unit.stock == question.arms[1]],
        missing=[unit for unit in counted if unit.value is None],
        unplaceable=unplaceable,
        left_by_pooling=left,
    )


def _once_each(units: Sequence[Unit], question: Question) -> list[Unit]:
    """Every plant once: in the first finished season in which its stratum holds both arms.

    The first, because which plants have a later season depends on how they did.
    """
    taken: list[Unit] = []
    used: set[str] = set()
    for season in sorted({unit.season for unit in units}):
        strata: dict[tuple[str, ...], list[Unit]] = {}
        for unit in units:
            if unit.season == season and unit.bed is not None and not unit.running and used.isdisjoint(unit.members):
                key = tuple(lay.level_of(unit, factor, question.beds_alike) for factor in lay.FACTORS)
                strata.setdefault(key, []).append(unit)
        for stratum in strata.values():
            if {unit.stock for unit in stratum} == set(question.arms):
                taken += stratum
                used.update(member for unit in stratum for member in unit.members)
    return taken


def _identity(crop: str, season: int | None, names: str, basis: str, question: Question) -> dict[str, object]:
    return {
        "crop": crop, "season": season, "seasons": names, "basis": basis,
        "measure": question.measure.name, "arm": question.arms[0], "against": question.arms[1],
    }  # fmt: skip


def _means(sides: _Sides, withheld: bool) -> dict[str, object]:
    known = [
        [unit.known_value for unit in side if math.isfinite(unit.known_value)] for side in (sides.arm, sides.against)
    ]
    means = [statistics.fmean(values) if values and not withheld else None for values in known]
    gap = None if means[0] is None or means[1] is None else means[0] - means[1]
    return {
        "n_arm": len(known[0]), "n_against": len(known[1]),
        "mean_arm": means[0], "mean_against": means[1], "raw_gap": gap,
    }  # fmt: skip


def _tested(layout: Layout | None) -> dict[str, object]:
    strata = layout.strata if layout else ()
    return {
        "tested_arm": sum(x.size for x, _ in strata),
        "tested_against": sum(y.size for _, y in strata),
        "strata": len(strata),
    }


def _left_out(units: Sequence[Unit], sides: _Sides, layout: Layout, question: Question) -> dict[str, object]:
    both = [*sides.arm, *sides.against]
    return {
        "confounded_with": ", ".join(layout.confounded_with) or None,
        "lost": sum(unit.lost for unit in units if unit.stock in question.arms),
        "never_cropped": sum(math.isinf(unit.known_value) for unit in both),
        "mixed": sum(not unit.mixed.isdisjoint(question.arms) for unit in units),
        "missing": len(sides.missing),
        "alone": layout.alone,
        "unplaced": layout.unplaced,
        "left_by_pooling": sides.left_by_pooling,
        "moved": sum(unit.moved for unit in both),
        "running": sum(unit.running for unit in both),
    }


UNRANKED = "units that never cropped have no date to take a mean of; ask for statistic 'ranks', which counts them"


def _note(sides: _Sides, question: Question, withheld: bool) -> str | None:
    if withheld:
        return f"the season is still running; {question.measure.name} is withheld until it has ended"
    for side, name in ((sides.arm, question.arms[0]), (sides.against, question.arms[1])):
        if not side:
            return f"no {name} plants with a value"
    if sides.unplaceable:
        return "roots lost in the winter cannot be placed among the several beds of the living, so there is no test"
    if any(unit.running for unit in [*sides.arm, *sides.against]):
        return "the season is still running; figures are to date"
    return None
