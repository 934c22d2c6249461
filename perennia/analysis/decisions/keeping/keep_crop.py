"""The keep list of one crop: everything that bears on its plants, brought together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import attrs

from perennia.analysis.decisions.keeping import keep_fresh, keep_seed, keep_target
from perennia.analysis.decisions.keeping.keep_outlook import Outlook, outlook
from perennia.analysis.decisions.keeping.keep_roots import RootBooks
from perennia.analysis.decisions.keeping.keep_rows import Candidate, candidates, chosen, ranked
from perennia.analysis.decisions.keeping.keep_unseen import Unseen, unseen_of
from perennia.analysis.decisions.keeping.keep_winter import Chance, chance_of, own_wintering, usual_wintering
from perennia.analysis.decisions.surviving.root_winters import Winter
from perennia.analysis.measures import Measure
from perennia.analysis.seasons.histories import CropHistories, histories
from perennia.analysis.selection import selection
from perennia.analysis.units import Row
from perennia.crops import CropProfile

OUTLOOK = {
    "crop": "string", "measure": "string", "basis": "string", "why_none": "string", "n_units": "Int64",
    "n_repeated": "Int64", "n_values": "Int64", "seasons": "string", "repeatability": "Float64",
    "estimated": "Float64", "low": "Float64", "high": "Float64", "between": "Float64", "within": "Float64",
    "season_variance": "Float64", "age_change": "Float64", "age_low": "Float64", "age_high": "Float64",
    "age_note": "string", "level": "Float64",
}  # fmt: skip
"""Columns of KeepList.outlook; one row a crop.

