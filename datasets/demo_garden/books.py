"""The grower's books: rows by table, in the order they were written down, saved as one CSV a table."""

from __future__ import annotations

import csv
import random
from datetime import date, timedelta
from pathlib import Path

from demo_garden.truth import BOOKS_BEGAN, CUT_OFF, SEED

Value = str | int | float | bool | date | tuple[str, ...] | None

COLUMNS: dict[str, tuple[str, ...]] = {
    "sites": ("event", "name", "latitude", "longitude", "elevation_m", "season_starts", "note"),
    "beds": ("event", "name", "site", "cover", "area_m2", "container", "soil", "note"),
    "life": (
        "event", "label", "on", "crop", "cultivar", "bed", "plants", "since", "kind", "plant_season", "origin", "lot",
        "space_m2", "alive", "root_g", "roots_broken", "condition", "kept_because", "place", "protection", "box",
        "depth_cm", "material", "shoots", "to_cm", "extent", "cause", "reason", "into", "mother_continues",
        "minutes", "cost", "note",
    ),
    "harvest": (
        "event", "labels", "label", "on", "grams", "count", "use", "grade", "clearance", "bed", "since", "until",
        "minutes", "note",
    ),
    "flowering": (
        "event", "label", "truss", "position", "on", "opened_on", "set_on", "ended_on", "end", "opened", "set",
        "dropped", "full_size", "note",
    ),
    "care": (
        "event", "on", "bed", "labels", "litres", "mm", "what", "amount_g", "trusses", "cover", "watched_minutes",
        "visits", "robbed", "cause", "extent", "theta", "depth_cm", "crop", "until", "minutes", "cost", "note",
    ),
    "weather": ("event", "on", "site", "bed", "t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s", "solar_mj_m2"),
    "seed": ("event", "label", "on", "lot", "grams", "count", "sown", "germinated", "note"),
}  # fmt: skip


def chance(*key: object) -> random.Random:
    """A stream of chance of its own for each key, so that a change in one place reshuffles no other."""
    return random.Random("/".join(str(part) for part in (SEED, *key)))


def month_of(day: date) -> str:
    """The day as far as a grower may remember it: its month."""
    return day.strftime("%Y-%m")


class Books:
    """Rows gathered table by table; whatever would be written after the cut-off is not in the books yet."""

    def __init__(self) -> None:
        self._rows: dict[str, list[tuple[date, dict[str, str]]]] = {table: [] for table in COLUMNS}

    def write(
        self,
        table: str,
        event: str,
        on: date | str | None = None,
        *,
        written: date | None = None,
        late_days: int = 0,
        **fields: Value,
    ) -> None:
        """Add one row, written down on the day itself, on `written`, or late by some days."""
        if written is None:
            written = on if isinstance(on, date) else BOOKS_BEGAN
        if late_days:
            fields["note"] = fields.get("note") or "copied late from the pocket notebook"
        written += timedelta(days=late_days)
        if written > CUT_OFF:
            return
        row = {"event": event, "on": _text(on), **{name: _text(value) for name, value in fields.items()}}
        unknown = {name for name, value in row.items() if value} - set(COLUMNS[table])
        if unknown:
            raise KeyError(f"{table} has no column for {sorted(unknown)}")
        self._rows[table].append((written, row))

    def save(self, folder: Path) -> dict[str, int]:
        """Write every table as a CSV into folder; the number of rows of each."""
        folder.mkdir(parents=True, exist_ok=True)
        return {table: _save(folder / f"{table}.csv", table, rows) for table, rows in self._rows.items()}


def _save(path: Path, table: str, rows: list[tuple[date, dict[str, str]]]) -> int:
    ordered = [row for _, row in sorted(rows, key=lambda entry: entry[0])]
    columns = [name for name in COLUMNS[table] if any(row.get(name) for row in ordered)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([row.get(name, "") for name in columns] for row in ordered)
    return len(ordered)


def _text(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return ", ".join(value)
    return f"{value:g}" if isinstance(value, float) else str(value)
