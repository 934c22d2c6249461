"""What holds of Holm's adjustment whatever the p are."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from perennia.analysis.holm import holm

P = st.floats(0, 1)
SOME = st.lists(st.one_of(P, st.sampled_from([0.0, 0.01, 0.02, 0.05, 1.0])), min_size=1, max_size=12)


@given(SOME)
def test_it_is_the_peers(p: list[float]) -> None:
    assert holm(p) == pytest.approx(list(multipletests(p, method="holm")[1]), rel=1e-12, abs=1e-300)


@given(SOME)
def test_none_falls_none_exceeds_one_and_the_order_stays(p: list[float]) -> None:
    found: list[Any] = holm(p)
    assert all(raw <= adjusted <= 1 for raw, adjusted in zip(p, found, strict=True))
    pairs = sorted(zip(p, found, strict=True))
    assert [adjusted for _, adjusted in pairs] == sorted(found)
    # never more than Bonferroni's
    assert all(adjusted <= min(1.0, raw * len(p)) for raw, adjusted in pairs)


@given(st.lists(st.one_of(st.none(), P), max_size=12))
def test_the_missing_stay_missing_and_are_not_counted(p: list[float | None]) -> None:
    found = holm(p)
    assert [value is None for value in found] == [value is None for value in p]
    assert [value for value in found if value is not None] == holm([value for value in p if value is not None])


def test_one_alone_stays_as_it_is() -> None:
    assert holm([0.03]) == [0.03]
    assert holm([None, 0.03]) == [None, 0.03]
    assert holm([]) == []
