"""A blank workbook to fill in: a sheet a table of the garden, with headings, drop-downs, comments and example lines."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Any

from perennia.errors import IntakeError
from perennia.intake.new_file import new_path, write_new

# no file is told apart from another by the hour it was written at: the first that a zip archive can hold
_WRITTEN_AT = datetime(1980, 1, 1)
_PROPERTIES = "docProps/core.xml"


def template(path: str | Path) -> Path:
    """Write a blank XLSX workbook for the garden's books and return its path.

    Sheets: ``Read me``, then Sites, Beds, Life, Harvest, Flowering, Care, Weather and Seed, one row an event, one
    column a field; units stand in the headings. Lines whose event begins with ``example:`` are invented and are never
    taken in. The same version writes the same bytes. Raises IntakeError when the file is there already, cannot be
    written, or openpyxl is not installed.
    """
    path = new_path(path, ".xlsx", "a workbook")
    draw = _drawing()
    workbook = draw.blank_workbook()
    workbook.properties.created = _WRITTEN_AT
    write_new(path, _content(workbook, draw))
    return path


def _drawing() -> ModuleType:
    """The module that draws workbooks, which needs openpyxl."""
    try:
        from perennia.intake import workbook_drawing
    except ModuleNotFoundError as error:
        if error.name is None or error.name.partition(".")[0] != "openpyxl":
            raise
        raise IntakeError("a workbook needs openpyxl; install it with pip install 'perennia[intake]'") from error
    return workbook_drawing


def _content(workbook: Any, draw: ModuleType) -> bytes:
    """The workbook as bytes that do not tell when it was written."""
    written, settled = io.BytesIO(), io.BytesIO()
    workbook.save(written)
    workbook.properties.modified = _WRITTEN_AT
    with zipfile.ZipFile(written) as archive, zipfile.ZipFile(settled, "w", zipfile.ZIP_DEFLATED) as copy:
        for name in archive.namelist():
            part = draw.properties_part(workbook) if name == _PROPERTIES else archive.read(name)
            copy.writestr(zipfile.ZipInfo(name, _WRITTEN_AT.timetuple()[:6]), part, zipfile.ZIP_DEFLATED)
    return settled.getvalue()
