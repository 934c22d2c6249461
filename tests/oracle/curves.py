"""How a season's crop came in: a straight line between pickings, its shares, and its peak, day by day in fractions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from math import ceil
from statistics import median
from typing import Any

import attrs

from perennia import crops
from tests.oracle.book import Row, all_days, is_day, season_begins
from tests.oracle.entries import STOPS
from tests.oracle.seasons import Season
from tests.oracle.totals import picked_rows

Key = tuple[str, int]
_BEGINNINGS = ("emerged", "regrew", "replanted")


@attrs.define
class Curve:
    """Pickings and looks of one plant and season by day; knots are the days at whose end the crop is known."""

    season: Season
    measure: str | None
    amounts: dict[date, Fraction] = attrs.Factory(dict)
    steady: dict[date, Fraction] = attrs.Factory(dict)
    crop_days: list[date] = attrs.Factory(list)
    steady_days: list[date] = attrs.Factory(list)
    first_gap: int = 1
    in_units: dict[str, tuple[dict[date, Fraction], dict[date, Fraction]]] = attrs.Factory(dict)
    """By measure, amounts and steady amounts where every picking of the season has it."""

    @property
    def knots(self) -> list[date]:
        """Start of the crop, then every day of a picking or look."""
        days = sorted(self.amounts)
        no_earlier = min(self.season.first_day, days[0]) - timedelta(1)
        return [max(no_earlier, days[0] - timedelta(self.first_gap)), *days]

    def reached(self, day: date, amounts: dict[date, Fraction]) -> Fraction:
        """Crop in by the end of a day."""
        done = Fraction(0)
        for before, after in pairwise(self.knots):
            if day >= after:
                done += amounts[after]
            elif day > before:
                return done + amounts[after] * (day - before).days / (after - before).days
        return done


def curves(found: list[Season], harvest: list[Row], totals: dict[Key, Row]) -> dict[Key, Curve]:
    """The curve of every plant and season with a picking or look dated to 14 days."""
    made: dict[Key, Curve] = {}
    for season in found:
        key = (season.life.name, season.year)
        rows = [row for row in picked_rows(harvest, season) if is_day(row["on_from"], row["on_to"])]
        if rows:
            made[key] = _curve(season, rows, totals[key])
    gaps: dict[str | None, list[int]] = defaultdict(list)
    for curve in made.values():
        if curve.measure:
            gaps[curve.season.life.crop] += [(b - a).days for a, b in pairwise(sorted(curve.amounts))]
    for curve in made.values():
        curve.first_gap = _usual_gap(curve.season.life.crop, gaps)
        for day in _set_out_anew(curve):
            curve.amounts.setdefault(day, Fraction(0))
            curve.steady.setdefault(day, Fraction(0))
            for amounts, steady in curve.in_units.values():
                amounts.setdefault(day, Fraction(0))
                steady.setdefault(day, Fraction(0))
    return made


def _set_out_anew(curve: Curve) -> list[date]:
    """Days on which a plant that was bare is on record as come up, grown again or set out again between a picking or
    look and a crop, which ripened since. One that bore in the meantime was not bare."""
    turns, crop_days = curve.season.life.turns, curve.crop_days
    return [
        turn.day
        for place, turn in enumerate(turns)
        if turn.act.act in _BEGINNINGS and is_day(turn.act.entry.first, turn.act.entry.last)
        and (since := _bare_since(turns[:place], turn.before)) is not None
        and crop_days and min(curve.amounts) < turn.day < crop_days[-1]
        and not any(since < day <= turn.day for day in crop_days)
    ]  # fmt: skip


def _bare_since(earlier: list[Any], state: str) -> date | None:
    """Since when a plant bears nothing, by the acts on it so far and the state they left it in; None where it may."""
    for turn in reversed(earlier):
        if turn.act.act in STOPS:
            return max(one.day for one in earlier if one.act.act in STOPS)
        if turn.act.act in _BEGINNINGS:
            break
    return earlier[-1].day if earlier and state != "growing" else None


def _curve(season: Season, rows: list[Row], total: Row) -> Curve:
    measure = total["measure"]
    curve = Curve(season, measure)
    curve.amounts, curve.steady = _by_day(rows, "grams" if measure == "g" else "count")
    for unit, column, lacking in (("g", "grams", "unweighed"), ("count", "count", "uncounted")):
        if not total[lacking]:
            curve.in_units[unit] = _by_day(rows, column)
    curve.crop_days = sorted({row["on"] for row in rows if row["crop_taken"]})
    curve.steady_days = sorted({row["on"] for row in rows if row["crop_taken"] and not row["clearance"]})
    return curve


def _by_day(rows: list[Row], column: str) -> tuple[dict[date, Fraction], dict[date, Fraction]]:
    """What was picked day by day, whole and without clearance."""
    amounts: dict[date, Fraction] = defaultdict(Fraction)
    steady: dict[date, Fraction] = defaultdict(Fraction)
    for row in rows:
        amounts[row["on"]] += row[column] or Fraction(0)
        steady[row["on"]] += Fraction(0) if row["clearance"] else row[column] or Fraction(0)
    return dict(amounts), dict(steady)


def _usual_gap(crop: str | None, gaps: dict[str | None, list[int]]) -> int:
    """The crop's own usual gap, else the middle one of five or more in this garden, else one day."""
    profile = crops.profile(crop or "")
    if profile and profile.usual_picking_gap_days:
        return max(1, int(profile.usual_picking_gap_days.value))
    return max(1, round(median(gaps[crop]))) if len(gaps[crop]) >= 5 else 1


