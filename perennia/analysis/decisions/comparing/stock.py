"""Does overwintered stock beat freshly sown stock, season by season, among plants that shared a place?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis import layout as lay
from perennia.analysis.decisions.comparing import effect as eff
from perennia.analysis.decisions.comparing.asked_rows import asked_rows
from perennia.analysis.decisions.comparing.by_unit import STOCK_UNITS
from perennia.analysis.decisions.comparing.coming_of_age import too_young
from perennia.analysis.decisions.comparing.families import answered_first, with_holm
from perennia.analysis.decisions.comparing.overall import OVERALL, overall_finding, stock_overall
from perennia.analysis.decisions.comparing.small_shares import without_small_shares
from perennia.analysis.decisions.comparing.stock_rows import (
    COLUMNS,
    SURVIVOR,
    WITHOUT_SMALL_SHARES,
    Answer,
    Question,
    answer_rows,
)
from perennia.analysis.decisions.comparing.stock_wording import stock_cautions, stock_finding
from perennia.analysis.decisions.trials.allotment import TRIAL_ARMS, mismatches
from perennia.analysis.exact import Scores
from perennia.analysis.layout import Arms
from perennia.analysis.measures import (
    MEASURES,
    check_columns,
    choose_measures,
    measures_named,
    own_measure,
)
from perennia.analysis.result import Result, framed
from perennia.analysis.selection import SELECTION, selection, selection_caution
from perennia.analysis.units import STOCKS, Row, rows_of, units_of
from perennia.checking import arguments
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.crops import CropProfile
    from perennia.source import Source

_BEDS = "select distinct bed from season_summary where bed is not null"
_UNITS = (
    "a unit is a plant, or all the labels linked by pickings shared that season, or a stand however many plants it "
    "has; total_g and count are taken a plant standing, days are counted from 1 January of the season's year (the "
    "earliest first pick and the median t50 and peak of a unit's labels)."
)


@attrs.frozen(kw_only=True, eq=False)
class StockComparison(Result):
    """How two kinds of stock did (columns in stock_rows.COLUMNS). overlap: counts of units behind every confounder
    (columns in layout.OVERLAP). selection: how plants carried over had cropped the season before (columns in
    selection.SELECTION). overall: where three kinds of stock or more met, all of them at once (columns in
    overall.OVERALL). by_unit: the units of each row of the table, with their values (columns in
    by_unit.STOCK_UNITS)."""

    measure: str
    arms: Arms
    overlap: pd.DataFrame
    selection: pd.DataFrame
    overall: pd.DataFrame
    by_unit: pd.DataFrame


def compare_stock(
    source: Source,
    *,
    measure: str | Sequence[str] | None = None,
    season: int | None = None,
    crop: str | None = None,
    beds_alike: Sequence[str] = (),
    statistic: Scores = "ranks",
    level: float = 0.95,
    margin: float | None = None,
    arms: Arms = ("overwintered", "fresh"),
    pooled: bool = False,
) -> StockComparison:
    """Compare two kinds of stock within strata of season, crop, cultivar, cover and bed.

    One row a crop and season; with pooled, one a crop, each plant counted once, in the first finished season in which
    it could be compared. measure: one of measures.MEASURES or several; unless given total_g or count, whichever is each
    crop's own. Of several, p_holm is adjusted over those of one row. beds_alike: beds the grower declares to be alike;
    they make one stratum and the declaration is repeated as a caution. statistic: "ranks" (Hodges and Lehmann 1963; its
    other sources stand in exact) or "values" (means). margin: a shift that would not matter, in the one measure asked;
    whether the arms differ by less is tested too (exact.Equivalence). In dates a plant that grew and bore nothing
    counts as later than any. Arms that share no bed, cover or cultivar are not tested: the raw gap is shown with what
    it is confounded with, and overlap holds the counts. Columns in COLUMNS.

    Raises AnalysisError for an unknown measure, statistic, level, bed, or arms that are not two kinds of stock,
    ArgumentError for what is of another kind.
    """
    beds_alike = _bed_names(beds_alike)
    if beds_alike:
        _check_beds(beds_alike, source.sql(_BEDS)["bed"])
    low, high = (0, 9999) if season is None else (arguments.a_year(season, "season") - 1, season)
    frame = asked_rows(
        source, choose_measures(measure), None if crop is None else arguments.a_name(crop, "crop"), low, high
    )
    return compare_units(
        frame, allotments=rows_of(source.sql(TRIAL_ARMS)),
        measure=measure, season=season, beds_alike=beds_alike, statistic=statistic, level=level, margin=margin,
        arms=arms, pooled=pooled, profiles=source.profiles,
    )  # fmt: skip


def compare_units(
    frame: pd.DataFrame,
    *,
    allotments: Sequence[Row] = (),
    measure: str | Sequence[str] | None = None,
    season: int | None = None,
    beds_alike: Sequence[str] = (),
    statistic: Scores = "ranks",
    level: float = 0.95,
    margin: float | None = None,
    arms: Arms = ("overwintered", "fresh"),
    pooled: bool = False,
    profiles: Mapping[str, CropProfile] | None = None,
) -> StockComparison:
    """compare_stock on rows of season_summary, with the columns of season_efforts where a measure is taken by them; the
    season before the one asked for tells of selection.

    allotments: rows of trial_arms. profiles: the crop profiles to go by, the shipped ones when not given.
    """
    arms, beds_alike = _two_kinds(arms), _bed_names(beds_alike)
    if season is not None:
        season = arguments.a_year(season, "season")
    measured = choose_measures(measure)
    check_columns(frame, measured)
    asked = eff.asked_for(statistic, level, margin, measured)
    rows = rows_of(frame)
    answers: list[Answer] = []
    overall: list[dict[str, object]] = []
    for crop in sorted({str(row["crop"]) for row in rows}):
        ours = [row for row in rows if row["crop"] == crop and season in (None, row["season"])]
        for one in measured or (own_measure(crop, ours, profiles),):
            question = Question(one, arms, frozenset(beds_alike), asked, pooled, allotments)
            answers += _answers(ours, question)
            overall += [] if pooled else _overall(ours, question)
    answers = with_holm(answers, ("crop", "season", "basis"))
    chosen = _selections(rows, answers) if "overwintered" in arms else []
    overlaps = [answer.overlap for answer in answers if answer.overlap is not None]
    compared = [answer.crop for answer in answers if answer.row["raw_gap"] is not None]
    return StockComparison(
        table=framed([answer.row for answer in answers], COLUMNS),
        n=len({
            (answer.crop, unit.season, unit.name)
            for answer in answers if answer.basis == SURVIVOR for unit in (*answer.arm, *answer.against)
        }),
        method=_method(answers, arms, pooled),
        units=_UNITS,
        cautions=(
            *(too_young(compared, profiles) if "fresh" in arms else ()),
            *stock_cautions(answers, arms, beds_alike, [selection_caution(row) for row in chosen]),
            *mismatches(allotments, units_of(rows, MEASURES["total_g"])),
        ),
        findings=tuple(
            stock_finding(answer, MEASURES[str(answer.row["measure"])], arms, several=len(measured) > 1)
            for answer in answered_first(answers)
        )
        + tuple(map(overall_finding, overall))
        or (f"No {arms[0]} or {arms[1]} plants are on record for what was asked.",),
        measure=measures_named((answer.row for answer in answers), measured),
        arms=arms,
        overlap=pd.concat(overlaps, ignore_index=True) if overlaps else framed([], lay.OVERLAP),
        selection=framed(chosen, SELECTION),
        overall=framed(overall, OVERALL),
        by_unit=framed([row for answer in answers for row in answer.by_unit], STOCK_UNITS),
    )


def _answers(rows: Sequence[Row], question: Question) -> list[Answer]:
    """The answers for one crop, season by season unless pooled."""
    units, unlinked = units_of(rows, question.measure), units_of(without_small_shares(rows), question.measure)
    seasons = [None] if question.pooled else sorted({unit.season for unit in units})
    answers: list[Answer] = []
    for season in seasons:
        ours, apart = ([unit for unit in every if season in (None, unit.season)] for every in (units, unlinked))
        answers += answer_rows(ours, question)
        if answers and {unit.members for unit in ours} != {unit.members for unit in apart}:
            answers += answer_rows(apart, question, (WITHOUT_SMALL_SHARES,))
    return answers


def _overall(rows: Sequence[Row], question: Question) -> list[dict[str, object]]:
    """All kinds of stock of one crop at once, season by season."""
    units = units_of(rows, question.measure)
    found = (
        stock_overall([unit for unit in units if unit.season == season], question.measure, question.beds_alike)
        for season in sorted({unit.season for unit in units})
    )
    return [row for row in found if row is not None]


def _selections(rows: Sequence[Row], answers: Sequence[Answer]) -> list[dict[str, object]]:
    """Selection before every season in which overwintered stock was held against another."""
    asked = {(answer.crop, season, str(answer.row["measure"])) for answer in answers for season in answer.seasons}
    found = (selection(rows, crop, season, MEASURES[name]) for crop, season, name in sorted(asked))
    # measures that do not add up are told of by the crop, once
    once = {(row["crop"], row["season"], row["measure"]): row for row in found if row is not None}
    return list(once.values())


def _method(answers: Sequence[Answer], kinds: Arms, pooled: bool) -> str:
    tests = sorted({answer.effect.shift.method for answer in answers if answer.effect is not None})
    grain = "seasons pooled, each plant counted once" if pooled else "one season at a time"
    strata = f"{kinds[0]} less {kinds[1]} within strata of season, crop, cultivar, cover and bed, {grain}"
    drawn = sorted({answer.allotment.wording for answer in answers if answer.allotment and answer.allotment.wording})
    undrawn = any(answer.effect and not (answer.allotment and answer.allotment.wording) for answer in answers)
    how = [*["as if the stock had been randomised within strata"] * undrawn, *drawn]
    p = f"p is {', or '.join(how)}" if tests else "no test was possible"
    several = len({answer.row["measure"] for answer in answers}) > 1
    holm = ["p_holm is adjusted for the measures asked of the same crop, season and basis (Holm 1979)"] * several
    return "; ".join([strata, *tests, p, *holm]) + "."


def _two_kinds(arms: Arms) -> Arms:
    kinds = arguments.names(arms, "arms")
    if len(kinds) != 2 or len({*kinds}) != 2 or not {*kinds} <= {*STOCKS}:
        raise AnalysisError(f"arms takes two different kinds of stock out of {', '.join(STOCKS)}, not {arms!r}")
    return kinds[0], kinds[1]


def _bed_names(beds: Sequence[str]) -> tuple[str, ...]:
    named = arguments.names(beds, "beds_alike")
    if len(set(named)) == 1:
        raise AnalysisError(f"beds_alike takes two or more beds, such as ('B1', 'B2'), not {beds!r}")
    return tuple(named)


def _check_beds(beds: Sequence[str], on_record: pd.Series[str]) -> None:
    unknown = sorted(set(beds) - set(on_record))
    if unknown:
        raise AnalysisError(f"beds_alike names {', '.join(unknown)}; beds on record are {', '.join(sorted(on_record))}")
