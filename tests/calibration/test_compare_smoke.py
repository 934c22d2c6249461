"""Simulated truth for the comparisons: intervals cover, p is not too small, effects are found. Fixed seeds."""

from __future__ import annotations

import numpy as np
import pytest

from perennia.analysis.decisions.comparing.later_seasons import compare_pairs
from perennia.analysis.decisions.comparing.stock import compare_units
from tests.analysis.seasons_frame import arms, frame, overwintered, row

GARDENS = 150
# five standard errors of a share of 0.05 over GARDENS gardens
SLACK = 5 * (0.05 * 0.95 / GARDENS) ** 0.5


@pytest.mark.parametrize("shift", [0.0, 350.0])
def test_stock_interval_covers_and_p_keeps_its_level(shift: float) -> None:
    """Two beds 400 g apart, unequally filled by the arms: a comparison blind to beds would be led astray."""
    random = np.random.default_rng(20)
    covered, small = [], []
    for _ in range(GARDENS):
        rows = []
        for bed, base, old, new in (("B1", 500.0, 6, 3), ("B2", 900.0, 2, 6)):
            crops = base + 120 * random.standard_gamma(4, old + new)
            crops[:old] += shift
            for entry in arms(list(crops[:old]), list(crops[old:]), bed=bed):
                label = f"{bed}{entry['label']}"
                rows.append({**entry, "label": label, "unit": label, "plant": f"{label}/{entry['season']}"})
        found = compare_units(frame(rows)).table.iloc[0]
        covered.append(found["shift_low"] <= shift <= found["shift_high"])
        small.append(found["p"] <= 0.05)
        assert found["level"] >= 0.95
    assert np.mean(covered) >= 0.95 - SLACK
    if shift:
        assert np.mean(small) > 0.3
    else:
        assert np.mean(small) <= 0.05 + SLACK


@pytest.mark.parametrize("ratio", [1.0, 1.6])
def test_paired_ratio_covers_and_p_keeps_its_level(ratio: float) -> None:
    random = np.random.default_rng(21)
    covered, small = [], []
    for _ in range(GARDENS):
        plants = random.standard_gamma(6, 9) * 100
        first, later = plants * random.lognormal(0, 0.2, 9), ratio * plants * random.lognormal(0, 0.2, 9)
        rows = [row(f"P{i}", 2021, total_g=value) for i, value in enumerate(first)]
        rows += [overwintered(f"P{i}", 2022, total_g=value) for i, value in enumerate(later)]
        found = compare_pairs(frame(rows)).table.iloc[0]
        covered.append(found["ratio_low"] <= ratio <= found["ratio_high"])
        small.append(found["p"] <= 0.05)
    assert np.mean(covered) >= 0.95 - SLACK
    if ratio > 1:
        assert np.mean(small) > 0.8
    else:
        assert np.mean(small) <= 0.05 + SLACK
