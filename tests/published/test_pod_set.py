"""Shares and patterns of setting against published data: germinated seeds, tables of runs, the Nile, isotonic fits.

Sources beside each check; where a figure is from memory, that is said.
"""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.datasets import nile

from perennia.analysis.causes.setting.date_scan import scan, steps
from perennia.analysis.causes.setting.pod_set_tables import falling
from perennia.analysis.causes.setting.proportions import beta_binomial, logistic
from perennia.analysis.causes.setting.runs import count_runs, runs_distribution, runs_limits, runs_z

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


def test_runs_wald_wolfowitz() -> None:
    # z 1.386750, p .1655179 without a correction for continuity: R package tseries, as in the tests of statsmodels
    sequence = [sign == "1" for sign in "1110010101110101"]
    assert count_runs(sequence) == 11
    assert runs_z(sequence) == pytest.approx((1.386750, 0.1655179), abs=1e-6)


@pytest.mark.parametrize(
    ("n1", "n2", "few", "many"),
    [
        (5, 5, 2, 10), (8, 8, 4, 14), (10, 10, 6, 16), (12, 12, 7, 19), (15, 15, 10, 22), (20, 20, 14, 28),
        (6, 6, 3, 11), (7, 7, 3, 13), (9, 9, 5, 15), (11, 11, 7, 17), (13, 13, 8, 20), (6, 9, 4, 13), (8, 12, 6, 16),
    ],
)  # fmt: skip
def test_runs_limits(n1: int, n2: int, few: int, many: int) -> None:
    # Swed and Eisenhart 1943, Ann. Math. Stat. 14: 66-87, two-sided 5 % (from memory; equal by the exact distribution)
    assert runs_limits(n1, n2) == runs_limits(n2, n1) == (few, many)
    assert runs_distribution(n1, n2).sum() == pytest.approx(1, abs=1e-12)


def test_nile_breaks_once() -> None:
    # Annual flow 1871-1970: Cobb 1978, Biometrika 65: 243-251; break, RSS and sup F with 15 % trimming as recorded by
    # the R package strucchange (Zeileis et al. 2003, Comput. Stat. Data Anal. 44: 109-123)
    flow = nile.load_pandas().data["volume"].to_numpy(dtype=float)
    candidates = steps(100, 15)
    found = scan(flow[None, :], np.ones((1, 100)), np.ones((100, 1)), candidates.start, candidates.stop)
    best = int(found.f[0].argmax())
    assert candidates.first[best] + 1 == 28
    assert found.f[0, best] == pytest.approx(75.93, abs=0.005)
    assert found.rss[0] == pytest.approx(2835157, abs=1)
    assert found.rss_with()[0, best] == pytest.approx(1597457, abs=1)
    assert found.change[0, best] == pytest.approx(849.9722 - 1097.75, abs=0.0001)


@pytest.mark.parametrize(
    ("values", "fitted"),
    [
        # R's isoreg, recorded output
        ([1, 0, 4, 3, 3, 5, 4, 2, 0], [0.5, 0.5, 3, 3, 3, 3, 3, 3, 3]),
        ([1, 0, 4, 3, 3, 5, 4, 2, 3], [0.5, 0.5, 10 / 3, 10 / 3, 10 / 3, 3.5, 3.5, 3.5, 3.5]),
        ([5, 9, 1, 2, 5, 6, 7, 8, 3, 8], [4.25, 4.25, 4.25, 4.25, 5, 6, 6, 6, 6, 8]),
        # the test of scikit-learn, from memory
        ([3, 7, 5, 9, 8, 7, 10], [3, 6, 6, 8, 8, 8, 10]),
    ],
)
def test_isotonic_fit(values: list[float], fitted: list[float]) -> None:
    # those examples rise; turned upside down they never rise
    assert falling([-value for value in values], [1] * len(values)) == pytest.approx([-v for v in fitted], abs=1e-9)
