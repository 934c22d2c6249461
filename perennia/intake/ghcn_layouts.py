"""The two published CSV layouts of GHCN-Daily, read block by block into one table of one station's cells as text.

A file of a year holds every station of the world, some 30 million rows: rows of other stations are dropped block by
block, before anything else is done with them.
"""

from __future__ import annotations

import csv
import gzip
import io
import re
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import attrs
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pv

from perennia.checking.words import counted, nearest
from perennia.errors import IntakeError
from perennia.intake.files import regular

# the columns of the layout of one value a row, in the order of NOAA's readme-by_year.txt and readme-by_station.txt
_VALUE_A_ROW = ("STATION", "DATE", "ELEMENT", "VALUE", "M", "Q", "S", "OBS")
# the heading line that the newer files of one station and of the public data set begin with
_VALUE_HEADINGS = ("ID", "DATE", "ELEMENT", "DATA_VALUE", "M_FLAG", "Q_FLAG", "S_FLAG", "OBS_TIME")
_PLACE = ("NAME", "LATITUDE", "LONGITUDE", "ELEVATION")
_FLAGS = ("m_flag", "q_flag", "s_flag")
_STATION = r"^[A-Z0-9]{11}$"
# measurement, quality and source flag, then, in some files, the time of observation: read off the files themselves
_ATTRIBUTES = r"^(?P<m_flag>[^,]?),(?P<q_flag>[^,]?),(?P<s_flag>[^,]?)(?:,[^,]*)?$"
# how the CSV reader names a row that has too few or too many cells
_TORN_ROW = re.compile(r"Row #(\d+): Expected (\d+) columns, got (\d+)")
_FIRST_ROW_BYTES = 1 << 16
_BLOCK_BYTES = 1 << 22
_NAMED = 8
_WANTED = (
    "a GHCN-Daily file begins with a row such as ITE00100554,17631231,TMAX,79,,,E, or with the headings "
    "STATION,DATE,...,PRCP,PRCP_ATTRIBUTES,..."
)

VALUES = pa.schema([("row", pa.int64()), *((name, pa.string()) for name in ("day", "element", "value", *_FLAGS))])


@attrs.frozen
class StationCells:
    """One station's cells as text.

    values: one row a value of an element on a day, columns of VALUES; day as the file writes it, row as the file
    counts, its first line being 1. places: the distinct NAME, LATITUDE, LONGITUDE, ELEVATION it is given, in order;
    without rows where the layout has none.
    """

    station: str
    values: pa.Table
    places: pa.Table


@attrs.frozen
class _Layout:
    """columns of the file in order; headed: whether its first line names them; a_row: whether a row is one value."""

    columns: tuple[str, ...]
    headed: bool
    a_row: bool

    def used(self, elements: Sequence[str]) -> list[str]:
        """The columns that are used."""
        if self.a_row:
            return list(_VALUE_A_ROW[:-1])
        present = [name for name in elements if name in self.columns]
        return [
            "STATION",
            "DATE",
            *(name for name in _PLACE if name in self.columns),
            *present,
            *(f"{name}_ATTRIBUTES" for name in present),
        ]


def station_cells(path: Path, station: str | None, elements: Sequence[str]) -> StationCells:
    """The cells of the named elements of one station, which must be named where the file holds several.

    Raises IntakeError, naming file and row, for a file that is in neither layout or cannot be read through.
    """
    regular(path)
    try:
        with path.open("rb") as raw:
            packed = raw.read(2) == b"\x1f\x8b"
            raw.seek(0)
            with gzip.open(raw) if packed else raw as file:
                return _read(path, file, station, elements)
    except (OSError, EOFError, zlib.error) as error:
        raise _broken(path, 1, error) from error


def _read(path: Path, file: io.BufferedIOBase, station: str | None, elements: Sequence[str]) -> StationCells:
    layout = _layout(path, _first_row(path, file), elements)
    file.seek(0)
    seen: dict[str, None] = {}
    values = [VALUES.empty_table()]
    places: list[pa.Table] = []
    for block in _blocks(path, file, layout, layout.used(elements)):
        here = _stations(path, block)
        seen.update(dict.fromkeys(here))
        if station is None and len(seen) > 1:
            some = ", ".join(list(seen)[:_NAMED])
            raise IntakeError(f"{path} holds more than one station, among them {some}; say which with station=...")
        chosen = next(iter(seen), None) if station is None else station
        if chosen not in here:
            continue
        rows = block.filter(pc.equal(block["STATION"], chosen))
        if layout.a_row:
            values.append(_of_rows(path, rows, elements))
        else:
            values.append(_of_columns(path, rows, elements))
            places.append(_places(rows))
    if not seen:
        raise IntakeError(f"{path} has no row below its headings; download it again")
    if station is not None and station not in seen:
        held = ", ".join(list(seen)[:_NAMED])
        raise IntakeError(
            f"{path} holds no station {station!r}{nearest(station, seen)}; it holds {counted(len(seen), 'station')}, "
            f"among them {held}"
        )
    return StationCells(next(iter(seen)) if station is None else station, pa.concat_tables(values), _distinct(places))


