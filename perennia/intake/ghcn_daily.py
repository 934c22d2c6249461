"""Daily weather of one station from a NOAA GHCN-Daily file, in the units of perennia."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking import arguments
from perennia.checking.words import counted
from perennia.errors import ArgumentError, IntakeError
from perennia.intake.ghcn_layouts import StationCells, station_cells

# the element of each column, and what one unit of the file is in the unit of the column
_MEASURES = {"t_min_c": "TMIN", "t_max_c": "TMAX", "rain_mm": "PRCP", "rh_pct": "RHAV", "wind_m_s": "AWND"}
_PARTS_A_UNIT = {"TMIN": 10.0, "TMAX": 10.0, "PRCP": 10.0, "RHAV": 1.0, "AWND": 10.0}
# amounts of several days together, which belong to no one day
_OVER_DAYS = {"MDPR": "rain", "MDTN": "lowest temperatures", "MDTX": "highest temperatures"}
_MISSING = ("-9999", "9999")
_HEIGHTS_M = (1.0, 100.0)


@attrs.frozen
class StationDays:
    """The days of one station.

    station: GHCN-Daily identifier. name, latitude, longitude (degrees), elevation_m: None where the layout has none.
    table: one row a day that has at least one value, in order of days; columns on (date32), t_min_c, t_max_c, rain_mm,
    rh_pct, wind_m_s (float64), missing where missing. left_out: of each element of the file with such values, the
    number that failed a quality check of the source. notes: what else was left out, converted or is to be doubted,
    in plain sentences.
    """

    station: str
    name: str | None
    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    table: pa.Table
    left_out: Mapping[str, int]
    notes: tuple[str, ...]


def ghcn_daily(
    path: str | Path, *, station: str | None = None, anemometer_height_m: float | None = None
) -> StationDays:
    """Read one station's days from the NOAA GHCN-Daily CSV file at path, plain or packed with gzip.

    Layouts: one value a row, without headings or headed ID,DATE,ELEMENT,... (the files of a year or of one station;
    readme-by_year.txt, readme-by_station.txt), or one day a row, headed STATION,DATE,... with each element followed by
    its _ATTRIBUTES (the access files). station: needed where the file holds several.

    Elements, units and flags are those of the GHCN-Daily readme.txt, section III (NOAA NCEI): TMIN, TMAX in tenths of
    a degree C, PRCP in tenths of mm, AWND in tenths of m/s, RHAV in %; other elements are not read. That RHAV is in %
    comes from the readme's later versions, seen only as others quote it.

    - A value whose quality flag is not blank failed a check: it is left out and counted.
    - An empty cell, -9999 (readme.txt) or 9999 (the sign of NOAA's orders, from memory) is missing.
    - A trace of precipitation (m-flag T) is the 0 that the file gives. A zero that is only presumed where nothing was
      written (m-flag P) is missing. No m-flag means accumulated: several days' rain is an element of its own (MDPR),
      is not spread over its days and is counted in notes.
    - AWND is the mean wind at the height of the station's anemometer, mostly 10 m (from memory; the readme gives no
      height), and perennia keeps wind at 2 m. With anemometer_height_m, from 1 to 100, it is converted over short grass
      by u2 = uz * 4.87 / ln(67.8 z - 5.42), Allen et al. 1998, FAO Irrigation and Drainage Paper 56, equation 47;
      without it wind stays missing.

    What cannot be told: an order from NOAA can be in whole degrees or inches under the same headings. A decimal point
    in any value read gives it away and is refused; a file of whole degrees F or C alone looks like tenths. Which hours
    a day covers: an observer who reads in the morning mostly writes the day before's maximum and rain (common practice,
    no source); days are kept as the file has them.

    Raises IntakeError, naming file and row, for a file that is none of these, is cut short, or gives an element twice
    with different values on one day; ArgumentError.
    """
    path = arguments.a_path(path, "path")
    station = None if station is None else arguments.a_name(station, "station")
    height = None if anemometer_height_m is None else _a_height(anemometer_height_m)
    cells = station_cells(path, station, (*_PARTS_A_UNIT, *_OVER_DAYS))
    notes: list[str] = []
    values, left_out = _kept(_numbers(path, cells.values), notes)
    _check_once(path, values)
    table = _by_day(_wind_at_2_m(values, height, notes))
    if not table.num_rows:
        notes.append(f"no day of {cells.station} has a value that can be kept")
    name, latitude, longitude, elevation_m = _place(path, cells, notes)
    return StationDays(cells.station, name, latitude, longitude, elevation_m, table, left_out, tuple(notes))


def _a_height(value: float) -> float:
    height = arguments.a_number_above_0(value, "anemometer_height_m")
    low, high = _HEIGHTS_M
    if not low <= height <= high:
        raise ArgumentError(f"anemometer_height_m is {value!r}; give the height in m, from {low:g} to {high:g}")
    return height


def _numbers(path: Path, values: pa.Table) -> pa.Table:
    """values with ``on`` as a day and ``value`` as a whole number, missing where the file says so."""
    values = values.append_column("on", _days(path, values))
    texts = values["value"]
    texts = pc.if_else(pc.is_in(texts, pa.array(["", *_MISSING])), pa.scalar(None, pa.string()), texts)
    wrong = values.filter(pc.fill_null(pc.invert(pc.match_substring_regex(texts, r"^-?[0-9]{1,6}$")), False))
    if wrong.num_rows:
        raise _no_whole_number(path, wrong.slice(0, 1).to_pylist()[0])
    return values.set_column(values.column_names.index("value"), "value", pc.cast(texts, pa.int64()))


def _no_whole_number(path: Path, row: Mapping[str, str]) -> IntakeError:
    cell = f"{path} row {row['row']}: {row['element']} is {row['value'][:40]!r}"
    if "." in row["value"] and row["value"].replace(".", "", 1).lstrip("-").isdigit():
        return IntakeError(
            f"{cell}, with a decimal point; GHCN-Daily writes whole tenths, so this file is an order in other units: "
            'take it in as a daily table with perennia.intake.read(garden, path, event="weather", columns=..., '
            'units=..., constants={"site": ...})'
        )
    return IntakeError(f"{cell}, which is no whole number; download the file again")


def _days(path: Path, values: pa.Table) -> pa.ChunkedArray:
    """Each different text made a day once."""
    known: list[date] = []
    encoded = values["day"].combine_chunks().dictionary_encode()
    for text in encoded.dictionary.to_pylist():
        try:
            known.append(_day(text))
        except ValueError as error:
            row = values["row"].filter(pc.equal(values["day"], text))[0]
            raise IntakeError(
                f"{path} row {row}: {text[:40]!r} is no day; it must be written 20230131 in a file of one value a row, "
                "2023-01-31 in a file of one day a row"
            ) from error
    return pa.chunked_array([pa.array(known, pa.date32()).take(encoded.indices)])


def _day(text: str) -> date:
    plain = text.isascii() and text.replace("-", "").isdigit()
    if plain and (len(text) == 8 or (len(text) == 10 and text[4] == text[7] == "-")):
        return date.fromisoformat(text)
    raise ValueError("neither 20230131 nor 2023-01-31")


def _kept(values: pa.Table, notes: list[str]) -> tuple[pa.Table, dict[str, int]]:
    """The values that are there and passed every check; how many of each element did not pass; the rest in notes."""
    over_days = pc.is_in(values["element"], pa.array(list(_OVER_DAYS)))
    given = pc.is_valid(values["value"])
    for element, n in _counts(values.filter(pc.and_(over_days, given))).items():
        notes.append(
            f"left out: {counted(n, 'value')} of {element} ({_OVER_DAYS[element]} of several days together), not "
            "spread over the days"
        )
    values, given = values.filter(pc.invert(over_days)), given.filter(pc.invert(over_days))
    for element, n in _counts(values.filter(pc.invert(given))).items():
        notes.append(f"missing in the file: {counted(n, 'value')} of {element}")
    values = values.filter(given)
    failed = pc.not_equal(values["q_flag"], "")
    left_out = _counts(values.filter(failed))
    for element, n in left_out.items():
        notes.append(f"left out: {counted(n, 'value')} of {element} that failed a quality check of the source")
    values = values.filter(pc.invert(failed))
    presumed = pc.equal(values["m_flag"], "P")
    for element, n in _counts(values.filter(presumed)).items():
        notes.append(f"left out: {counted(n, 'value')} of {element} only presumed to be zero (m-flag P)")
    values = values.filter(pc.invert(presumed))
    _doubts(values, notes)
    return values, left_out


def _doubts(values: pa.Table, notes: list[str]) -> None:
    """What the readme says of values that are kept."""
    for element, n in _counts(values.filter(pc.equal(values["m_flag"], "L"))).items():
        notes.append(
            f"to be doubted: {counted(n, 'value')} of {element} marked as lagging behind the hour of observation "
            "(m-flag L)"
        )
    summary = pc.and_(pc.equal(values["element"], "PRCP"), pc.equal(values["s_flag"], "S"))
    n = pc.sum(summary).as_py()
    if n:
        notes.append(
            f"to be doubted: {counted(n, 'value')} of PRCP made from hourly reports (s-flag S), which the readme of "
            "GHCN-Daily says to use with caution"
        )


def _counts(values: pa.Table) -> dict[str, int]:
    return {str(row["values"]): int(row["counts"]) for row in pc.value_counts(values["element"]).to_pylist()}


def _check_once(path: Path, values: pa.Table) -> None:
    """Raises IntakeError where one element has different values on one day."""
    days = values.group_by(["element", "on"]).aggregate(
        [("value", "min"), ("value", "max"), ("row", "min"), ("row", "max")]
    )
    twice = days.filter(pc.not_equal(days["value_min"], days["value_max"])).sort_by("row_min")
    if twice.num_rows:
        day = twice.slice(0, 1).to_pylist()[0]
        raise IntakeError(
            f"{path} rows {day['row_min']} to {day['row_max']} give {day['element']} on {day['on']} more than once, "
            f"from {day['value_min']} to {day['value_max']}; keep the row that is right"
        )


def _wind_at_2_m(values: pa.Table, height: float | None, notes: list[str]) -> pa.Table:
    """values in the units of the columns, with wind at 2 m, or without wind where the height is not known."""
    n = _counts(values).get("AWND", 0)
    if n and height is None:
        notes.append(
            f"left out: {counted(n, 'value')} of AWND, which is wind at the height of the station's anemometer; give "
            "anemometer_height_m to have it converted to 2 m"
        )
        values = values.filter(pc.not_equal(values["element"], "AWND"))
    elif n:
        notes.append(f"converted: {counted(n, 'value')} of AWND from {height:g} m to 2 m (FAO-56 equation 47)")
    to_2_m = 1.0 if height is None else 4.87 / math.log(67.8 * height - 5.42)
    parts = pa.array(list(_PARTS_A_UNIT.values()))
    factors = pa.array([to_2_m if element == "AWND" else 1.0 for element in _PARTS_A_UNIT])
    which = pc.index_in(values["element"], pa.array(list(_PARTS_A_UNIT)))
    # a whole number over 10 is the double nearest to its decimal; times a tenth it would not be
    units = pc.divide(pc.cast(values["value"], pa.float64()), parts.take(which))
    in_units = pc.multiply(units, factors.take(which))
    return values.set_column(values.column_names.index("value"), "value", in_units)


def _by_day(values: pa.Table) -> pa.Table:
    """One row a day, one column a measure."""
    on = pc.unique(values["on"]).sort()
    columns = {"on": on}
    for column, element in _MEASURES.items():
        of_it = values.filter(pc.equal(values["element"], element))
        place = pc.index_in(on, of_it["on"].combine_chunks())
        columns[column] = of_it["value"].combine_chunks().take(place)
    return pa.table(columns)


def _place(
    path: Path, cells: StationCells, notes: list[str]
) -> tuple[str | None, float | None, float | None, float | None]:
    """Name, latitude, longitude and elevation as the last rows have them."""
    if not cells.places.num_rows:
        return None, None, None, None
    if cells.places.num_rows > 1:
        notes.append(f"{cells.station} is given {cells.places.num_rows} different places or names; the last is taken")
    last = cells.places.slice(cells.places.num_rows - 1).to_pylist()[0]
    degrees = [_number(path, name, last[name]) for name in ("LATITUDE", "LONGITUDE", "ELEVATION")]
    # -999.9: the readme's sign for an elevation that is not known (from memory)
    elevation_m = None if degrees[2] == -999.9 else degrees[2]
    return last["NAME"].strip() or None, degrees[0], degrees[1], elevation_m


def _number(path: Path, name: str, text: str) -> float | None:
    if not text.strip():
        return None
    try:
        number = float(text)
    except ValueError as error:
        raise IntakeError(f"{path}: {name} is {text[:40]!r}, which is no number; download the file again") from error
    if not math.isfinite(number):
        raise IntakeError(f"{path}: {name} is {text[:40]!r}, which is no number; download the file again")
    return number
