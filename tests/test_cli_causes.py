"""Questions about warmth, cold and water from the terminal: what is shown, what scripts get, how a slip ends."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

import perennia as pn
from perennia.analysis import degree_days, frost_dates, water_balance
from tests.demo_gardens import demo_by_terminal
from tests.terminal import rows, run

SITE = "Quilanto (invented)"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("causes") / "demo")


@pytest.fixture(scope="module")
def cold(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve years of April to October, with a frost a day later each spring and one on 20 October."""
    folder = tmp_path_factory.mktemp("cold") / "plot"
    records: list[pn.Record] = [pn.Site("plot", latitude=48.0)]
    for year in range(2000, 2012):
        frosts = (date(year, 4, 10) + timedelta(year - 2000), date(year, 10, 20))
        days = [date(year, 4, 1) + timedelta(number) for number in range(214)]
        records += [pn.Weather(day, site="plot", t_min_c=-1.0 if day in frosts else 6.0) for day in days]
    pn.Garden.create(folder).record(*records)
    return folder


def test_the_water_of_a_bed(demo: Path) -> None:
    words = ["water", str(demo), "Gate bed", "--season", "2023/24", "--soil", "loam", "--since", "2023-12-01"]
    code, out, err = run(*words)
    assert (code, err) == (0, "")
    for part in ("extra_watering_mm", "were short of water", "litres over 8 m2", "Cautions for these crops"):
        assert part in out
    assert "2023-12-08" in out
    assert "2023-12-09" not in out
    assert "2023-12-09" in run(*words, "--step", "1")[1]
    found = rows(*words)
    with pn.Garden.open(demo, read_only=True) as garden:
        own = water_balance(garden, "Gate bed", 2023, soil="loam", since="2023-12-01").table
    assert list(found[0]) == list(own.columns)
    assert [row["ks"] for row in found[:3]] == pytest.approx(own["ks"].tolist()[:3])
    assert len(found) == len(own)


def test_no_rain_or_watering_falls_between_the_rows_of_the_screen(tmp_path: Path) -> None:
    days = [date(2024, 5, 1) + timedelta(number) for number in range(20)]
    pn.Garden.create(tmp_path / "plot").record(
        pn.Site("home", latitude=51.5), pn.Bed("long bed", "home", area_m2=10, soil="loam"),
        pn.Sown("B1", "2024-05-01", crop="Phaseolus coccineus", bed="long bed"),
        pn.Watered("2024-05-05", bed="long bed", litres=130),
        *(pn.Weather(on, site="home", t_min_c=8.0, t_max_c=18.0, rain_mm=2.25 if on.day == 4 else 0.0) for on in days
          if on.day != 18),
    )  # fmt: skip
    code, out, _ = run("water", str(tmp_path / "plot"), "long bed", "--season", "2024")
    first, second, third = (line.split() for line in out.splitlines() if line.startswith("2024-05"))
    assert (code, first[:2], first[6:8]) == (0, ["2024-05-01", "2024-05-07"], ["2.25", "13"])
    assert second[6:8] == ["0", "0"]
    assert third[6:8] == ["·", "0"]
    assert "a temperature is not recorded" in " ".join(third)
    higher = run("water", str(tmp_path / "plot"), "long bed", "--season", "2024", "--kc", "0.7", "1.2", "1")[1]
    assert [line.split()[4] for line in higher.splitlines() if line.startswith("2024-05")] == ["0.7"] * 3


def test_the_growers_figures_of_soil_and_roots_count(demo: Path) -> None:
    words = ["water", str(demo), "Gate bed", "--season", "2023", "--since", "2023-12-01"]
    given = rows(*words, "--theta-fc", "0.4", "--theta-wp", "0.1", "--root-depth", "0.5")
    with pn.Garden.open(demo, read_only=True) as garden:
        own = water_balance(
            garden, "Gate bed", 2023, since="2023-12-01", theta_fc=0.4, theta_wp=0.1, root_depth_m=0.5
        ).table
    assert given[5]["raw_mm"] == pytest.approx(own["raw_mm"].iloc[5])


