"""Did kept roots gain on fresh stock? The change of the same roots less that of fresh stock of the same two seasons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.contrasts import Contrast
from perennia.analysis.decisions.comparing import effect as eff
from perennia.analysis.decisions.comparing.asked_rows import asked_rows
from perennia.analysis.decisions.comparing.by_unit import CHANGE_UNITS, change_unit_rows, place_of
from perennia.analysis.decisions.comparing.change_wording import change_cautions, change_finding
from perennia.analysis.decisions.comparing.coming_of_age import too_young
from perennia.analysis.decisions.comparing.fresh_change import (
    SMALLEST_ARM,
    FreshPlace,
    enough,
    gap_in_grams,
    means_of,
    ratio_of_ratios,
)
from perennia.analysis.decisions.comparing.pairs import SURVIVOR, Pair, PairQuestion, pair_answers
from perennia.analysis.measures import (
    MEASURES,
    Measure,
    check_columns,
    choose_measures,
    measures_named,
    own_measure,
    probability,
)
from perennia.analysis.result import Result, framed
from perennia.analysis.selection import picked_out
from perennia.analysis.units import Row, Unit, rows_of, units_of
from perennia.analysis.values import calendar_day
from perennia.checking import arguments

if TYPE_CHECKING:
    from perennia.crops import CropProfile
    from perennia.source import Source

COLUMNS = {
    "crop": "string", "plant_season": "Int64", "first_season": "string", "later_season": "string", "measure": "string",
    "n_roots": "Int64", "n_fresh_first": "Int64", "n_fresh_later": "Int64",
    "mean_roots_first": "Float64", "mean_roots_later": "Float64", "mean_fresh_first": "Float64",
    "mean_fresh_later": "Float64", "gap": "Float64", "gap_low": "Float64", "gap_high": "Float64", "p": "Float64",
    "ratio": "Float64", "ratio_low": "Float64", "ratio_high": "Float64", "p_ratio": "Float64", "level": "Float64",
    "changed_place": "Int64", "elsewhere": "Int64", "missing": "Int64", "note": "string",
}  # fmt: skip
"""Columns of ChangeComparison.table; one row a crop, later plant season, measure and pair of seasons.

