"""The example lines of a blank workbook: invented, marked as such, and never taken in."""

from __future__ import annotations

# the event cell of a line that is only an example begins with this
EXAMPLE = "example:"
_INVENTED = "invented example, never taken in"

# by sheet, what stands in each cell under the heading of a field
EXAMPLES: dict[str, tuple[dict[str, str | float], ...]] = {
    "Sites": (
        {"event": "site", "name": "Garden", "latitude": 51.5, "longitude": 7.5, "elevation_m": 90},
    ),
    "Beds": (
        {"event": "bed", "name": "South bed", "site": "Garden", "cover": "open", "area_m2": 6},
        {"event": "bed", "name": "Bench", "site": "Garden", "cover": "glasshouse", "container": "pots of 10 l"},
    ),
    "Life": (
        {"event": "sown", "label": "B1", "on": "2024-05~", "crop": "Phaseolus coccineus", "cultivar": "unknown white",
         "bed": "South bed", "plants": 3},
        {"event": "lifted", "label": "B1", "on": "2024-11-02", "root_g": 310, "roots_broken": "no",
         "condition": "sound"},
    ),
    "Harvest": (
        {"event": "picked", "labels": "B1, B2", "on": "2024-08-05", "grams": 240, "count": 31, "use": "kitchen"},
        {"event": "picked", "labels": "B3", "on": "2024-08-05", "grams": 0,
         "note": f"looked, nothing ripe; {_INVENTED}"},
    ),
    "Flowering": (
        {"event": "flower_fate", "label": "B1", "truss": "red thread", "position": 1, "opened_on": "2024-07-10",
         "set_on": "2024-07-14", "ended_on": "2024-08-05", "end": "picked"},
        {"event": "truss_count", "label": "B1", "truss": "red thread", "on": "2024-07-20", "opened": 14, "set": 5,
         "dropped": 6},
    ),
    "Care": (
        {"event": "watered", "on": "2024-07-11", "bed": "South bed", "litres": 20},
        {"event": "damage", "labels": "B1, B2", "on": "2024-10-18", "cause": "frost", "extent": 0.25},
    ),
    "Weather": (
        {"event": "weather", "on": "2024-07-11", "site": "Garden", "t_min_c": 13.5, "t_max_c": 27, "rain_mm": 0},
    ),
    "Seed": (
        {"event": "seed_saved", "label": "B1", "on": "2024-10", "lot": "B1 of 2024", "grams": 45, "count": 38},
        {"event": "germination_test", "lot": "B1 of 2024", "on": "2025-03-02", "sown": 10, "germinated": 9},
    ),
}  # fmt: skip


def example_lines(sheet: str) -> list[dict[str, str | float]]:
    """The example lines of a sheet as they are written, each with its mark before the event and a note."""
    return [{"note": _INVENTED, **line, "event": f"{EXAMPLE} {line['event']}"} for line in EXAMPLES[sheet]]
