"""Simulated seasons of known totals: how often the prediction interval of a running one holds its total. Fixed seeds.

A season's crop runs up as a logistic curve; its middle is off by year and by plant, its pace by plant. Bounds are three
standard errors of a share over SEASONS simulated gardens, either way.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from perennia.analysis.seasons.projecting import Projection, project

GARDENS = 400
LEVEL = 0.95
SLACK = 3 * (LEVEL * (1 - LEVEL) / GARDENS) ** 0.5


def gardens(
    years: int, plants: int, seed: int, *, day: float, year_sd: float, plant_sd: float = 5.0, cutoff: float = 0.0
) -> Iterator[tuple[float, Projection | None]]:
    """The true total of a running season, and its projection on a day (0 where half is usually in) from so many plants
    in each of so many finished years. Shares below the cutoff are nothing yet."""
    random = np.random.default_rng(seed)
    made = 0
    while made < GARDENS:
        of = np.repeat(np.arange(years + 1), [plants] * years + [1])
        middles = random.normal(0, year_sd, years + 1)[of] + random.normal(0, plant_sd, len(of))
        shares = 1 / (1 + np.exp((middles - day) / (12 * random.lognormal(0, 0.1, len(of)))))
        shares[shares < cutoff] = 0.0
        total = 1000 * random.lognormal(0, 0.3)
        if shares[-1] > 0:
            made += 1
            yield total, project(total * shares[-1], shares[:-1].tolist(), of[:-1].tolist(), LEVEL)


def coverage(drawn: Iterator[tuple[float, Projection | None]]) -> float:
    held = [found is not None and found.low <= total <= (found.high or np.inf) for total, found in drawn]
    return float(np.mean(held))


@pytest.mark.parametrize("day", [-15.0, 0.0, 15.0], ids=["early", "half in", "late"])
@pytest.mark.parametrize(
    ("years", "plants", "year_sd"),
    [
        pytest.param(3, 1, 5.0, id="3 own seasons"),
        pytest.param(5, 1, 5.0, id="5 own seasons"),
        pytest.param(3, 5, 5.0, id="3 years of 5 plants"),
        pytest.param(4, 4, 5.0, id="4 years of 4 plants"),
        pytest.param(6, 6, 8.0, id="6 years of 6 plants"),
        pytest.param(2, 8, 0.0, id="2 like years of 8 plants"),
    ],
)
def test_an_interval_of_95_holds_95(years: int, plants: int, year_sd: float, day: float) -> None:
    assert coverage(gardens(years, plants, 31, day=day, year_sd=year_sd)) == pytest.approx(LEVEL, abs=SLACK)


@pytest.mark.parametrize("plants", [3, 5, 10])
def test_one_year_tells_of_its_own_weather_only(plants: int) -> None:
    """Nominal where years do not differ, and far below where they do: hence the caution."""
    assert coverage(gardens(1, plants, 32, day=0.0, year_sd=0.0)) == pytest.approx(LEVEL, abs=SLACK)
    assert coverage(gardens(1, plants, 32, day=0.0, year_sd=10.0)) < LEVEL - SLACK


@pytest.mark.parametrize(("years", "held"), [(2, 0.89), (3, 0.92)])
def test_few_years_that_differ_much_are_held_less(years: int, held: float) -> None:
    """What the caution says: years off by 8 days, plants by 3."""
    found = [
        coverage(gardens(years, 5, 33 + number, day=0.0, year_sd=8.0, plant_sd=3.0)) for number in range(5)
    ]  # fmt: skip
    assert np.mean(found) == pytest.approx(held, abs=3 * (held * (1 - held) / (5 * GARDENS)) ** 0.5)


@pytest.mark.parametrize(("years", "plants"), [(5, 1), (1, 6), (3, 4)])
def test_the_largest_share_bounds_as_often_as_it_says(years: int, plants: int) -> None:
    """Where some had nothing in by then: one sided, its level no more than what is held; the middle is a middle."""
    drawn = [
        (total, found)
        for seed in range(4)
        for total, found in gardens(years, plants, 40 + seed, day=-18.0, year_sd=3.0, cutoff=0.15)
        if found is not None and found.high is None
    ]
    assert len(drawn) > 400
    slack = 3 / len(drawn) ** 0.5
    levels = [found.level for _, found in drawn]
    assert max(levels) < LEVEL
    held = np.mean([found.low <= total for total, found in drawn])
    assert held >= np.mean(levels) - slack * np.sqrt(np.mean(levels) * (1 - np.mean(levels)))
    assert np.mean([total < found.total for total, found in drawn]) == pytest.approx(0.5, abs=slack * 0.5)