def _first_row(path: Path, file: io.BufferedIOBase) -> list[str]:
    """The cells of the first line, of which no more is read than a heading line can hold."""
    line = file.readline(_FIRST_ROW_BYTES)
    if not line.strip():
        raise IntakeError(f"{path} is empty, or its first row is; {_WANTED}")
    if len(line) == _FIRST_ROW_BYTES:
        raise IntakeError(f"{path} row 1 is longer than {_FIRST_ROW_BYTES} bytes; {_WANTED}")
    try:
        cells = next(csv.reader([line.decode("utf-8-sig")], strict=True))
    except (ValueError, csv.Error) as error:
        raise IntakeError(f"{path} row 1 cannot be read as text ({error}); {_WANTED}") from error
    return [cell.strip() for cell in cells]


def _layout(path: Path, first: list[str], elements: Sequence[str]) -> _Layout:
    if tuple(first) == _VALUE_HEADINGS:
        return _Layout(_VALUE_A_ROW, headed=True, a_row=True)
    if len(first) == len(_VALUE_A_ROW) and len(first[1]) == 8 and first[1].isdigit():
        return _Layout(_VALUE_A_ROW, headed=False, a_row=True)
    if "STATION" not in first or "DATE" not in first:
        raise IntakeError(
            f"{path} is in no published layout of GHCN-Daily: row 1 is {','.join(first)[:120]!r}; {_WANTED}"
        )
    layout = _Layout(tuple(first), headed=True, a_row=False)
    used = layout.used(elements)
    if not set(used) & set(elements):
        raise IntakeError(f"{path} has none of the columns {', '.join(elements)}; {_WANTED}")
    for name in used:
        if first.count(name) > 1:
            raise IntakeError(f"{path} has a column twice: {name}; download it again")
        if name not in first:
            raise IntakeError(
                f"{path} has no column {name}, without which it cannot be told which values failed a quality check; "
                "order it with its flags, or take it in as a daily table of your own with perennia.intake.read"
            )
    return layout


def _blocks(path: Path, file: io.BufferedIOBase, layout: _Layout, used: list[str]) -> Iterator[pa.Table]:
    """The file block by block: the columns used as text, and the number of each row."""
    row = 1 + layout.headed
    names = [name if name in used else f"column {place}" for place, name in enumerate(layout.columns, start=1)]
    # where cells may be quoted every column is read: one mark that is not closed would swallow rows unseen
    read = used if layout.a_row else names
    try:
        blocks = pv.open_csv(
            file,
            # one thread: only then does a row that cannot be split know its number
            read_options=pv.ReadOptions(
                column_names=names, skip_rows=int(layout.headed), block_size=_BLOCK_BYTES, use_threads=False
            ),
            parse_options=pv.ParseOptions(quote_char=False if layout.a_row else '"', ignore_empty_lines=False),
            convert_options=pv.ConvertOptions(
                include_columns=read, column_types=dict.fromkeys(read, pa.string()), strings_can_be_null=False
            ),
        )
        for block in blocks:
            numbers = pa.array(np.arange(row, row + block.num_rows))
            table = pa.Table.from_batches([block]).append_column("row", numbers)
            if not layout.a_row:
                _check_cells(path, table, names)
            yield table.select([*used, "row"])
            row += block.num_rows
    except (pa.ArrowInvalid, OSError, EOFError, zlib.error) as error:
        torn = _TORN_ROW.search(str(error))
        if torn:
            number, wanted, found = map(int, torn.groups())
            raise IntakeError(
                f"{path} row {number} has {counted(found, 'cell')} where there should be {wanted}; download it again"
            ) from error
        if "straddling" in str(error):
            raise IntakeError(
                f"{path} has a row, at or after row {row}, longer than {_BLOCK_BYTES} bytes; it is no GHCN-Daily file"
            ) from error
        if "Empty CSV" in str(error):
            return
        raise _broken(path, row, error) from error


