"""The patterns of one season's failures, a row each: what was seen, how rare it is by chance, what cannot be told."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np

from perennia.analysis.causes.setting import date_null, date_scan, within_days
from perennia.analysis.causes.setting.courses import (
    Courses,
    Stage,
    courses,
    flower_arrays,
    loss_series,
    opening_series,
    unequal_removal,
)
from perennia.analysis.causes.setting.date_null import DateTest, DaySeries, Family, date_tests
from perennia.analysis.causes.setting.flowers import FlowerBook
from perennia.analysis.causes.setting.pod_set_tables import gathered, head, share
from perennia.analysis.causes.setting.runs import count_runs, runs_distribution, runs_limits, runs_together, runs_z
from perennia.analysis.causes.setting.within_days import DayTest, FlowerArrays
from perennia.analysis.holm import holm

TRUSSES_NEEDED = 6
PLANTS_NEEDED = 2
UNEQUAL_AT_LEAST = 0.25
"""Difference between plants in the share of their pods taken so far from which picking is unequal (own rule)."""
LONGEST_GAP_DAYS = 8
COARSEST_DAYS = 2
"""Days between looks above which runs along a truss are withheld: by simulation good and bad days made them long."""
TELLABLE = 0.05

RUNS = "runs along the truss"
POSITION = "position on the truss"
TRUSS_LOAD = "pods growing on the truss"
PLANT_LOAD = "pods growing on the plant"
DATE_OPENED = "one date, by day of opening"
DATE_LOST = "one date, by day of loss"
GAP = "gap and resumption"
PATTERNS = (RUNS, POSITION, TRUSS_LOAD, PLANT_LOAD, DATE_OPENED, DATE_LOST, GAP)

COLUMNS = {
    "crop": "string", "season": "Int64", "season_name": "string", "pattern": "string", "statistic": "Float64",
    "expected": "Float64", "kind": "string", "on_from": "datetime64[s]", "on_to": "datetime64[s]",
    "change": "Float64", "explained": "Float64", "p": "Float64", "p_adjusted": "Float64", "smallest_p": "Float64",
    "n_flowers": "Int64", "n_trusses": "Int64", "n_plants": "Int64", "n_days": "Int64", "reason": "string",
    "caution": "string",
}  # fmt: skip
BY_TRUSS = {
    "crop": "string", "season": "Int64", "season_name": "string", "plant": "string", "truss": "string",
    "set": "Int64", "failed": "Int64", "runs": "Int64", "expected": "Float64", "too_few": "Int64",
    "too_many": "Int64", "z": "Float64", "z_p": "Float64",
}  # fmt: skip
"""Columns of SettingPatterns.by_truss; one row a truss with flowers that set and flowers that failed.

runs: of its flowers in order of position; expected: their mean in any order; too_few, too_many: two-sided 5 % limits of
the exact distribution; z, z_p: the normal approximation. A truss's own days are in it: see the pattern for a test that
holds them fixed.
"""
GAPS = {
    "crop": "string", "season": "Int64", "season_name": "string", "on_from": "datetime64[s]",
    "on_to": "datetime64[s]", "share_before": "Float64", "share_within": "Float64", "share_after": "Float64",
    "trusses_within": "Int64", "trusses_through": "Int64", "trusses_resumed": "Int64", "plants_resumed": "Int64",
}  # fmt: skip
"""Columns of SettingPatterns.gaps; one row a season, the gap that stands out most, whether or not it does by its p.

