"""The dates of frost in sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from perennia.analysis.causes.warmth.frost_years import FrostHalves
from perennia.checking.words import counted

_NOUNS = {"spring": "last frost of spring", "autumn": "first frost of autumn"}
_HOW_MANY = {0.1: "in 1 year of 10", 0.5: "in half of the years", 0.9: "in 9 years of 10"}


def frost_findings(
    halves: Sequence[FrostHalves], rows: Sequence[Mapping[str, Any]], risk: float, plant_out_from: pd.Timestamp | None,
    lift_by: pd.Timestamp | None, at_least: int,
) -> tuple[str, ...]:  # fmt: skip
    """What the years show for each half, and when to plant out and to lift at the chosen risk."""
    found = []
    for half in halves:
        own = [row for row in rows if row["half"] == half.half]
        found.append(_few(half) if len(half.days) < at_least else _many(half, own))
    if plant_out_from is not None:
        found.append(
            f"Set out from {_day(plant_out_from)} on, a tender plant would meet a later frost in {risk:.0%} of such "
            "years."
        )
    if lift_by is not None:
        found.append(
            f"What frost must not reach is lifted by {_day(lift_by)}: in {risk:.0%} of such years frost comes "
            "sooner."
        )
    return tuple(found)


def frost_cautions(halves: Sequence[FrostHalves], at_least: int) -> tuple[str, ...]:
    """What stands against taking the dates at face value."""
    found = []
    for half in halves:
        left_out = [year for year in half.years if year.day is None]
        if left_out:
            lacking = sum(year.missing for year in left_out)
            found.append(
                f"{half.half}: {counted(len(left_out), 'year')} of {len(half.years)} left out, "
                f"for {counted(lacking, 'day')} without a lowest temperature where a frost could lie."
            )
        without = sum(math.isinf(day) for day in half.days)
        if without and len(half.days) >= at_least:
            found.append(f"{half.half}: {counted(without, 'year')} had no such frost in the days looked at.")
    found.append(
        "The years are taken as alike, in any order: where the climate warms or cools, coming ones are not like these. "
        "Minima are those of the air at the station; a clear still night is colder near the ground and in a hollow."
    )
    return tuple(found)


def _many(half: FrostHalves, rows: Sequence[Mapping[str, Any]]) -> str:
    parts = []
    for row in rows:
        how_many = _HOW_MANY.get(row["share"], f"in {row['share']:.0%} of the years")
        if row["day"] is None:
            parts.append(f"{how_many} by no day that can be named, for {row['withheld']}")
            continue
        low, high = (None if row[name] is None else _month_day(row[name]) for name in ("low", "high"))
        parts.append(f"{how_many} by {_month_day(row['day'])} ({low or 'not bounded'} to {high or 'not bounded'})")
    return f"The {_NOUNS[half.half]} had come {', '.join(parts)}; n = {len(half.days)} years."


def _few(half: FrostHalves) -> str:
    """What few years can tell: their range, and the chance that a coming year falls outside it."""
    seen = sorted(
        (year.day, _day(year.on)) for year in half.years
        if year.day is not None and math.isfinite(year.day) and year.on is not None
    )  # fmt: skip
    n = len(half.days)
    if not seen:
        return f"No year that can be counted shows the {_NOUNS[half.half]}; nothing can be said of it."
    first, last = seen[0][1], seen[-1][1]
    when = f"on {first}" if first == last else f"between {first} and {last}"
    beyond = "later" if half.half == "spring" else "sooner"
    return (
        f"In {counted(n, 'year')} that can be counted the {_NOUNS[half.half]} came {when}; that of a coming year is "
        f"{beyond} than all of them with a chance of 1 in {n + 1}. So few years give no day for a chosen risk."
    )


def _month_day(text: str) -> str:
    return _day(pd.Timestamp(f"2001-{text}"))


def _day(day: pd.Timestamp) -> str:
    return f"{day.day} {day:%B}"
