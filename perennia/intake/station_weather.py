"""A weather station's days from a NOAA GHCN-Daily file into a garden."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import attrs

from perennia.garden import Garden
from perennia.intake.books import OnError, read
from perennia.intake.ghcn_daily import ghcn_daily
from perennia.intake.report import IntakeReport


def read_station(
    garden: Garden,
    path: str | Path,
    *,
    site: str,
    book: str,
    station: str | None = None,
    anemometer_height_m: float | None = None,
    on_error: OnError = "stop",
    correct: str | None = None,
    today: date | None = None,
) -> IntakeReport:
    """Take the days of one station into a garden as the weather of a site.

    path is a GHCN-Daily CSV file in either published layout (see ghcn_daily, also for station and anemometer_height_m);
    book, on_error, correct and today are those of read: a day to which the file has since added a value is an edited
    row. The notes of the report say which values were left out and why, and which days and values are missing; nothing
    is filled in. Raises IntakeError, RefusedError.
    """
    days = ghcn_daily(path, station=station, anemometer_height_m=anemometer_height_m)
    report = read(
        garden, days.table, "weather", book=book, constants={"site": site}, on_error=on_error, correct=correct,
        today=today,
    )  # fmt: skip
    return attrs.evolve(report, files=(Path(path).name,), notes=(*days.notes, *report.notes))
