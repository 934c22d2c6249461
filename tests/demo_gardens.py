"""The invented garden that is shipped, taken in once in a process and copied for each module that asks it."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

import perennia as pn
from perennia.cli import main
from perennia.intake import read
from tests.copies import copied

BOOKS = Path(pn.__file__).parent / "demo_garden"


def demo_by_terminal(folder: Path) -> Path:
    """The folder, holding the garden that the command demo makes."""
    return copied(_by_terminal, folder)


def demo_garden(folder: Path) -> pn.Garden:
    """The garden taken in from its books, not yet asked anything."""
    return pn.Garden.open(copied(_by_read, folder))


def _by_terminal(folder: Path) -> None:
    assert CliRunner().invoke(main, ["demo", str(folder)], catch_exceptions=False).exit_code == 0


def _by_read(folder: Path) -> None:
    with pn.Garden.create(folder, name="Quilanto (invented)") as garden:
        read(garden, BOOKS, book="demo")
