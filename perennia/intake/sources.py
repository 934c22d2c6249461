"""Whatever a book comes in, as sheets: files by their kind, folders of them, tables and frames."""

from __future__ import annotations

import codecs
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa

from perennia.checking import arguments
from perennia.errors import ArgumentError, IntakeError
from perennia.intake.aside import is_aside
from perennia.intake.delimited import read_delimited
from perennia.intake.files import looked_at, regular, unchanged
from perennia.intake.sheets import Sheet
from perennia.intake.tables import arrow_sheet, frame_sheet, read_parquet
from perennia.intake.workbooks import read_workbook

# other files of text can be taken in by name, but lie in a folder for other reasons as well
_KINDS = (".csv", ".tsv", ".xlsx", ".xlsm", ".parquet")


def sheets_of(source: Any, *, encoding: str | None, decimal: str | None) -> list[Sheet]:
    """The sheets of a file, of every file of a folder, of an Arrow table or of a pandas frame. Raises IntakeError."""
    if decimal not in (None, ",", "."):
        raise ArgumentError(f"decimal is {decimal!r}; give ',' or '.'")
    known = None if encoding is None else _an_encoding(encoding)
    if isinstance(source, pa.Table):
        return [arrow_sheet(source)]
    if isinstance(source, pa.RecordBatch):
        return [arrow_sheet(pa.Table.from_batches([source]))]
    if isinstance(source, pd.DataFrame):
        return [frame_sheet(source)]
    path = arguments.a_path(source, "the source")
    return [sheet for file in files_of(path) for sheet in _file_sheets(file, known, decimal)]


def _an_encoding(encoding: str) -> str:
    try:
        return codecs.lookup(arguments.a_name(encoding, "encoding")).name
    except (LookupError, ValueError) as error:
        raise ArgumentError(f"encoding is {encoding!r}, which is none; give one such as 'utf-8' or 'cp1252'") from error


def files_of(path: Path) -> list[Path]:
    """A file alone, or the files of a folder that can be a book, in the order of their names; none set aside."""
    if not stat.S_ISDIR(looked_at(path).st_mode):
        return [path]
    try:
        files = sorted(file for file in path.iterdir() if _is_book(file))
    except OSError as error:
        raise IntakeError(f"the folder {path} cannot be read ({error.strerror}); check its permissions") from error
    if not files:
        raise IntakeError(
            f"there is no CSV, XLSX or Parquet file in {path}; name the file, or the folder that holds the files"
        )
    return files


def _is_book(file: Path) -> bool:
    # spreadsheets keep locks beside open files, whose names begin so
    hidden = file.name.startswith((".", "~$"))
    return file.is_file() and file.suffix.lower() in _KINDS and not hidden and not is_aside(file)


def _file_sheets(path: Path, encoding: str | None, decimal: str | None) -> Iterator[Sheet]:
    kind = path.suffix.lower()
    if kind == ".xls":
        raise IntakeError(f"{path} is a workbook of the old kind; save it as XLSX or CSV")
    found = regular(path)
    if kind in (".xlsx", ".xlsm"):
        yield from read_workbook(path)
    elif kind == ".parquet":
        yield unchanged(read_parquet(path), path, found)
    else:
        yield unchanged(read_delimited(path, encoding=encoding, decimal=decimal), path, found)


Progress = Callable[[str], None]
"""Is told, in a few words, what a long intake is doing."""
