"""XLSX workbooks: each sheet a table; formulas as last computed, merged cells and errors told, bombs not opened."""

from __future__ import annotations

import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any
from xml.parsers import expat

import pyarrow as pa

from perennia.errors import IntakeError
from perennia.intake.sheet_columns import CHOICES, READ_ME
from perennia.intake.sheets import Part, Sheet, cell_text, checked_headings, filled

_EXPLAINING = frozenset({READ_ME.lower(), CHOICES.lower()})
_LARGEST_BYTES = 512 * 2**20
_LARGEST_RATIO = 200
# each takes some hundreds of bytes once it is read
_MOST_CELLS = 2_000_000
_MOST_MERGED = 100_000
_PROTECTED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_LOCKED = 1  # the flag of an entry that is packed under a password
_RANGE = re.compile(r"\$?([A-Za-z]{1,3})\$?([0-9]{1,9}):\$?([A-Za-z]{1,3})\$?([0-9]{1,9})")
_ROWS = Mapping[int, Mapping[int, Any]]


def read_workbook(path: Path) -> list[Sheet]:
    """The sheets of a workbook that hold anything, ``Read me`` and ``Choices`` left out. Raises IntakeError."""
    try:
        import openpyxl
    except ImportError as error:
        raise IntakeError("workbooks need openpyxl; install it with: pip install 'perennia[intake]'") from error
    _check_package(path)
    try:
        # it warns of all it leaves out, such as the lists a cell is chosen from, which are no cells
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            values = openpyxl.load_workbook(path, data_only=True)
            # what was typed, to tell an empty cell from a formula that no spreadsheet has computed yet
            typed = openpyxl.load_workbook(path)
    # the library raises whatever its many parts raise on a broken file
    except Exception as error:
        raise _broken(path, error) from error
    sheets = []
    for worksheet in values.worksheets:
        if worksheet.title.strip().lower() not in _EXPLAINING:
            rows = _rows(worksheet)
            _check_cells(path, worksheet, typed[worksheet.title], rows)
            sheets += _sheet(path, worksheet, rows)
    if not sheets:
        raise IntakeError(f"{path} has no sheet with anything in it")
    return sheets


def _broken(path: Path, error: Exception) -> IntakeError:
    why = str(error).splitlines()[0][:200] if str(error) else type(error).__name__
    return IntakeError(f"{path} cannot be read as a workbook ({why}); save it again as XLSX, or as CSV")


def _protected(path: Path) -> IntakeError:
    return IntakeError(
        f"{path} is protected by a password, or a workbook of the old kind; save it as XLSX without a password"
    )


def _check_package(path: Path) -> None:
    """Refuse, before it is read, what is no workbook, or would fill memory or time without end."""
    try:
        with path.open("rb") as file:
            if file.read(len(_PROTECTED)) == _PROTECTED:
                raise _protected(path)
        with zipfile.ZipFile(path) as archive:
            _check_size(path, archive.infolist())
            if any(entry.flag_bits & _LOCKED for entry in archive.infolist()):
                raise _protected(path)
            count = _Count(path)
            for entry in archive.infolist():
                if entry.filename.lower().endswith((".xml", ".rels")):
                    with archive.open(entry) as part:
                        count.parser().ParseFile(part)
    except IntakeError:
        raise
    # broken packing and broken XML; some ways of packing are not known here
    except Exception as error:
        raise _broken(path, error) from error


def _check_size(path: Path, entries: Sequence[zipfile.ZipInfo]) -> None:
    # no more than these sizes is unpacked, whatever lies behind them
    size, packed = sum(entry.file_size for entry in entries), sum(entry.compress_size for entry in entries)
    if size > _LARGEST_BYTES or size > max(packed, 2**20) * _LARGEST_RATIO:
        raise IntakeError(
            f"{path} unpacks to {size / 2**20:.0f} MiB, more than a workbook of records has; save it as CSV instead"
        )


