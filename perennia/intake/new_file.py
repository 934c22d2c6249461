"""Writing a new file for the grower, never over one that is there."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from perennia.checking import arguments
from perennia.errors import IntakeError


def new_path(path: Any, suffix: str, what: str) -> Path:
    """The path of a file to be. Raises IntakeError when its name does not end in suffix."""
    named = arguments.a_path(path, "path")
    if named.suffix.lower() != suffix:
        raise IntakeError(f"{named} cannot be the name of {what}, which ends in {suffix}; write {named.stem}{suffix}")
    return named


def write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet. Raises IntakeError when it is, or when the folder cannot be written to."""
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError as error:
        raise IntakeError(
            f"{path} is there already and may hold your entries; name a new file, or move the old one away"
        ) from error
    except FileNotFoundError as error:
        raise IntakeError(f"there is no folder {path.parent}; make it first, or name another") from error
    except OSError as error:
        raise IntakeError(f"{path} cannot be written ({error}); name a file in a folder of yours") from error
