"""How far the standard errors of a fitted cumulative crop are off, as the caution of fit_curves says. Fixed seed."""

from __future__ import annotations

import numpy as np
import pytest

from perennia.analysis.seasons.least_squares import fit, logistic

SEASONS = 400


@pytest.mark.parametrize(("pickings", "gap_days"), [(8, 10), (12, 7), (25, 3)])
def test_standard_errors_of_a_cumulative_crop_are_too_small(pickings: int, gap_days: int) -> None:
    """Each picking is off by 40 % on its own, and the curve adds them up."""
    random = np.random.default_rng(5)
    days = 200 + gap_days * (np.arange(1, pickings + 1) - pickings / 2)
    crops = np.diff(logistic(np.array([days[0] - gap_days, *days]), 1000.0, 200.0, 11.0))
    fits = [fit(days, np.cumsum(crops * random.gamma(1 / 0.16, 0.16, pickings))) for _ in range(SEASONS)]
    assert {found.note for found in fits} == {None}
    ratios = [
        np.std([getattr(found, name) for found in fits]) / np.mean([getattr(found, f"{name}_se") for found in fits])
        for name in ("asymptote", "midpoint", "scale")
    ]
    assert min(ratios) > 1.5
    assert ratios[0] == max(ratios) < 7.5
    # the curve itself is found: half of the crop by day 200
    middles = np.array([found.midpoint for found in fits], dtype=float)
    assert middles.mean() == pytest.approx(200, abs=3 * middles.std() / SEASONS**0.5 + 0.5)
