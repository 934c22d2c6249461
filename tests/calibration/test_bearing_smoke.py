"""A smoke test of the honesty of bearing on seeded gardens: age, lasting differences, and selection taken for age."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from perennia.analysis.seasons.bearing import bearing_of
from perennia.analysis.seasons.variance import level_columns, variance_components
from tests.analysis.seasons_frame import frame, row

GARDENS = 100
# three standard errors of a share of 0.05 over GARDENS gardens
SLACK = 3 * (0.05 * 0.95 / GARDENS) ** 0.5


def _rows(crops: np.ndarray, began: np.ndarray, until: int) -> list[dict[str, Any]]:
    """Plants with a row of crops each, from the season they began to the last; missing ones have no row."""
    return [
        row(f"P{i}", int(start) + k, total_g=float(max(crop, 0)), plant_season=k + 1, plant=f"P{i}/{start}")
        for i, (values, start) in enumerate(zip(crops, began, strict=True))
        for k, crop in enumerate(values)
        if start + k <= until and not np.isnan(crop)
    ]


@pytest.mark.parametrize(("tails", "change"), [("t", -60.0), ("lognormal", 0.0)])
def test_the_interval_of_age_covers(tails: str, change: float) -> None:
    """Eight plants of three beginnings; single seasons with heavy tails: Student's t of 3 degrees, and skewed ones."""
    random = np.random.default_rng(31)
    covered = []
    for _ in range(GARDENS):
        noise = random.standard_t(3, (8, 5)) if tails == "t" else random.lognormal(0, 0.8, (8, 5))
        crops = 2000 + random.normal(0, 150, (8, 1)) + change * np.arange(5) + 80 * noise
        result = bearing_of(frame(_rows(crops, 2015 + np.arange(8) % 3, 2019)))
        found = result.trend[result.trend["basis"] == "all"].iloc[0]
        assert found["tested_units"] == 8
        covered.append(found["low"] <= change <= found["high"])
    assert np.mean(covered) >= 0.95 - SLACK


def test_plants_that_do_not_differ_have_a_repeatability_of_about_nothing() -> None:
    random = np.random.default_rng(32)
    estimates, held, zero_told = [], [], []
    for _ in range(GARDENS):
        crops = 900 + 100 * random.normal(size=(12, 4)) + random.normal(0, 200, 4)
        result = bearing_of(frame(_rows(crops, np.full(12, 2015), 2018)))
        found = result.variance.iloc[0]
        estimates.append(found["repeatability"])
        # an interval that is empty, the plants differing less than chance, claims no difference either
        held.append(pd.isna(found["low"]) or found["low"] == 0)
        zero_told.append((found["repeatability"] == 0) == ("no evidence that these plants differ" in result.summary()))
    assert np.median(estimates) <= 0.05
    assert np.mean(np.array(estimates) < 0.25) >= 0.9
    assert np.mean(held) >= 0.95 - SLACK
    assert all(zero_told)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.7])
def test_the_interval_of_repeatability_covers_in_ragged_gardens(share: float) -> None:
    """Normal crops, a quarter of the seasons missing; an empty interval counts as one that missed."""
    random = np.random.default_rng(33)
    unit, season = np.repeat(np.arange(12), 4), np.tile(np.arange(4), 12)
    covered = []
    for _ in range(GARDENS):
        crops = np.sqrt(share) * random.normal(size=12)[unit] + np.sqrt(1 - share) * random.normal(size=48)
        kept = random.random(48) < 0.75
        found = variance_components(crops[kept], list(unit[kept]), level_columns(list(season[kept])))
        covered.append(found.low is not None and found.high is not None and found.low <= share <= found.high)
    assert np.mean(covered) >= 0.95 - SLACK


def test_choosing_the_best_is_never_told_as_age_without_its_caution() -> None:
    """Best 5 of 20 kept after the first season, in two years running; no plant ages, and all kept ones fall back."""
    random = np.random.default_rng(34)
    fell = []
    for _ in range(GARDENS):
        crops = 800 + random.normal(0, 40, (40, 1)) + random.normal(0, 160, (40, 3))
        began = np.repeat([2015, 2016], 20)
        for start in (0, 20):
            dropped = start + np.argsort(crops[start : start + 20, 0])[:-5]
            crops[dropped, 1:] = np.nan
        result = bearing_of(frame(_rows(crops, began, 2017)))
        found = result.trend[result.trend["basis"] == "per survivor"].iloc[0]
        (told,) = (text for text in result.findings if "per survivor" in text)
        assert "can come of choosing alone, without any ageing" in told
        assert any("fall back towards the mean without ageing" in text for text in result.cautions)
        assert any("were not drawn by lot" in text for text in result.cautions)
        assert found["not_seen_through"] == 30
        fell.append(found["high"] < 0)
    # the caution is needed: by its interval alone such a garden would as a rule be taken for one that wears out
    assert np.mean(fell) > 0.5


def test_weather_alone_is_not_told_as_alternation() -> None:
    """Independent seasons that all plants share, nine of them: the comparison keeps its level."""
    random = np.random.default_rng(35)
    above = []
    for _ in range(GARDENS):
        crops = 800 * random.lognormal(0, 0.5, 9) * random.lognormal(0, 0.2, (6, 9))
        result = bearing_of(frame(_rows(crops, np.full(6, 2010), 2018)))
        above.append("as in plants that alternate" in result.summary())
    assert np.mean(above) <= 0.025 + 3 * (0.025 * 0.975 / GARDENS) ** 0.5
