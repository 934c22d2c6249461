"""Results of causes, trials and descent to draw, of any size, from records that are nowhere stored."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.figure import Figure, SubFigure
from matplotlib.text import Text

from perennia.analysis.causes import DegreeDays, FrostDates, PodSet, WaterBalance
from perennia.analysis.causes import degree_days as asked_degree_days
from perennia.analysis.causes import frost_dates as asked_frost_dates
from perennia.analysis.causes import water_balance as asked_water_balance
from perennia.analysis.causes.setting.flowers import books_of
from perennia.analysis.causes.setting.pod_set import pod_set_of
from perennia.analysis.decisions import TrialPlan
from perennia.analysis.decisions.descent.pedigree import Pedigree, pedigree_of
from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.outlook import OUTLOOK
from perennia.analysis.decisions.trials.trial import COLUMNS
from perennia.analysis.result import framed
from perennia.records.base import Record
from perennia.records.care import Watered
from perennia.records.places import Bed, Site
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN, BuiltSource, day, source_of, sown
from tests.queries.built_views import built, with_ids

ENDS = ("picked", "full size", "pod dropped", "flower dropped", "damaged", "lost to view", None)
DAYS = ("opened_on", "set_on", "ended_on", "on_to")
_ROW: dict[str, Any] = dict.fromkeys(
    ("truss", "position", "opened_on", "set_on", "ended_on", "end", "opened", "set", "dropped", "full_size", "note")
) | {"crop": BEAN, "season": 2023, "season_name": "2023"}


def flower(plant: str, truss: str, position: int, opened: int | None, end: str | None, **given: Any) -> dict[str, Any]:
    """A row of one flower; days so many after the sowing."""
    ended = None if end in (None, "lost to view") else (opened or 60) + 6
    was_set = (opened or 60) + 3 if end in ("picked", "full size", "pod dropped") else None
    last = max(number for number in (opened or 60, ended, was_set) if number is not None)
    return _filled(plant, truss=truss, position=position, opened_on=opened, end=end, ended_on=ended, set_on=was_set,
                   on_to=last, event="flower_fate", **given)  # fmt: skip


def count(plant: str, truss: str, on: int, **given: Any) -> dict[str, Any]:
    """A row of one count of a truss."""
    return _filled(plant, truss=truss, on_to=on, event="truss_count", **given)


def _filled(plant: str, **given: Any) -> dict[str, Any]:
    filled = _ROW | {"plant": f"{plant}/2023", "label": plant} | given
    for name in DAYS:
        filled[name] = pd.NaT if filled.get(name) is None else pd.Timestamp(day(filled[name]))
    return filled | {"record_id": repr(sorted(map(str, given.items()))) + plant}


def flowers(plants: int, trusses: int = 2, positions: int = 8, seed: int = 1, **given: Any) -> list[dict[str, Any]]:
    """Rows of so many plants, trusses and flowers, two flowers a day, fates drawn by lot."""
    draw = random.Random(seed)
    return [
        flower(f"P{plant:02}", f"t{truss}", position, 60 + 14 * truss + plant % 3 + position // 2, draw.choice(ENDS),
               **given)
        for plant in range(plants) for truss in range(trusses) for position in range(1, positions + 1)
    ]  # fmt: skip


def pods(*rows: Mapping[str, Any]) -> PodSet:
    """What these rows came to."""
    return pod_set_of(books_of(pd.DataFrame(list(rows)) if rows else pd.DataFrame(columns=[*_filled("A")])))


def field_weather(days: int, *, gaps: tuple[int, ...] = (), site: str = "field") -> list[Weather]:
    """Weather of so many days from the sowing, warmer by and by, rain every ninth day, none recorded in the gaps."""
    return [
        Weather(day(number), site=site, t_min_c=8.0 + number % 7 + number / 20, t_max_c=20.0 + number % 11,
                rain_mm=14.0 if number % 9 == 0 else 0.0)
        for number in range(days) if number not in gaps
    ]  # fmt: skip


FIELD: tuple[Record, ...] = (
    Site("field", latitude=45.0, elevation_m=100.0), Bed("F1", "field", area_m2=10.0, soil="loam"), sown("A1", "F1"),
)  # fmt: skip


@cache
def water_balance(days: int = 90, *, gaps: tuple[int, ...] = (), watered: tuple[int, ...] = (40, 55)) -> WaterBalance:
    """The water of a bed of loam."""
    given = [Watered(day(number), bed="F1", mm=20.0) for number in watered if number < days]
    with source_of(*FIELD, *field_weather(days, gaps=gaps), *given) as source:
        return asked_water_balance(source, "F1", 2023)


@cache
def degree_days(days: int = 90, *, gaps: tuple[int, ...] = ()) -> DegreeDays:
    """The warmth of a field."""
    with source_of(*FIELD, *field_weather(days, gaps=gaps)) as source:
        return asked_degree_days(source, "field", 8.0)


@cache
def frost_dates(years: int, *, latitude: float = 48.0, coldest_c: float = -5.0, gap: bool = False,
                **given: Any) -> FrostDates:  # fmt: skip
    """The frosts of a site with winters of that depth, drawn by lot; gap: days of its third spring not recorded."""
    drawn = np.random.default_rng(4)
    sign = 1 if latitude > 0 else -1
    records: list[Record] = [Site("site", latitude=latitude)]
    for on in pd.date_range("2000-01-01", f"{1999 + years}-12-31"):
        middle = coldest_c + 11 - sign * 11 * np.cos(2 * np.pi * (on.dayofyear - 15) / 365)
        if not (gap and on.year == 2002 and 85 < on.dayofyear < 105):
            records.append(Weather(on.date(), site="site", t_min_c=float(middle + drawn.normal(0, 2.5))))
    with source_of(*records) as source:
        return asked_frost_dates(source, "site", **given)


def trial(beds: Mapping[str, int], *, block_size: int | None = None, labels: Mapping[str, Sequence[str]] | None = None,
          name: str = "spring", arms: tuple[str, str] = ("overwintered", "fresh")) -> TrialPlan:  # fmt: skip
    """A plan of these beds, full as far as it goes."""
    blocks = lay.blocks_of(beds, (1, 1), block_size)
    sets = sum(block.sets for block in blocks)
    places = lay.with_labels(lay.lay_out_places(beds, blocks, sets, arms, (1, 1), 3), labels or {}, 3)
    table = framed([{name: getattr(place, name) for name in COLUMNS} for place in places], COLUMNS)
    return TrialPlan(table=table, n=2 * sets, method="", units="", name=name, crop=BEAN, measure="total_g", arms=arms,
                     allocation=(1, 1), seed=3, units_needed=None, outlook=framed([], OUTLOOK),
                     places=tuple(places))  # fmt: skip


def descent(plant: str, *records: Record) -> Pedigree:
    """The pedigree of one plant of these records."""
    with built(with_ids(list(records))) as connection:
        return pedigree_of(BuiltSource(connection), plant)


def on(number: int) -> date:
    """The day so many after 1 March 2015."""
    return date(2015, 3, 1) + timedelta(number)


def words_of(figure: Figure | SubFigure) -> str:
    """All text of a figure that is seen, ticks and keys too."""
    figure.get_figure().draw_without_rendering()  # type: ignore[union-attr]
    return "\n".join(text.get_text() for text in figure.findobj(Text) if text.get_visible())


def marked(figure: Figure, gid: str) -> list[Any]:
    """The artists that bear a mark."""
    return [artist for artist in figure.findobj() if artist.get_gid() == gid]
