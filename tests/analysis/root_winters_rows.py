"""Winters of roots made by hand for tests, invented."""

from __future__ import annotations

from datetime import date
from typing import Any

from perennia.analysis.decisions.surviving.root_winters import Winter

BEAN = "Phaseolus coccineus"


def winter(plant: str, outcome: str = "survived", season: int = 2023, **given: Any) -> Winter:
    """A bean's first winter, in a bed of its own under mulch unless told otherwise."""
    usual: dict[str, Any] = {
        "plant": plant, "label": plant, "crop": BEAN, "cultivar": "Red", "winter": season, "winter_name": str(season),
        "plant_season": 2, "raised_from": "seed", "wintering": "ground, mulch", "site": "plot", "bed": f"bed {plant}",
        "container": None, "box": None, "plants": 1, "plants_after": None, "entered_on": date(season - 1, 11, 1),
        "outcome": outcome, "last_alive_on": None if outcome == "survived" else date(season - 1, 11, 1),
        "ended_on": date(season, 3, 1) if outcome in ("died", "left") else None, "regrow_by": date(season, 5, 31),
    }  # fmt: skip
    return Winter(**(usual | given))


def stored(plant: str, outcome: str = "survived", box: str | None = None, **given: Any) -> Winter:
    """The same lifted and stored frost-free, in a box where one is named."""
    return winter(plant, outcome, **({"wintering": "bare root, frost-free", "bed": None, "box": box} | given))
