"""What is due by weather and place: frosts of ten years, the water of a bed, covers, pots, either hemisphere."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

import perennia as pn
from perennia.analysis import Due, due, frost_dates, water_balance
from perennia.analysis.causes.due.own_days import own_days
from perennia.errors import AnalysisError, ArgumentError, ReadOnlyError, UnknownLabelError
from tests.analysis.built_source import source_over

BEAN, YACON = "Phaseolus coccineus", "Smallanthus sonchifolius"
PLOT = [
    pn.Site("plot", latitude=48.0), pn.Bed("B1", "plot", area_m2=10.0, soil="loam"),
    pn.Bed("tunnel", "plot", cover="tunnel"), pn.Bed("tub", "plot", container="tub"),
]  # fmt: skip


def _minima() -> list[pn.Record]:
    """Eleven short summers of a high valley, with a frost a day later each spring and a day sooner each autumn."""
    made: list[pn.Record] = []
    for year in range(2010, 2021):
        frosts = (date(year, 5, 20) + timedelta(year - 2010), date(year, 8, 31) - timedelta(year - 2010))
        days = [date(year, 5, 20) + timedelta(number) for number in range(104)]
        made += [pn.Weather(day, site="plot", t_min_c=-1.0 if day in frosts else 6.0) for day in days]
    return made


def _asked(records: Sequence[pn.Record], *days: str, **given: Any) -> list[Due]:
    with source_over(list(records)) as source:
        return [due(source, day, **given) for day in days]


def _only(found: Due, kind: str) -> dict[str, Any]:
    (row,) = found.table[found.table["kind"] == kind].to_dict("records")
    return {str(name): value for name, value in row.items()}


def _kinds(found: Due) -> set[str]:
    return set(found.table["kind"])


@pytest.fixture(scope="module")
def cold() -> list[pn.Record]:
    grown = [("B1", "O1"), ("tunnel", "T1"), ("tub", "K1")]
    made = [*PLOT, *_minima()]
    for bed, label in grown:
        made += [pn.Sown(label, "2021-05-01", crop=BEAN, bed=bed), pn.Emerged(label, "2021-05-15")]
    stored = pn.Stored("R1", "2020-11-05", place="bare root", box="X")
    return [*made, pn.Sown("R1", "2020-05-01", crop=BEAN, bed="B1"), pn.Lifted("R1", "2020-11-01", root_g=1.0), stored]


def test_ten_years_of_minima_say_when_to_lift_and_when_to_start(cold: list[pn.Record]) -> None:
    with source_over(cold) as source:
        spring, autumn = due(source, "2021-05-10"), due(source, "2021-08-18")
        bolder = due(source, "2021-08-18", frost_risk=0.5)
        known = frost_dates(source, "plot", risk=0.1)
        half = frost_dates(source, "plot", risk=0.5)
    start, lift = _only(spring, "starting"), _only(autumn, "lifting")
    assert f"{start['by']:%Y-%m-%d}" == f"2021-{known.plant_out_from}"
    assert "(minima of plot)" in start["why"]
    assert f"{lift['by']:%Y-%m-%d}" == f"2021-{known.lift_by}"
    assert lift["labels"] == "K1, O1"
    assert "Carry in what stands in a pot, K1, and write it down (event stored" in lift["do"]
    assert "In 10% of years the first frost of autumn" in lift["why"]
    assert set(_only(autumn, "keepers")["labels"].split(", ")) == {"O1", "T1", "K1"}
    assert f"{_only(bolder, 'lifting')['by']:%Y-%m-%d}" == f"2021-{half.lift_by}" > f"2021-{known.lift_by}"


def test_a_frost_on_record_is_the_frost(cold: list[pn.Record]) -> None:
    harmed = pn.DiedBack("O1", "2021-08-05", cause="frost")
    (found,) = _asked([*cold, harmed], "2021-08-06")
    lift = _only(found, "lifting")
    assert (lift["by"].date(), lift["standing"]) == (date(2021, 8, 5), "overdue")
    assert "Frost took tops here on 2021-08-05 (records)" in lift["why"]


def _thirsty() -> list[pn.Record]:
    first = date(2023, 5, 1)
    weather = [
        pn.Weather(first + timedelta(number), site="plot", t_min_c=12.0, t_max_c=27.0, rain_mm=0.0)
        for number in range(80)
    ]
    watered = pn.Watered("2023-06-20", bed="B1", mm=200.0)
    return [*PLOT, *weather, pn.Sown("O1", first, crop=BEAN, bed="B1"), pn.Emerged("O1", "2023-05-12"), watered]


def test_a_bed_is_watered_when_its_balance_says_so_and_then_no_more() -> None:
    pytest.importorskip("pyet")
    with source_over(_thirsty()) as source:
        dry, watered, long_after = (due(source, day) for day in ("2023-06-19", "2023-06-21", "2023-09-20"))
        last = water_balance(source.up_to(date(2023, 6, 19)), "B1", 2023).table.iloc[-1]
    matter = _only(dry, "watering")
    assert (matter["place"], matter["labels"], matter["standing"]) == ("B1", "O1", "overdue")
    assert f"lacked {last['depletion_mm']:.0f} mm" in matter["why"]
    assert f"Water: {last['depletion_mm']:.0f} mm" in matter["do"]
    assert f"{last['depletion_mm'] * 10:.0f} litres" in matter["do"]
    assert "watering" not in _kinds(watered)
    assert any("no weather is on record after 2023-07-19" in text for text in long_after.cautions)


def test_a_soil_in_other_words_is_counted_and_can_be_given() -> None:
    pytest.importorskip("pyet")
    records = [_in_own_words(record) for record in _thirsty()]
    with source_over(records) as source:
        unknown, given = due(source, "2023-06-19"), due(source, "2023-06-19", soils={"B1": "loam"})
    assert any("Whether 1 bed is dry is not known, B1" in text and "'black earth'" in text for text in unknown.cautions)
    assert "watering" not in _kinds(unknown)
    assert _only(given, "watering")["place"] == "B1"


def _in_own_words(record: pn.Record) -> pn.Record:
    """The bed with its soil in the grower's own words."""
    if isinstance(record, pn.Bed) and record.name == "B1":
        return pn.Bed("B1", "plot", area_m2=10.0, soil="black earth")
    return record


