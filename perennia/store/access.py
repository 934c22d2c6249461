"""What stands in the way of a garden's folder, in words: its name, and what the disk refuses."""

from __future__ import annotations

import urllib.parse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from perennia.errors import StoreError


@contextmanager
def disk_allows(root: str | Path) -> Iterator[None]:
    """Raises StoreError for what the disk or its permissions refuse within."""
    try:
        yield
    except (OSError, duckdb.IOException, duckdb.InvalidInputException) as error:
        raise StoreError(
            f"the garden in {root} cannot be read or written ({error}); check the folder's path and permissions, "
            "and whether the disk is full"
        ) from error


def usable_name(root: Path) -> Path:
    """The folder as it is. Raises StoreError for a path that the Delta library would take for another one."""
    text = str(root)
    if "\0" in text or urllib.parse.unquote(str(root.resolve())) != str(root.resolve()):
        raise StoreError(
            f"{text!r} holds a per cent sign with two digits, or no plain text, which the tables of a garden cannot "
            "lie under; rename the folder"
        )
    return root
