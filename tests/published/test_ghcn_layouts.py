"""The GHCN-Daily reader on rows of NOAA's own files, as they stand in the files.

Layouts: NOAA NCEI, readme-by_year.txt and readme-by_station.txt (station, day as YYYYMMDD, element, value, measurement,
quality and source flag, time of observation). Units and flags: readme.txt of GHCN-Daily, section III. The files
themselves are not kept here; each excerpt says which file its rows are from, as published where the file is discussed.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from perennia.intake import ghcn_daily

# the last rows of by_year/1763.csv
YEAR_1763 = """\
ITE00100554,17631230,TMAX,81,,,E,
ITE00100554,17631230,TMIN,61,,I,E,
ITE00100554,17631231,TMAX,79,,,E,
ITE00100554,17631231,TMIN,59,,,E,
"""

# the first rows of by_year/2021.csv
YEAR_2021 = """\
AE000041196,20210101,TMAX,278,,,S,
AE000041196,20210101,PRCP,0,D,,S,
AE000041196,20210101,TAVG,214,H,,S,
AEM00041194,20210101,TMAX,266,,,S,
AEM00041194,20210101,TMIN,178,,,S,
AEM00041194,20210101,PRCP,0,,,S,
AEM00041194,20210101,TAVG,217,H,,S,
AEM00041217,20210101,TMAX,262,,,S,
AEM00041217,20210101,TMIN,155,,,S,
AEM00041217,20210101,TAVG,202,H,,S,
"""

# rows of Central Park in by_year/2013.csv, with the time of observation
YEAR_2013 = """\
USW00094728,20130101,TMAX,44,,,X,2400
USW00094728,20130101,TMIN,-33,,,X,2400
USW00094728,20130102,TMAX,6,,,X,2400
USW00094728,20130102,TMIN,-56,,,X,2400
"""

# the headings and first rows of access/AG000060590.csv
EL_GOLEA = """\
"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES","SNWD","SNWD_ATTRIBUTES","TMAX",\
"TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES","TAVG","TAVG_ATTRIBUTES"
"AG000060590","1892-01-01","30.5667","2.8667","397.0","EL GOLEA, AG","    0",",,E",,,,,"   34",",,E",,
"AG000060590","1892-01-02","30.5667","2.8667","397.0","EL GOLEA, AG","    0",",,E",,,,,"   36",",,E",,
"AG000060590","1892-01-03","30.5667","2.8667","397.0","EL GOLEA, AG","    0",",,E",,,,,"   30",",,E",,
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "station.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_value_a_row_and_a_value_that_failed_its_check(tmp_path: Path) -> None:
    days = ghcn_daily(write(tmp_path, YEAR_1763))
    assert days.station == "ITE00100554"
    assert days.table["on"].to_pylist() == [date(1763, 12, 30), date(1763, 12, 31)]
    assert days.table["t_max_c"].to_pylist() == [8.1, 7.9]
    # q-flag I: failed internal consistency check
    assert days.table["t_min_c"].to_pylist() == [None, 5.9]
    assert days.left_out == {"TMIN": 1}


@pytest.mark.parametrize(
    ("station", "t_min_c", "t_max_c", "rain_mm"),
    [
        ("AE000041196", None, 27.8, 0.0),
        ("AEM00041194", 17.8, 26.6, 0.0),
        ("AEM00041217", 15.5, 26.2, None),
    ],
)
def test_one_station_of_a_year_of_the_world(
    tmp_path: Path, station: str, t_min_c: float | None, t_max_c: float, rain_mm: float | None
) -> None:
    days = ghcn_daily(write(tmp_path, YEAR_2021), station=station)
    assert days.table.to_pylist() == [
        {
            "on": date(2021, 1, 1),
            "t_min_c": t_min_c,
            "t_max_c": t_max_c,
            "rain_mm": rain_mm,
            "rh_pct": None,
            "wind_m_s": None,
        }
    ]
    assert days.left_out == {}


def test_rows_with_the_time_of_observation(tmp_path: Path) -> None:
    days = ghcn_daily(write(tmp_path, YEAR_2013))
    assert days.table["t_max_c"].to_pylist() == [4.4, 0.6]
    assert days.table["t_min_c"].to_pylist() == [-3.3, -5.6]


def test_a_file_of_one_station_has_the_same_rows_under_headings(tmp_path: Path) -> None:
    """The headings of csv/by_station/*.csv of NOAA's public data set."""
    headed = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n" + YEAR_2013
    plain = ghcn_daily(write(tmp_path, YEAR_2013)).table
    assert ghcn_daily(write(tmp_path, headed)).table.equals(plain)


def test_a_day_a_row(tmp_path: Path) -> None:
    days = ghcn_daily(write(tmp_path, EL_GOLEA))
    place = (days.station, days.name, days.latitude, days.longitude, days.elevation_m)
    assert place == ("AG000060590", "EL GOLEA, AG", 30.5667, 2.8667, 397.0)
    assert days.table["on"].to_pylist() == [date(1892, 1, 1), date(1892, 1, 2), date(1892, 1, 3)]
    assert days.table["t_min_c"].to_pylist() == [3.4, 3.6, 3.0]
    assert days.table["rain_mm"].to_pylist() == [0.0, 0.0, 0.0]
    assert days.table["t_max_c"].null_count == 3
    assert days.left_out == {}
    assert days.notes == ()


def test_wind_at_2_m_is_that_of_fao_56_example_14(tmp_path: Path) -> None:
    """Allen et al. 1998, FAO-56, example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m. The row is invented."""
    path = write(tmp_path, "XX000000001,20230701,AWND,32,,,X,\n")
    assert ghcn_daily(path, anemometer_height_m=10).table["wind_m_s"].to_pylist() == [pytest.approx(2.4, abs=0.05)]
    assert ghcn_daily(path, anemometer_height_m=10).table["wind_m_s"].to_pylist() == [pytest.approx(2.393, abs=0.0005)]
