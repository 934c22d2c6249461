"""The water of a bed: laws of the balance, what each record changes, and what is said where something is not known."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis import WaterBalance, water_balance
from perennia.analysis.causes.water.crop_coefficient import Coefficients, Stages
from perennia.analysis.causes.water.root_zone import DayInput, RootZoneDay, balance, depletion_fraction
from perennia.errors import AnalysisError, ArgumentError, UnknownLabelError
from perennia.records.base import Record
from perennia.records.care import Covered, Noted, Uncovered, Watered
from perennia.records.flowering import FlowerFate
from perennia.records.harvest import Picked
from perennia.records.life import AlreadyHere
from perennia.records.places import Bed, Site
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN, PLACES, BuiltSource, day, source_of, sown
from tests.queries.built_views import built, with_ids

TAW = st.floats(5, 200)
FRACTIONS = st.floats(0.1, 0.7)
WATER = st.one_of(st.just(0.0), st.floats(0, 40))
INPUTS = st.lists(st.tuples(st.floats(0, 12), WATER), min_size=1, max_size=25)


def inputs(days: list[tuple[float, float]], fraction: float) -> list[DayInput]:
    return [DayInput(etc, water, depletion_fraction(fraction, etc)) for etc, water in days]


def known(days: list[RootZoneDay | None]) -> list[RootZoneDay]:
    return [day for day in days if day is not None]


@given(INPUTS, FRACTIONS, TAW, st.floats(0, 1))
def test_no_water_is_made_or_lost_and_all_stays_within_its_bounds(
    days: list[tuple[float, float]], fraction: float, taw: float, start: float
) -> None:
    found = known(balance(inputs(days, fraction), taw, start * taw))
    depletion = start * taw
    for (etc, water), today in zip(days, found, strict=True):
        assert 0 <= today.ks <= 1
        assert 0 <= today.depletion_mm <= taw + 1e-9
        assert 0 <= today.et_mm <= etc + 1e-9
        assert today.percolation_mm == 0 or today.depletion_mm == 0
        gained = water - today.et_mm - today.percolation_mm
        assert today.depletion_mm == pytest.approx(depletion - gained, abs=1e-9)
        depletion = today.depletion_mm


@given(INPUTS, FRACTIONS, TAW, st.floats(0, 1), st.integers(0, 24), st.floats(0, 30))
def test_more_water_never_makes_more_stress(
    days: list[tuple[float, float]], fraction: float, taw: float, start: float, which: int, more: float
) -> None:
    watered = [(etc, water + more * (place == which)) for place, (etc, water) in enumerate(days)]
    less, added = (known(balance(inputs(every, fraction), taw, start * taw)) for every in (days, watered))
    for before, after in zip(less, added, strict=True):
        assert after.ks >= before.ks - 1e-9
        assert after.depletion_mm <= before.depletion_mm + 1e-9
    for so_far in range(1, len(days) + 1):
        asked_before, asked_after = (sum(today.extra_mm for today in every[:so_far]) for every in (less, added))
        assert asked_after <= asked_before + 1e-6


@given(INPUTS, FRACTIONS, TAW)
def test_the_extra_watering_keeps_ks_at_1_and_no_less_does(
    days: list[tuple[float, float]], fraction: float, taw: float
) -> None:
    extra = [today.extra_mm for today in known(balance(inputs(days, fraction), taw, 0.0))]
    # water by the morning is water of the evening before
    given_before = [*extra[1:], 0.0]
    watered = [(etc, water + more) for (etc, water), more in zip(days, given_before, strict=True)]
    assert all(today.ks > 1 - 1e-9 for today in known(balance(inputs(watered, fraction), taw, 0.0)))
    for place, more in enumerate(given_before):
        if more > 0.01:
            short = [(etc, water - more / 2 * (other == place)) for other, (etc, water) in enumerate(watered)]
            assert min(today.ks for today in known(balance(inputs(short, fraction), taw, 0.0))) < 1
            return


@given(INPUTS, INPUTS, FRACTIONS, TAW, st.floats(0, 1))
def test_after_a_day_not_known_nothing_is_told_that_could_be_otherwise(
    before: list[tuple[float, float]], after: list[tuple[float, float]], fraction: float, taw: float, lacking: float
) -> None:
    """What is told after the gap is so whatever the soil held when it ended."""
    days = [*inputs(before, fraction), DayInput(math.nan, 0.0, math.nan), *inputs(after, fraction)]
    found = balance(days, taw, 0.0)
    assert found[len(before)] is None
    told = found[len(before) + 1 :]
    for true, seen in zip(balance(inputs(after, fraction), taw, lacking * taw), told, strict=True):
        assert true is not None
        if seen is not None:
            assert seen.depletion_mm == pytest.approx(true.depletion_mm, abs=1e-6)
            assert seen.ks == pytest.approx(true.ks, abs=1e-6)


def test_a_soaking_makes_the_balance_known_again() -> None:
    found = balance([DayInput(5, 0, 0.4), DayInput(math.nan, 0, 0.4), DayInput(5, 60, 0.4), DayInput(5, 50, 0.4),
                     DayInput(5, 0, 0.4)], 100.0, 0.0)  # fmt: skip
    assert [today is None for today in found] == [False, True, True, True, False]
    assert known(found)[-1].depletion_mm == 5


@given(st.integers(1, 200), st.lists(st.integers(1, 60), min_size=4, max_size=4))
def test_a_coefficient_lies_between_those_of_its_stages(number: int, days: list[int]) -> None:
    stages, kc = Stages(*days), Coefficients(0.5, 1.05, 0.9)
    assert 0.5 <= kc.at(number, stages) <= 1.05
    assert kc.at(stages.initial + stages.development, stages) == 1.05
    assert kc.at(stages.total, stages) == pytest.approx(0.9)
    assert stages.lasting(stages.total + 7).total == stages.total + 7
    assert stages.mid_begins_after(10).initial + stages.mid_begins_after(10).development == 10


def weather(first: int = 0, last: int = 89, rain: dict[int, float | None] | None = None) -> list[Weather]:
    return [
        Weather(day(number), site="field", t_min_c=12.0, t_max_c=28.0, rain_mm=(rain or {}).get(number, 0.0))
        for number in range(first, last + 1)
    ]


FIELD: tuple[Record, ...] = (
    Site("field", latitude=45.0, elevation_m=100.0), Bed("F1", "field", area_m2=10.0, soil="Loam, stony"),
    Bed("F2", "field", cover="tunnel", area_m2=10.0, soil="loam"), Bed("F3", "field", soil="peat"),
    sown("A1", "F1"), sown("A2", "F1"),
)  # fmt: skip
ASKED_OF = ("sites", "beds", "weather", "care", "plants", "life", "flowering", "plant_seasons", "season_summary")
SOON_OVER = Noted(date(2024, 2, 1), bed="F1", what="dug over")


@contextmanager
def field(*records: Record, days: list[Weather] | None = None) -> Iterator[BuiltSource]:
    every = [*PLACES, *FIELD, *(weather() if days is None else days), SOON_OVER, *records]
    with built(with_ids(every), ASKED_OF) as connection:
        yield BuiltSource(connection)


def asked(*records: Record, days: list[Weather] | None = None, **options: Any) -> WaterBalance:
    with field(*records, days=days) as source:
        return water_balance(source, options.pop("bed", "F1"), 2023, **options)


def test_a_season_worked_by_hand() -> None:
    answer = asked(Watered(day(10), bed="F1", mm=8.0), Watered(day(20), bed="F1", litres=50.0))
    table = answer.table.set_index("on")
    # loam, the middle of its range, and roots to 0.6 m
    assert answer.taw_mm == pytest.approx(1000 * (0.25 - 0.12) * 0.6)
    assert len(table) == 90
    assert table["stage"].value_counts().to_dict() == {"initial": 20, "development": 30, "mid": 30, "late": 10}
    assert table["watering_mm"].loc[[str(day(10)), str(day(20))]].tolist() == [8.0, 5.0]
    first = table.iloc[0]
    assert first["etc_mm"] == pytest.approx(0.5 * first["et0_mm"])
    assert first["raw_mm"] == pytest.approx((0.45 + 0.04 * (5 - first["etc_mm"])) * answer.taw_mm)
    assert first["depletion_mm"] == pytest.approx(first["etc_mm"])
    assert set(table["et0_method"]) == {"Hargreaves"}
    stressed = table[table["ks"] < 1]
    assert answer.stress_days == len(stressed) > 0
    assert answer.stress_mm == pytest.approx((stressed["etc_mm"] - stressed["et_mm"]).sum())
    assert answer.extra_watering_litres == pytest.approx(10 * table["extra_watering_mm"].sum())
    assert (answer.n, answer.missing, answer.ground_m2) == (90, 0, 10.0)
    summary = answer.summary()
    assert f"{answer.stress_days} of 90 days known were short of water" in summary
    assert "goes by temperatures alone (Hargreaves), since humidity, wind or radiation is not recorded" in summary
    assert "No watering is written down" not in summary


def test_rain_and_watering_take_stress_away() -> None:
    dry = asked()
    wet = asked(days=weather(rain=dict.fromkeys(range(0, 90, 3), 20.0)))
    assert "No watering is written down in the garden" in dry.summary()
    assert (wet.stress_days, wet.extra_watering_mm) == (0, 0)
    assert "none of 90 days known was short of water. No further" in " ".join(wet.findings)
    assert wet.table["percolation_mm"].sum() > 0
    # what was said to keep it from stress does
    extra = dry.table[dry.table["extra_watering_mm"] > 0]
    by_the_evening_before = [
        Watered(row.on.date() - timedelta(1), bed="F1", mm=row.extra_watering_mm) for row in extra.itertuples()
    ]
    assert asked(*by_the_evening_before).table["ks"].min() > 1 - 1e-9


def test_no_rain_under_a_cover_and_less_evapotranspiration() -> None:
    rain = {**dict.fromkeys(range(0, 90, 3), 20.0), 5: None}
    with field(sown("T1", "F2"), days=weather(rain=rain)) as source:
        outside, inside = water_balance(source, "F1", 2023), water_balance(source, "F2", 2023)
        own = water_balance(source, "F2", 2023, cover_rain={"tunnel": 0.5}, cover_et={"tunnel": 1})
    assert inside.table["rain_mm"].sum() == 0
    # rain that is not known does not matter there
    assert (inside.missing, outside.missing > 0) == (0, True)
    assert inside.table["etc_mm"].iloc[0] == pytest.approx(0.7 * outside.table["etc_mm"].iloc[0])
    assert "tunnel: 0 of the rain, 0.7 of the evapotranspiration outside" in inside.summary()
    assert own.table["rain_mm"].sum() == pytest.approx(300)
    assert own.table["etc_mm"].iloc[0] == pytest.approx(outside.table["etc_mm"].iloc[0])


def test_a_cover_put_on_and_taken_off_counts_from_its_day() -> None:
    answer = asked(
        Covered(day(5), bed="F1", cover="tunnel"), Uncovered(day(8), bed="F1"),
        days=weather(rain=dict.fromkeys(range(90), 1.0)),
    )  # fmt: skip
    assert answer.table["rain_mm"].tolist()[4:9] == [1, 0, 0, 0, 1]
    assert answer.table["cover"].tolist()[4:9] == ["open", "tunnel", "tunnel", "tunnel", "open"]


def test_water_given_to_labels_is_spread_over_the_bed() -> None:
    answer = asked(
        Watered(day(10), labels=["A1", "A2"], litres=40.0), Watered(day(12), labels=["A1"], mm=6.0),
        Watered(f"{day(20)}/{day(22)}", bed="F1", mm=7.0), Watered(day(30), bed="F2", mm=9.0),
    )  # fmt: skip
    given_mm = answer.table["watering_mm"]
    assert [given_mm[number] for number in (10, 12, 21, 30)] == [4, 3, 7, 0]
    assert "1 watering dated by a span" in answer.summary()


def test_a_watering_without_depth_leaves_the_days_after_it_unknown() -> None:
    answer = asked(
        sown("B1", "F3"), Watered(day(10), bed="F3", litres=40.0), Watered(day(10), bed="F3", mm=3.0),
        bed="F3", soil="loam",
    )  # fmt: skip
    assert answer.table["missing"].notna().tolist() == [False] * 10 + [True] * 80
    assert answer.table["missing"].iloc[10] == "a watering has no depth"
    assert "1 watering in litres cannot be turned to mm" in answer.summary()
    assert (answer.ground_m2, answer.extra_watering_litres) == (None, None)
    assert answer.table["extra_watering_litres"].isna().all()


def test_a_day_not_recorded_is_missing_and_counted_and_the_balance_can_begin_later() -> None:
    days = weather(0, 29) + weather(31, 89, rain={40: None})
    answer = asked(days=days)
    assert answer.table["missing"].notna().tolist() == [False] * 30 + [True] * 60
    assert (answer.n, answer.missing) == (30, 60)
    no_rain = "no rain is recorded, nor that there was none"
    assert answer.table["missing"].iloc[30] == f"a temperature is not recorded; {no_rain}"
    assert answer.table["missing"].iloc[40] == no_rain
    assert answer.table["missing"].iloc[31] == "not known since an earlier day"
    assert answer.table["ks"].isna().sum() == 60
    text = answer.summary()
    assert f"missing on 2 days only, {day(30)}, {day(40)} (a temperature is not recorded; {no_rain})" in text
    assert f"with nothing missing runs from {day(41)} to {day(89)}" in text
    unstressed = asked(days=weather(0, 4) + weather(6, 89)).summary()
    assert "none of 5 days known was short of water; of the other 85 of the season nothing can be said" in unstressed
    assert "On these days no further watering was needed." in unstressed
    later = asked(days=days, since=day(41), start_depletion_mm=20)
    assert (len(later.table), later.missing) == (49, 0)
    # the stages go on from the sowing all the same
    assert later.table["stage"].iloc[0] == "development"
    assert later.table["depletion_mm"].iloc[0] == pytest.approx(20 + later.table["et_mm"].iloc[0])


def test_stages_go_by_flowers_and_pickings() -> None:
    flower = FlowerFate("A1", "1", 1, opened_on=day(40), ended_on=day(45), end="flower dropped")
    answer = asked(flower, Picked("A1", day(109), grams=100.0), days=weather(0, 130))
    assert answer.table["stage"].value_counts().to_dict() == {"initial": 16, "development": 24, "mid": 60, "late": 10}
    assert answer.table["kc"].iloc[39] == pytest.approx(1.05)
    assert f"mid-season from {day(40)}" in answer.summary()


def test_stages_begin_and_flowers_count_when_half_the_plants_have_them() -> None:
    later = [sown(f"A{number}", "F1", on=day(4 * (number - 2))) for number in (3, 4, 5)]
    flowers = [
        FlowerFate(f"A{number}", "1", 1, opened_on=day(opened), ended_on=day(opened + 5), end="flower dropped")
        for number, opened in ((3, 40), (4, 42), (5, 70), (2, 80))
    ]
    told = asked(*later, *flowers).summary()
    # sown on days 0, 0, 4, 8 and 12; two of five had flowered by day 42, three by day 70, four by day 80
    assert f"counted from {day(4)}" in told
    assert f"mid-season from {day(70)}" in told
    few = asked(*later, *flowers[:2]).summary()
    assert "mid-season begins by the days of the profile" in few


def test_a_running_season_ends_with_its_weather() -> None:
    with source_of(*FIELD, *weather(0, 39)) as source:
        answer = water_balance(source, "F1", 2023)
    assert (len(answer.table), answer.missing) == (40, 0)


def test_the_growers_own_figures_take_the_place_of_the_profiles() -> None:
    with field() as source:
        plain = water_balance(source, "F1", 2023)
        own = water_balance(
            source, "F1", 2023, theta_fc=0.3, theta_wp=0.1, kc=(0.6, 1.2, 0.8), stage_days=(10, 20, 40, 20),
            root_depth_m=0.5, depletion_fraction=0.3,
        )  # fmt: skip
        clay = water_balance(source, "F1", 2023, soil="clay")
        with pytest.raises(AnalysisError, match="crop_height_m fits the coefficients to the wind"):
            water_balance(source, "F1", 2023, crop_height_m=2.0)
    assert own.taw_mm == pytest.approx(100)
    assert own.table["kc"].iloc[[0, 40]].tolist() == [0.6, 1.2]
    assert own.table["raw_mm"].iloc[0] == pytest.approx(100 * (0.3 + 0.04 * (5 - own.table["etc_mm"].iloc[0])))
    assert "Figures of the crop by its profile" in plain.summary()
    assert "Figures of the crop by its profile" not in own.summary()
    assert clay.taw_mm == pytest.approx(1000 * (0.36 - 0.22) * 0.6)
    windy = [Weather(today.on, site="field", t_min_c=12, t_max_c=28, rain_mm=0, wind_m_s=5) for today in weather()]
    assert asked(days=windy, crop_height_m=2.0).table["kc"].iloc[60] > 1.05


def test_what_cannot_be_reckoned_is_said() -> None:
    two_crops = (sown("C1", "F2", crop="Rheum x hybridum"), sown("C2", "F2"))
    with field(sown("P1", "F3"), *two_crops, sown("D1")) as source:
        with pytest.raises(AnalysisError, match="'peat', is in no table used here; give soil as one of sand"):
            water_balance(source, "F3", 2023)
        with pytest.raises(AnalysisError, match="F2 held several crops that season; give crop as one of Phaseolus"):
            water_balance(source, "F2", 2023)
        with pytest.raises(AnalysisError, match="profile of Rheum x hybridum does not say enough; give stage_days"):
            water_balance(source, "F2", 2023, crop="Rheum x hybridum")
        with pytest.raises(AnalysisError, match="nothing is known to have grown in F1 in 2019; what is known of it is"):
            water_balance(source, "F1", 2019)
        with pytest.raises(AnalysisError, match="no weather is recorded of plot, the site of B1"):
            water_balance(source, "B1", 2023, soil="loam")
        with pytest.raises(AnalysisError, match="runs from 2023-05-01 to 2023-07-29"):
            water_balance(source, "F1", 2023, since="2022-01-01")
        with pytest.raises(UnknownLabelError, match="its beds are B1, B2, B3, F1"):
            water_balance(source, "G1", 2023)
        with pytest.raises(AnalysisError, match="given together, or neither"):
            water_balance(source, "F1", 2023, theta_fc=0.3)
        with pytest.raises(AnalysisError, match="parts of 1 of the soil, the first the larger"):
            water_balance(source, "F1", 2023, theta_fc=0.1, theta_wp=0.3)
        with pytest.raises(ArgumentError, match="kc is 1; give the crop coefficients"):
            water_balance(source, "F1", 2023, kc=1)  # type: ignore[arg-type]
        with pytest.raises(AnalysisError, match="which is no part of 1; give one such as"):
            water_balance(source, "F1", 2023, depletion_fraction=1.2)
        with pytest.raises(AnalysisError, match="each stage lasts a day at least"):
            water_balance(source, "F1", 2023, stage_days=(20, 0.2, 30, 10))  # type: ignore[arg-type]
        with pytest.raises(AnalysisError, match="what this soil can lack is from 0 to 78 mm"):
            water_balance(source, "F1", 2023, start_depletion_mm=math.inf)
        with pytest.raises(AnalysisError, match="'roof', which is no cover"):
            water_balance(source, "F1", 2023, cover_rain={"roof": 0.5})
        with pytest.raises(AnalysisError, match="give a share between 0 and 1"):
            water_balance(source, "F1", 2023, cover_et={"tunnel": 2})


def test_what_stands_against_a_balance_is_told() -> None:
    """A pot without an area, a label nobody saw begin, a neighbour in the bed, and a site without its height."""
    with field(
        Site("roof", latitude=45.0), Bed("R1", "roof", container="20 l pot", soil="loam"),
        sown("A3", "R1"), sown("C1", "R1", crop="Rheum x hybridum"),
        AlreadyHere("A4", day(30), crop=BEAN, bed="R1", since="../2020"),
        *(attrs.evolve(today, site="roof") for today in weather(0, 99)),
    ) as source:  # fmt: skip
        told = water_balance(source, "R1", 2023, crop=BEAN).summary()
    for part in (
        "since the height of the site is not recorded", "Rheum x hybridum drew on the same bed", "a pot holds less",
        "1 label left out of that, whose beginning is not recorded",
        "mid-season begins by the days of the profile", "roots to reach 0.6 m all season",
    ):  # fmt: skip
        assert part in told


def test_weather_that_ends_before_the_crop_began() -> None:
    with (
        source_of(*FIELD, *weather(-20, -1)) as source,
        pytest.raises(AnalysisError, match="ends on 2023-04-30, before Phaseolus coccineus began there on 2023-05-01"),
    ):
        water_balance(source, "F1", 2023)


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyet", None)
    with pytest.raises(AnalysisError, match=r"pip install 'perennia\[models\]'"):
        asked()
