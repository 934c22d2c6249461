"""Flushes of invented daily rates: clear ones are found whatever picking was missed or doubled, an even crop is one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis.permutation import Floats, Integers
from perennia.analysis.seasons.waves import cannot_tell, smoothed, usual_gap, waves

Season = tuple[list[int], list[float], int]
"""Days of picking, their amounts, and the usual gap."""


def curve(days: list[int], amounts: list[float], gap: int) -> tuple[Floats, Integers]:
    """The daily rate and the places of the pickings, each spread over the days since the last."""
    first = days[0] - gap
    rate = np.zeros(days[-1] - first)
    before = first
    for day, amount in zip(days, amounts, strict=True):
        rate[before - first : day - first] = amount / (day - before)
        before = day
    return rate, np.array(days) - first - 1


def found(season: Season, *, running: bool = False) -> list[tuple[int, int, int, float]]:
    """Start, peak and end of each flush as days, and what it held."""
    days, amounts, gap = season
    rate, places = curve(days, amounts, gap)
    assert cannot_tell(rate, places, len(days), gap) is None
    first = days[0] - gap + 1
    return [
        (wave.rises + first, wave.peak + first, wave.falls + first, wave.amount)
        for wave in waves(rate, usual_gap(places, gap), running=running)
    ]


@st.composite
def clear_seasons(draw: st.DrawFn) -> tuple[Season, int]:
    """One to three flushes, nine to twelve usual gaps from peak to peak (nearer ones blur, tests/calibration), their
    sizes within a factor of 1.6, what ripens between two pickings off by up to 15 %; and how many."""
    gap, number = draw(st.integers(2, 8)), draw(st.integers(1, 3))
    spacing = gap * draw(st.integers(9, 12))
    sizes = draw(st.lists(st.floats(1.0, 1.6), min_size=number, max_size=number))
    peaks = [200 + spacing // 2 + spacing * place for place in range(number)]
    every = np.arange(200, 200 + spacing * number + 1)
    away = (every - np.array(peaks)[:, None]) / (spacing / 5.5)
    ripe = np.concatenate([[0.0], np.cumsum(np.array(sizes) @ np.exp(-0.5 * away**2))])
    days = list(range(200 + gap, 200 + spacing * number + 1, gap))
    noise = draw(st.lists(st.floats(0.85, 1.15), min_size=len(days), max_size=len(days)))
    amounts = [
        100 * float(ripe[day - 200] - ripe[day - 200 - gap]) * off for day, off in zip(days, noise, strict=True)
    ]
    return (days, amounts, gap), number


@given(clear_seasons(), st.data())
def test_a_missed_picking_changes_no_flush(drawn: tuple[Season, int], data: st.DataObject) -> None:
    (days, amounts, gap), number = drawn
    whole = found((days, amounts, gap))
    assert len(whole) == number
    missed = data.draw(st.integers(0, len(days) - 2))
    later = [*amounts[:missed], amounts[missed] + amounts[missed + 1], *amounts[missed + 2 :]]
    left = found((days[:missed] + days[missed + 1 :], later, gap))
    assert len(left) == number
    for before, after in zip(whole, left, strict=True):
        assert np.abs(np.subtract(before[:3], after[:3])).max() <= 2 * gap
    assert sum(amount for *_, amount in left) == pytest.approx(sum(amounts))


@given(clear_seasons(), st.data())
def test_a_doubled_picking_changes_no_flush(drawn: tuple[Season, int], data: st.DataObject) -> None:
    (days, amounts, gap), number = drawn
    doubled = data.draw(st.integers(0, len(days) - 1))
    twice = [amount * (2 if place == doubled else 1) for place, amount in enumerate(amounts)]
    after = found((days, twice, gap))
    assert len(after) == number
    for one, other in zip(found((days, amounts, gap)), after, strict=True):
        assert np.abs(np.subtract(one[:3], other[:3])).max() <= 2 * gap


@given(clear_seasons(), st.data())
def test_two_pickings_on_days_running_change_no_flush(drawn: tuple[Season, int], data: st.DataObject) -> None:
    """The second takes what a day has ripened."""
    (days, amounts, gap), number = drawn
    place = data.draw(st.integers(0, len(days) - 1))
    part = amounts[place] / gap
    split = [*amounts[:place], amounts[place] - part, part, *amounts[place + 1 :]]
    assert len(found(([*days[:place], days[place] - 1, *days[place:]], split, gap))) == number


@given(st.integers(1, 10), st.integers(5, 40), st.floats(0.1, 1e4), st.booleans(), st.data())
def test_an_even_crop_is_one_flush(gap: int, number: int, rate: float, running: bool, data: st.DataObject) -> None:
    gaps = data.draw(st.lists(st.integers(1, 3 * gap), min_size=number, max_size=number))
    gaps[0] = gap
    days = (100 + np.cumsum(gaps)).tolist()
    ((start, _, end, amount),) = found((days, [rate * between for between in gaps], gap), running=running)
    assert amount == pytest.approx(rate * sum(gaps))
    # under the kernel an end of the season lies at half of the even rate
    assert start - days[0] <= gap
    assert days[-1] - end <= gap


@pytest.mark.parametrize(("lost", "flushes"), [(1, 1), (2, 1), (3, 2), (4, 2)])
def test_a_pause_in_an_even_crop_counts_from_three_gaps(lost: int, flushes: int) -> None:
    amounts = [100.0] * 10 + [0.0] * lost + [100.0] * 10
    assert len(found(([200 + 7 * place for place in range(len(amounts))], amounts, 7))) == flushes


def test_a_long_pause_without_looks_parts_two_flushes() -> None:
    """The first picking after it gathered little in many days."""
    days = [*range(200, 230, 3), *range(255, 282, 3)]
    first, second = found((days, [100.0] * 10 + [70.0] + [100.0] * 8, 3))
    assert first[2] < 235
    assert second[0] > 245


@pytest.mark.parametrize(("late", "flushes"), [(9.0, 1), (15.0, 2)])
def test_what_holds_less_than_a_tenth_is_no_flush_of_its_own(late: float, flushes: int) -> None:
    days = list(range(200, 200 + 7 * 30, 7))
    amounts = [100.0] * 10 + [0.0] * 10 + [late] * 10
    assert len(found((days, amounts, 7))) == flushes


def test_a_running_season_ends_in_the_open() -> None:
    """An even rate has no end in it, and a new rise at the end is a flush so far."""
    days = list(range(200, 290, 3))
    even = smoothed(curve(days, [30.0] * 30, 3)[0], 4.5, running=True)
    assert even[-30:] == pytest.approx(np.full(30, 10.0))
    rising = [30.0] * 10 + [1.0] * 14 + [10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    assert len(found((days, rising, 3), running=True)) == 2


def test_gaps_too_wide_and_pickings_too_few_are_told() -> None:
    rate, places = curve([200, 203, 206, 209], [9.0] * 4, 3)
    assert cannot_tell(rate, places, 4, 3) == "fewer than 5 pickings"
    rate, places = curve([200, 203, 206, 209, 222, 225, 228], [9.0] * 4 + [20.0] + [9.0] * 2, 3)
    assert "gathered over a gap" in str(cannot_tell(rate, places, 7, 3))
    rate, places = curve([200, 213, 226, 239, 252], [9.0] * 5, 3)
    assert "picked at gaps of over 4 times" in str(cannot_tell(rate, places, 5, 3))


@given(st.lists(st.floats(0, 1000), min_size=8, max_size=60), st.integers(1, 5), st.booleans())
def test_flushes_share_out_days_and_crop(rate: list[float], gap: int, running: bool) -> None:
    per_day = np.repeat([*rate, 1.0], gap)
    parts = waves(per_day, gap, running=running)
    assert parts[0].start == 0
    assert parts[-1].stop == len(per_day) - 1
    for before, after in pairwise(parts):
        assert after.start == before.stop + 1
        assert before.falls < after.rises
    for wave in parts:
        assert wave.start <= wave.rises <= wave.peak <= wave.falls <= wave.stop
        assert wave.amount >= 0.0999 * per_day.sum()
    assert sum(wave.amount for wave in parts) == pytest.approx(per_day.sum())
