"""Plants' whole lives in plant seasons: how long each is known to have lived, and whether it died then.

A life is counted in plant seasons: k is the end of the growing season of plant season k, k + 0.5 the end of the winter
that follows it. A death in growth is one at k, one in the winter, or never regrown after it, one at k + 0.5; taken out
or divided up in growth is censored at k, in the winter at k, where it was last known alive. Only seasons and winters
that are over count, for deaths as for lives, because deaths are known before survivals are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import attrs
import pandas as pd

from perennia.analysis.decisions.surviving.root_winters import LEFT, OPEN, SURVIVED, Winter
from perennia.analysis.units import Row

UNKNOWN_AGE = "their plant season is not known"
NOT_OVER = "no season of theirs is over yet"
NEVER_UP = "they were sown and never seen up"


@attrs.frozen
class Life:
    """One plant's life as far as it counts. entry: when it came under watch, 0 for one watched from its beginning;
    time: when it died, or when it was last known alive; season: the growing year it came under watch; winterings:
    those of its winters."""

    plant: str
    crop: str
    cultivar: str | None
    raised_from: str | None
    site: str | None
    season: int
    season_name: str
    winterings: frozenset[str]
    entry: float
    time: float
    died: bool


@attrs.frozen
class Lives:
    """Lives, and of plants left out how many a crop and reason."""

    lives: tuple[Life, ...]
    left_out: Counter[tuple[str, str]]


def lives_of(
    plants: Sequence[Row], seasons: Sequence[Row], winters: Iterable[Winter], horizon: date | None
) -> Lives:
    """Lives of rows of plants and plant_seasons, with their winters; horizon is the latest day on record."""
    by_plant: dict[str, list[Row]] = {}
    for row in seasons:
        by_plant.setdefault(str(row["plant"]), []).append(row)
    wintered: dict[str, dict[int, Winter]] = {}
    for winter in winters:
        wintered.setdefault(winter.plant, {})[winter.winter] = winter
    lives: list[Life] = []
    left_out: Counter[tuple[str, str]] = Counter()
    for plant in plants:
        own = by_plant.get(str(plant["plant"]), [])
        found = _life(plant, own, wintered.get(str(plant["plant"]), {}), horizon) if own else NOT_OVER
        if isinstance(found, Life):
            lives.append(found)
        else:
            left_out[str(plant["crop"]), found] += 1
    return Lives(tuple(lives), left_out)


def _life(plant: Row, seasons: Sequence[Row], winters: Mapping[int, Winter], horizon: date | None) -> Life | str:
    first = min(seasons, key=lambda row: int(row["season"]))
    if first["plant_season"] is None:
        return UNKNOWN_AGE
    # a sowing that bore has come up, be it that nothing else was written of it
    if plant["state"] == "sown" and not winters and not plant["ended_on"] and first["grew"] is not True:
        return NEVER_UP
    number = int(first["plant_season"])
    # a plant that came when it was older had come through the winter before
    entry = 0.0 if number == 1 else number - 0.5
    time, died = _end(plant, int(first["season"]), number, entry, winters, horizon)
    if time <= entry:
        return NOT_OVER
    return Life(
        plant=str(plant["plant"]), crop=str(plant["crop"]), cultivar=plant["cultivar"],
        raised_from=None if plant["origin"] == "already here" else str(plant["origin"]), site=plant["site"],
        season=int(first["season"]), season_name=str(first["season_name"]),
        winterings=frozenset(winter.wintering for winter in winters.values()),
        entry=entry, time=time, died=died,
    )  # fmt: skip


def _end(
    plant: Row, season: int, number: int, entry: float, winters: Mapping[int, Winter], horizon: date | None
) -> tuple[float, bool]:
    time = entry
    while _is_over(season, plant, horizon):
        winter = winters.get(season + 1)
        if winter is None:
            ended = plant["ended_on"] is not None and _day(plant["ended_on"]) < _begins(season + 1, plant)
            return float(number), ended and plant["ended_how"] == "died"
        time = float(number)
        if winter.outcome in (OPEN, LEFT) or not _winter_is_over(winter, plant, horizon):
            return time, False
        if winter.outcome != SURVIVED:
            return number + 0.5, True
        season, number, time = season + 1, number + 1, number + 0.5
    return time, False


def _winter_is_over(winter: Winter, plant: Row, horizon: date | None) -> bool:
    shown = winter.regrow_by is not None and horizon is not None and winter.regrow_by < horizon
    return shown or _is_over(winter.winter, plant, horizon)


def _is_over(season: int, plant: Row, horizon: date | None) -> bool:
    return horizon is not None and horizon >= _begins(season + 1, plant)


def _begins(season: int, plant: Row) -> date:
    return date.fromisoformat(f"{season:04d}-{plant['season_starts']}")


def _day(value: Any) -> date:
    return pd.Timestamp(value).date()
