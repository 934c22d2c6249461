"""How did the same plants do in later seasons of their life, against their first?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.decisions.comparing import effect as eff
from perennia.analysis.decisions.comparing.asked_rows import asked_rows
from perennia.analysis.decisions.comparing.by_unit import PAIR_UNITS, pair_unit_rows
from perennia.analysis.decisions.comparing.coming_of_age import too_young
from perennia.analysis.decisions.comparing.families import answered_first, with_holm
from perennia.analysis.decisions.comparing.overall import OVERALL, overall_finding, seasons_overall
from perennia.analysis.decisions.comparing.pairs import (
    CHANGES,
    COLUMNS,
    SURVIVOR,
    PairAnswer,
    PairQuestion,
    pair_answers,
)
from perennia.analysis.decisions.comparing.pairs_wording import pair_cautions, pair_finding
from perennia.analysis.exact import Scores
from perennia.analysis.measures import (
    MEASURES,
    check_columns,
    choose_measures,
    measures_named,
    own_measure,
)
from perennia.analysis.result import Result, framed
from perennia.analysis.units import rows_of
from perennia.checking import arguments
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.crops import CropProfile
    from perennia.source import Source

_UNITS = (
    "a unit is a pair: one plant in its first season and in a later one; plants linked by shared pickings in either "
    "season are one pair, and so is a stand; total_g and count are taken a plant standing, days are counted from "
    "1 January of each season's year, leap days left out."
)


@attrs.frozen(kw_only=True, eq=False)
class SeasonComparison(Result):
    """How later seasons went against the first (columns in pairs.COLUMNS). changes: pairs by what changed of their
    place (columns in pairs.CHANGES). overall: where the same plants had three seasons or more, all of them at once
    (columns in overall.OVERALL). by_unit: the pairs of each row of the table, with their values (columns in
    by_unit.PAIR_UNITS).
    """

    measure: str
    changes: pd.DataFrame
    overall: pd.DataFrame
    by_unit: pd.DataFrame


def compare_seasons(
    source: Source,
    *,
    measure: str | Sequence[str] | None = None,
    crop: str | None = None,
    plant_season: int | None = None,
    statistic: Scores = "ranks",
    level: float = 0.95,
    margin: float | None = None,
) -> SeasonComparison:
    """Compare later plant seasons with the first season of the same plants, in pairs.

    One row a crop, plant_season (all from the second on, or the one given), basis and measure. measure: one of
    measures.MEASURES or several; unless given total_g or count, whichever is each crop's own. Of several, p_holm is
    adjusted over those of one row. statistic: "ranks" (Hodges-Lehmann) or "values" (means). margin: a shift that would
    not matter, in the one measure asked (exact.Equivalence). level: of the interval (Hodges and Lehmann 1963; its
    other sources stand in exact). A plant whose bed,
    cover or container changed gives no estimate; the raw gap over all pairs is shown with the counts in changes.
    Columns in pairs.COLUMNS.

    Raises AnalysisError for an unknown measure, statistic or level, and a plant season before the second.
    """
    chosen = None if crop is None else arguments.a_name(crop, "crop")
    return compare_pairs(
        asked_rows(source, choose_measures(measure), chosen), measure=measure, plant_season=plant_season,
        statistic=statistic, level=level, margin=margin, profiles=source.profiles,
    )  # fmt: skip


def compare_pairs(
    frame: pd.DataFrame,
    *,
    measure: str | Sequence[str] | None = None,
    plant_season: int | None = None,
    statistic: Scores = "ranks",
    level: float = 0.95,
    margin: float | None = None,
    profiles: Mapping[str, CropProfile] | None = None,
) -> SeasonComparison:
    """compare_seasons on rows of season_summary.

    profiles: the crop profiles to go by, the shipped ones when not given.
    """
    if plant_season is not None and arguments.a_whole_number(plant_season, "plant_season", 2) < 2:
        raise AnalysisError(f"a later season is the plant's second or a later one, not {plant_season}")
    measured = choose_measures(measure)
    check_columns(frame, measured)
    asked = eff.asked_for(statistic, level, margin, measured)
    rows = rows_of(frame)
    answers: list[PairAnswer] = []
    overall: list[dict[str, object]] = []
    for crop in sorted({str(row["crop"]) for row in rows}):
        ours = [row for row in rows if row["crop"] == crop]
        for one in measured or (own_measure(crop, ours, profiles),):
            answers += pair_answers(ours, crop, PairQuestion(one, asked), plant_season)
            at_once = seasons_overall(ours, crop, one) if plant_season is None else None
            overall += [] if at_once is None else [at_once]
    answers = with_holm(answers, ("crop", "plant_season", "basis"))
    changes = [row for answer in answers if answer.basis == SURVIVOR for row in answer.changes]
    return SeasonComparison(
        table=framed([answer.row for answer in answers], COLUMNS),
        n=len({
            (answer.crop, answer.plant_season, pair.first.season, pair.first.name)
            for answer in answers if answer.basis == SURVIVOR for pair in answer.pairs
        }),
        method=_method(answers),
        units=_UNITS,
        cautions=(
            *too_young((answer.crop for answer in answers if answer.row["raw_gap"] is not None), profiles),
            *pair_cautions(answers),
        ),
        findings=tuple(
            pair_finding(answer, MEASURES[str(answer.row["measure"])], several=len(measured) > 1)
            for answer in answered_first(answers)
        )
        + tuple(map(overall_finding, overall))
        or ("No plant has both its first season and a later one on record.",),
        measure=measures_named((answer.row for answer in answers), measured),
        changes=framed(changes, CHANGES),
        overall=framed(overall, OVERALL),
        by_unit=framed([row for answer in answers for row in pair_unit_rows(answer.row, answer.pairs)], PAIR_UNITS),
    )


def _method(answers: Sequence[PairAnswer]) -> str:
    tests = sorted({answer.effect.shift.method for answer in answers if answer.effect is not None})
    p = "p is as if first and later season had been drawn by lot" if tests else "no test was possible"
    several = len({answer.row["measure"] for answer in answers}) > 1
    holm = ["p_holm is adjusted for the measures asked of the same crop, plant season and basis (Holm 1979)"] * several
    return "; ".join(["later less first season of plants that kept their place", *tests, p, *holm]) + "."
