"""Last spring frosts of Johnson County, Kansas, 1980 to 2020, minimum below 0 degrees C, days of the year.

Patrignani 2024, open course notes in agricultural science, Kansas State University, exercise "First and last frost":
median, latest day, normal fit and the chance of a frost on or after day 122. The quantiles by normal and by order
are from R (qnorm, quantile type 7) on the same days.
"""

from __future__ import annotations

import pytest

from perennia.analysis.causes.warmth.frost_quantiles import day_quantile, normal_days

DAYS = [104, 79, 100, 109, 83, 99, 81, 90, 90, 101, 102, 89, 94, 92, 90, 95, 97, 104, 80, 86, 99, 88, 96, 99, 103, 120,
        99, 102, 120, 97, 81, 95, 69, 114, 105, 94, 87, 74, 106, 90, 108]  # fmt: skip


def test_the_normal_fit_is_that_of_the_exercise() -> None:
    fit = normal_days(DAYS)
    assert fit is not None
    assert (fit.mean, fit.sd) == (pytest.approx(95.390, abs=1e-3), pytest.approx(11.179, abs=1e-3))
    assert fit.on_or_after(122) == pytest.approx(0.008649, abs=2e-5)
    assert [fit.day(share) for share in (0.1, 0.5, 0.9)] == pytest.approx([81.06, 95.39, 109.72], abs=0.01)


def test_the_quantiles_by_order_are_those_of_r() -> None:
    assert [day_quantile(DAYS, share, 0.95).day for share in (0.1, 0.5, 0.9)] == pytest.approx([81, 96, 108])


def test_the_interval_of_the_median_is_that_of_the_sign_test() -> None:
    """41 years: the 14th and 28th in order, 95.6 %, as tables of the sign test give them (from memory)."""
    found = day_quantile(DAYS, 0.5, 0.95)
    assert (found.low, found.high) == (sorted(DAYS)[13], sorted(DAYS)[27])
