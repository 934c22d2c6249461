"""A grower's file before and while it is read: a regular one, and the same one from the first look to the last."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import attrs

from perennia.errors import IntakeError
from perennia.intake.sheets import Part, Sheet


def looked_at(path: Path) -> os.stat_result:
    """What the system says of a file or folder. Raises IntakeError when nothing lies there, or no way leads to it."""
    try:
        return path.stat()
    except (FileNotFoundError, NotADirectoryError) as error:
        raise IntakeError(f"there is no file {path}; check the name and the folder") from error
    except (OSError, ValueError) as error:
        raise IntakeError(f"{str(path)[:99]} cannot be read ({_said(error)}); check the name and the folder") from error


def regular(path: Path) -> os.stat_result:
    """The same of a file with an end, which can be read twice. Raises IntakeError for a pipe, a device or a folder."""
    found = looked_at(path)
    if not stat.S_ISREG(found.st_mode):
        raise IntakeError(f"{path} is no file but a folder, a pipe or a device; save the book as a file and name that")
    return found


def unchanged(sheet: Sheet, path: Path, found: os.stat_result) -> Sheet:
    """A sheet whose parts are those of the file as it was found, however often they are read.

    A book is read several times: once it is written to meanwhile, rows would be told at places they never stood in.
    Its parts raise IntakeError then, before the last of them is taken.
    """

    def parts() -> Iterator[Part]:
        try:
            _check(path, found)
            yield from sheet.parts()
            _check(path, found)
        except OSError as error:
            raise IntakeError(f"{path} can no longer be read ({_said(error)}); read it again") from error

    return attrs.evolve(sheet, parts=parts)


def _check(path: Path, found: os.stat_result) -> None:
    now = path.stat()
    if (now.st_size, now.st_mtime_ns, now.st_ino) != (found.st_size, found.st_mtime_ns, found.st_ino):
        raise IntakeError(f"{path} was written to while it was read; close it elsewhere and read it again")


def _said(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