def test_south_of_the_equator_the_year_is_turned_round() -> None:
    places = [pn.Site("down", latitude=-40.0), pn.Bed("B1", "down")]
    life: list[pn.Record] = []
    for label in ("A1", "A2", "A3"):
        life += [
            pn.Sown(label, "2021-10-20", crop=BEAN, bed="B1"), pn.DiedBack(label, "2022-04-20", cause="frost"),
            pn.Lifted(label, "2022-05-10", root_g=200.0), pn.Stored(label, "2022-05-11", place="bare root", box="X"),
            pn.Replanted(label, "2022-10-05", bed="B1"), pn.Regrew(label, "2022-10-25"),
        ]  # fmt: skip
    (growing,) = _asked([*places, *life], "2023-04-10")
    assert _only(growing, "lifting")["by"].date() == date(2023, 4, 20)
    assert _only(growing, "keepers")["labels"] == "A1, A2, A3"
    silent = [record for record in life if not isinstance(record, pn.Regrew)]
    (late,) = _asked([*places, *silent], "2022-12-05")
    root = _only(late, "regrowth")
    assert (root["by"].date(), root["standing"]) == (date(2022, 11, 30), "overdue")


def test_a_label_used_again_is_the_plant_that_lives() -> None:
    life = [
        pn.Sown("A1", "2021-05-01", crop=YACON, bed="B1"), pn.Lifted("A1", "2021-10-01"),
        pn.Stored("A1", "2021-10-02", place="bare root"), pn.Died("A1", "2022-02-01", cause="rot"),
        pn.Sown("A1", "2022-05-01", crop=BEAN, bed="B1"), pn.Picked("A1", "2022-07-20", 50.0),
    ]  # fmt: skip
    store, between, now = _asked([*PLOT, *life], "2022-01-15", "2022-03-01", "2022-07-25")
    assert _only(store, "store check")["crop"] == YACON
    assert between.table["labels"].dropna().empty
    assert _only(now, "picking")["crop"] == BEAN
    assert "store check" not in _kinds(now)


