"""A small garden that books are taken into, and files written for them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import perennia as pn
from tests.copies import copied

TODAY = date(2025, 6, 1)
RECORDS = (
    pn.Site("home"),
    pn.Bed("b", "home", area_m2=4),
    pn.Sown("B1", "2023-05-10", crop="Phaseolus coccineus", bed="b"),
    pn.Sown("B2", "2023-05-10", crop="Phaseolus coccineus", bed="b"),
)


def garden_in(folder: Path) -> pn.Garden:
    """A garden of two plants in one bed."""
    return pn.Garden.open(copied(_recorded, folder / "plot"))


def _recorded(folder: Path) -> None:
    pn.Garden.create(folder).record(*RECORDS, today=TODAY)


def written(folder: Path, name: str, text: str, encoding: str = "utf-8") -> Path:
    """A text file, its line ends as they are."""
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def pickings(garden: pn.Garden) -> list[tuple[object, ...]]:
    """Label, first day, grams and count of every picking, missing ones None."""
    rows = garden.sql(
        'select label, "on", grams, "count" from harvest where event = \'picked\' order by all', as_="arrow"
    )
    return [tuple(row.values()) for row in rows.to_pylist()]
