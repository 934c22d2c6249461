"""The index of alternation and its yardstick, against a plain recomputation of every order."""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis.seasons.alternation import SEASONS_NEEDED, alternation, share_in_turn
from perennia.errors import AnalysisError

Series = tuple[list[int], list[float]]
crops = st.integers(0, 4).map(lambda value: 25.0 * value)


@st.composite
def units(draw: st.DrawFn) -> Series:
    """Crops of some of the years 2001 to 2005."""
    years = sorted(draw(st.sets(st.integers(2001, 2005), min_size=1)))
    return years, draw(st.lists(crops, min_size=len(years), max_size=len(years)))


def plain_index(years: Sequence[int], values: Sequence[float]) -> float | None:
    terms = [
        abs(b - a) / (b + a)
        for (one, a), (two, b) in itertools.pairwise(zip(years, values, strict=True))
        if two == one + 1 and a + b > 0
    ]
    return statistics.fmean(terms) if terms else None


def plain_orders(series: Sequence[Series]) -> list[list[float | None]]:
    """The index of every unit in each order of all the years; a unit has its own years dealt to its own places."""
    every = sorted({year for years, _ in series for year in years})
    orders = []
    for order in itertools.permutations(every):
        crop_in = [dict(zip(years, values, strict=True)) for years, values in series]
        orders.append([
            plain_index(years, [crop[year] for year in order if year in crop])
            for (years, _), crop in zip(series, crop_in, strict=True)
        ])  # fmt: skip
    return orders


@given(st.lists(units(), min_size=1, max_size=4))
def test_index_and_yardstick_equal_a_plain_recomputation(series: list[Series]) -> None:
    found, mean = alternation(series)
    orders = plain_orders(series)
    for place, ((years, values), entry) in enumerate(zip(series, found, strict=True)):
        expected = plain_index(years, values)
        assert entry.index == (None if expected is None else pytest.approx(expected))
        assert entry.seasons == len(years)
        gaps = sum(b != a + 1 for a, b in itertools.pairwise(years))
        assert entry.breaks == gaps
        assert entry.pairs + entry.zero_pairs + gaps == len(years) - 1
        if len(years) < 3 or expected is None:
            assert entry.chance is None
            continue
        known = [row[place] for row in orders if row[place] is not None]
        assert entry.chance == pytest.approx(statistics.fmean(value for value in known if value is not None))
    means = [
        statistics.fmean(value for value in row if value is not None)
        for row in ([row[i] for i, entry in enumerate(found) if entry.index is not None] for row in orders)
        if any(value is not None for value in row)
    ]  # fmt: skip
    if mean is None:
        assert all(entry.index is None for entry in found)
        return
    assert mean.chance == pytest.approx(statistics.fmean(means))
    assert (mean.orders, mean.listed) == (len(means), True)
    below, over = (sum(sign * value > sign * end + 1e-9 for value in means)
                   for sign, end in ((-1, mean.chance_low), (1, mean.chance_high)))  # fmt: skip
    assert below <= 0.025 * len(means)
    assert over <= 0.025 * len(means)
    assert mean.tellable == (over > 0) == (mean.smallest_p < 0.025)
    assert mean.smallest_p == pytest.approx(sum(value > max(means) - 1e-9 for value in means) / len(means))
    assert mean.seasons == len({year for years, _ in series for year in years})


@given(units(), st.sampled_from([0.001, 7.0, 1e6]))
def test_the_index_lies_between_0_and_1_in_any_unit_of_weight(unit: Series, scale: float) -> None:
    years, values = unit
    (before,), _ = alternation([unit])
    (after,), _ = alternation([(years, [scale * value for value in values])])
    if before.index is not None:
        assert 0 <= before.index <= 1
        assert after.index == pytest.approx(before.index)


def test_two_seasons_without_a_crop_are_no_pair() -> None:
    (entry,), mean = alternation([([2001, 2002, 2003], [0.0, 0.0, 80.0])])
    assert (entry.index, entry.pairs, entry.zero_pairs) == (1.0, 1, 1)
    (barren,), none = alternation([([2001, 2002], [0.0, 0.0])])
    assert (barren.index, barren.zero_pairs, none) == (None, 1, None)
    assert mean is not None


def test_no_pair_is_made_across_a_missing_season() -> None:
    (entry,), mean = alternation([([2001, 2003], [10.0, 90.0])])
    assert (entry.index, entry.breaks, mean) == (None, 1, None)


def test_nine_seasons_that_alternate_stand_out_and_a_rise_lies_below() -> None:
    years = list(range(2001, 2010))
    up_and_down = [90.0, 12, 95, 10, 88, 14, 93, 11, 91]
    _, mean = alternation([(years, up_and_down)] * 4)
    assert mean is not None
    assert mean.above
    assert not mean.below
    assert not mean.listed
    _, rise = alternation([(years, sorted(up_and_down))] * 4)
    assert rise is not None
    assert rise.below
    assert not rise.above
    assert rise.tellable


@pytest.mark.parametrize("seasons", range(3, 8))
def test_heavy_and_light_in_turn_comes_about_as_often_as_counting_every_order_gives(seasons: int) -> None:
    heavy = [place % 2 == 0 for place in range(seasons)]
    orders = [[heavy[place] for place in order] for order in itertools.permutations(range(seasons))]
    in_turn = sum(all(one != other for one, other in itertools.pairwise(order)) for order in orders)
    assert share_in_turn(seasons) == pytest.approx(in_turn / len(orders))
    _, mean = alternation([(list(range(2001, 2001 + seasons)), [90.0 if one else 10.0 for one in heavy])])
    assert mean is not None
    assert mean.smallest_p == pytest.approx(share_in_turn(seasons))


def test_heavy_and_light_in_turn_stand_out_from_the_seasons_needed_on_and_no_sooner() -> None:
    found = {}
    for seasons in range(3, 12):
        crops = [10.0 if place % 2 else 90.0 for place in range(seasons)]
        _, mean = alternation([(list(range(2001, 2001 + seasons)), crops)])
        assert mean is not None
        found[seasons] = (mean.tellable, mean.above)
    assert found == {seasons: (seasons >= SEASONS_NEEDED,) * 2 for seasons in range(3, 12)}
    assert SEASONS_NEEDED == 9


def test_more_plants_in_step_are_no_more_proof() -> None:
    """Every plant had the same weather: a hundred plants that follow it show no more than one."""
    years, values = [2001, 2002, 2003, 2004], [90.0, 12, 95, 10]
    one, many = (alternation([(years, values)] * n)[1] for n in (1, 100))
    assert one is not None
    assert many is not None
    assert (many.chance_low, many.chance_high) == pytest.approx((one.chance_low, one.chance_high))
    assert not many.tellable


def test_no_unit_has_no_mean() -> None:
    assert alternation([]) == ([], None)


@pytest.mark.parametrize(
    ("years", "values", "says"),
    [
        ([2002, 2001], [1.0, 2.0], "years rising"),
        ([2001, 2001], [1.0, 2.0], "years rising"),
        ([2001], [1.0, 2.0], "a value a year"),
        ([2001, 2002], [1.0, -2.0], "not negative"),
        ([2001, 2002], [1.0, float("nan")], "known"),
    ],
)
def test_what_cannot_be_asked_is_refused(years: list[int], values: list[float], says: str) -> None:
    with pytest.raises(AnalysisError, match=says):
        alternation([(years, values)])
