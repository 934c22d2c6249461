"""Pickings overdue: plants that bear and were last picked longer ago than their crop is usually left."""

from __future__ import annotations

import statistics
from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import days_ago, listed, placed
from perennia.analysis.units import Row
from perennia.checking.words import counted

_PICKED = (
    'select harvest.plant, harvest.crop, harvest.season, harvest."on", harvest.clearance, '
    'coalesce(harvest.grams, harvest."count") > 0 as cropped from harvest '
    "where harvest.event = 'picked' and harvest.plant is not null and harvest.on_to - harvest.on_from <= 13 "
    'order by harvest.plant, harvest."on", harvest.record_id'
)
_CUT_BACK = "select plant, max(\"on\") as \"on\" from life where event = 'cut_back' group by plant order by plant"
_BEARING = ("growing", "sheltered")
_FEWEST_GAPS = 5
"""Gaps a garden must show of a crop without a profile before its middle gap is gone by: our own choice."""
_STOPPED_GAPS, _STOPPED_DAYS = 3, 21
"""Unpicked for so many usual gaps, and at least so many days, a plant is taken to have stopped: as over a boundary."""


@attrs.frozen
class Gap:
    """Days a crop is usually left between pickings, and who says so."""

    days: int
    source: str


@attrs.frozen
class Last:
    """The last picking off a plant in the season that runs, or look that found nothing ripe."""

    row: Row
    on: date
    gap: Gap


def pickings(today: Today) -> Found:
    """One matter a crop and bed: the plants in it that wait to be picked."""
    growing = today.in_state(*_BEARING)
    if not growing:
        return Found()
    picked: dict[str, list[Row]] = defaultdict(list)
    for row in today.rows(_PICKED):
        picked[str(row["plant"])].append(row)
    cut_back = {row["plant"]: row["on"] for row in today.rows(_CUT_BACK)}
    without, stopped = 0, Counter[str]()
    waiting: dict[tuple[str, str, str], list[Last]] = defaultdict(list)
    for row in growing:
        own = _this_season(today, row, picked.get(str(row["plant"]), []), cut_back.get(row["plant"], date.min))
        if not own or _lifted_once(today, row["crop"]):
            continue
        gap = usual_gap(today, row["crop"], picked)
        if gap is None:
            without += 1
            continue
        last = Last(row, max(one["on"] for one in own), gap)
        waited = (today.day - last.on).days
        if waited > max(_STOPPED_GAPS * gap.days, _STOPPED_DAYS):
            # what was not picked since the season before is no news
            stopped[str(row["crop"])] += today.in_season(last.on, row)
        elif waited >= gap.days:
            waiting[str(row["site"] or ""), str(row["bed"] or ""), str(row["crop"] or "")].append(last)
    return Found(tuple(_matter(today, several) for several in waiting.values()), _unknown(without, stopped))


def usual_gap(today: Today, crop: str | None, picked: dict[str, list[Row]]) -> Gap | None:
    """By the crop's profile, else the middle gap of this crop in the garden's own books."""
    profile = today.profile(crop)
    if profile is not None and profile.usual_picking_gap_days is not None:
        figure = profile.usual_picking_gap_days
        return Gap(int(figure.value), f"crop profile: {figure.source}")
    gaps = [
        (later["on"] - sooner["on"]).days for rows in picked.values()
        for sooner, later in pairwise(rows)
        if later["crop"] == crop and later["season"] == sooner["season"] and later["on"] > sooner["on"]
    ]  # fmt: skip
    if len(gaps) < _FEWEST_GAPS:
        return None
    return Gap(statistics.median_high(gaps), f"the middle of {len(gaps)} gaps in these books")


def _lifted_once(today: Today, crop: str | None) -> bool:
    """Whether a profile holds the crop and no gap between pickings of it: it is lifted once."""
    profile = today.profile(crop)
    return profile is not None and profile.usual_picking_gap_days is None


def _this_season(today: Today, row: Row, picked: Sequence[Row], cut_back: date) -> list[Row]:
    """The pickings and looks of the season that runs, where it bore and nothing has ended its bearing since."""
    if not picked:
        return []
    # picking that runs on over the boundary is of the season before
    own = [one for one in picked if one["season"] >= today.season(row) - 1 and one["season"] == picked[-1]["season"]]
    if not any(one["cropped"] for one in own) or own[-1]["clearance"]:
        return []
    # put in its pot for the winter, or cut back, it bears no more of that crop
    rested = cut_back if row["state"] == "growing" else max(cut_back, row["state_since"])
    return [] if rested > own[-1]["on"] else own


def _matter(today: Today, several: Sequence[Last]) -> Matter:
    first = min(last.on for last in several)
    row, gap = several[0].row, several[0].gap
    labels = tuple(str(last.row["label"]) for last in sorted(several, key=lambda last: last.on))
    since = first + timedelta(days=gap.days)
    when = f"on {first}" if all(last.on == first for last in several) else f"from {first} on"
    return Matter(
        kind="picking", site=row["site"], place=row["bed"], labels=labels, crop=row["crop"], since=since, by=since,
        why=(
            f"{row['crop']} {placed(row['bed'])}: {listed(labels)} last picked {when}, {days_ago(first, today.day)}; "
            f"the crop is usually left {counted(gap.days, 'day')} ({gap.source})."
        ),
        do="Pick, or look and record 0 g where nothing is ripe.",
    )  # fmt: skip


def _unknown(without: int, stopped: Counter[str]) -> tuple[str, ...]:
    found = []
    if without:
        found.append(
            f"{counted(without, 'plant')} that bore this season: of the crop neither a profile nor "
            f"{_FEWEST_GAPS} gaps in these books say how long it is left, so whether picking is overdue is not known."
        )
    found += [
        f"{crop}: {counted(n, 'plant')} not picked for over {_STOPPED_GAPS} usual gaps and {_STOPPED_DAYS} days, taken "
        "to have stopped bearing (our own rule); a look of 0 g would show that somebody looked."
        for crop, n in sorted(stopped.items()) if n
    ]  # fmt: skip
    return tuple(found)
