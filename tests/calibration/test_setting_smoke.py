"""Patterns of setting on gardens whose cause is known: how often a pattern is told that is not there, and one that is.

A hundred gardens of each of the two without a cause, seeds fixed. By hand, for more and with the figures:

    PERENNIA_GARDENS=1000 python -m pytest -s tests/calibration/test_setting_smoke.py
"""

from __future__ import annotations

import os
from collections.abc import Sequence

import numpy as np
import pytest

from perennia.analysis.causes.setting import pattern_rows as patterns
from tests.calibration.setting_gardens import garden

GARDENS = int(os.environ.get("PERENNIA_GARDENS", "100"))
DRAWS = 99 if GARDENS <= 100 else 199
FEW = max(GARDENS // 10, 10)
LEVEL = 0.05

pytestmark = pytest.mark.filterwarnings("error")


def told(cause: str, n: int, *, unequal_picking: bool = False, looks_every: int = 1) -> dict[str, float]:
    """By pattern, the share of gardens in which it stands out; NaN where it could be told in none."""
    found: dict[str, list[float]] = {name: [] for name in patterns.PATTERNS}
    for seed in range(n):
        book = garden(cause, seed, unequal_picking=unequal_picking, looks_every=looks_every)
        for row in patterns.pattern_rows(book, "set", DRAWS, seed):
            if row["p"] is not None:
                found[row["pattern"]].append(row["p"] <= LEVEL)
    shares = {name: float(np.mean(hits)) if hits else float("nan") for name, hits in found.items()}
    print(f"\n{cause}, {n} gardens: " + ", ".join(f"{name} {share:.3f}" for name, share in shares.items()))
    return shares


def too_often(shares: dict[str, float], names: Sequence[str], n: int) -> dict[str, float]:
    """Patterns told more often than in 5 % of gardens and three standard errors."""
    bound = LEVEL + 3 * np.sqrt(LEVEL * (1 - LEVEL) / n)
    return {name: shares[name] for name in names if shares[name] > bound}


@pytest.mark.parametrize("cause", ["random", "none"])
def test_no_pattern_is_told_too_often_where_there_is_none(cause: str) -> None:
    # picked unequally, so that load on the plant is looked at as well
    shares = told(cause, GARDENS, unequal_picking=True)
    assert not any(np.isnan(share) for share in shares.values())
    assert too_often(shares, patterns.PATTERNS, GARDENS) == {}


def test_looks_days_apart_make_no_pattern() -> None:
    n = max(GARDENS // 3, 30)
    shares = told("none", n, unequal_picking=True, looks_every=3)
    assert np.isnan(shares[patterns.RUNS])
    assert too_often(shares, patterns.PATTERNS[1:], n) == {}


def test_a_day_that_stops_all_is_found_by_day_of_loss_and_as_a_gap() -> None:
    shares = told("stop", FEW)
    assert shares[patterns.DATE_LOST] >= 0.8
    assert shares[patterns.GAP] >= 0.8


def test_a_limit_by_position_is_found_and_is_no_date() -> None:
    shares = told("position", FEW)
    assert shares[patterns.POSITION] >= 0.9
    assert shares[patterns.DATE_LOST] <= 0.3
    assert shares[patterns.GAP] <= 0.3


def test_slow_stress_is_told_as_no_date_and_no_place() -> None:
    shares = told("stress", FEW)
    assert max(shares[name] for name in (patterns.DATE_OPENED, patterns.GAP, patterns.DATE_LOST)) <= 0.3
    assert shares[patterns.POSITION] <= 0.3


def test_load_is_told_only_where_picking_was_unequal() -> None:
    assert told("load", FEW, unequal_picking=True)[patterns.PLANT_LOAD] >= 0.8
    assert np.isnan(told("load", FEW)[patterns.PLANT_LOAD])


def test_two_causes_at_once_are_both_found() -> None:
    shares = told("stop and position", FEW)
    assert min(shares[name] for name in (patterns.POSITION, patterns.DATE_LOST)) >= 0.8