def _check_cells(path: Path, rows: pa.Table, names: list[str]) -> None:
    """Raises IntakeError for a cell of several lines."""
    for name in names:
        several = pc.match_substring(rows[name], "\n")
        if pc.any(several).as_py():
            raise IntakeError(
                f"{path} row {rows['row'].filter(several)[0]} has a cell that holds whole rows; a quotation mark "
                "is not closed, or stands where none belongs"
            )


def _broken(path: Path, row: int, error: Exception) -> IntakeError:
    return IntakeError(f"{path} cannot be read at or after row {row} ({error}); download it again")


def _stations(path: Path, block: pa.Table) -> list[str]:
    """The stations of a block, each checked to be one; blank rows have none."""
    ids = pc.unique(block["STATION"])
    wrong = ids.filter(pc.invert(pc.match_substring_regex(ids, _STATION)))
    for text in wrong.to_pylist():
        rows = block.filter(pc.equal(block["STATION"], text))
        if not text:
            rows = rows.filter(pc.not_equal(rows["DATE"], ""))
        if rows.num_rows:
            raise IntakeError(
                f"{path} row {rows['row'][0]}: {text[:40]!r} is no station; it must be 11 capitals and digits"
            )
    return [str(text) for text in ids.to_pylist() if text]


def _of_rows(path: Path, rows: pa.Table, elements: Sequence[str]) -> pa.Table:
    odd = rows.filter(pc.invert(pc.match_substring_regex(rows["ELEMENT"], r"^[A-Z0-9]{4}$")))
    if odd.num_rows:
        raise IntakeError(
            f"{path} row {odd['row'][0]}: {odd['ELEMENT'][0].as_py()[:40]!r} is no element; it must be 4 capitals and "
            "digits, such as TMAX"
        )
    rows = rows.filter(pc.is_in(rows["ELEMENT"], pa.array(elements)))
    flags = [pc.utf8_trim_whitespace(rows[name]) for name in ("M", "Q", "S")]
    for flag, name in zip(flags, _FLAGS, strict=True):
        long = pc.greater(pc.utf8_length(flag), 1)
        if pc.any(long).as_py():
            raise _bad_flags(path, rows["row"].filter(long)[0], flag.filter(long)[0], name.replace("_", "-"))
    return pa.table(
        [rows["row"], rows["DATE"], rows["ELEMENT"], pc.utf8_trim_whitespace(rows["VALUE"]), *flags], schema=VALUES
    )


def _of_columns(path: Path, rows: pa.Table, elements: Sequence[str]) -> pa.Table:
    parts = [VALUES.empty_table()]
    for element in elements:
        if element in rows.column_names:
            parts.append(_of_column(path, rows, element))
    return pa.concat_tables(parts)


def _of_column(path: Path, rows: pa.Table, element: str) -> pa.Table:
    """The days on which an element has a cell."""
    texts = pc.utf8_trim_whitespace(rows[element])
    given = pc.not_equal(texts, "")
    rows, texts = rows.filter(given), texts.filter(given)
    attributes = rows[f"{element}_ATTRIBUTES"]
    blank = pc.equal(attributes, "")
    flags = pc.extract_regex(pc.if_else(blank, ",,", attributes), _ATTRIBUTES)
    unread = pc.is_null(flags)
    if pc.any(unread).as_py():
        raise _bad_flags(path, rows["row"].filter(unread)[0], attributes.filter(unread)[0], f"{element}_ATTRIBUTES")
    columns = [pc.utf8_trim_whitespace(pc.struct_field(flags, name)) for name in _FLAGS]
    names = pa.array([element] * rows.num_rows, pa.string())
    return pa.table([rows["row"], rows["DATE"], names, texts, *columns], schema=VALUES)


def _bad_flags(path: Path, row: Any, text: Any, name: str) -> IntakeError:
    return IntakeError(f"{path} row {row}: {text.as_py()[:40]!r} in {name} is no flag; a flag is one sign or nothing")


def _places(rows: pa.Table) -> pa.Table:
    """The distinct places of a block's rows, in order; a part the file has not is empty."""
    columns = [name for name in _PLACE if name in rows.column_names]
    if not columns:
        return pa.table({name: pa.array([], pa.string()) for name in _PLACE})
    distinct = rows.group_by(columns, use_threads=False).aggregate([])
    empty = pa.array([""] * distinct.num_rows, pa.string())
    return pa.table({name: distinct[name] if name in columns else empty for name in _PLACE})


def _distinct(places: list[pa.Table]) -> pa.Table:
    if not places:
        return pa.table({name: pa.array([], pa.string()) for name in _PLACE})
    return pa.concat_tables(places).group_by(list(_PLACE), use_threads=False).aggregate([])
