"""Simulated boxes of roots: intervals hold the truth, and tests find no more than chance in what is alike. Fixed seeds.

survival_gardens.py beside this file does the same for many more gardens by hand. Bounds are the level, less (or its
complement, plus) three standard errors of a share over GARDENS gardens. Of 10,000 gardens
a case at 95 % the intervals of shared boxes held 95.1 to 100 in a hundred, Wilson's 94.5 to 96.2, those of a difference
95.4 and more; alike winterings differed in 1.0 to 1.2, alike groups' lives in 4.8 to 5.1.
"""

from __future__ import annotations

import pytest

from tests.calibration.survival_gardens import (
    LEVEL,
    Case,
    coverage,
    difference_coverage,
    size_between_boxes,
    size_of_log_rank,
)

GARDENS = 100
SLACK = 3 * (LEVEL * (1 - LEVEL) / GARDENS) ** 0.5


@pytest.mark.parametrize("alike", [0.0, 0.2, 0.6])
@pytest.mark.parametrize(("boxes", "roots", "share"), [(3, 4, 0.8), (5, 5, 0.5), (10, 3, 0.8), (10, 10, 0.8)])
@pytest.mark.parametrize("uneven", [False, True])
def test_intervals_of_shared_boxes_hold_the_truth(
    boxes: int, roots: int, share: float, alike: float, uneven: bool
) -> None:
    held, width = coverage(Case(boxes, roots, share, alike, uneven), GARDENS)
    assert held >= LEVEL - SLACK
    # an interval that says nothing would hold too
    assert width < 0.9


def test_roots_taken_apart_would_deceive_where_boxes_are_alike() -> None:
    """What the cluster is for: the same boxes with every root counted for itself."""
    alike, apart = Case(10, 10, 0.8, 0.6), Case(100, 1, 0.8, 0.0)
    assert coverage(alike, GARDENS)[1] > 2 * coverage(apart, GARDENS)[1]


@pytest.mark.parametrize("case", [Case(30, 1, 0.5, 0.0), Case(30, 1, 0.8, 0.0), Case(12, 1, 0.8, 0.0)])
def test_wilson_intervals_hold_the_truth(case: Case) -> None:
    assert coverage(case, GARDENS)[0] >= LEVEL - SLACK


@pytest.mark.parametrize("case", [Case(4, 5, 0.8, 0.3), Case(6, 3, 0.8, 0.3), Case(12, 1, 0.8, 0.0)])
def test_alike_winterings_seldom_differ_and_intervals_hold_a_difference(case: Case) -> None:
    assert size_between_boxes(case, GARDENS) <= 1 - LEVEL + SLACK
    assert difference_coverage(case, 0.3, GARDENS) >= LEVEL - SLACK




@pytest.mark.parametrize("plants", [10, 20, 50])
def test_groups_that_die_alike_seldom_differ(plants: int) -> None:
    assert size_of_log_rank(plants, GARDENS) <= 1 - LEVEL + SLACK