def test_a_root_lifted_without_a_weight_after_one_with() -> None:
    life = [
        pn.Sown("A1", "2021-05-01", crop=BEAN, bed="B1"), pn.Lifted("A1", "2021-10-01", root_g=300.0),
        pn.Replanted("A1", "2022-05-01", bed="B1"), pn.Regrew("A1", "2022-05-20"), pn.Lifted("A1", "2022-10-01"),
    ]  # fmt: skip
    (found,) = _asked([*PLOT, *life], "2022-10-02")
    assert _only(found, "root weight")["labels"] == "A1"


def test_a_root_that_the_books_forgot_for_a_year_is_not_asked_to_the_scales() -> None:
    records = [*PLOT, pn.Sown("O1", "2022-05-10", crop=BEAN, bed="B1"), pn.Lifted("O1", "2022-10-01")]
    soon, late = _asked(records, "2023-09-30", "2023-10-01")
    for kind in ("root weight", "box map"):
        assert kind in _kinds(soon)
        assert kind not in _kinds(late)


def test_a_month_that_is_not_over_gives_no_day_to_come() -> None:
    records = [*PLOT, pn.Sown("O1", "2022-05-10", crop=BEAN, bed="B1"), pn.Lifted("O1", "2022-10")]
    (found,) = _asked(records, "2022-10-12")
    for kind in ("root weight", "box map"):
        assert _only(found, kind)["since"].date() == date(2022, 10, 12)
    assert "2022-10-31" not in " ".join(found.findings)


def test_what_lacks_every_basis_is_counted_and_gets_no_date() -> None:
    life: list[pn.Record] = [pn.Sown("A1", "2022-05-01", crop=BEAN, bed="B1"), pn.Emerged("A1", "2022-05-15")]
    stored = [pn.Sown("A2", "2021-05-01", crop=BEAN, bed="B1"), pn.Lifted("A2", "2021-10-01", root_g=1.0)]
    (found,) = _asked([*PLOT, *life, *stored], "2022-10-10")
    assert not {"lifting", "keepers", "starting"} & _kinds(found)
    text = " ".join(found.cautions)
    assert "1 tender plant in the open: neither ten years of minima nor frost in earlier autumns" in text
    assert "1 plant to choose keepers among: neither ten years of minima nor frost" in text
    assert "1 root out of the ground: neither an earlier replanting of the crop nor the last frosts" in text


def test_a_crop_without_a_profile_goes_by_its_own_gaps_and_is_counted_without() -> None:
    first = date(2022, 6, 1)
    life = [pn.Sown("U1", "2022-03-01", crop="Ullucus tuberosus", bed="B1"),
            pn.Sown("Z1", "2022-03-01", crop="Apios americana", bed="B1")]  # fmt: skip
    often = [pn.Picked("U1", first + timedelta(4 * number), 50.0) for number in range(6)]
    once = [pn.Picked("Z1", first, 50.0)]
    (found,) = _asked([*PLOT, *life, *often, *once], "2022-06-26")
    picking = _only(found, "picking")
    assert (picking["labels"], picking["by"].date()) == ("U1", date(2022, 6, 25))
    assert "the crop is usually left 4 days (the middle of 5 gaps in these books)" in picking["why"]
    assert any("1 plant that bore this season: of the crop neither a profile nor 5 gaps" in text
               for text in found.cautions)  # fmt: skip


