"""Sowings to cover losses: roots that the winter took, and what has been sown in their place so far."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import timedelta

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.own_days import OwnDays, growing_year, own_days
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import joined, listed
from perennia.analysis.decisions.keeping.keep_seed import seed_rows, seeds_for
from perennia.analysis.decisions.surviving.root_winters import (
    DIED,
    NOT_REGROWN,
    OPEN,
    SURVIVED,
    Winter,
    share_alive,
    winters_of,
)  # fmt: skip
from perennia.analysis.units import Row
from perennia.checking.words import counted

_SOWN = (
    'select crop, site, label, plants, state, began_on as "on", season_starts, sow_ahead_days from plants '
    "where origin = 'seed' and crop is not null and began_from is not null order by began_on, plant"
)
_AHEAD_DAYS = 28
"""A sowing is looked ahead to from four weeks before the first that was ever made: our own choice."""
_TOO_LATE_DAYS = 21
"""Three weeks after the last sowing ever made a loss is no longer asked about, but counted: our own choice."""
_ASSURANCE = 0.9


@attrs.frozen(eq=False)
class Losses:
    """The roots of one crop at one site and the season that they were to grow in: lost ones, stands that came through
    with fewer plants, those whose winter is not over, all plants that entered it, and plants sown for that season that
    live."""

    crop: str
    site: str | None
    season: int
    starts: str
    lost: tuple[Winter, ...]
    thinned: tuple[Winter, ...]
    open_: tuple[Winter, ...]
    entered: int
    sown: int

    @property
    def lost_plants(self) -> int:
        """Plants lost, stands by the plants in them."""
        return sum(winter.plants for winter in self.lost) + self.fewer

    @property
    def fewer(self) -> int:
        """Plants that were no longer counted in stands that came through."""
        return sum(winter.plants - int(winter.plants_after or 0) for winter in self.thinned)

    @property
    def wanting(self) -> int:
        """Plants lost and not yet sown for."""
        return max(self.lost_plants - self.sown, 0)


def sowings_of(today: Today) -> list[Row]:
    """Every sowing so far: crop, site, label, plants, state, on, season_starts, and season, for which it counts."""
    return [{**row, "season": _sown_for(row)} for row in today.rows(_SOWN) if row["on"] <= today.day]


def _sown_for(row: Row) -> int:
    return growing_year(row["on"] + timedelta(days=int(row["sow_ahead_days"])), str(row["season_starts"]))


def sowings(today: Today) -> Found:
    """One matter a crop and site whose roots died in the winter that leads into the season that runs or comes."""
    every = sowings_of(today)
    if not every:
        return Found()
    winters = winters_of(today.source)
    found, unknown = [], []
    for losses in _losses(today, every, winters):
        own = _own(losses, every)
        if losses.wanting == 0 or (own is not None and today.day < own.first - timedelta(days=_AHEAD_DAYS)):
            continue
        if own is not None and today.day > own.last + timedelta(days=_TOO_LATE_DAYS):
            unknown.append(
                f"{losses.crop}: {counted(losses.wanting, 'plant')} lost in the winter and not sown for; by the days "
                "of earlier sowings it is too late this season."
            )
            continue
        found.append(_matter(today, losses, own, winters))
    return Found(tuple(found), tuple(unknown))


def _losses(today: Today, every: Sequence[Row], winters: Sequence[Winter]) -> list[Losses]:
    # a crop never raised from seed is not covered by sowing
    starts = {(str(row["crop"]), row["site"]): str(row["season_starts"]) for row in every}
    gathered: dict[tuple[str, str | None, int], list[Winter]] = defaultdict(list)
    for winter in winters:
        begins = starts.get((winter.crop, winter.site))
        if begins is not None and 0 <= winter.winter - growing_year(today.day, begins) <= 1:
            gathered[winter.crop, winter.site, winter.winter].append(winter)
    return [
        Losses(
            crop, site, season, starts[crop, site],
            tuple(winter for winter in own if _lost(today, winter)),
            tuple(winter for winter in own if _thinned(winter)),
            tuple(winter for winter in own if winter.outcome == OPEN and not _lost(today, winter)),
            sum(winter.plants for winter in own),
            sum(int(row["plants"]) for row in every if (row["crop"], row["site"], row["season"]) == (crop, site, season)
                and row["state"] != "ended"),
        )
        for (crop, site, season), own in gathered.items()
    ]  # fmt: skip


def _lost(today: Today, winter: Winter) -> bool:
    """Whether it died, or let its crop's latest day of regrowth pass."""
    late = winter.regrow_by is not None and winter.regrow_by < today.day
    return winter.outcome in (DIED, NOT_REGROWN) or (winter.outcome == OPEN and late)