trusses_within: trusses that opened flowers in it; trusses_through: those that opened flowers after it too;
trusses_resumed: those of them on which a later flower set; plants_resumed: plants on which one did. share_before,
share_within, share_after: set, of decided flowers of up to seven days before it, in it, and of up to seven days after
it.
"""
_AROUND_DAYS = 7

CAUTIONS = {
    RUNS: "long runs also come of a fall along the truss, or of trusses that differ; days between two looks are "
    "taken as one, so that good and bad days are held fixed less well where trusses were not looked at daily",
    POSITION: "upper flowers open later and beside more pods of the same truss: place, order and pods of the truss go "
    "together, and only the day is held fixed here",
    TRUSS_LOAD: "a truss that carries more also opened its flowers earlier; one-sided, for trusses that differ for "
    "good make fuller ones set more",
    PLANT_LOAD: "picking is told apart from the date, not from what else was done to the plants picked harder",
    DATE_OPENED: "one bed's weather is one series: the date is one event, however many flowers it took",
    DATE_LOST: "a loss is dated by the day it was seen; one bed's weather is one series",
    GAP: "weather, visits of insects and a plant's pause all make gaps, and trusses of one bed share the weather",
}  # fmt: skip


def pattern_rows(book: FlowerBook, stage: Stage, draws: int, seed: int) -> list[dict[str, Any]]:
    """One row a pattern, in the order of PATTERNS, with p adjusted for their number by Holm."""
    found = courses(book, stage)
    flowers = flower_arrays(found)
    rows = [
        *(_within(pattern, test, flowers, found, draws, seed) for pattern, test in _WITHIN.items()),
        *_dates(found, flowers, draws, seed),
    ]
    for row, adjusted in zip(rows, holm([row["p"] for row in rows]), strict=True):
        row["p_adjusted"] = adjusted
    return [{**dict.fromkeys(COLUMNS), **head(book), **row} for row in rows]


_WITHIN: Mapping[str, Callable[[FlowerArrays, int, int], DayTest | None]] = {
    RUNS: within_days.runs_within_days,
    POSITION: within_days.position_within_days,
    TRUSS_LOAD: within_days.truss_load_within_days,
    PLANT_LOAD: within_days.plant_load_within_days,
}


def _within(
    pattern: str, test: Callable[[FlowerArrays, int, int], DayTest | None], flowers: FlowerArrays, found: Courses,
    draws: int, seed: int,
) -> dict[str, Any]:  # fmt: skip
    """A pattern among flowers of one day, or why it cannot be told."""
    row: dict[str, Any] = {"pattern": pattern, "caution": CAUTIONS[pattern], "p": None, **_sizes(flowers)}
    reason = _too_few(flowers, PLANTS_NEEDED if pattern == PLANT_LOAD else 1)
    if reason is None and pattern in (TRUSS_LOAD, PLANT_LOAD):
        reason = _no_load(found, pattern)
    if reason is None and pattern == RUNS:
        reason = _too_coarse(flowers)
    outcome = None if reason else test(flowers, draws, seed)
    if outcome is None:
        return {**row, "reason": reason or "no day has flowers of both fates that differ in this"}
    row |= {"statistic": outcome.statistic, "expected": outcome.expected, "smallest_p": outcome.smallest_p,
            "n_flowers": outcome.flowers, "n_trusses": outcome.trusses, "n_plants": outcome.plants}  # fmt: skip
    if outcome.smallest_p > TELLABLE or outcome.trusses < TRUSSES_NEEDED:
        return {**row, "reason": f"only {outcome.flowers} flowers on {outcome.trusses} trusses opened beside others "
                "of another fate on the same day"}  # fmt: skip
    return {**row, "p": outcome.p}


def trusses_lacking(found: int, needed: int) -> str:
    """Why too few trusses tell nothing."""
    return f"it takes {needed} trusses with dated, decided flowers, and the books have {found}"


def _too_few(flowers: FlowerArrays, plants_needed: int) -> str | None:
    sizes = _sizes(flowers)
    if sizes["n_trusses"] < TRUSSES_NEEDED:
        return trusses_lacking(sizes["n_trusses"], TRUSSES_NEEDED)
    if sizes["n_plants"] < plants_needed:
        return "one plant alone cannot show what all plants share"
    if not 0 < flowers.kept.sum() < flowers.kept.size:
        return "all flowers have one fate"
    return None


def _too_coarse(flowers: FlowerArrays) -> str | None:
    """Why good and bad days cannot be held fixed: flowers that opened days apart bear one date."""
    apart = float(np.median(np.diff(np.unique(flowers.opened)))) if np.unique(flowers.opened).size > 1 else 1.0
    if apart > COARSEST_DAYS:
        return f"days of opening are {apart:.0f} days apart, too coarse to hold good and bad days fixed"
    return None


def _no_load(found: Courses, pattern: str) -> str | None:
    """Why load cannot be told: no days of setting, or picking alike on all plants."""
    if (found.set_on > found.until).all():
        return "no day is recorded on which a pod was first seen"
    if pattern == TRUSS_LOAD:
        return None
    unequal = unequal_removal(found)
    if unequal is None or unequal < UNEQUAL_AT_LEAST:
        return (
            "pods were picked and thinned alike on all plants, so that load rose and fell with the date on all of them "
            "and cannot be told from it"
        )
    return None


def _dates(found: Courses, flowers: FlowerArrays, draws: int, seed: int) -> list[dict[str, Any]]:
    """One date by opening and by loss, and a gap; or why they cannot be told."""
    reason = _too_few(flowers, PLANTS_NEEDED)
    opened, lost = opening_series(found), loss_series(found)
    rows = []
    for patterns, families, series in (
        ((DATE_OPENED, GAP), _of_openings, opened), ((DATE_LOST,), _of_losses, lost),
    ):  # fmt: skip
        days = 0 if series is None else series.days.size
        why = reason or (None if days >= date_null.DAYS_NEEDED else f"it takes {date_null.DAYS_NEEDED} days with "
                         f"flowers or losses, and the books have {days}")  # fmt: skip
        tests: Sequence[DateTest | None] = [None] * len(patterns)
        if why is None and series is not None:
            tests = date_tests(series, families(series), draws, seed)
        for pattern, test in zip(patterns, tests, strict=True):
            row = {"pattern": pattern, "caution": CAUTIONS[pattern], "p": None, **_sizes(flowers), "n_days": days}
            rows.append(row | (_date_row(test) if test else {"reason": why or "no date could stand out"}))
    return sorted(rows, key=lambda row: PATTERNS.index(str(row["pattern"])))


def _of_openings(series: DaySeries) -> list[Family]:
    """A lasting change or one day apart, and a gap of two days or more."""
    n = series.days.size
    return [
        ((date_scan.steps(n, date_null.LEAST), date_scan.spikes(n, date_null.LEAST)), "either"),
        ((date_scan.gaps(series.days, date_null.LEAST, LONGEST_GAP_DAYS),), "fewer"),
    ]


def _of_losses(series: DaySeries) -> list[Family]:
    """A burst on one day. A lasting change is looked for by opening only: losses of one opening day are spread over the
    days after it, so that good and bad opening days make steps of losses."""
    return [((date_scan.spikes(series.days.size, date_null.LEAST),), "more")]


def _date_row(test: DateTest) -> dict[str, Any]:
    return {
        "statistic": test.f, "kind": test.kind, "on_from": date.fromordinal(int(test.first)),
        "on_to": date.fromordinal(int(test.last)), "change": test.change, "explained": test.explained, "p": test.p,
        "smallest_p": test.smallest_p,
    }  # fmt: skip


def _sizes(flowers: FlowerArrays) -> dict[str, int]:
    return {
        "n_flowers": flowers.kept.size, "n_trusses": int(np.unique(flowers.truss).size),
        "n_plants": int(np.unique(flowers.plant).size),
    }  # fmt: skip


def truss_runs(book: FlowerBook, stage: Stage) -> list[dict[str, Any]]:
    """The runs of every truss on which some flowers set and some failed."""
    rows = []
    for truss, sequence in _sequences(book, stage).items():
        n_set, failed = sum(sequence), len(sequence) - sum(sequence)
        if not n_set or not failed:
            continue
        chances = runs_distribution(n_set, failed)
        few, many = runs_limits(n_set, failed)
        z, z_p = runs_z(sequence) or (None, None)
        rows.append({
            **head(book), "plant": truss[0], "truss": truss[1], "set": n_set, "failed": failed,
            "runs": count_runs(sequence), "expected": float(chances @ np.arange(chances.size)), "too_few": few,
            "too_many": many, "z": z, "z_p": z_p,
        })  # fmt: skip
    return rows


def within_truss_sentence(book: FlowerBook, stage: Stage) -> str | None:
    """All trusses' runs, each shuffled within itself, which does not hold the day fixed."""
    test = runs_together(list(_sequences(book, stage).values()))
    if test is None:
        return None
    return (
        f"{test.runs} runs on {test.sequences} trusses where {test.expected:.1f} would be expected in any order of the "
        f"flowers of a truss (exact p {test.p:.2g}, which good and bad days lower as well)"
    )


