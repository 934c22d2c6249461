"""Dates at which half the crop was in, against worked examples of the time to half germination (T50).

The arithmetic is the same: cumulative counts, straight lines between adjacent counts, the time at which a level is met.
Two conventions of the level are in use: N/2 (Farooq et al. 2005) is ours, a share of the crop; (N+1)/2 (Coolbear et al.
1984), the middle seed, is checked from the same curve. Values: tests of the R package germinationmetrics (the first
series; by memory of them, equal to an exact count in fractions) and its manual's example (the second, recomputed).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest

from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import AlreadyHere
from perennia.records.places import Bed, Site
from tests.queries.built_views import built, rows_of, with_ids

DAY_0 = date(2022, 5, 31)
FIRST = [0, 0, 0, 0, 4, 17, 10, 7, 1, 0, 1, 0, 0, 0]
SECOND = [0, 0, 0, 0, 0, 6, 6, 3, 3, 2]
EXAMPLES = [
    pytest.param(FIRST, 5.94117647058824, 5.97058823529412, id="40 seeds"),
    pytest.param(SECOND, 6.66666666666667, 6.75, id="20 seeds"),
]


def _season(counts: Sequence[int]) -> tuple[dict[str, Any], dict[str, Any], dict[int, float]]:
    """A plant looked at on every day from day 1 on, zero counts being looks: its fractional shares, its summary, and
    its curve by day."""
    records: list[Record] = [
        Site("Bench", latitude=51.0), Bed("B1", "Bench"), AlreadyHere("A1", "2022-01-01", crop="Test seed", bed="B1"),
        Noted("2023-01-02", bed="B1", what="the season after has begun"),
    ]  # fmt: skip
    records += [Picked("A1", DAY_0 + timedelta(day), count=count) for day, count in enumerate(counts, start=1)]
    with built(with_ids(records), ["season_summary", "season_curves", "curve_dates"]) as connection:
        (shares,) = rows_of(connection, "inside.curve_dates")
        summary = next(row for row in rows_of(connection, "season_summary") if row["season"] == 2022)
        curve = {(row["on"] - DAY_0).days: row["cumulative"] for row in rows_of(connection, "season_curves")}
    return shares, summary, curve


@pytest.mark.parametrize(("counts", "half", "middle_seed"), EXAMPLES)
def test_half_the_crop_of_the_worked_examples(counts: list[int], half: float, middle_seed: float) -> None:
    shares, summary, curve = _season(counts)
    # the first look closes an interval of one usual gap, here a day, so the curve starts at the end of day 0
    start = (shares["first_knot"] - DAY_0).days
    assert start == 0
    assert start + shares["t50_days"] == pytest.approx(half, abs=1e-12)
    # by the end of which day half was in
    assert summary["t50"] == DAY_0 + timedelta(6 if counts is FIRST else 7)
    assert summary["measure"] == "count"
    assert summary["count"] == sum(counts)
    assert _meets(curve, (sum(counts) + 1) / 2) == pytest.approx(middle_seed, abs=1e-12)
    assert _meets(curve, sum(counts) / 2) == pytest.approx(half, abs=1e-12)


def _meets(curve: dict[int, float], level: float) -> float:
    """Day at which the straight lines between ends of days meet a level."""
    day = next(day for day in sorted(curve) if curve[day] >= level)
    before = curve.get(day - 1, 0.0)
    return day - 1 + (level - before) / (curve[day] - before)


@pytest.mark.parametrize("counts", [FIRST, SECOND])
def test_the_curve_is_the_cumulative_count(counts: list[int]) -> None:
    _, _, curve = _season(counts)
    assert curve == {day: float(sum(counts[:day])) for day in range(1, len(counts) + 1)}


def test_without_looks_the_first_picking_gathers_one_usual_gap() -> None:
    """The days of no count are what pins the first interval: left out, day 5 gathers the middle gap of this crop, which
    it takes five gaps to know."""
    pickings = [(5, 4), (8, 17), (11, 10)]
    records: list[Record] = [
        Site("Bench", latitude=51.0), Bed("B1", "Bench"), AlreadyHere("A1", "2022-01-01", crop="Test seed", bed="B1"),
        *(Picked("A1", DAY_0 + timedelta(day), count=count) for day, count in pickings),
        AlreadyHere("A2", "2022-01-01", crop="Test seed", bed="B1"),
        *(Picked("A2", DAY_0 + timedelta(day), count=1) for day in range(20, 30, 3)),
    ]  # fmt: skip
    with built(with_ids(records), ["curve_dates"]) as connection:
        shares = min(rows_of(connection, "inside.curve_dates"), key=lambda row: row["first_pick"])
    assert shares["first_knot"] == DAY_0 + timedelta(2)
    assert 2 + shares["t50_days"] == pytest.approx(5 + 3 * (15.5 - 4) / 17, abs=1e-12)
