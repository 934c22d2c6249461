"""Pickings overdue: plants that bear and were last picked longer ago than their crop is usually left."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from datetime import date, timedelta

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import days_ago, listed, placed
from perennia.analysis.seasons.picking_curves import FEWEST_GAPS, middle_gaps
from perennia.analysis.units import Row
from perennia.checking.words import counted

# of the latest season in which a plant was picked or looked at; a look that found nothing ripe is one too
_PICKED = (
    "with dated as (select plant, season, \"on\", coalesce(grams, \"count\") > 0 as cropped, clearance, "
    "max(\"on\") over (partition by plant, season) as last_on, max(season) over (partition by plant) as last_season "
    "from harvest where event = 'picked' and plant is not null and on_to - on_from <= 13) "
    "select plant, season, last_on, bool_or(cropped) as cropped, bool_or(clearance and \"on\" = last_on) as cleared "
    "from dated where season = last_season group by plant, season, last_on order by plant"
)
_CUT_BACK = "select plant, max(\"on\") as \"on\" from life where event = 'cut_back' group by plant order by plant"
_BEARING = ("growing", "sheltered")
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
    picked = {row["plant"]: row for row in today.rows(_PICKED)}
    cut_back = {row["plant"]: row["on"] for row in today.rows(_CUT_BACK)}
    bearing = [
        row for row in growing if row["crop"] is not None and row["plant"] in picked
        and _bears(today, row, picked[row["plant"]], cut_back.get(row["plant"], date.min))
    ]  # fmt: skip
    gaps = _usual_gaps(today, sorted({str(row["crop"]) for row in bearing}))
    without, stopped = 0, Counter[str]()
    waiting: dict[tuple[str, str, str], list[Last]] = defaultdict(list)
    for row in bearing:
        gap = gaps[row["crop"]]
        if gap is None:
            without += today.profile(row["crop"]) is None
            continue
        last = Last(row, picked[row["plant"]]["last_on"], gap)
        waited = (today.day - last.on).days
        if waited > max(_STOPPED_GAPS * gap.days, _STOPPED_DAYS):
            # what was not picked since the season before is no news
            stopped[str(row["crop"])] += today.in_season(last.on, row)
        elif waited >= gap.days:
            waiting[str(row["site"] or ""), str(row["bed"] or ""), str(row["crop"] or "")].append(last)
    return Found(tuple(_matter(today, several) for several in waiting.values()), _unknown(without, stopped))


def _usual_gaps(today: Today, crops: Collection[str]) -> dict[str, Gap | None]:
    """By crop its profile's gap, else the middle gap of the garden's own books; None where neither is known, or where a
    crop is lifted once, so that its profile holds none."""
    found: dict[str, Gap | None] = dict.fromkeys(crops)
    for crop in crops:
        profile = today.profile(crop)
        if profile is not None and profile.usual_picking_gap_days is not None:
            figure = profile.usual_picking_gap_days
            found[crop] = Gap(int(figure.value), f"crop profile: {figure.source}")
    without = {crop for crop in crops if today.profile(crop) is None}
    for crop, (gaps, days) in middle_gaps(today.source).items() if without else ():
        if crop in without:
            found[crop] = Gap(math.ceil(days), f"the middle of {gaps} gaps in these books")
    return found


def _bears(today: Today, row: Row, picked: Row, cut_back: date) -> bool:
    """Whether it bore in the season that runs, and nothing has ended that since."""
    # picking that runs on over the boundary is of the season before
    if picked["season"] < today.season(row) - 1 or not picked["cropped"] or picked["cleared"]:
        return False
    # put in its pot for the winter, or cut back, it bears no more of that crop
    rested = cut_back if row["state"] == "growing" else max(cut_back, row["state_since"])
    return bool(rested <= picked["last_on"])


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
        do="Pick, or look, and write down 0 g where nothing is ripe (event picked).",
    )  # fmt: skip


def _unknown(without: int, stopped: Counter[str]) -> tuple[str, ...]:
    found = []
    if without:
        found.append(
            f"{counted(without, 'plant')} that bore this season: of the crop neither a profile nor "
            f"{FEWEST_GAPS} gaps in these books say how long it is left, so whether picking is overdue is not known."
        )
    found += [
        f"{crop}: {counted(n, 'plant')} not picked for over {_STOPPED_GAPS} usual gaps and {_STOPPED_DAYS} days, taken "
        "to have stopped bearing (our own rule); a look of 0 g would show that somebody looked."
        for crop, n in sorted(stopped.items()) if n
    ]  # fmt: skip
    return tuple(found)
