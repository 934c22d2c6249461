"""Frost dates: which frost counts in which year, gaps, few years, both hemispheres, and intervals that hold."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis import frost_dates
from perennia.analysis.causes.warmth.frost_quantiles import day_quantile
from perennia.analysis.causes.warmth.frost_years import FrostHalves, day_number, frost_halves, month_day
from perennia.errors import AnalysisError, ArgumentError, UnknownLabelError
from perennia.records.places import Site
from perennia.records.weather import Weather
from tests.analysis.built_source import source_of

SAMPLES = st.lists(st.integers(1, 181).map(float), min_size=10, max_size=40)


@given(SAMPLES, st.floats(0.02, 0.98), st.floats(0.9, 0.99))
def test_the_interval_holds_the_quantile_and_widens_with_the_level(
    days: list[float], share: float, level: float
) -> None:
    found, wider = day_quantile(days, share, level), day_quantile(days, share, (1 + level) / 2)
    assert found.low <= found.day <= found.high
    assert wider.low <= found.low
    assert found.high <= wider.high


@given(SAMPLES, st.floats(0.02, 0.98), st.floats(0.02, 0.98))
def test_a_larger_share_is_no_sooner(days: list[float], one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert day_quantile(days, less, 0.9).day <= day_quantile(days, more, 0.9).day + 1e-9


@pytest.mark.parametrize(("n", "share"), [(10, 0.5), (25, 0.9), (41, 0.1), (60, 0.5)])
def test_intervals_hold_at_least_as_often_as_they_say(n: int, share: float) -> None:
    """4,000 samples of a skew distribution whose quantile is known; 3 standard errors of leeway."""
    draws = np.random.default_rng(7).exponential(size=(4000, n))
    truth = -math.log(1 - share)
    intervals = [day_quantile(draw.tolist(), share, 0.9) for draw in draws]
    held = np.mean([found.low <= truth <= found.high for found in intervals])
    assert held >= 0.9 - 3 * math.sqrt(0.9 * 0.1 / 4000)


def test_few_years_bound_no_rare_day() -> None:
    assert day_quantile([90.0] * 10, 0.9, 0.95).high == math.inf
    assert day_quantile([90.0] * 40, 0.9, 0.95).high == 90


def test_a_year_without_frost_is_sooner_than_all_others() -> None:
    days = [-math.inf] * 3 + [float(day) for day in range(80, 90)]
    assert day_quantile(days, 0.1, 0.9).day == -math.inf
    assert day_quantile(days, 0.9, 0.9).day == pytest.approx(87.8)


@given(st.dates(date(1990, 1, 1), date(2030, 12, 31)), st.booleans())
def test_numbers_of_days_lead_back_to_the_day(day: date, south: bool) -> None:
    number = day_number(pd.Timestamp(day), south)
    back = month_day(number, south)
    leap = (day.month, day.day) == (2, 29)
    assert 1 <= number <= 365
    assert (back.month, back.day) == ((2, 28) if leap else (day.month, day.day))


def minima(first: str, last: str, frosts: tuple[str, ...], gaps: tuple[str, ...] = ()) -> pd.Series[float]:
    days = pd.Series(10.0, index=pd.date_range(first, last))
    days[list(pd.to_datetime(list(frosts)))] = -1.0
    days[list(pd.to_datetime(list(gaps)))] = float("nan")
    return days


def springs(days: pd.Series[float], **given: bool) -> FrostHalves:
    options = {"inclusive": False, "south": False, **given}
    return frost_halves(days, 0.0, half="spring", **options)


def test_the_last_of_spring_and_the_first_of_autumn() -> None:
    days = minima("2020-01-01", "2021-12-31", ("2020-01-10", "2020-04-06", "2020-10-20", "2020-11-01", "2021-05-01"))
    assert springs(days).days == [day_number(pd.Timestamp("2020-04-06"), False), 121]
    autumn = frost_halves(days, 0.0, inclusive=False, south=False, half="autumn")
    assert autumn.days == [293, math.inf]
    assert [year.on for year in autumn.years] == [pd.Timestamp("2020-10-20"), None]


def test_a_frost_at_the_threshold_counts_only_when_asked() -> None:
    days = minima("2020-01-01", "2020-12-31", ("2020-04-06",))
    days[pd.Timestamp("2020-05-01")] = 0.0
    assert springs(days).days == [96]
    assert springs(days, inclusive=True).days == [121]


def test_south_of_the_equator_spring_is_the_end_of_the_calendar_year() -> None:
    days = minima("2019-07-01", "2021-06-30", ("2019-09-20", "2020-05-02", "2020-10-01", "2021-04-15"))
    spring = springs(days, south=True)
    assert [(year.season, year.on) for year in spring.years] == [
        (2019, pd.Timestamp("2019-09-20")), (2020, pd.Timestamp("2020-10-01"))
    ]  # fmt: skip
    autumn = frost_halves(days, 0.0, inclusive=False, south=True, half="autumn")
    assert [(year.season, year.on) for year in autumn.years] == [
        (2019, pd.Timestamp("2020-05-02")), (2020, pd.Timestamp("2021-04-15"))
    ]  # fmt: skip


def test_a_gap_where_a_frost_could_lie_leaves_the_year_out_and_another_does_not() -> None:
    frosts = ("2020-04-06", "2021-04-20", "2022-04-10")
    days = minima("2020-01-01", "2022-12-31", frosts, ("2020-01-05", "2021-05-05", "2022-02-01"))
    found = springs(days)
    assert [year.day for year in found.years] == [96, None, 100]
    assert [year.missing for year in found.years] == [0, 1, 0]
    # the frost of the year that is left out is not hidden
    assert found.years[1].on == pd.Timestamp("2021-04-20")


def test_a_record_that_begins_in_spring_counts_and_a_running_year_does_not() -> None:
    days = pd.concat([
        minima("2020-03-01", "2020-11-30", ("2020-04-06",)), minima("2021-03-01", "2021-04-25", ("2021-04-20",)),
    ]).asfreq("D")  # fmt: skip
    assert [year.day for year in springs(days).years] == [96, None]


def test_a_winter_frost_of_a_year_that_breaks_off_asks_no_more_of_the_others() -> None:
    days = pd.concat([
        minima("2020-03-01", "2020-11-30", ("2020-04-06",)), minima("2021-01-01", "2021-01-10", ("2021-01-05",)),
    ]).asfreq("D")  # fmt: skip
    found = springs(days)
    assert [year.day for year in found.years] == [96, None]
    assert (found.whole_from, found.whole_to) == (96, 181)


def garden_of(years: int, **site: float) -> list[Weather]:
    """One spring frost a year, a day later each year, on 10 April and after, and one autumn frost on 20 October."""
    found = []
    for number in range(years):
        for day in pd.date_range(f"{2000 + number}-04-01", f"{2000 + number}-10-31"):
            frost = day.date() in (date(2000 + number, 4, 10) + timedelta(number), date(2000 + number, 10, 20))
            found.append(Weather(day.date(), site="plot", t_min_c=-1.0 if frost else 6.0))
    return found


def test_a_site_with_enough_years() -> None:
    with source_of(*garden_of(20)) as source:
        answer = frost_dates(source, "plot")
        rarer = frost_dates(source, "plot", risk=0.25)
        narrower = frost_dates(source, "plot", level=0.5)
        warmer = frost_dates(source, "plot", 7.0)
        with pytest.raises(AnalysisError, match=r"0\.1 is usual"):
            frost_dates(source, "plot", risk=1.5)
        with pytest.raises(AnalysisError, match=r"0\.95 is usual"):
            frost_dates(source, "plot", level=0)
        with pytest.raises(ArgumentError, match="threshold is 'cold'"):
            frost_dates(source, "plot", "cold")  # type: ignore[arg-type]
        with pytest.raises(UnknownLabelError, match="its sites are plot"):
            frost_dates(source, "B1")
    spring = answer.table[answer.table["half"] == "spring"].set_index("share")
    assert spring["day"].to_dict() == {0.1: "04-12", 0.5: "04-20", 0.9: "04-28"}
    assert spring["day_number"].tolist() == pytest.approx([101.9, 109.5, 117.1])
    assert (answer.plant_out_from, answer.lift_by) == ("04-29", "10-19")
    assert (answer.n, len(answer.years)) == (20, 40)
    assert "would meet a later frost in 10% of such years" in answer.summary()
    # the ninth year in ten cannot be bounded from above by 20 years
    assert pd.isna(spring["high"].loc[0.9])
    assert "not bounded" in answer.findings[0]
    assert rarer.plant_out_from == "04-26"
    inner = narrower.table[narrower.table["half"] == "spring"].set_index("share")
    assert inner["low"].loc[0.5] > spring["low"].loc[0.5]
    assert warmer.table["day"].tolist() != answer.table["day"].tolist()


def test_a_site_south_of_the_equator_plants_out_in_its_own_spring() -> None:
    days = [
        Weather(day.date(), site="sur", t_min_c=-1.0 if (day.month, day.day) in ((10, 5), (5, 20)) else 6.0)
        for year in range(2000, 2012) for day in pd.date_range(f"{year}-09-20", f"{year + 1}-05-31")
    ]  # fmt: skip
    with source_of(Site("sur", latitude=-40.0), *days) as source:
        answer = frost_dates(source, "sur")
    assert (answer.plant_out_from, answer.lift_by) == ("10-06", "05-19")
    assert (answer.n, answer.years["season"].min()) == (12, 2000)


def test_few_years_tell_their_range_and_no_quantile() -> None:
    with source_of(*garden_of(4)) as source:
        answer = frost_dates(source, "plot")
    assert answer.table["day"].isna().all()
    assert set(answer.table["withheld"]) == {"4 years that count; at least 10 are needed"}
    assert (answer.plant_out_from, answer.lift_by) == (None, None)
    assert "between 10 April and 13 April; that of a coming year is later than all of them with a chance of 1 in 5" in (
        answer.summary()
    )


def test_a_site_that_cannot_be_asked() -> None:
    with source_of(Site("moor"), Weather("2020-01-01", site="plot", rain_mm=1.0)) as source:
        with pytest.raises(AnalysisError, match="moor has no latitude"):
            frost_dates(source, "moor")
        with pytest.raises(AnalysisError, match="no lowest temperature is recorded of plot"):
            frost_dates(source, "plot")
