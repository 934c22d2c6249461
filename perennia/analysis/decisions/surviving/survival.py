"""Which roots come through the winter, under which wintering, and how long do plants live?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.decisions.surviving.root_winters import Winter, winters_of
from perennia.analysis.decisions.surviving.shares import check_level
from perennia.analysis.decisions.surviving.survival_differences import DIFFERENCES, differences
from perennia.analysis.decisions.surviving.survival_groups import FIGURES, Group, choose_factors, groups_of
from perennia.analysis.decisions.surviving.survival_lives import (
    LIVES,
    MEDIANS,
    TESTS,
    Cohort,
    cohorts_of,
    lasting,
    lives_rows,
    log_rank_rows,
    median_rows,
)
from perennia.analysis.decisions.surviving.survival_wording import (
    difference_finding,
    group_finding,
    life_finding,
    log_rank_finding,
    survival_cautions,
)
from perennia.analysis.decisions.surviving.whole_lives import Lives, lives_of
from perennia.analysis.result import Result, framed
from perennia.analysis.units import rows_of
from perennia.checking import arguments

if TYPE_CHECKING:
    from perennia.source import Source

_PAIRS_TOLD = 15
"""Pairs of groups put into words; with many beds or boxes there are hundreds."""
_PLANTS = "select * from plants where crop = coalesce(?, crop) order by plant"
_SEASONS = (
    "select plant, season, season_name, plant_season, grew from plant_seasons where crop = coalesce(?, crop) "
    "order by plant, season"
)
# the latest day any record is sure to speak of, as the views take it
_HORIZON = """
with said as (
    select on_from, on_to, false as throughout from life where not inferred
    union all select on_from, on_to, event = 'books_kept' from harvest
    union all select on_from, on_to, event = 'flower_fate' from flowering
    union all select on_from, on_to, false from care
    union all select on_from, on_to, false from seed
    union all select "on", "on", true from weather
)
select max(case when throughout or on_to - on_from <= 13 then on_to else on_from end) as on_to from said
"""
_UNITS = (
    "a unit is a root-winter: one root, or stand however many plants it has, and one winter it entered; of whole lives "
    "it is one plant. Shares are parts of 1, per root kept; lives are counted in plant seasons."
)
_METHOD = (
    "Root-winters in discrete time, each winter taken for itself: a root found dead died between the day it was last "
    "seen alive and that day, one that shows nothing counts as dead only from its crop's latest regrowth on, and one "
    "taken out before leaves. Shares: {shares}. Differences: within strata of winter, site, crop, cultivar and "
    "wintering, intervals after Newcombe (1998, method 10) from those of the shares, exact p by exchanging boxes whole "
    "or roots within a box, as if randomised. Whole lives: Kaplan-Meier over plant seasons, Greenwood's error, log-log "
    "interval, only seasons and winters that are over, plants that came when older at risk from then on; groups by the "
    "log-rank test within crop, cultivar, site and season begun."
)


@attrs.frozen(kw_only=True, eq=False)
class Survival(Result):
    """How roots came through winters, and how long plants lived.

    table: a row a group (columns crop, what it was grouped by, and survival_groups.FIGURES). differences: a row a pair
    of groups (survival_differences.DIFFERENCES). lives: the share of plants alive season by season, medians its middle,
    tests the log-rank tests (survival_lives.LIVES, survival_lives.MEDIANS, survival_lives.TESTS); plants are grouped
    for life by crop and by what lasts of what was asked for. by: what was asked for.
    """

    differences: pd.DataFrame
    lives: pd.DataFrame
    medians: pd.DataFrame
    tests: pd.DataFrame
    by: tuple[str, ...]


def survival(
    source: Source,
    *,
    by: Sequence[str] = ("wintering",),
    crop: str | None = None,
    season: int | None = None,
    level: float = 0.95,
) -> Survival:
    """The share of roots that came through the winter, group by group, and plants' whole lives.

    One row a crop and group of ``by``: any of wintering, winter, crop, cultivar, site, bed, box, plant_season,
    raised_from. Groups of one crop are held against each other, crops only where ``by`` names crop. season: only the
    winter that leads into it; whole lives are never cut. level: that of every interval.

    Shares where no roots shared a box have Wilson intervals; where some did, the box is the cluster, and below 3 boxes
    there is no interval (shares has the sources); whole lives go by Kaplan and Meier 1958 and the log-rank test
    (lifetimes). Columns as help(perennia.Survival) tells. Groups that share no winter, site, crop, cultivar or
    wintering are confounded: their raw difference is shown with what it is confounded with, without interval or p.

    Raises AnalysisError for an unknown by or level, ArgumentError for what is of another kind.
    """
    factors, level = choose_factors(by), check_level(level)
    year = None if season is None else arguments.a_year(season, "season")
    winters = winters_of(source, crop)
    plants, seasons = (rows_of(source.sql(query, [crop])) for query in (_PLANTS, _SEASONS))
    latest = source.sql(_HORIZON)["on_to"].iloc[0]
    horizon: date | None = None if pd.isna(latest) else pd.Timestamp(latest).date()
    asked = [winter for winter in winters if year in (None, winter.winter)]
    return survival_of(
        asked, lives_of(plants, seasons, winters, horizon), factors=factors, level=level,
        across_crops="crop" in arguments.names(by, "by"), winter=year,
    )  # fmt: skip


def survival_of(
    winters: Sequence[Winter], lives: Lives, *, factors: Sequence[str] = ("crop", "wintering"), level: float = 0.95,
    across_crops: bool = False, winter: int | None = None,
) -> Survival:  # fmt: skip
    """survival on winters and lives; factors begin with crop, across_crops: whether crops are compared;
    winter: the only one asked about, by the season it leads into."""
    groups = groups_of(winters, factors, level)
    fixed = lasting(factors)
    cohorts = cohorts_of(lives.lives, fixed, level)
    compared = differences(groups, across_crops)
    tests = log_rank_rows(cohorts, fixed, across_crops)
    words = {factor: "Int64" if factor == "plant_season" else "string" for factor in factors}
    named = dict.fromkeys(fixed, "string")
    return Survival(
        table=framed([_numbered(group.row) for group in groups], words | FIGURES),
        n=sum(group.share.roots for group in groups),
        method=_METHOD.format(shares=_shares(groups)),
        units=_UNITS,
        cautions=survival_cautions(groups, compared, cohorts, tests, lives.left_out, factors),
        findings=(*_no_such_winter(winters, winter), *_findings(groups, compared, cohorts, tests)),
        differences=framed(compared, DIFFERENCES),
        lives=framed(lives_rows(cohorts, fixed, level), named | LIVES),
        medians=framed(median_rows(cohorts, fixed), named | MEDIANS),
        tests=framed(tests, TESTS),
        by=tuple(factor for factor in factors if factor != "crop" or across_crops),
    )


def _numbered(row: dict[str, Any]) -> dict[str, Any]:
    """A plant season as a number, missing where it is not recorded."""
    if "plant_season" not in row:
        return row
    text = str(row["plant_season"])
    return row | {"plant_season": int(text) if text.isdecimal() else None}


def _shares(groups: Sequence[Group]) -> str:
    used = sorted({group.share.method for group in groups if group.share.method})
    return "; ".join(used) or "none has an interval"


def _no_such_winter(winters: Sequence[Winter], winter: int | None) -> Iterator[str]:
    if winter is not None and not winters:
        yield f"No root that entered the winter leading into {winter} is on record."


def _findings(
    groups: Sequence[Group], compared: Sequence[dict[str, object]], cohorts: Sequence[Cohort],
    tests: Sequence[dict[str, object]],
) -> tuple[str, ...]:  # fmt: skip
    if not groups and not cohorts:
        return ("No root that entered a winter is on record for what was asked.",)
    return (
        *map(group_finding, groups), *_first(difference_finding, compared, "differences"),
        *map(life_finding, cohorts), *_first(log_rank_finding, tests, "tests"),
    )  # fmt: skip


def _first(
    told: Callable[[Mapping[str, Any]], str], rows: Sequence[dict[str, object]], where: str
) -> Iterator[str]:
    """The first pairs in words; the rest is in the table."""
    yield from map(told, rows[:_PAIRS_TOLD])
    if len(rows) > _PAIRS_TOLD:
        yield f"The other {len(rows) - _PAIRS_TOLD} pairs of groups are in the table {where}."
