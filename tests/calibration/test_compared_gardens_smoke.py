"""A smoke test of the comparisons on gardens of known truth; compared_gardens has the long form."""

from __future__ import annotations

import pytest

from tests.calibration.compared_gardens import (
    Held,
    change_case,
    confounded_p,
    earliness_case,
    pairs_case,
    stock_case,
)

GARDENS = 100


def slack(share: float) -> float:
    """Three standard errors of a share over GARDENS gardens."""
    return float(3 * (share * (1 - share) / GARDENS) ** 0.5)


def keeps_its_level(held: Held) -> None:
    """Size at most 5 %, coverage at least the level named, each but for what chance does."""
    assert held.rejected <= 0.05 + slack(0.05), held
    assert held.covered >= held.level - slack(held.level), held


@pytest.mark.parametrize("n", [3, 5, 10, 30])
@pytest.mark.parametrize("kind", ["heavy tails", "ties", "zeros"])
def test_stock_keeps_its_level(kind: str, n: int) -> None:
    keeps_its_level(stock_case(kind, n, 0.0, GARDENS, 1))


@pytest.mark.parametrize("n", [3, 10])
def test_earliness_keeps_its_level_where_plants_never_crop(n: int) -> None:
    keeps_its_level(earliness_case(n, 0.2, GARDENS, 3))


@pytest.mark.parametrize("n", [3, 5, 10, 30])
def test_pairs_keep_their_level(n: int) -> None:
    keeps_its_level(pairs_case("heavy tails", n, 0.0, GARDENS, 4))


@pytest.mark.parametrize("n", [5, 30])
def test_the_change_against_fresh_stock_keeps_its_level(n: int) -> None:
    keeps_its_level(change_case("heavy tails", n, 0.0, GARDENS, 6))


def test_what_is_there_is_found_and_held() -> None:
    for held in (
        stock_case("heavy tails", 10, 250.0, GARDENS, 2), pairs_case("heavy tails", 10, 250.0, GARDENS, 5),
        change_case("heavy tails", 10, 250.0, GARDENS, 7),
    ):  # fmt: skip
        assert held.rejected > 0.15
        assert held.covered >= 0.95 - slack(0.95)


def test_confounded_designs_never_give_a_p() -> None:
    assert confounded_p(GARDENS, 8) == 0