basis: records, repeatability (the grower's own) or none, with why_none. n_units, n_repeated, n_values: units with a
known crop, those with two seasons or more, and seasons of theirs. repeatability: gone by; estimated: by REML from the
records, low and high its interval. between, within: variances gone by, in the squared unit of the measure.
season_variance: of a season to come about the mean season. age_change: crop in later seasons less that in a first one,
with its interval age_low to age_high, where it can be told, else age_note says why not.
"""


@attrs.frozen(kw_only=True)
class Ask:
    """What is asked for: as keep_list takes it."""

    season: int
    target: float | None
    places: int | None
    wintering: str | None
    repeatability: float | None
    assurance: float
    level: float


@attrs.frozen(kw_only=True, eq=False)
class CropAnswer:
    """The keep list of one crop. every: candidates in order of rank, vetoed ones last. unlisted: plants of the season
    that have ended since, in words. unseen: those not seen since their latest winter. juvenile: seasons left out, as
    the crop gives nothing worth having so young. running: plants whose season was not over. usual: the wintering most
    used. winterings: those on record.
    """

    crop: str
    measure: Measure
    profile: CropProfile | None
    found: CropHistories
    outlook: Outlook
    fresh: keep_fresh.Fresh
    every: tuple[Candidate, ...]
    chances: tuple[Chance, ...]
    usual: str | None
    winterings: tuple[str, ...]
    plans: tuple[keep_target.Plan, ...]
    seeds: tuple[dict[str, object], ...]
    selections: tuple[dict[str, object], ...]
    unlisted: Mapping[str, str]
    unseen: tuple[Unseen, ...]
    juvenile: int
    running: frozenset[str]


def crop_answer(
    rows: Sequence[Row], crop: str, measure: Measure, ask: Ask, books: RootBooks, winters: Sequence[Winter],
    lots: Sequence[Row], profile: CropProfile | None,
) -> CropAnswer | None:  # fmt: skip
    """The answer for one crop from its rows of season_summary, None where none of its plants lived in the season."""
    known = [row for row in rows if int(row["season"]) <= ask.season]
    there = [row for row in known if int(row["season"]) == ask.season and row["grew"] is not False]
    unlisted = {str(row["plant"]): books.ended.get(str(row["plant"]), str(row["ended_how"])) for row in there
                if row["ended_how"] is not None or str(row["plant"]) in books.ended}  # fmt: skip
    unseen = unseen_of(there, winters, books.roots, unlisted)
    absent = {*unlisted, *(str(one.row["plant"]) for one in unseen)}
    living = [row for row in there if str(row["plant"]) not in absent]
    if not living and not unseen:
        return None
    running = frozenset(str(row["plant"]) for row in living if row["finished"] is not True)
    bearing, juvenile = _of_bearing_age(known, profile)
    found = histories([_as_over(row, ask.season) for row in bearing], crop, measure, None)
    open_cells = {(row["site"], ask.season) for row in living if row["finished"] is not True}
    view = outlook(found, ask.season, open_cells, ask.repeatability, ask.level)
    fresh = keep_fresh.fresh_of(found, view, _first_crop_season(profile))
    usual = usual_wintering(known, winters, ask.season)
    chances = _chances(living, winters, ask, usual)
    every = candidates(living, found, view, books.roots, chances, running)
    every = chosen(ranked(every, view), view, fresh, ask.places)
    plans = [] if ask.target is None else keep_target.plans(
        every, view, fresh, ask.target, ask.assurance, ask.places)
    needed = {plan.plan: plan.sowings for plan in plans}
    viability = None if profile is None or profile.seed_viability_years is None else profile.seed_viability_years.value
    carried = [selection(known, crop, year, measure) for year in sorted({int(row["season"]) for row in known})]
    return CropAnswer(
        crop=crop, measure=measure, profile=profile, found=found, outlook=view, fresh=fresh, every=tuple(every),
        chances=tuple({chance.wintering: chance for chance in chances.values()}.values()), usual=usual,
        winterings=tuple(sorted({winter.wintering for winter in winters if winter.decided})), plans=tuple(plans),
        seeds=tuple(keep_seed.lots_of(
            lots, crop, ask.season + 1, viability, (needed.get("roots and sowings"), needed.get("sowings")),
            ask.assurance, ask.level)),
        selections=tuple(row for row in carried if row is not None), unlisted=unlisted, unseen=unseen,
        juvenile=juvenile, running=running,
    )  # fmt: skip


def outlook_row(answer: CropAnswer) -> dict[str, object]:
    """The row of a crop."""
    view, shares, model = answer.outlook, answer.outlook.shares, answer.outlook.model
    return {
        "crop": answer.crop, "measure": answer.measure.name, "basis": view.basis, "why_none": view.why_none,
        "n_units": view.n_units, "n_repeated": view.n_repeated, "n_values": view.n_values,
        "seasons": ", ".join(season_names(answer)) or None, "repeatability": view.share,
        "estimated": None if shares is None else shares.repeatability, "low": None if shares is None else shares.low,
        "high": None if shares is None else shares.high, "between": None if model is None else model.between,
        "within": None if model is None else model.within, "season_variance": view.season_variance,
        "age_change": view.age.change, "age_low": view.age.low, "age_high": view.age.high, "age_note": view.age.why_not,
        "level": view.level,
    }  # fmt: skip


def season_names(answer: CropAnswer) -> list[str]:
    """The seasons with a known crop that the answer rests on."""
    return sorted({one.season_name for unit in answer.found.units for one in unit.seasons})


def seasons_over(answer: CropAnswer) -> list[str]:
    """Those of them that make up the mean season."""
    every, over = answer.found.units, answer.outlook.over
    return sorted({one.season_name for unit in every for one in unit.seasons if (one.site, one.season) in over})


def _first_crop_season(profile: CropProfile | None) -> int | None:
    return None if profile is None or profile.first_crop_season is None else int(profile.first_crop_season.value)


def _of_bearing_age(rows: Sequence[Row], profile: CropProfile | None) -> tuple[list[Row], int]:
    """The rows of plants old enough to bear by the profile, and how many are not."""
    first = _first_crop_season(profile)
    if first is None:
        return list(rows), 0
    young = [row for row in rows if row["plant_season"] is not None and int(row["plant_season"]) < first]
    return [row for row in rows if row["plant_season"] is None or int(row["plant_season"]) >= first], len(young)


def _as_over(row: Row, season: int) -> Row:
    """The season of the choice is ending, which its plants may not show yet."""
    return {**row, "finished": True} if int(row["season"]) == season else row


def _chances(living: Sequence[Row], winters: Sequence[Winter], ask: Ask, usual: str | None) -> dict[str, Chance]:
    """By plant: under the wintering asked for, else the one it is in already, else the usual one."""
    own = {} if ask.wintering is not None else own_wintering(winters, ask.season)
    named = {str(row["plant"]): ask.wintering or own.get(str(row["plant"])) or usual for row in living}
    found = {name: chance_of(winters, name, ask.season, ask.level) for name in set(named.values())}
    return {plant: found[name] for plant, name in named.items()}
