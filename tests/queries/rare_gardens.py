"""The smallest garden that shows a definition, its rows held against the oracle's."""

from __future__ import annotations

from typing import Any

from perennia.queries import catalogue
from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.places import Bed, Site
from tests.oracle.differences import first_difference
from tests.oracle.summary import views
from tests.queries.built_views import built, rows_of, with_ids

CROP = "Phaseolus coccineus"
PLACES: list[Record] = [
    Site("Home", latitude=51.0), Bed("B1", "Home", area_m2=4.0), Bed("B2", "Home", area_m2=2.0),
    Bed("Bench", "Home", container="tub"), Noted("2024-12-31", bed="B1", what="books closed"),
]  # fmt: skip


def rows_in(view: str, *records: Record, places: list[Record] = PLACES) -> list[dict[str, Any]]:
    """Rows of a view in a garden of these records, equal to the oracle's."""
    book = with_ids([*places, *records])
    with built(book, [view]) as connection:
        found = rows_of(connection, view)
    difference = first_difference(view, found, views(book)[view], catalogue.shown()[view].grain)
    assert difference is None, difference
    return found


def season_in(view: str, label: str, season: int, *records: Record) -> dict[str, Any]:
    return next(row for row in rows_in(view, *records) if (row["label"], row["season"]) == (label, season))
