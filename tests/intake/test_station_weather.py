"""A station's days as a site's weather: both layouts the same, read again known, grown files only their new days."""

from __future__ import annotations

from pathlib import Path

import pytest

import perennia as pn
from perennia.errors import IntakeError, RefusedError
from perennia.intake import read_station
from tests.intake.books import TODAY, garden_in, written

# invented values in the published layouts
ROWS = "XXX00000001,20230701,TMAX,250,,,S,\nXXX00000001,20230701,TMIN,101,,,S,\nXXX00000001,20230703,PRCP,25,,,S,\n"
DAYS = (
    "STATION,DATE,LATITUDE,LONGITUDE,ELEVATION,NAME,PRCP,PRCP_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"
    'XXX00000001,2023-07-01,50.0,8.0,100.0,"INVENTED, XX",,,250,",,S",101,",,S"\n'
    'XXX00000001,2023-07-03,50.0,8.0,100.0,"INVENTED, XX",25,",,S",,,,\n'
)


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return garden_in(tmp_path)


def test_both_layouts_are_the_same_days(garden: pn.Garden, tmp_path: Path) -> None:
    first = read_station(garden, written(tmp_path, "2023.csv", ROWS), site="home", book="met", today=TODAY)
    assert (first.rows, first.stored, first.files) == (2, 2, ("2023.csv",))
    assert "site home: 1 of the 3 days from 2023-07-01 to 2023-07-03 have no row" in " ".join(first.notes)
    again = read_station(garden, written(tmp_path, "days.csv", DAYS), site="home", book="met", today=TODAY)
    assert (again.stored, again.already_known) == (0, 2)
    grown = written(tmp_path, "2023.csv", ROWS + "XXX00000001,20230704,PRCP,25,,,S,\n")
    assert read_station(garden, grown, site="home", book="met", today=TODAY).stored == 1
    rows = garden.sql('select t_max_c, t_min_c, rain_mm from weather order by "on"', as_="arrow").to_pylist()
    assert [tuple(row.values()) for row in rows] == [(25.0, 10.1, None), (None, None, 2.5), (None, None, 2.5)]


def test_a_value_added_to_a_day_is_an_edit(garden: pn.Garden, tmp_path: Path) -> None:
    read_station(garden, written(tmp_path, "2023.csv", ROWS), site="home", book="met", today=TODAY)
    more = written(tmp_path, "2023.csv", ROWS + "XXX00000001,20230703,TMAX,220,,,S,\n")
    with pytest.raises(RefusedError, match="22 is written here, nothing is stored"):
        read_station(garden, more, site="home", book="met", today=TODAY)
    report = read_station(garden, more, site="home", book="met", correct="completed", today=TODAY)
    assert (report.corrected, report.already_known) == (1, 1)


def test_a_site_nobody_knows_and_a_file_that_is_none_are_told(garden: pn.Garden, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="no site called 'hoem' is known"):
        read_station(garden, written(tmp_path, "2023.csv", ROWS), site="hoem", book="met", today=TODAY)
    with pytest.raises(IntakeError):
        read_station(garden, written(tmp_path, "2023.csv", "a,b\n1,2\n"), site="home", book="met", today=TODAY)