class _Count:
    """The cells of a workbook, counted part by part, so that none of them is made before it is known to fit."""

    def __init__(self, path: Path) -> None:
        self._path, self._cells = path, 0

    def parser(self) -> expat.XMLParserType:
        """The parser of one more part."""
        parser = expat.ParserCreate()
        parser.StartDoctypeDeclHandler = self._declared
        parser.StartElementHandler = self._element
        return parser

    def _declared(self, *what: object) -> None:
        raise IntakeError(f"{self._path} declares words of its own (DOCTYPE), as no spreadsheet does; save it as CSV")

    def _element(self, name: str, attributes: Mapping[str, str]) -> None:
        kind = name.rpartition(":")[2]
        if kind == "c":
            self._cells += 1
            if self._cells > _MOST_CELLS:
                raise IntakeError(f"{self._path} has over {_MOST_CELLS} cells; save it as CSV, of any length")
        elif kind == "mergeCell" and _size(attributes.get("ref", "")) > _MOST_MERGED:
            raise IntakeError(
                f"{self._path} has merged cells ({attributes['ref']}); undo the merging and write each cell's own value"
            )


def _size(cells: str) -> int:
    """How many cells a range such as A1:C3 has."""
    found = _RANGE.fullmatch(cells)
    if found is None:
        return 1
    left, top, right, bottom = _column(found[1]), int(found[2]), _column(found[3]), int(found[4])
    return (abs(right - left) + 1) * (abs(bottom - top) + 1)


def _column(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _rows(worksheet: Any) -> _ROWS:
    """The cells with something in them by row and column; the empty ones before a far one are never made."""
    rows: dict[int, dict[int, Any]] = {}
    for (row, column), cell in sorted(worksheet._cells.items()):
        if cell.value is not None:
            rows.setdefault(row, {})[column] = _as_shown(cell)
    return rows


def _as_shown(cell: Any) -> Any:
    """The value of a cell; of one shown in per cent, with its sign: 55% holds 0.55."""
    if isinstance(cell.value, int | float) and not isinstance(cell.value, bool) and "%" in str(cell.number_format):
        return f"{Decimal(str(cell.value)) * 100:f}%"
    return cell.value


def _check_cells(path: Path, values: Any, typed: Any, rows: _ROWS) -> None:
    """Refuse what would lose a cell without a word: merged cells, and formulas that hold no value."""
    told = f"{path}, sheet {values.title}"
    if values.merged_cells.ranges:
        first = min(str(cells) for cells in values.merged_cells.ranges)
        raise IntakeError(f"{told} has merged cells ({first}); undo the merging and write each cell's own value")
    for (row, column), cell in sorted(typed._cells.items()):
        if cell.data_type == "f" and column not in rows.get(row, ()):
            raise IntakeError(
                f"{told} cell {cell.coordinate} holds a formula without a value; "
                "open and save the workbook in a spreadsheet, or write the value itself"
            )


def _sheet(path: Path, worksheet: Any, rows: _ROWS) -> list[Sheet]:
    """The sheet, or none when it is blank."""
    name = worksheet.title
    texts = [(row, _texts(cells)) for row, cells in rows.items()]
    texts = [(row, cells) for row, cells in texts if cells]
    if not texts:
        return []
    top = texts[0][1]
    headings = checked_headings(f"{path}, sheet {name}", [top.get(place) for place in range(1, max(top) + 1)])
    for row, cells in texts[1:]:
        if max(cells) > len(headings):
            raise IntakeError(f"{path}, sheet {name} row {row} has a cell to the right of the headings; give it one")
    hidden = worksheet.sheet_state != "visible"
    notes = (f"{path.name}, sheet {name} is hidden, and was read as the others were",) if hidden else ()
    return [Sheet(path.name, name, headings, lambda: _parts(headings, texts[1:]), notes=notes, count=len(texts) - 1)]


def _texts(cells: Mapping[int, Any]) -> dict[int, str]:
    texts = {column: cell_text(value) for column, value in cells.items()}
    return {column: text for column, text in texts.items() if text is not None}


def _parts(headings: Sequence[str], texts: Sequence[tuple[int, Mapping[int, str]]]) -> Iterator[Part]:
    columns = [pa.array([cells.get(place) for _, cells in texts], pa.string()) for place in range(1, len(headings) + 1)]
    yield filled(columns, pa.array([row for row, _ in texts], pa.int64()))