def test_a_sowing_that_nobody_saw_come_up_is_counted_before_frost() -> None:
    (found,) = _asked([*PLOT, pn.Sown("A1", "2022-05-01", crop=BEAN, bed="B1")], "2022-10-10")
    assert found.n == 0
    assert any("nothing shows that 1 sowing in the open came up" in text for text in found.cautions)


def test_an_empty_garden_and_a_day_before_all_records(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    found = due(garden, "2024-05-01")
    assert (found.n, found.cautions) == (0, ())
    assert found.findings == ("Nothing asks for attention on 2024-05-01.",)
    garden.record(*PLOT, pn.Sown("A1", "2023-05-01", crop=BEAN, bed="B1"), pn.Picked("A1", "2023-07-20", 90.0))
    assert due(garden, "1950-01-01").n == 0
    assert _only(due(garden, "2023-07-24"), "picking")["labels"] == "A1"
    cut = garden.up_to("2023-07-01")
    assert due(cut, "2023-07-24").n == 0
    with pytest.raises(ReadOnlyError, match="up to a day"):
        cut.record(pn.Picked("A1", "2023-06-30", 10.0))


def test_what_is_no_day_or_no_risk_is_refused(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    with pytest.raises(ArgumentError, match="today is 5"):
        due(garden, 5)  # type: ignore[arg-type]
    with pytest.raises(AnalysisError, match="is not between 0 and 1"):
        due(garden, "2024-05-01", frost_risk=1.5)
    with pytest.raises(ArgumentError, match="soils is"):
        due(garden, "2024-05-01", soils=["loam"])  # type: ignore[arg-type]
    with pytest.raises(UnknownLabelError, match="B1 is no bed"):
        due(garden, "2024-05-01", soils={"B1": "loam"})
    garden.record(*PLOT)
    with pytest.raises(AnalysisError, match="is in no table used here"):
        due(garden, "2024-05-01", soils={"B1": "mud"})
    with pytest.raises(AnalysisError, match="9999"):
        due(garden, "9999-12-31")


@pytest.mark.parametrize("year", [2023, 2024])
def test_days_of_earlier_seasons_keep_their_month_and_day_over_leap_years(year: int) -> None:
    days = [date(2020, 10, 12), date(2021, 10, 12), date(2022, 10, 20)]
    told = own_days(days, year, "01-01", earliest=0)
    assert told is not None
    assert (told.first, told.last, told.seasons) == (date(year, 10, 12), date(year, 10, 20), 3)
    around = own_days([date(2020, 2, 29), date(2020, 12, 31), date(2019, 12, 31)], year, "01-01")
    assert around is not None
    assert (around.first, around.last, around.seasons) == (date(year - 1, 12, 31), date(year, 2, 28), 2)


def test_what_was_seen_of_a_root_in_an_earlier_winter_is_of_that_winter() -> None:
    life = [
        pn.Sown("A1", "2021-05-01", crop=BEAN, bed="B1"), pn.Lifted("A1", "2021-10-01", root_g=300.0),
        pn.Stored("A1", "2021-10-02", place="bare root", box="X"),
        pn.StoreChecked("A1", "2022-01-10", condition="soft"),
        pn.Replanted("A1", "2022-05-01", bed="B1"), pn.Regrew("A1", "2022-05-20"),
        pn.Stored("A1", "2022-10-20", place="bare root", box="X"),
    ]  # fmt: skip
    soon, later = _asked([*PLOT, *life], "2022-10-30", "2022-11-25")
    assert "store check" not in _kinds(soon)
    assert "soft" not in _only(later, "store check")["why"]


def test_a_root_lifted_in_spring_does_not_put_off_those_in_store() -> None:
    life: list[pn.Record] = []
    for label in ("A1", "A2"):
        life += [
            pn.Sown(label, "2021-05-01", crop=BEAN, bed="B1"), pn.Lifted(label, "2021-10-20", root_g=300.0),
            pn.Replanted(label, "2022-05-10", bed="B1"), pn.Regrew(label, "2022-05-20"),
        ]  # fmt: skip
    life += [pn.Lifted("A1", "2022-10-20", root_g=300.0), pn.Lifted("A2", "2023-05-14", root_g=300.0)]
    (found,) = _asked([*PLOT, *life], "2023-05-16")
    start = _only(found, "starting")
    assert (start["labels"], start["by"].date(), start["standing"]) == ("A1", date(2023, 5, 10), "overdue")


def test_a_root_lifted_after_the_frosts_waits_for_the_next_spring(cold: list[pn.Record]) -> None:
    lifted = [pn.Sown("R2", "2020-05-01", crop=BEAN, bed="B1"), pn.Lifted("R2", "2021-06-15", root_g=1.0)]
    summer, spring = _asked([*cold, *lifted], "2021-06-20", "2022-05-10")
    assert _only(summer, "starting")["labels"] == "R1"
    assert "R2" in ", ".join(spring.table[spring.table["kind"] == "starting"]["labels"]).split(", ")


def test_a_mulch_of_last_winter_marks_no_keeper_of_the_next() -> None:
    life = [
        pn.Sown("A1", "2021-05-01", crop=BEAN, bed="B1"), pn.Emerged("A1", "2021-05-20"),
        pn.DiedBack("A1", "2021-10-12", cause="frost"), pn.Mulched("A1", "2022-01-10"), pn.Regrew("A1", "2022-05-20"),
    ]  # fmt: skip
    (found,) = _asked([*PLOT, *life], "2022-10-01")
    assert _only(found, "keepers")["labels"] == "A1"


def test_a_crop_without_a_profile_is_lifted_as_it_was_put_away_before() -> None:
    """Of a crop first put away this autumn nothing is told of earlier years."""
    crop, frost = "Apios americana", pn.DiedBack("Z0", "2021-10-12", cause="frost")
    life: list[pn.Record] = [pn.Sown("Z0", "2021-05-01", crop=crop, bed="B1"), frost]
    for label in ("Z1", "Z2", "Z3", "Z4"):
        life += [pn.Sown(label, "2022-05-01", crop=crop, bed="B1"), pn.Emerged(label, "2022-05-15")]
    stored = [pn.Lifted("Z4", "2022-10-01", root_g=1.0), pn.Stored("Z4", "2022-10-02", place="bare root", box="X")]
    (found,) = _asked([*PLOT, *life, *stored], "2022-10-05")
    lift = _only(found, "lifting")
    assert set(lift["labels"].split(", ")) == {"Z1", "Z2", "Z3"}
    assert "it was put away for the winter in 1 year (records)" in lift["why"]


def test_plants_of_a_site_without_a_latitude_are_counted_with_the_reason() -> None:
    places = [pn.Site("heath"), pn.Bed("H1", "heath")]
    life = [pn.Sown("A1", "2022-05-01", crop=BEAN, bed="H1"), pn.Emerged("A1", "2022-05-15")]
    (found,) = _asked([*places, *life], "2022-10-10")
    text = " ".join(found.cautions)
    assert "1 tender plant in the open: heath has no latitude, so by when they are to be lifted is not known." in text
    assert "1 plant to choose keepers among: heath has no latitude, so" in text
    assert "ten years of minima" not in text


def test_plants_missing_from_a_stand_that_came_through_are_sown_for() -> None:
    life = [
        pn.Sown("S1", "2021-05-02", crop=BEAN, bed="B1", plants=10), pn.Counted("S1", "2021-06-10", alive=10),
        pn.DiedBack("S1", "2021-10-12", cause="frost"), pn.Mulched("S1", "2021-10-14"),
        pn.Regrew("S1", "2022-04-20"), pn.Counted("S1", "2022-04-24", alive=6),
    ]  # fmt: skip
    before, after = _asked([*PLOT, *life], "2022-04-22", "2022-04-26")
    assert "sowing" not in _kinds(before)
    loss = _only(after, "sowing")
    assert "of 10 plants that entered the winter before 2022 4 fewer were counted in what" in loss["why"]
    assert "Sow for 4 plants" in loss["do"]
