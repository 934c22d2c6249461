"""How often noise makes a flush, and how near two may be and still be told apart. Fixed seed.

Bounds are three standard errors of a share. Each picking is off on its own, by a gamma factor with the
coefficient of variation given.
"""

from __future__ import annotations

import numpy as np
import pytest

from perennia.analysis.seasons.waves import waves

GAP_DAYS = 4
SEASONS = 1000


def counts(number: int, gaps_apart: int, variation: float, *, even: bool) -> np.ndarray:
    """Flushes found in seasons of so many true ones, or of an even crop of as many pickings."""
    random = np.random.default_rng(11)
    at = np.arange(number * gaps_apart) + 0.5
    peaks = gaps_apart * (np.arange(number) + 0.5)
    shapes = np.exp(-0.5 * ((at - peaks[:, None]) / (gaps_apart / 5.5)) ** 2)
    found = []
    for _ in range(SEASONS):
        crop = np.ones(len(at)) if even else random.uniform(1, 1.6, number) @ shapes
        picked = crop * random.gamma(1 / variation**2, variation**2, len(at))
        found.append(len(waves(np.repeat(picked / GAP_DAYS, GAP_DAYS), GAP_DAYS, running=False)))
    return np.array(found)


def error(share: float) -> float:
    return 3 * float(np.sqrt(share * (1 - share) / SEASONS))


@pytest.mark.parametrize(("pickings", "variation", "at_most"), [(20, 0.3, 0.005), (20, 0.5, 0.02), (30, 0.5, 0.06)])
def test_noise_seldom_makes_a_flush(pickings: int, variation: float, at_most: float) -> None:
    even = np.mean(counts(1, pickings, variation, even=True) > 1)
    assert even <= at_most + error(at_most)
    assert np.mean(counts(1, pickings, variation, even=False) > 1) <= 0.01


@pytest.mark.parametrize(
    ("gaps_apart", "variation", "share"),
    [(6, 0.3, 0.04), (7, 0.5, 0.57), (8, 0.5, 0.88), (9, 0.5, 0.98), (9, 0.3, 0.999), (12, 0.5, 0.999)],
)
def test_two_flushes_are_told_from_nine_gaps_on(gaps_apart: int, variation: float, share: float) -> None:
    assert np.mean(counts(2, gaps_apart, variation, even=False) == 2) == pytest.approx(share, abs=error(share) + 0.005)
