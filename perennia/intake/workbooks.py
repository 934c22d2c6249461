"""XLSX workbooks: each sheet a table; formulas as last computed, merged cells and errors told, bombs not opened."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa

from perennia.errors import IntakeError
from perennia.intake.sheet_columns import CHOICES, READ_ME
from perennia.intake.sheets import Part, Sheet, checked_headings, filled, text_array

_EXPLAINING = frozenset({READ_ME.lower(), CHOICES.lower()})
_LARGEST_BYTES = 512 * 2**20
_LARGEST_RATIO = 200


def read_workbook(path: Path) -> list[Sheet]:
    """The sheets of a workbook that hold anything, ``Read me`` and ``Choices`` left out. Raises IntakeError."""
    try:
        import openpyxl
    except ImportError as error:
        raise IntakeError("workbooks need openpyxl; install it with: pip install 'perennia[intake]'") from error
    _check_size(path)
    try:
        values = openpyxl.load_workbook(path, data_only=True)
        # what was typed, to tell an empty cell from a formula that no spreadsheet has computed yet
        typed = openpyxl.load_workbook(path)
    # the library raises whatever its many parts raise on a broken file
    except Exception as error:
        raise IntakeError(f"{path} cannot be read as a workbook ({error}); save it again as XLSX, or as CSV") from error
    sheets = []
    for worksheet in values.worksheets:
        if worksheet.title.strip().lower() not in _EXPLAINING:
            grid = list(worksheet.iter_rows(values_only=True))
            _check_cells(path, worksheet, typed[worksheet.title], grid)
            sheets += _sheet(path, worksheet.title, grid)
    if not sheets:
        raise IntakeError(f"{path} has no sheet with anything in it")
    return sheets


def _check_size(path: Path) -> None:
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
    except FileNotFoundError as error:
        raise IntakeError(f"there is no file {path}; check the name and the folder") from error
    except (OSError, zipfile.BadZipFile, ValueError) as error:
        raise IntakeError(f"{path} cannot be read as a workbook ({error}); save it again as XLSX, or as CSV") from error
    size, packed = sum(entry.file_size for entry in entries), sum(entry.compress_size for entry in entries)
    if size > _LARGEST_BYTES or size > max(packed, 2**20) * _LARGEST_RATIO:
        raise IntakeError(
            f"{path} unpacks to {size / 2**20:.0f} MiB, more than a workbook of records has; save it as CSV instead"
        )


def _check_cells(path: Path, values: Any, typed: Any, grid: Sequence[Sequence[Any]]) -> None:
    """Refuse what would lose a cell without a word: merged cells, and formulas that hold no value."""
    told = f"{path}, sheet {values.title}"
    if values.merged_cells.ranges:
        first = min(str(cells) for cells in values.merged_cells.ranges)
        raise IntakeError(f"{told} has merged cells ({first}); undo the merging and write each cell's own value")
    for row, cells in enumerate(typed.iter_rows(), start=1):
        for cell in cells:
            if cell.data_type == "f" and grid[row - 1][cell.column - 1] is None:
                raise IntakeError(
                    f"{told} cell {cell.coordinate} holds a formula without a value; "
                    "open and save the workbook in a spreadsheet, or write the value itself"
                )


def _sheet(path: Path, name: str, grid: Sequence[Sequence[Any]]) -> list[Sheet]:
    """The sheet, or none when it is blank."""
    texts = [(row, text_array(cells).to_pylist()) for row, cells in enumerate(grid, start=1)]
    texts = [(row, cells) for row, cells in texts if any(cell is not None for cell in cells)]
    if not texts:
        return []
    headings = checked_headings(f"{path}, sheet {name}", texts[0][1])
    for row, cells in texts[1:]:
        if any(cell is not None for cell in cells[len(headings) :]):
            raise IntakeError(f"{path}, sheet {name} row {row} has a cell to the right of the headings; give it one")
    return [Sheet(path.name, name, headings, lambda: _parts(headings, texts[1:]))]


def _parts(headings: Sequence[str], texts: Sequence[tuple[int, Sequence[str | None]]]) -> Iterator[Part]:
    columns = [pa.array([cells[place] for _, cells in texts], pa.string()) for place in range(len(headings))]
    yield filled(columns, pa.array([row for row, _ in texts], pa.int64()))
