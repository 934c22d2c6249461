"""Shares and patterns of setting against published data: seeds that germinated, tables of runs, the Nile, isotonic fits.

Sources beside each check; where a figure is from memory, that is said.
"""

from __future__ import annotations

import numpy as np
import pytest

from perennia.analysis.causes.setting.proportions import beta_binomial, logistic

# Crowder 1978, J. R. Stat. Soc. C 27: 34-37, Table 3: seeds germinated of seeds sown, a plate each, by seed (O75, O73)
# and root extract (bean, cucumber)
CROWDER = {
    ("O75", "bean"): [(10, 39), (23, 62), (23, 81), (26, 51), (17, 39)],
    ("O75", "cucumber"): [(5, 6), (53, 74), (55, 72), (32, 51), (46, 79), (10, 13)],
    ("O73", "bean"): [(8, 16), (10, 30), (8, 28), (23, 45), (0, 4)],
    ("O73", "cucumber"): [(3, 12), (22, 41), (15, 30), (32, 51), (3, 7)],
}
PLATES = [(k, n, seed == "O73", root == "cucumber") for (seed, root), found in CROWDER.items() for k, n in found]
GERMINATED, SEEDS = ([plate[place] for plate in PLATES] for place in (0, 1))
DESIGN = np.array([[1, o73, cucumber, o73 and cucumber] for _, _, o73, cucumber in PLATES], dtype=float)


def test_germination_logistic() -> None:
    # Breslow and Clayton 1993, J. Am. Stat. Assoc. 88: 9-25, and the BUGS "Seeds" example (printed table from memory)
    fit = logistic(GERMINATED, SEEDS, DESIGN)
    assert fit.coefficients == pytest.approx([-0.558, 0.146, 1.318, -0.778], abs=0.0006)
    assert fit.errors == pytest.approx([0.126, 0.223, 0.177, 0.306], abs=0.0006)


def test_germination_dispersion() -> None:
    # Pearson's X2 31.65 on 17 degrees of freedom (from memory; statsmodels gives 31.6511), quasi-binomial 1.862
    fit = logistic(GERMINATED, SEEDS, DESIGN)
    assert (fit.pearson, fit.freedom) == (pytest.approx(31.6511, abs=0.005), 17)
    assert fit.dispersion == pytest.approx(1.86183, abs=0.0005)
    assert fit.errors * np.sqrt(fit.dispersion) == pytest.approx([0.1720, 0.3045, 0.2422, 0.4181], abs=0.0005)


def test_germination_beta_binomial() -> None:
    # scipy.stats.betabinom with scipy.optimize, no independent printed value seen
    fit = beta_binomial(GERMINATED, SEEDS, DESIGN)
    assert fit.coefficients == pytest.approx([-0.5420, 0.0974, 1.3201, -0.7979], abs=0.002)
    assert fit.phi == pytest.approx(0.01236, abs=0.0002)
    assert fit.log_likelihood == pytest.approx(-53.767, abs=0.002)