def curve_rows(curve: Curve, row: Row) -> Iterator[Row]:
    """Rows of season_curves of one plant and season."""
    first, *_, last = curve.knots
    for day in all_days(first + timedelta(1), last):
        yield {
            "plant": row["plant"], "label": row["label"], "season": row["season"], "crop": row["crop"],
            "stock": row["stock"], "on": day,
            "day_of_season": (day - season_begins(row["season"], curve.season.life.starts)).days + 1,
            "days_since_start": (day - row["started_on"]).days if row["started_on"] else None,
            "cumulative": curve.reached(day, curve.amounts),
            "per_day": curve.reached(day, curve.steady) - curve.reached(day - timedelta(1), curve.steady),
            "measure": curve.measure, "finished": row["finished"],
            **_in_unit(curve, day, "g", "cumulative_g", "g_per_day"),
            **_in_unit(curve, day, "count", "cumulative_count", "count_per_day"),
        }  # fmt: skip


def _in_unit(curve: Curve, day: date, unit: str, cumulative: str, per_day: str) -> Row:
    if unit not in curve.in_units:
        return {cumulative: None, per_day: None}
    amounts, steady = curve.in_units[unit]
    rate = curve.reached(day, steady) - curve.reached(day - timedelta(1), steady)
    return {cumulative: curve.reached(day, amounts), per_day: rate}


def timing(curve: Curve | None) -> Row:
    """Picks, shares and peak as season_summary shows them."""
    names = (
        "first_pick", "last_pick", "t10", "t50", "t90", "t50_without_clearance", "peak_on", "peak_from",
        "peak_to", "peak_per_day", "withheld",
    )  # fmt: skip
    found: Row = dict.fromkeys(names) | {"picks": 0}
    if curve is None:
        return found
    found |= {"picks": len(curve.crop_days), "first_pick": min(curve.crop_days, default=None),
              "last_pick": max(curve.crop_days, default=None), "withheld": _withheld(curve)}  # fmt: skip
    if curve.season.finished and curve.measure and sum(curve.amounts.values()):
        found |= {f"t{percent}": share_day(curve, Fraction(percent, 100)) for percent in (10, 50, 90)}
        if any(curve.steady.values()):
            found["t50_without_clearance"] = share_day(attrs.evolve(curve, amounts=curve.steady), Fraction(1, 2))
        if found["withheld"] is None:
            found |= peak(curve)
    return found


def share_day(curve: Curve, share: Fraction) -> date:
    """The day by whose end a share of the crop was in."""
    days = exact_share(curve, share)
    return curve.knots[0] + timedelta(ceil(days))


def exact_share(curve: Curve, share: Fraction) -> Fraction:
    """Days after the start of the crop at which the straight line meets a share of it."""
    level, done = share * sum(curve.amounts.values()), Fraction(0)
    for before, after in pairwise(curve.knots):
        amount = curve.amounts[after]
        if amount and done + amount >= level:
            part = max(Fraction(0), (level - done) / amount)
            return (before - curve.knots[0]).days + part * (after - before).days
        done += amount
    raise AssertionError("a share lies within the whole")


def _withheld(curve: Curve) -> str | None:
    if not curve.crop_days:
        return None
    if curve.measure is None:
        return "dates and rates: some pickings not weighed and some not counted"
    if not curve.season.finished:
        return "shares and peak: season still running"
    if len(curve.steady_days) < 5:
        return "peak: fewer than 5 pickings"
    if _widest_gap(curve, *_best(curve)) > 7:
        return "peak: a gap of more than 7 days round it"
    return None


def _best(curve: Curve) -> tuple[date, date, Fraction]:
    """First and last middle of the first stretch of 7-day windows with the largest crop, and that crop."""
    three, four = timedelta(3), timedelta(4)
    first, *_, last = curve.knots
    middles = all_days(first - three, last + four)
    crops_in = [curve.reached(day + three, curve.steady) - curve.reached(day - four, curve.steady) for day in middles]
    largest = max(crops_in)
    start = crops_in.index(largest)
    end = start
    while end + 1 < len(middles) and crops_in[end + 1] == largest:
        end += 1
    return middles[start], middles[end], largest


def _widest_gap(curve: Curve, first: date, last: date, _: Fraction) -> int:
    """The longest stretch between pickings that any of the best windows touches."""
    opens, closes = first - timedelta(4), last + timedelta(3)
    return max((after - before).days for before, after in pairwise(curve.knots) if after > opens and before < closes)


def peak(curve: Curve) -> Row:
    """Middle of the best stretch, first and last day of its windows, mean rate."""
    first, last, crop = _best(curve)
    return {
        "peak_on": first + (last - first) // 2, "peak_from": first - timedelta(3), "peak_to": last + timedelta(3),
        "peak_per_day": crop / 7,
    }  # fmt: skip