def test_degree_days_of_a_site_and_of_a_bed(demo: Path) -> None:
    words = ["degree-days", str(demo), "Gate bed", "--base", "8", "--since", "2024-01-01", "--until", "2024-01-31"]
    code, out, err = run(*words)
    assert (code, err) == (0, "")
    assert "degree-days above 8 degrees C" in out
    assert f"those of site {SITE} stand in" in out
    found = rows(*words, "--method", "double sine", "--upper", "30")
    with pn.Garden.open(demo, read_only=True) as garden:
        own = degree_days(garden, SITE, 8, 30, "double sine", since="2024-01-01", until="2024-01-31").table
    assert [row["sum"] for row in found[:30]] == pytest.approx(own["sum"].tolist()[:30])
    assert (len(found), found[-1]["sum"]) == (31, None)


def test_the_sum_of_the_last_day_is_on_the_screen(demo: Path) -> None:
    words = ["degree-days", str(demo), SITE, "--base", "8", "--since", "2024-01-01", "--until", "2024-01-30"]
    shown = [line.split()[0] for line in run(*words)[1].splitlines() if line.startswith("2024-01")]
    assert shown == ["2024-01-01", "2024-01-08", "2024-01-15", "2024-01-22", "2024-01-29", "2024-01-30"]


def test_where_no_day_can_be_named_the_years_are_shown(tmp_path: Path) -> None:
    days = [date(2024, 4, 1) + timedelta(number) for number in range(200) if number not in (3, 9)]
    pn.Garden.create(tmp_path / "plot").record(
        pn.Site("plot", latitude=48.0), *(pn.Weather(on, site="plot", t_min_c=-1.0 if on.day == 6 and on.month == 4
                                                     else 6.0) for on in days),
    )  # fmt: skip
    code, out, _ = run("frost", str(tmp_path / "plot"), "plot")
    assert code == 0
    assert "2024-04-06" in out
    assert "withheld" not in out
    assert "No year that can be counted shows the last frost of spring" in out


def test_frosts_of_a_site(cold: Path) -> None:
    code, out, err = run("frost", str(cold), "plot")
    assert (code, err) == (0, "")
    assert "Set out from 21 April on" in out
    found = rows("frost", str(cold), "plot", "--risk", "0.25", "--level", "0.8", "--threshold", "-0.5")
    with pn.Garden.open(cold, read_only=True) as garden:
        own = frost_dates(garden, "plot", -0.5, risk=0.25, level=0.8).table
    assert [row["day"] for row in found] == own["day"].tolist()
    assert [row["low"] for row in found] == own["low"].astype(object).where(own["low"].notna(), None).tolist()
    by_year = rows("frost", str(cold), "plot", "--years")
    assert (len(by_year), by_year[0]["frost_on"]) == (24, "2000-04-10")
    assert "2000-04-10" in run("frost", str(cold), "plot", "--years")[1]
    exactly = ["frost", str(cold), "plot", "--threshold", "-1"]
    assert rows(*exactly)[0]["day"] is None
    assert rows(*exactly, "--inclusive")[0]["day"] == "04-12"


def test_a_slip_ends_in_words(demo: Path, tmp_path: Path) -> None:
    pn.Garden.create(tmp_path / "plot")
    for command in (["water", "B1", "--season", "2023"], ["degree-days", "B1", "--base", "8"], ["frost", "B1"]):
        code, out, err = run(command[0], str(tmp_path / "plot"), *command[1:])
        assert (code, out) == (1, "")
        assert "B1 is n" in err
        assert "it has no" in err
    assert "give soil as one of sand" in run("water", str(demo), "Gate bed", "--season", "2023")[2]
    assert "nothing is known to have grown" in run("water", str(demo), "Gate bed", "--season", "1999")[2]
    assert "must be above the base" in run("degree-days", str(demo), SITE, "--base", "8", "--upper", "5")[2]
    assert "0.1 is usual" in run("frost", str(demo), SITE, "--risk", "2")[2]
