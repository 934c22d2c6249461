"""Results of causes, trials and descent to draw, of any size, from records that are nowhere stored."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from datetime import date, timedelta
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.text import Text

from perennia.analysis import DegreeDays, FrostDates, PodSet, TrialPlan, WaterBalance
from perennia.analysis import degree_days as asked_degree_days
from perennia.analysis import frost_dates as asked_frost_dates
from perennia.analysis import water_balance as asked_water_balance
from perennia.analysis.causes.setting.flowers import books_of
from perennia.analysis.causes.setting.pod_set import pod_set_of
from perennia.analysis.decisions.descent.pedigree import Pedigree, pedigree_of
from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.outlook import OUTLOOK
from perennia.analysis.decisions.trials.trial import COLUMNS
from perennia.analysis.result import framed
from perennia.records.base import Record
from perennia.records.care import Watered
from perennia.records.life import Acquired, CuttingTaken, Died, Divided, Sown
from perennia.records.places import Bed, Site
from perennia.records.seed import SeedSaved
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN, BuiltSource, day, source_of, sown
from tests.queries.built_views import built, with_ids

HOSTILE = "$x_$ <b>"
"""A name of signs that a drawing could take for its own."""
RHUBARB = "Rheum x hybridum"
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


def _field(name: str, days: int, gaps: Sequence[int] = (), watered: Sequence[int] = ()) -> list[Record]:
    """A site with one bed of loam of its name and weather of so many days from the sowing: warmer by and by, rain every
    ninth day, none recorded in the gaps."""
    return [
        Site(name, latitude=45.0, elevation_m=100.0), Bed(f"{name} bed", name, area_m2=10.0, soil="loam"),
        sown(name, f"{name} bed"), *[Watered(day(number), bed=f"{name} bed", mm=20.0) for number in watered],
        *[
            Weather(day(number), site=name, t_min_c=8.0 + number % 7 + number / 20, t_max_c=20.0 + number % 11,
                    rain_mm=14.0 if number % 9 == 0 else 0.0)
            for number in range(days) if number not in gaps
        ],
    ]  # fmt: skip


def _winters(name: str, years: int, latitude: float = 48.0, coldest_c: float = -5.0, gap: bool = False) -> list[Record]:
    """A site with winters of that depth, drawn by lot; gap: days of its third spring not recorded."""
    drawn = np.random.default_rng(4)
    sign = 1 if latitude > 0 else -1
    records: list[Record] = [Site(name, latitude=latitude)]
    for when in pd.date_range("2000-01-01", f"{1999 + years}-12-31"):
        middle = coldest_c + 11 - sign * 11 * np.cos(2 * np.pi * (when.dayofyear - 15) / 365)
        if not (gap and when.year == 2002 and 85 < when.dayofyear < 105):
            records.append(Weather(when.date(), site=name, t_min_c=float(middle + drawn.normal(0, 2.5))))
    return records


@cache
def _places() -> tuple[BuiltSource, ExitStack]:
    """All fields and winters, built once; the stack holds them open."""
    stack = ExitStack()
    return stack.enter_context(source_of(
        *_field("dry", 110), *_field("watered", 90, watered=(40, 55)), *_field("gaps", 60, gaps=(30, 31)),
        *_field("brief", 3), *_field("one day", 1), *_winters("north", 11), *_winters("south", 11, latitude=-30.0),
        *_winters("few years", 5, gap=True), *_winters("no frost", 2, coldest_c=25.0),
    )), stack  # fmt: skip


def water_balance(field: str) -> WaterBalance:
    """The water of one field's bed."""
    return asked_water_balance(_places()[0], f"{field} bed", 2023)


def degree_days(field: str) -> DegreeDays:
    """The warmth of one field."""
    return asked_degree_days(_places()[0], field, 8.0)


def frost_dates(winters: str, **given: Any) -> FrostDates:
    """The frosts of one site with winters."""
    return asked_frost_dates(_places()[0], winters, **given)


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


def on(number: int) -> date:
    """The day so many after 1 March 2015."""
    return date(2015, 3, 1) + timedelta(number)


def root(label: str) -> Acquired:
    """A root bought on the first day."""
    return Acquired(label, on(0), crop=RHUBARB, kind="root", cultivar="Red Stalk", bed="b")


def divided(mother: str, *into: str, when: int = 400) -> Divided:
    """A division that leaves the mother standing."""
    return Divided(mother, on(when), into=into, mother_continues=True, bed="b")


LINE, MANY = 10, 153
"""Generations of the line a, and divisions of N."""
DESCENTS: tuple[Record, ...] = (
    Site("home", latitude=51.0), Bed("b", "home"),
    root("alone"),
    # divisions, a cutting of one, and its seed
    root("R"), divided("R", "D0", "D1"), CuttingTaken("D0", on(800), into=("C",), bed="b"),
    SeedSaved("C", on(900), lot="late"), Sown("S", on(1100), crop=RHUBARB, bed="b", lot="late"),
    # one that died, and one of a name of signs
    root("Q"), divided("Q", "Q1", HOSTILE), Died("Q1", on(900)),
    # thirty and thirty
    root("M"), divided("M", *[f"M{n}" for n in range(30)]), divided("M7", *[f"L{n}" for n in range(30)], when=800),
    # a long line, and very many
    root("a"), *[divided("a" * n, "a" * (n + 1), when=400 * n) for n in range(1, LINE + 1)],
    root("N"), divided("N", *[f"N{n}" for n in range(MANY)]),
    # a lot of two mothers
    Sown("A", "2021-05-01", crop=BEAN, bed="b"), Sown("B", "2021-05-01", crop=BEAN, bed="b"),
    SeedSaved("A", "2021-10-01", lot="mixed"), SeedSaved("B", "2021-10-01", lot="mixed"),
    Sown("Y", "2022-05-01", crop=BEAN, bed="b", lot="mixed"),
)  # fmt: skip


@cache
def _rhubarb() -> tuple[BuiltSource, ExitStack]:
    """Descents of every shape in one garden."""
    return (stack := ExitStack()).enter_context(_descents()), stack


@contextmanager
def _descents() -> Iterator[BuiltSource]:
    with built(with_ids([*DESCENTS])) as connection:
        yield BuiltSource(connection)


def descent(plant: str) -> Pedigree:
    """The pedigree of one of DESCENTS."""
    return pedigree_of(_rhubarb()[0], plant)


def words_of(figure: Figure) -> str:
    """All text of a figure that is seen, but for ticks that are only made when it is drawn."""
    return "\n".join(text.get_text() for text in figure.findobj(Text) if text.get_visible())


def marked(figure: Figure, gid: str) -> list[Any]:
    """The artists that bear a mark."""
    return [artist for artist in figure.findobj() if artist.get_gid() == gid]