def _sequences(book: FlowerBook, stage: Stage) -> dict[tuple[str, str], list[bool]]:
    """The fates of each truss's decided flowers in order of position."""
    trusses = gathered(book.flowers, lambda flower: flower.truss)
    return {
        truss: [fate for fate in (one.set if stage == "set" else one.full
                                  for one in sorted(flowers, key=lambda one: one.position)) if fate is not None]
        for truss, flowers in trusses.items()
    }  # fmt: skip


def gap_row(book: FlowerBook, stage: Stage, row: Mapping[str, Any]) -> dict[str, Any] | None:
    """What set before, in and after the gap, and on how many trusses setting resumed; None without a gap."""
    if row["on_from"] is None:
        return None
    found = courses(book, stage)
    first, last = row["on_from"].toordinal(), row["on_to"].toordinal()
    decided = found.decided
    parts = {
        "share_before": (found.opened >= first - _AROUND_DAYS) & (found.opened < first),
        "share_within": (found.opened >= first) & (found.opened <= last),
        "share_after": (found.opened > last) & (found.opened <= last + _AROUND_DAYS),
    }
    shares = {
        name: share(int(found.kept[part & decided].sum()), int((part & decided).sum())) for name, part in parts.items()
    }
    inside = set(found.truss[parts["share_within"]].tolist())
    later = (found.opened > last) & np.isin(found.truss, list(inside)) & decided
    resumed = later & (found.kept == 1)
    return {
        **head(book), "on_from": row["on_from"], "on_to": row["on_to"], **shares, "trusses_within": len(inside),
        "trusses_through": int(np.unique(found.truss[later]).size),
        "trusses_resumed": int(np.unique(found.truss[resumed]).size),
        "plants_resumed": int(np.unique(found.plant[decided & (found.opened > last) & (found.kept == 1)]).size),
    }  # fmt: skip