first_season, later_season: of the roots. n_roots: pairs of the same roots, in place, with both values. n_fresh_first,
n_fresh_later: other units of fresh stock with a value, in a bed, cover and cultivar in which fresh stock stood in both
seasons. mean_roots_first, mean_roots_later, mean_fresh_first, mean_fresh_later: means of these. gap: (roots later -
roots first) - (fresh later - fresh first), in the unit of the measure, with p. ratio: (roots later / first) / (fresh
later / first), with p_ratio. _low, _high: ends of the intervals at level.
changed_place: roots left out because bed, cover or container changed. elsewhere: fresh units left out because none
stood in their place in the other season. missing: units without a value. note: why there is no p or no gap; roots and
fresh stock that share no site, cultivar or cover have no p.
"""
_OF_YEARS = ("site", "cultivar", "cover")
"""What decides how a year is felt; a bed is felt alike in all, its own part being taken off by the difference."""
_UNITS = (
    "a unit is a plant, or all the labels linked by pickings shared, or a stand; total_g and count are taken a plant "
    "standing, days are counted from 1 January of each season's year, leap days left out."
)
_METHOD = (
    "Difference in differences: the mean change of the same roots less that of fresh stock, means of fresh stock "
    "weighted by place alike in both seasons; intervals by Student's t after Welch and Satterthwaite; the ratio on the "
    f"logarithm by the delta method; no p and no interval under {SMALLEST_ARM} units an arm and season."
)


@attrs.frozen(kw_only=True, eq=False)
class ChangeComparison(Result):
    """How roots changed against fresh stock of the same seasons (columns in COLUMNS). by_unit: the roots and fresh
    units of each row of the table, with their values (columns in by_unit.CHANGE_UNITS)."""

    measure: str
    by_unit: pd.DataFrame


@attrs.frozen
class ChangeAnswer:
    """One row with what its sentences need. by_unit: rows of by_unit.CHANGE_UNITS. roots_at, fresh_at: places of each.
    kept_lead: how far the kept roots had out-cropped other fresh stock in their first season, None if there was none.
    """

    row: dict[str, Any]
    by_unit: list[dict[str, object]]
    roots_at: frozenset[str]
    fresh_at: frozenset[str]
    kept_lead: float | None


def compare_change(
    source: Source, *, measure: str | Sequence[str] | None = None, crop: str | None = None, level: float = 0.95
) -> ChangeComparison:
    """Hold the change of the same roots, from their first season to a later one, against that of fresh stock.

    One row a crop, later plant season, measure and pair of seasons. What the year did to both is taken off, which
    holds as far as old roots and seedlings feel a year alike. measure: one of measures.MEASURES or several; unless
    given total_g or count, whichever is each crop's own. level: of the intervals (Welch 1947, Satterthwaite 1946, as
    contrasts has them). Columns in COLUMNS.

    Raises AnalysisError for an unknown measure or level, ArgumentError for what is of another kind.
    """
    chosen = None if crop is None else arguments.a_name(crop, "crop")
    frame = asked_rows(source, choose_measures(measure), chosen)
    return changes_of(frame, measure=measure, level=level, profiles=source.profiles)


def changes_of(
    frame: pd.DataFrame,
    *,
    measure: str | Sequence[str] | None = None,
    level: float = 0.95,
    profiles: Mapping[str, CropProfile] | None = None,
) -> ChangeComparison:
    """compare_change on rows of season_summary."""
    measured = choose_measures(measure)
    check_columns(frame, measured)
    level = eff.asked_for("ranks", level).level
    rows = rows_of(frame)
    answers: list[ChangeAnswer] = []
    for crop in sorted({str(row["crop"]) for row in rows}):
        ours = [row for row in rows if row["crop"] == crop]
        for one in measured or (own_measure(crop, ours, profiles),):
            answers += _answers(ours, crop, one, level)
    return ChangeComparison(
        table=framed([answer.row for answer in answers], COLUMNS),
        n=max((sum(each) for each in _sizes(answers).values()), default=0),
        method=_METHOD,
        units=_UNITS,
        cautions=(
            *too_young((answer.row["crop"] for answer in answers if answer.row["gap"] is not None), profiles),
            *change_cautions(answers),
        ),
        findings=tuple(change_finding(answer, MEASURES[answer.row["measure"]]) for answer in answers)
        or ("No root has both its first season and a later one on record.",),
        measure=measures_named((answer.row for answer in answers), measured),
        by_unit=framed([row for answer in answers for row in answer.by_unit], CHANGE_UNITS),
    )


def _sizes(answers: Sequence[ChangeAnswer]) -> dict[str, list[int]]:
    """Pairs of roots by measure: measures asked together rest on the same ones."""
    sizes: dict[str, list[int]] = {}
    for answer in answers:
        sizes.setdefault(answer.row["measure"], []).append(answer.row["n_roots"])
    return sizes


def _answers(rows: Sequence[Row], crop: str, measure: Measure, level: float) -> list[ChangeAnswer]:
    fresh = [
        unit for unit in units_of(rows, measure, calendar_day)
        if unit.stock == "fresh" and unit.grew and not unit.running
    ]  # fmt: skip
    answers: list[ChangeAnswer] = []
    for found in pair_answers(rows, crop, PairQuestion(measure, None), None):
        if found.basis != SURVIVOR:
            continue
        by_seasons: dict[tuple[int, int], list[Pair]] = {}
        for pair in found.pairs:
            if not pair.later.running:
                by_seasons.setdefault((pair.first.season, pair.later.season), []).append(pair)
        answers += [
            _answer(pairs, fresh, found.plant_season, measure, level) for _, pairs in sorted(by_seasons.items())
        ]  # fmt: skip
    return answers


def _answer(
    every: Sequence[Pair], fresh: Sequence[Unit], plant_season: int, measure: Measure, level: float
) -> ChangeAnswer:
    first, later = every[0].first.season, every[0].later.season
    kept = {member for pair in every for member in pair.first.members}
    others = [unit for unit in fresh if unit.season in (first, later) and kept.isdisjoint(unit.members)]
    known = [unit for unit in others if unit.value is not None and math.isfinite(unit.value)]
    placed = _by_place(known, first, later)
    places = [place for place in placed.values() if place.first and place.later]
    pairs = [pair for pair in every if not pair.changed and pair.dated]
    used = sum(len(place.first) + len(place.later) for place in places)
    means = means_of(pairs, places) if pairs and places else None
    held = {name for name, place in placed.items() if place in places}
    apart = _apart([pair.later for pair in pairs], [unit for unit in known if unit.bed and place_of(unit) in held])
    mean_of_firsts = [value for place in placed.values() for value in place.first]
    chosen = picked_out([pair.values[1] for pair in pairs], mean_of_firsts)
    ready = means is not None and enough(pairs, places) and not apart and chosen is None
    gap = gap_in_grams(pairs, places, level) if ready else None
    ratio = ratio_of_ratios(pairs, places, level) if ready and measure.kind != "day" else None
    lead = None
    if pairs and mean_of_firsts:
        lead = math.fsum(p.values[1] for p in pairs) / len(pairs) - math.fsum(mean_of_firsts) / len(mean_of_firsts)
    named = {
        "crop": every[0].first.crop, "plant_season": plant_season, "first_season": every[0].first.season_name,
        "later_season": every[0].later.season_name, "measure": measure.name,
    }  # fmt: skip
    return ChangeAnswer(
        by_unit=change_unit_rows(named, pairs, {name: place for name, place in placed.items() if place in places}),
        row={
            **named, "n_roots": len(pairs),
            "n_fresh_first": sum(len(place.first) for place in places),
            "n_fresh_later": sum(len(place.later) for place in places),
            "mean_roots_first": means and means.roots_first, "mean_roots_later": means and means.roots_later,
            "mean_fresh_first": means and means.fresh_first, "mean_fresh_later": means and means.fresh_later,
            "gap": means and means.gap, **_interval(gap, ratio, level),
            "changed_place": sum(bool(pair.changed) for pair in every), "elsewhere": len(known) - used,
            "missing": len(others) - len(known) + sum(not pair.dated for pair in every),
            "note": _note(pairs, placed, places, apart, chosen, ready, gap),
        },
        roots_at=frozenset(place_of(pair.later) for pair in pairs),
        fresh_at=frozenset(placed_at for placed_at, place in placed.items() if place in places),
        kept_lead=lead,
    )  # fmt: skip


def _interval(gap: Contrast | None, ratio: Contrast | None, level: float) -> dict[str, float | None]:
    in_grams = {"gap_low": gap.low, "gap_high": gap.high, "p": gap.p, "level": level} if gap else {}
    as_ratio = {
        "ratio": math.exp(ratio.estimate), "ratio_low": math.exp(ratio.low), "ratio_high": math.exp(ratio.high),
        "p_ratio": ratio.p,
    } if ratio else {}  # fmt: skip
    names = ("gap_low", "gap_high", "p", "ratio", "ratio_low", "ratio_high", "p_ratio", "level")
    return dict.fromkeys(names) | in_grams | as_ratio


def _by_place(units: Sequence[Unit], first: int, later: int) -> dict[str, FreshPlace]:
    sides: dict[str, tuple[list[float], list[float]]] = {}
    for unit in units:
        if unit.bed is not None:
            sides.setdefault(place_of(unit), ([], []))[unit.season == later].append(unit.known_value)
    return {name: FreshPlace(tuple(before), tuple(after)) for name, (before, after) in sorted(sides.items())}


def _apart(roots: Sequence[Unit], fresh: Sequence[Unit]) -> list[str]:
    """Of what makes years differ the factors that roots and fresh stock share no level of."""
    if not roots or not fresh:
        return []
    return [
        factor for factor in _OF_YEARS
        if {getattr(unit, factor) for unit in roots}.isdisjoint({getattr(unit, factor) for unit in fresh})
    ]  # fmt: skip


def _note(
    pairs: Sequence[Pair], placed: Mapping[str, FreshPlace], places: Sequence[FreshPlace], apart: Sequence[str],
    chosen: float | None, ready: bool, gap: Contrast | None,
) -> str | None:
    if not pairs:
        return "no root kept its place with a value in both seasons"
    if not any(place.later for place in placed.values()):
        return "no fresh stock has a value in the later season"
    if not any(place.first for place in placed.values()):
        return "there was no other fresh stock in the roots' first season"
    if not places:
        return "fresh stock stood in no place in both seasons, so its change is confounded with its place"
    if apart:
        shared = ", no ".join(apart)
        return f"roots and fresh stock share no {shared}, so a year may have treated them differently: no p or interval"
    if chosen is not None:
        return (
            f"the roots had differed from other fresh stock in their first season (p {probability(chosen)}), and "
            "roots picked out by one season fall back without any ageing: no p and no interval"
        )
    if not ready:
        return f"under {SMALLEST_ARM} units an arm and season there is no p and no interval"
    return None if gap else "the values do not differ at all, so there is no interval"
