"""Water balance against the examples and tables of FAO Irrigation and Drainage Paper 56.

Allen, Pereira, Raes and Smith 1998. The examples as public test suites carry them (that of pyet, of a public R package
for evaporation, and repositories of worked examples); those marked "from memory" were only remembered and computed
again.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pyet
import pytest

from perennia.analysis.causes.water.crop_coefficient import (
    Coefficients,
    Stages,
    climate_step,
    lowest_humidity_pct,
    saturation_kpa,
)
from perennia.analysis.causes.water.evapotranspiration import hargreaves, penman_monteith, reference_et
from perennia.analysis.causes.water.root_zone import (
    DayInput,
    balance,
    depletion_fraction,
    stress_coefficient,
    total_available_mm,
)
from perennia.analysis.causes.water.soils import soil_of
from perennia.errors import AnalysisError


def day(text: str, **measured: float) -> pd.DataFrame:
    nothing = dict.fromkeys(("t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s", "solar_mj_m2"), np.nan)
    return pd.DataFrame({**nothing, **measured}, index=pd.DatetimeIndex([text]))


def test_examples_2_and_4_pressure() -> None:
    assert pyet.calc_press(1800) == pytest.approx(81.8, abs=0.05)
    assert pyet.calc_psy(pyet.calc_press(1800)) == pytest.approx(0.054, abs=5e-4)
    assert pyet.calc_press(1200) == pytest.approx(87.9, abs=0.05)


def test_example_3_saturation() -> None:
    assert saturation_kpa(24.5) == pytest.approx(3.075, abs=1e-3)
    assert saturation_kpa(15) == pytest.approx(1.705, abs=1e-3)
    assert pyet.calc_es(tmax=24.5, tmin=15.0) == pytest.approx(2.39, abs=5e-3)
    # the way that gives too little
    assert saturation_kpa(19.75) == pytest.approx(2.30, abs=5e-3)


def test_example_5_vapour_pressure() -> None:
    assert pyet.calc_ea(tmax=25.0, tmin=18.0, rhmax=82.0, rhmin=54.0) == pytest.approx(1.70, abs=5e-3)
    assert pyet.calc_ea(tmax=25.0, tmin=18.0, rh=68.0) == pytest.approx(1.78, abs=5e-3)


def test_examples_8_and_9_radiation_outside_the_air() -> None:
    index = pd.DatetimeIndex(["2015-09-03"])
    assert pyet.extraterrestrial_r(index, math.radians(-20)).iloc[0] == pytest.approx(32.2, abs=0.05)
    assert float(np.asarray(pyet.daylight_hours(index, math.radians(-20)))[0]) == pytest.approx(11.7, abs=0.05)


def test_examples_10_to_12_radiation_at_the_ground() -> None:
    """Extraterrestrial, clear-sky and net radiation from memory."""
    index = pd.DatetimeIndex(["2015-05-15"])
    low, high, sun = (pd.Series(value, index=index) for value in (19.1, 25.1, 7.1))
    outside = pyet.extraterrestrial_r(index, math.radians(-22.9)).iloc[0]
    assert outside == pytest.approx(25.1, abs=0.05)
    solar = pyet.calc_rad_sol_in(sun, math.radians(-22.9))
    assert float(np.asarray(solar)[0]) == pytest.approx(14.5, abs=0.05)
    net = pyet.calc_rad_net(
        (low + high) / 2, rs=solar, lat=math.radians(-22.9), tmax=high, tmin=low, ea=pd.Series(2.1, index=index),
        elevation=0,
    )  # fmt: skip
    assert float(np.asarray(net)[0]) == pytest.approx(7.6, abs=0.1)


def april_in_bangkok() -> dict[str, float]:
    return {"t_min_c": 25.6, "t_max_c": 34.8, "wind_m_s": 2.0, "solar_mj_m2": 22.65}


def test_example_17_penman_monteith_of_a_month() -> None:
    """The example takes off the heat that goes into the soil over a month, 0.14 MJ, which days have not."""
    index = pd.DatetimeIndex(["2015-04-15"])
    low, high, mean = 25.6, 34.8, 30.2
    outside = pyet.extraterrestrial_r(index, math.radians(13.73)).iloc[0]
    assert outside == pytest.approx(38.06, abs=0.02)
    solar = (0.25 + 0.5 * 8.5 / 12.31) * outside
    assert solar == pytest.approx(22.65, abs=0.02)
    (found,) = penman_monteith(day("2015-04-15", **april_in_bangkok()), 13.73, 2, ea_kpa=2.85)
    slope = 4098 * saturation_kpa(mean) / (mean + 237.3) ** 2
    psychrometric = 0.000665 * 101.3
    into_soil = 0.408 * slope * 0.14 / (slope + psychrometric * (1 + 0.34 * 2))
    assert found - into_soil == pytest.approx(5.72, abs=0.02)
    assert (saturation_kpa(low) + saturation_kpa(high)) / 2 == pytest.approx(4.42, abs=0.005)


def test_example_18_penman_monteith_of_a_day() -> None:
    measured = {"t_min_c": 12.3, "t_max_c": 21.5, "wind_m_s": 2.078, "solar_mj_m2": 22.07}
    (found,) = penman_monteith(day("2015-07-06", **measured), 50.8, 100, ea_kpa=1.409)
    assert found == pytest.approx(3.88, abs=0.01)
    # the way of the question, whose only humidity is the mean of the day, comes near
    (by_mean,) = penman_monteith(day("2015-07-06", rh_pct=100 * 1.409 / 1.997, **measured), 50.8, 100)
    assert by_mean == pytest.approx(3.88, abs=0.01)


def test_example_20_hargreaves_and_penman_monteith_with_little_known() -> None:
    lyon = day("2015-07-15", t_min_c=14.8, t_max_c=26.6)
    assert hargreaves(lyon, 45.72)[0] == pytest.approx(5.0, abs=0.05)
    solar = 0.16 * math.sqrt(26.6 - 14.8) * pyet.extraterrestrial_r(lyon.index, math.radians(45.72)).iloc[0]
    assert solar == pytest.approx(22.3, abs=0.05)
    lyon = lyon.assign(wind_m_s=2.0, solar_mj_m2=solar)
    (found,) = penman_monteith(lyon, 45.72, 200, ea_kpa=saturation_kpa(14.8))
    assert found == pytest.approx(4.56, abs=0.05)


def test_each_day_goes_by_the_best_method_it_has_the_figures_for() -> None:
    whole = day("2015-07-06", t_min_c=12.3, t_max_c=21.5, wind_m_s=2.0, solar_mj_m2=22.0, rh_pct=70.0)
    days = pd.concat([whole, whole.assign(wind_m_s=np.nan), whole.assign(t_min_c=np.nan)])
    days.index = pd.date_range("2015-07-06", periods=3)
    found = reference_et(days, 50.8, 100)
    assert found["et0_method"].tolist()[:2] == ["Penman-Monteith", "Hargreaves"]
    assert found["et0_mm"].isna().tolist() == [False, False, True]
    assert found["et0_method"].isna().tolist() == [False, False, True]
    without_height = reference_et(days, 50.8, None)
    assert without_height["et0_method"].tolist()[:2] == ["Hargreaves", "Hargreaves"]
    assert without_height["et0_mm"].iloc[0] == pytest.approx(found["et0_mm"].iloc[1], rel=0.01)


@pytest.mark.parametrize(("wind", "humidity", "expected"), [(1.3, 75, 1.07), (4.6, 44, 1.30)])
def test_example_27_a_coefficient_in_another_climate(wind: float, humidity: float, expected: float) -> None:
    """Maize, 2 m high, 1.20 in the table; inputs from memory."""
    assert 1.2 + climate_step(wind, humidity, 2) == pytest.approx(expected, abs=0.005)
    assert Coefficients(0.3, 1.2, 0.35).in_climate(wind, humidity, 2) == Coefficients(
        0.3, 1.2 + climate_step(wind, humidity, 2), 0.35
    )
    assert Coefficients(0.3, 1.2, 0.6).in_climate(wind, humidity, 2).end != 0.6


def test_lowest_humidity_of_a_day_whose_dew_point_is_its_minimum() -> None:
    """Equation 64 with the saturation pressures of example 3: 100 x 1.705 / 3.075."""
    assert lowest_humidity_pct(15, 24.5) == pytest.approx(55.4, abs=0.1)


@pytest.mark.parametrize(("number", "expected"), [(20, 0.15), (40, 0.77), (70, 1.19), (95, 0.56), (100, 0.35)])
def test_example_28_the_coefficient_of_a_day(number: int, expected: float) -> None:
    """Dry beans, stages of 25, 25, 30 and 20 days."""
    assert Coefficients(0.15, 1.19, 0.35).at(number, Stages(25, 25, 30, 20)) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("water", "expected", "readily"), [
    # onion and maize from memory
    ((0.15, 0.06), (72, 36, 108), (29, 11, 59)), ((0.32, 0.15), (136, 68, 204), (54, 20, 112)),
    ((0.35, 0.23), (96, 48, 144), (38, 14, 79)),
])  # fmt: skip
def test_example_36_available_water(
    water: tuple[float, float], expected: tuple[float, ...], readily: tuple[float, ...]
) -> None:
    """Tomato, onion and maize, full grown, on loamy sand, silt and silty clay."""
    for (depth, fraction), total, ready in zip([(0.8, 0.4), (0.4, 0.3), (1.2, 0.55)], expected, readily, strict=True):
        found = total_available_mm(*water, depth)
        assert found == pytest.approx(total)
        assert fraction * found == pytest.approx(ready, abs=0.5)


def test_example_37_ten_days_without_water() -> None:
    """Tomato on silt, wilting point 0.12, p held at 0.40, 5 mm a day, coefficient 1.2, 55 mm lacking at the start."""
    total = total_available_mm(0.32, 0.12, 0.8)
    found = [today for today in balance([DayInput(5 * 1.2, 0.0, 0.4)] * 10, total, 55.0) if today is not None]
    assert total == pytest.approx(160)
    assert found[0].raw_mm == pytest.approx(64)
    assert [today.depletion_mm for today in found] == pytest.approx(
        [61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5], abs=0.051
    )
    assert [today.ks for today in found] == pytest.approx(
        [1, 1, 0.97, 0.91, 0.85, 0.80, 0.75, 0.70, 0.66, 0.62], abs=0.0051
    )


def test_p_is_that_of_the_table_at_5_mm_and_kept_within_bounds() -> None:
    """Note to table 22."""
    assert [depletion_fraction(0.45, etc) for etc in (5, 8, 2, 20)] == pytest.approx([0.45, 0.33, 0.57, 0.1])
    assert depletion_fraction(0.7, 0) == 0.8
    assert stress_coefficient(64, 160, 0.4) == 1
    assert stress_coefficient(160, 160, 0.4) == 0


def test_table_19_soils() -> None:
    """The middle of the ranges of an open copy of table 19."""
    found = {name: soil_of(name, None, None, "B1") for name in ("sand", "loam", "silty clay loam")}
    assert [(soil.theta_fc, soil.theta_wp) for soil in found.values()] == [
        pytest.approx(both) for both in ((0.12, 0.045), (0.25, 0.12), (0.335, 0.205))
    ]
    assert soil_of("Silty clay, wet in winter", None, None, "B1").name == "silty clay"
    for text in ("volcanic loam", "clay loam", "bark and compost"):
        with pytest.raises(AnalysisError, match="give soil as one of sand, loamy sand"):
            soil_of(text, None, None, "B1")
