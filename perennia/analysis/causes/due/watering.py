"""Beds near their water limit: where the balance of the root zone says that the crop is, or soon will be, short."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import date, timedelta

import pandas as pd

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import joined, listed
from perennia.analysis.causes.water.water_balance import WaterBalance, water_balance
from perennia.analysis.causes.water.water_days import UNKNOWN_BEFORE
from perennia.analysis.name_order import in_order
from perennia.analysis.units import Row
from perennia.checking.words import counted
from perennia.errors import AnalysisError

NEAR = 0.8
"""Share of the readily available water (RAW) drawn from which on a bed is near its limit: our own choice."""
_RECENT_DAYS = 3
"""A balance that ends longer ago than this says nothing of today: our own choice."""
_PACE_DAYS = 7
_WEATHER = 'select site, max("on") as "on" from weather where site is not null group by site order by site'


def watering(today: Today, soils: Mapping[str, str]) -> Found:
    """One matter a bed and crop whose soil is drawn near to, or below, what its plants can have without stress.

    soils: textures by bed, in place of what is recorded of it.
    """
    grown: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in today.in_state("growing", "sown"):
        if row["bed"] is not None and row["crop"] is not None:
            grown[str(row["bed"]), str(row["crop"])].append(row)
    if not grown:
        return Found()
    weather = {row["site"]: row["on"] for row in today.rows(_WEATHER)}
    found, unknown, cannot = [], defaultdict(list), {}
    for (bed, crop), rows in sorted(grown.items(), key=lambda one: (in_order(one[0][0]), one[0][1])):
        last = weather.get(rows[0]["site"])
        if last is None or (today.day - last).days > _RECENT_DAYS:
            unknown[f"no weather is on record {'of' if last is None else f'after {last} of'} their site"].append(bed)
            continue
        try:
            balance = water_balance(today.source, bed, today.season(rows[0]), crop=crop, soil=soils.get(bed))
        except AnalysisError as error:
            cannot[bed] = str(error).partition(";")[0]
            continue
        matter = _matter(today, rows, balance)
        if isinstance(matter, str):
            unknown[matter].append(bed)
        elif matter is not None:
            found.append(matter)
    if cannot:
        first = min(cannot, key=in_order)
        unknown[
            f"their balance cannot be reckoned ({first}: {cannot[first]}); water_balance says of each what it lacks"
        ] += cannot
    return Found(tuple(found), tuple(_unknown(beds, why) for why, beds in sorted(unknown.items())))


def _unknown(beds: Collection[str], why: str) -> str:
    named = sorted(set(beds), key=in_order)
    return (
        f"Whether {counted(len(named), 'bed')} {'is' if len(named) == 1 else 'are'} dry is not known, {joined(named)}: "
        f"{why}."
    )


def _matter(today: Today, rows: list[Row], balance: WaterBalance) -> Matter | str | None:
    """None where the bed has water enough; why the balance says nothing of today, in words."""
    days = balance.table[balance.table["on"] <= pd.Timestamp(today.day)]
    known = days[days["missing"].isna()]
    if known.empty or (today.day - known["on"].iloc[-1].date()).days > _RECENT_DAYS:
        if days.empty:
            return "their season has not begun"
        why = days["missing"].iloc[-1]
        if pd.isna(why):
            return "their season in the balance is over"
        if why == UNKNOWN_BEFORE:
            return (
                "weather or a watering's depth is missing earlier in their season, and nothing shows that the soil was "
                "full since"
            )
        return f"the balance is not known ({why})"
    last = known.iloc[-1]
    lacking, raw = float(last["depletion_mm"]), float(last["raw_mm"])
    if lacking < NEAR * raw:
        return None
    on = last["on"].date()
    since, by = _when(known, on, lacking, raw)
    labels = tuple(str(row["label"]) for row in rows)
    litres = "" if balance.ground_m2 is None else f", {lacking * balance.ground_m2:.0f} litres over its ground,"
    past = "is short of water" if lacking >= raw else "is near its limit"
    return Matter(
        kind="watering", site=rows[0]["site"], place=balance.bed, labels=labels, crop=balance.crop, since=since, by=by,
        why=(
            f"{balance.bed} with {balance.crop} ({listed(labels)}) {past}: on the evening of {on} its root zone lacked "
            f"{lacking:.0f} mm, and plants are stressed beyond {raw:.0f} mm (water balance after FAO-56, from the "
            "weather and waterings on record)."
        ),
        do=f"Water: {lacking:.0f} mm{litres} fill it; write it down (event watered).",
    )  # fmt: skip


def _when(known: pd.DataFrame, on: date, lacking: float, raw: float) -> tuple[date, date | None]:
    """The day since which it is near its limit without a break, and the day by whose evening it has passed it."""
    near = (known["depletion_mm"] >= NEAR * known["raw_mm"]).tolist()
    run = next((place for place, dry in enumerate(reversed(near)) if not dry), len(near))
    since = known["on"].iloc[len(near) - run].date()
    if lacking >= raw:
        dry = (known["depletion_mm"] >= known["raw_mm"]).tolist()
        stressed = next((place for place, short in enumerate(reversed(dry)) if not short), len(dry))
        return since, known["on"].iloc[len(dry) - stressed].date()
    pace = float(known["etc_mm"].iloc[-_PACE_DAYS:].mean())
    return since, on + timedelta(days=math.ceil((raw - lacking) / pace)) if pace > 0 else None
