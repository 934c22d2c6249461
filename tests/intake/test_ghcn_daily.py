"""GHCN-Daily files, all rows invented: what is kept, what is left out and counted, and what is refused in words."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import ArgumentError, IntakeError
from perennia.intake import StationDays, ghcn_daily

STATION = "XX000000001"
HEADINGS = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n"
PLACE = '"51.5","-0.5","30.0","INVENTED HILL, XX"'
DAY_HEADINGS = (
    "STATION,DATE,LATITUDE,LONGITUDE,ELEVATION,NAME,TMIN,TMIN_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES,"
    "PRCP,PRCP_ATTRIBUTES,RHAV,RHAV_ATTRIBUTES,AWND,AWND_ATTRIBUTES,SNOW,SNOW_ATTRIBUTES\n"
)
COLUMN = {"TMIN": "t_min_c", "TMAX": "t_max_c", "PRCP": "rain_mm", "RHAV": "rh_pct", "AWND": "wind_m_s"}

Write = Callable[[str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to_file(text: str) -> Path:
        path = tmp_path / "station.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return to_file


def row(day: str, element: str, value: object, m: str = "", q: str = "", s: str = "X", station: str = STATION) -> str:
    return f"{station},{day},{element},{value},{m},{q},{s},\n"


def day_row(day: str, **cells: tuple[object, str]) -> str:
    """A row of the layout of a day a row; each cell a value and its attributes."""
    elements = (*COLUMN, "SNOW")
    both = [cells.get(element, ("", "")) for element in elements]
    return f'"{STATION}","{day}",{PLACE},' + ",".join(f'"{value}","{flags}"' for value, flags in both) + "\n"


def column(days: StationDays, name: str) -> list[object]:
    return list(days.table[name].to_pylist())


# --- values


def test_every_measure_has_its_unit(write: Write) -> None:
    rows = [("TMIN", -153), ("TMAX", 153), ("PRCP", 7), ("RHAV", 83), ("AWND", 32), ("SNOW", 120), ("TAVG", 5)]
    days = ghcn_daily(write("".join(row("20230701", *one) for one in rows)), anemometer_height_m=2)
    assert days.table.column_names == ["on", "t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s"]
    first = days.table.to_pylist()[0]
    wind = first.pop("wind_m_s")
    assert first == {"on": date(2023, 7, 1), "t_min_c": -15.3, "t_max_c": 15.3, "rain_mm": 0.7, "rh_pct": 83.0}
    # equation 47 of FAO-56 gives 1.0002 at 2 m
    assert wind == pytest.approx(3.2, abs=0.001)


def test_every_tenth_is_the_decimal_it_is_written_as(write: Write) -> None:
    tenths = range(-900, 900)
    days = [date(2000, 1, 1) + timedelta(days=n) for n in range(len(tenths))]
    text = "".join(row(f"{day:%Y%m%d}", "TMIN", n) for day, n in zip(days, tenths, strict=True))
    assert column(ghcn_daily(write(text)), "t_min_c") == [float(str(Decimal(n) / 10)) for n in tenths]


def test_wind_is_left_missing_unless_its_height_is_told(write: Write) -> None:
    path = write(row("20230701", "AWND", 32) + row("20230701", "TMAX", 200) + row("20230702", "AWND", 40))
    untold = ghcn_daily(path)
    assert untold.table.num_rows == 1
    assert column(untold, "wind_m_s") == [None]
    assert any("2 values of AWND" in note and "anemometer_height_m" in note for note in untold.notes)
    told = ghcn_daily(path, anemometer_height_m=10)
    assert column(told, "wind_m_s") == [pytest.approx(2.3935, abs=5e-4), pytest.approx(2.9918, abs=5e-4)]
    assert any("2 values of AWND from 10 m to 2 m" in note for note in told.notes)


@pytest.mark.parametrize("height", [0, -2, 0.5, 1000, "10", float("nan"), True])
def test_a_height_that_is_none_is_refused(write: Write, height: float) -> None:
    with pytest.raises(ArgumentError, match="anemometer_height_m is"):
        ghcn_daily(write(row("20230701", "AWND", 32)), anemometer_height_m=height)


def test_what_failed_a_check_is_left_out_and_counted_by_element(write: Write) -> None:
    text = row("20230701", "TMAX", 999, q="X") + row("20230702", "TMAX", 998, q="G") + row("20230702", "PRCP", 5, q="D")
    days = ghcn_daily(write(text + row("20230702", "TMIN", 100) + row("20230703", "SNOW", 3, q="I")))
    assert days.left_out == {"TMAX": 2, "PRCP": 1}
    assert column(days, "on") == [date(2023, 7, 2)]
    assert column(days, "t_max_c") == [None]
    assert column(days, "rain_mm") == [None]
    assert "left out: 2 values of TMAX that failed a quality check of the source" in days.notes


@pytest.mark.parametrize("value", ["", "9999", "-9999"])
def test_missing_stays_missing(write: Write, value: str) -> None:
    days = ghcn_daily(write(row("20230701", "PRCP", value, q="X") + row("20230701", "TMAX", 0)))
    assert days.table.select(["t_max_c", "rain_mm"]).to_pylist() == [{"t_max_c": 0.0, "rain_mm": None}]
    assert days.left_out == {}
    assert days.notes == ("missing in the file: 1 value of PRCP",)


def test_a_trace_is_0_and_a_presumed_zero_is_missing(write: Write) -> None:
    days = ghcn_daily(write(row("20230701", "PRCP", 0, m="T") + row("20230702", "PRCP", 0, m="P")))
    assert days.table.select(["on", "rain_mm"]).to_pylist() == [{"on": date(2023, 7, 1), "rain_mm": 0.0}]
    assert days.notes == ("left out: 1 value of PRCP only presumed to be zero (m-flag P)",)


def test_totals_of_several_days_are_not_spread(write: Write) -> None:
    text = row("20230703", "MDPR", 300) + row("20230703", "DAPR", 3) + row("20230704", "PRCP", 12)
    days = ghcn_daily(write(text))
    assert days.table.select(["on", "rain_mm"]).to_pylist() == [{"on": date(2023, 7, 4), "rain_mm": 1.2}]
    assert any("1 value of MDPR (rain of several days together)" in note for note in days.notes)


def test_what_the_readme_doubts_is_kept_and_said(write: Write) -> None:
    days = ghcn_daily(write(row("20230701", "TMAX", 200, m="L") + row("20230701", "PRCP", 8, s="S")))
    assert (column(days, "t_max_c"), column(days, "rain_mm")) == ([20.0], [0.8])
    assert "1 value of TMAX marked as lagging" in days.notes[0]
    assert "1 value of PRCP made from hourly reports" in days.notes[1]


def test_days_come_in_order_and_the_same_row_twice_is_one(write: Write) -> None:
    text = row("20230702", "PRCP", 1) + row("20230701", "PRCP", 2) + row("20230702", "PRCP", 1)
    assert column(ghcn_daily(write(text)), "rain_mm") == [0.2, 0.1]


def test_a_value_that_failed_does_not_dispute_the_one_that_did_not(write: Write) -> None:
    days = ghcn_daily(write(row("20230701", "TMAX", 900, q="X") + row("20230701", "TMAX", 200)))
    assert column(days, "t_max_c") == [20.0]
    assert days.left_out == {"TMAX": 1}


def test_a_minimum_over_the_maximum_is_left_to_the_checker(write: Write) -> None:
    days = ghcn_daily(write(row("20230701", "TMAX", 100) + row("20230701", "TMIN", 200)))
    assert days.table.select(["t_min_c", "t_max_c"]).to_pylist() == [{"t_min_c": 20.0, "t_max_c": 10.0}]


def test_a_station_without_a_day_of_use_has_no_rows_and_says_so(write: Write) -> None:
    days = ghcn_daily(write(row("20230701", "SNOW", 100)))
    assert days.table.num_rows == 0
    assert days.notes == (f"no day of {STATION} has a value that can be kept",)


# --- stations and places


def test_several_stations_need_one_named(write: Write) -> None:
    others = ["XX000000002", "XX000000003"]
    path = write("".join(row("20230701", "TMAX", n, station=name) for n, name in enumerate([STATION, *others])))
    with pytest.raises(
        IntakeError, match=r"more than one station, among them XX000000001, XX000000002, XX000000003; say which"
    ):
        ghcn_daily(path)
    assert column(ghcn_daily(path, station=others[1]), "t_max_c") == [0.2]
    with pytest.raises(
        IntakeError, match=r"holds no station 'XX000000004'; near it: .*; it holds 3 stations, among them XX000000001, "
    ):
        ghcn_daily(path, station="XX000000004")


def test_a_station_is_found_beyond_the_first_blocks_of_a_file(write: Write) -> None:
    many = "".join(row("20230701", "TMAX", 1, station=f"YY{n:09d}") for n in range(150_000))
    path = write(many + row("20230701", "TMAX", 222) + many + row("20230702", "TMAX", 223))
    assert path.stat().st_size > 2 * 4 * 2**20
    assert column(ghcn_daily(path, station=STATION), "t_max_c") == [22.2, 22.3]
    with pytest.raises(IntakeError, match="YY000000006, YY000000007; say which"):
        ghcn_daily(path)


def test_the_number_of_a_row_counts_every_block(write: Write) -> None:
    good = "".join(row(f"{date(1900, 1, 1) + timedelta(days=n % 40_000):%Y%m%d}", "SNOW", 1) for n in range(150_000))
    with pytest.raises(IntakeError, match="row 150002: TMAX is 'x'"):
        ghcn_daily(write(HEADINGS + good + row("20230701", "TMAX", "x")))
    with pytest.raises(IntakeError, match="row 150002 has 2 cells where there should be 8"):
        ghcn_daily(write(HEADINGS + good + f"{STATION},20230701\n"))


def test_a_place_is_read_where_the_layout_has_one(write: Write) -> None:
    days = ghcn_daily(write(DAY_HEADINGS + day_row("2023-07-01", TMAX=(200, ",,X"))))
    place = (days.station, days.name, days.latitude, days.longitude, days.elevation_m)
    assert place == (STATION, "INVENTED HILL, XX", 51.5, -0.5, 30.0)
    moved = day_row("2023-07-02", TMAX=(210, ",,X")).replace("51.5", "51.6").replace("30.0", "-999.9")
    days = ghcn_daily(write(DAY_HEADINGS + day_row("2023-07-01", TMAX=(200, ",,X")) + moved))
    assert (days.latitude, days.elevation_m) == (51.6, None)
    assert days.notes == (f"{STATION} is given 2 different places or names; the last is taken",)
    bare = "STATION,DATE,TMAX,TMAX_ATTRIBUTES\n" + f'{STATION},2023-07-01,200,",,X,0700"\n'
    days = ghcn_daily(write(bare))
    assert (days.name, days.latitude, days.longitude, days.elevation_m) == (None, None, None, None)
    assert column(days, "t_max_c") == [20.0]


# --- the layouts agree

FLAG = (
    st.sampled_from(["", "", "", "T", "P", "L"]),
    st.sampled_from(["", "", "", "X", "I"]),
    st.sampled_from(["X", "S"]),
)
CELL = st.tuples(st.one_of(st.integers(-900, 900), st.sampled_from([9999, -9999])), *FLAG)
TABLE = st.dictionaries(
    st.dates(date(1763, 1, 1), date(2024, 12, 31)),
    st.dictionaries(st.sampled_from([*COLUMN, "SNOW"]), CELL, min_size=1),
    min_size=1,
    max_size=12,
)


@given(table=TABLE, height=st.sampled_from([None, 10.0]), packed=st.booleans(), headed=st.booleans())
def test_both_layouts_of_the_same_days_read_the_same(
    tmp_path_factory: pytest.TempPathFactory,
    table: dict[date, dict[str, tuple[int, str, str, str]]],
    height: float | None,
    packed: bool,
    headed: bool,
) -> None:
    by_value = HEADINGS if headed else ""
    by_day = DAY_HEADINGS
    for day, cells in table.items():
        for element, (value, m, q, s) in cells.items():
            by_value += row(f"{day:%Y%m%d}".zfill(8), element, value, m, q, s)
        flagged = {element: (f"{value:5d}", f"{m},{q},{s}") for element, (value, m, q, s) in cells.items()}
        by_day += day_row(day.isoformat(), **flagged)
    folder = tmp_path_factory.mktemp("layouts")
    read: list[StationDays] = []
    for name, text in (("values.csv", by_value), ("days.csv", by_day)):
        (folder / name).write_bytes(gzip.compress(text.encode()) if packed else text.encode())
        read.append(ghcn_daily(folder / name, anemometer_height_m=height))
    assert read[0].table.equals(read[1].table)
    assert read[0].left_out == read[1].left_out
    assert sorted(read[0].notes) == sorted(read[1].notes)
    # and they are the days that a plain loop finds
    wanted = {
        (day, element): value
        for day, cells in table.items()
        for element, (value, m, q, _) in cells.items()
        if abs(value) != 9999 and not q and m != "P" and element != "SNOW" and (height or element != "AWND")
    }
    assert column(read[0], "on") == sorted({day for day, _ in wanted})
    for element, name in COLUMN.items():
        got = dict(zip(column(read[0], "on"), column(read[0], name), strict=True))
        for day in got:
            value = wanted.get((day, element))
            assert (got[day] is None) == (value is None)
            if value is not None and element != "AWND":
                assert got[day] == (value if element == "RHAV" else value / 10)


# --- what is no such file


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "is empty"),
        ("\n\n", "is empty, or its first row is"),
        (HEADINGS, "has no row below its headings"),
        (DAY_HEADINGS, "has no row below its headings"),
        ("event,label,on\nsown,B1,2023-07-01\n", "in no published layout of GHCN-Daily: row 1 is 'event,label,on'"),
        ("DATE,TMAX,TMAX_ATTRIBUTES\n", "in no published layout"),
        ("STATION,DATE,SNOW,SNOW_ATTRIBUTES\n", "has none of the columns TMIN, TMAX, PRCP"),
        ("STATION,DATE,TMAX\n", "has no column TMAX_ATTRIBUTES, without which it cannot be told which values failed"),
        ("STATION,DATE,DATE,TMAX,TMAX_ATTRIBUTES\n", "has a column twice: DATE"),
        ("<html>" + "x" * 100_000, "row 1 is longer than 65536 bytes"),
        ("\0\0\0\n", "in no published layout"),
        (row("20230701", "TMAX", 200) + "<html>\n", "row 2 has 1 cell where there should be 8"),
        (row("20230701", "TMAX", 200) + row("20230702", "TMAX", 200, station="station"), "row 2: 'station' is no stat"),
        (row("20230701", "TMAX", 200) + ",20230702,TMAX,200,,,X,\n", "row 2: '' is no station"),
        (row("20230701", "TMAX", 200) + row("20230702", "TMAX", "warm"), "row 2: TMAX is 'warm', which is no whole"),
        (row("20230701", "TMAX", 200) + row("20230702", "TMAX", "20\0"), r"row 2: TMAX is '20\\x00', which is no who"),
        (row("20230701", "TMAX", "1e3"), "row 1: TMAX is '1e3', which is no whole number"),
        (row("20230701", "TMAX", "99999999999999999999"), "which is no whole number"),
        (row("20230701", "TMAX", "21.7"), r"row 1: TMAX is '21.7', with a decimal point.*perennia.intake.read"),
        (row("20230701", "Tmax", 200), "row 1: 'Tmax' is no element"),
        (row("20230229", "TMAX", 200), "row 1: '20230229' is no day"),
        (row("20230701", "TMAX", 200) + row("2023-7-1", "TMAX", 200), "row 2: '2023-7-1' is no day"),
        (row("20230701", "TMAX", 200) + row("2023W011", "TMAX", 200), "row 2: '2023W011' is no day"),
        (row("20230701", "TMAX", 200, q="XY"), "row 1: 'XY' in q-flag is no flag"),
        (
            row("20230701", "TMAX", 200) + row("20230702", "TMIN", 9) + row("20230701", "TMAX", 210),
            "rows 1 to 3 give TMAX on 2023-07-01 more than once, from 200 to 210",
        ),
        (DAY_HEADINGS + day_row("2023-07-01", TMAX=("71", "no flags")), "row 2: 'no flags' in TMAX_ATTRIBUTES is no f"),
        (DAY_HEADINGS + day_row("2023-07-01", PRCP=("0.12", ",,X")), "row 2: PRCP is '0.12', with a decimal point"),
        (DAY_HEADINGS + day_row("07/01/2023", PRCP=("12", ",,X")), "row 2: '07/01/2023' is no day"),
        (
            DAY_HEADINGS + day_row("2023-07-01", PRCP=(1, ",,X")) + day_row("2023-07-01", PRCP=(2, ",,X")),
            "rows 2 to 3 give PRCP on 2023-07-01 more than once, from 1 to 2",
        ),
        (DAY_HEADINGS + day_row("2023-07-01", PRCP=(1, ",,X")).replace("51.5", "north"), "LATITUDE is 'north', which"),
        (DAY_HEADINGS + day_row("2023-07-01", PRCP=(1, ",,X")).replace("51.5", "nan"), "LATITUDE is 'nan', which"),
    ],
)
def test_a_file_that_is_none_is_refused_in_words(write: Write, text: str, message: str) -> None:
    with pytest.raises(IntakeError, match=message) as caught:
        ghcn_daily(write(text))
    assert str(caught.value).startswith(str(write(text)))


def test_a_long_line_in_the_middle_is_refused(write: Write) -> None:
    with pytest.raises(IntakeError, match=r"has a row, at or after row \d, longer than 4194304 bytes"):
        ghcn_daily(write(row("20230701", "TMAX", 200) + "x" * 50_000_000))


def test_a_quotation_mark_that_is_not_closed_swallows_no_row(write: Write) -> None:
    bare = "STATION,DATE,TMAX,TMAX_ATTRIBUTES,SNOW,SNOW\n"
    rows = [f'{STATION},2023-07-0{n},200,",,X",,' for n in range(1, 6)]
    assert ghcn_daily(write(bare + "\n".join(rows) + "\n")).table.num_rows == 5
    rows[1] += '"'
    with pytest.raises(IntakeError, match="row 3 has 10 cells where there should be 6"):
        ghcn_daily(write(bare + "\n".join(rows) + "\n"))
    plain = [f"{STATION},2023-07-0{n},200,,," for n in range(1, 6)]
    plain[1] += '"'
    with pytest.raises(IntakeError, match="row 3 has a cell that holds whole rows"):
        ghcn_daily(write(bare + "\n".join(plain) + "\n"))
    # a row of one value has no quoted cells
    values = row("20230701", "TMAX", 200) + row("20230702", "TMAX", 210, m='"') + row("20230703", "TMAX", 220)
    assert column(ghcn_daily(write(values)), "t_max_c") == [20.0, 21.0, 22.0]


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "station.csv"
    path.write_bytes(b"PK\x03\x04\xff\xfe\x00")
    with pytest.raises(IntakeError, match="row 1 cannot be read as text"):
        ghcn_daily(path)
    path.write_bytes(row("20230701", "TMAX", 200).encode() + b"\xff" + row("20230702", "TMAX", 200).encode())
    with pytest.raises(IntakeError, match=r"cannot be read at or after row 1 .*Row #2.*UTF8"):
        ghcn_daily(path)
    path.write_bytes(row("20230701", "TMAX", 200).encode() + b"\xff\xfe,2\n")
    with pytest.raises(IntakeError, match="row 2 has 2 cells where there should be 8"):
        ghcn_daily(path)


def test_a_file_that_is_not_there_or_a_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="there is no file"):
        ghcn_daily(tmp_path / "none.csv")
    with pytest.raises(IntakeError, match="is no file but a folder"):
        ghcn_daily(tmp_path)


@pytest.mark.parametrize("rows", [1, 200_000])
def test_a_packed_file_that_is_cut_short_or_spoilt_is_told(tmp_path: Path, rows: int) -> None:
    first = date(1800, 1, 1)
    text = "".join(row(f"{first + timedelta(days=n % 70_000):%Y%m%d}", "SNOW", n % 997) for n in range(rows))
    packed = gzip.compress(text.encode())
    path = tmp_path / "station.csv.gz"
    path.write_bytes(packed)
    assert ghcn_daily(path).station == STATION
    spoilt = packed[:-8] + b"\0" * 8
    for data in (packed[:-4], packed[: len(packed) // 2], spoilt, packed + b"more"):
        path.write_bytes(data)
        with pytest.raises(
            IntakeError, match=r"station.csv.gz cannot be read at or after row \d+ \(.*download it again"
        ):
            ghcn_daily(path)


def test_blank_rows_a_byte_order_mark_and_windows_line_ends_are_nothing(tmp_path: Path) -> None:
    path = tmp_path / "station.csv"
    for start in ("", HEADINGS):
        rows = row("20230701", "TMAX", 200) + "\n" + row("20230702", "TMAX", 210) + "\n\n"
        path.write_bytes(b"\xef\xbb\xbf" + (start + rows).replace("\n", "\r\n").encode())
        assert column(ghcn_daily(path), "t_max_c") == [20.0, 21.0]
        path.write_bytes((start + rows + row("20230702", "TMAX", "x")).encode())
        with pytest.raises(IntakeError, match=f"row {6 + bool(start)}: TMAX is 'x'"):
            ghcn_daily(path)
