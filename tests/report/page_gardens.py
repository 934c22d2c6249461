"""Gardens that a report is made of: the invented one, and odd ones."""

from __future__ import annotations

from pathlib import Path

import perennia as pn

DEMO_DAY = "2025-02-21"
NASTY = "<script>alert('x')<b>&\"'{{ 7 * 7 }}"
"""A name; none may hold a slash or a comma."""
NASTY_TEXT = "</style></title><script>alert('x')</script>]]>&\"'{{ 7 * 7 }}{% endif %}"
LONG = "Zwischenfruchtbeetbohnenstangenzelterweiterungsbaugenehmigung"[:60]
ODD_DAY = "2024-09-01"


def odd_garden(folder: Path) -> pn.Garden:
    """Few plants with every text nasty, long or in another script, a picking, a loss, and flowers."""
    garden = pn.Garden.create(folder, name=NASTY)
    garden.record(
        pn.Site(NASTY, latitude=51.5),
        pn.Bed(NASTY, NASTY, area_m2=2), pn.Bed(LONG, NASTY, container="tub"),
        pn.Sown(NASTY, "2023-05-10", crop="Phaseolus coccineus", cultivar=NASTY, bed=NASTY, note=NASTY_TEXT),
        pn.Sown(LONG, "2024-05-10", crop="Phaseolus coccineus", cultivar=LONG, bed=LONG, note=f"{LONG} " * 9),
        pn.Sown("豆 ١ שעועית", "2024-05-11", crop="Crop of <no> profile", bed=NASTY, note="bell\a, escape\x1b"),
        pn.Sown("gone", "2023-05-10", crop="Phaseolus coccineus", bed=NASTY),
        pn.Died("gone", "2023-10-01", cause="frost"),
        pn.Picked(NASTY, "2023-08-01", 120), pn.Picked(NASTY, "2023-08-06", 180, note=NASTY_TEXT),
        pn.Lifted(NASTY, "2023-11-02", root_g=310),
        pn.Stored(NASTY, "2023-11-03", "bare root", "frost-free", box=NASTY),
        pn.Replanted(NASTY, "2024-04-20", bed=NASTY), pn.Regrew(NASTY, "2024-05-02", shoots=3),
        pn.Picked(NASTY, "2024-08-01", 100), pn.Picked(NASTY, "2024-08-05", 150), pn.Picked(LONG, "2024-08-20", 40),
        pn.Noted("2024-08-09", what=NASTY_TEXT, labels=[NASTY]),
        pn.TrussCount(NASTY, NASTY, "2024-08-20", opened=12, set=5, dropped=7),
    )  # fmt: skip
    return garden


def one_plant(folder: Path) -> pn.Garden:
    """One plant, picked once."""
    garden = pn.Garden.create(folder)
    garden.record(
        pn.Site("home", latitude=51.5), pn.Sown("B1", "2024-05-10", crop="Phaseolus coccineus"),
        pn.Picked("B1", "2024-08-01", 180),
    )  # fmt: skip
    return garden


def row_of_plants(folder: Path, n: int) -> pn.Garden:
    """So many fresh plants of one season, each picked twice."""
    garden = pn.Garden.create(folder)
    labels = [f"B{number}" for number in range(1, n + 1)]
    garden.record(
        pn.Site("home", latitude=51.5),
        pn.Bed("long bed", "home", area_m2=400), pn.Bed("short bed", "home", area_m2=90),
        *(pn.Sown(label, "2024-05-10", crop="Phaseolus coccineus", bed="long bed" if place % 3 else "short bed")
          for place, label in enumerate(labels)),
        *(pn.Picked(label, f"2024-08-{1 + place % 9:02d}", 100 + place % 40) for place, label in enumerate(labels)),
        *(pn.Picked(label, f"2024-08-{12 + place % 9:02d}", 90 + place % 60) for place, label in enumerate(labels)),
    )  # fmt: skip
    return garden
