"""Size, coverage and width of the comparisons on gardens of known truth.

A smoke test of 100 gardens a case; the long form, which shows its figures, is
``PERENNIA_GARDENS=10000 python -m pytest -s -n 2 tests/calibration/test_compared_gardens_smoke.py``.
"""

from __future__ import annotations

import os

import pytest

from tests.calibration.compared_gardens import (
    Held,
    change_case,
    confounded_p,
    earliness_case,
    pairs_case,
    stock_case,
)

GARDENS = int(os.environ.get("PERENNIA_GARDENS", "100"))
LONG = GARDENS > 100
"""Whether every kind of spread is drawn at every number of units, as the long form does."""


def slack(share: float) -> float:
    """Three standard errors of a share over GARDENS gardens."""
    return float(3 * (share * (1 - share) / GARDENS) ** 0.5)


def show(held: Held) -> None:
    """Its figures, when asked for with -s."""
    print(
        f"\n{held.case}, {held.gardens} gardens: p <= 0.05 in {held.rejected:.4f}, held in {held.covered:.4f} at "
        f"{held.level:.4f} or more, width {held.width:.0f}"
    )  # fmt: skip


def keeps_its_level(held: Held) -> None:
    """Size at most 5 %, coverage at least the level named, each but for what chance does."""
    show(held)
    assert held.rejected <= 0.05 + slack(0.05), held
    assert held.covered >= held.level - slack(held.level), held


@pytest.mark.parametrize(("kind", "n"), [
    ("heavy tails", 3), ("heavy tails", 30), ("ties", 5), ("zeros", 10),
    *LONG * [(kind, n) for kind in ("normal", "heavy tails", "ties", "zeros") for n in (3, 5, 10, 30)],
])  # fmt: skip
def test_stock_keeps_its_level(kind: str, n: int) -> None:
    keeps_its_level(stock_case(kind, n, 0.0, GARDENS, 1))


@pytest.mark.parametrize("n", [10, *LONG * [3, 5, 30]])
def test_earliness_keeps_its_level_where_plants_never_crop(n: int) -> None:
    keeps_its_level(earliness_case(n, 0.2, GARDENS, 3))


@pytest.mark.parametrize(("kind", "n"), [
    ("heavy tails", 5), *LONG * [(kind, n) for kind in ("normal", "heavy tails", "ties") for n in (3, 5, 10, 30)],
])  # fmt: skip
def test_pairs_keep_their_level(kind: str, n: int) -> None:
    keeps_its_level(pairs_case(kind, n, 0.0, GARDENS, 4))


@pytest.mark.parametrize(("kind", "n"), [
    ("heavy tails", 5), *LONG * [(kind, n) for kind in ("normal", "heavy tails") for n in (4, 5, 10, 30)],
])  # fmt: skip
def test_the_change_against_fresh_stock_keeps_its_level(kind: str, n: int) -> None:
    keeps_its_level(change_case(kind, n, 0.0, GARDENS, 6))


def test_what_is_there_is_found_and_held() -> None:
    for held in (
        stock_case("heavy tails", 10, 250.0, GARDENS, 2), pairs_case("heavy tails", 10, 250.0, GARDENS, 5),
        change_case("heavy tails", 10, 250.0, GARDENS, 7),
    ):  # fmt: skip
        show(held)
        assert held.rejected > 0.15
        assert held.covered >= 0.95 - slack(0.95)


def test_confounded_designs_never_give_a_p() -> None:
    assert confounded_p(GARDENS, 8) == 0