def _thinned(winter: Winter) -> bool:
    """Whether a stand came through with fewer plants than entered the winter, by its first count after it."""
    return winter.outcome == SURVIVED and winter.plants_after is not None and winter.plants_after < winter.plants


def _own(losses: Losses, every: Sequence[Row]) -> OwnDays | None:
    """The days on which the crop was sown for earlier seasons, as days about this one."""
    days = [row["on"] for row in every if row["crop"] == losses.crop and row["season"] < losses.season]
    return own_days(days, losses.season, losses.starts)


def _matter(today: Today, losses: Losses, own: OwnDays | None, winters: Sequence[Winter]) -> Matter:
    lost = (*losses.lost, *losses.thinned)
    labels = tuple(winter.label for winter in lost)
    died = sum(winter.plants for winter in losses.lost if winter.outcome == DIED)
    silent = losses.lost_plants - died - losses.fewer
    took = [
        *([f"{died} died"] if died else []),
        *([f"{silent} let the latest day of regrowth pass"] if silent else []),
        *([f"{losses.fewer} fewer were counted in what came through"] if losses.fewer else []),
    ]  # fmt: skip
    when = "When to sow is not known: it was never sown for an earlier season here." if own is None else (
        own.told("It was sown for earlier seasons") + "."
    )  # fmt: skip
    return Matter(
        kind="sowing", site=losses.site, crop=losses.crop, since=None if own is None else own.first,
        by=None if own is None else own.last,
        why=(
            f"{losses.crop}: of {counted(losses.entered, 'plant')} that entered the winter before "
            f"{lost[0].winter_name} {joined(took)} ({listed(labels)}); {losses.sown or 'none'} sown for "
            f"that season so far.{_still_open(losses, winters)} {when}"
        ),
        do=f"Sow for {counted(losses.wanting, 'plant')}{_seeds(today, losses)}, and write it down (event sown).",
    )  # fmt: skip


def _still_open(losses: Losses, winters: Sequence[Winter]) -> str:
    """How many roots may yet be lost, by earlier winters."""
    at_risk = sum(winter.plants for winter in losses.open_)
    if not at_risk:
        return ""
    share = share_alive([winter for winter in winters if winter.crop == losses.crop and winter.winter < losses.season])
    told = f" {counted(at_risk, 'more plant')} {'is' if at_risk == 1 else 'are'} not through it yet"
    if share.share is None:
        return f"{told}; no earlier winter of the crop is on record to say how many will be."
    interval = "" if share.low is None or share.high is None else f", 95 % interval {share.low:.0%} to {share.high:.0%}"
    return f"{told}; of {counted(share.roots, 'root')} in earlier winters {share.alive} came through{interval}."


def _seeds(today: Today, losses: Losses) -> str:
    """The seed that takes, by the latest germination test of the crop's lots."""
    tests = [row for row in seed_rows(today.source, losses.crop) if row["event"] == "germination_test"]
    if not tests:
        return " (no germination test says how much seed that takes)"
    test = max(tests, key=lambda row: (row["on_to"], str(row["lot"])))
    germinated, tested = int(test["germinated"]), int(test["sown"])
    seeds = seeds_for(losses.wanting, germinated, tested, _ASSURANCE)
    of_test = f"lot {test['lot']}, {germinated} of {tested} came up on {test['on_to']:%Y-%m-%d}"
    if seeds is None:
        return f" (more seed than can be said: {of_test})"
    return f" with {counted(seeds, 'seed')}, so that as many come up with a chance of {_ASSURANCE:.0%} ({of_test})"
