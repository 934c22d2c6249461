"""Gardens of followed flowers for the tests of what kept them from setting: simulated flowers as records."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from perennia.analysis.causes.setting.flowers import Flower, FlowerBook
from perennia.records.base import Record
from perennia.records.care import Visits
from perennia.records.flowering import FlowerFate
from perennia.records.life import Sown
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN

SEASON = 2024
BED = "B1"
SITE = "plot"


def sowings(names: Iterable[str], bed: str = BED) -> list[Record]:
    """Beans of these labels, sown in May 2024."""
    return [Sown(name, date(SEASON, 5, 1), crop=BEAN, bed=bed) for name in names]


def fates(flowers: Iterable[Flower]) -> list[Record]:
    """One record a flower."""
    return [
        FlowerFate(one.plant, one.truss[1], one.position, opened_on=one.opened_on, set_on=one.set_on,
                   ended_on=one.ended_on, end=one.end)
        for one in flowers
    ]  # fmt: skip


def followed(book: FlowerBook) -> list[Record]:
    """The plants and flowers of a simulated book."""
    return [*sowings(book.plants), *fates(book.flowers)]


def truss(plant: str, name: str, first: date, outcomes: Iterable[bool], a_day: int = 2) -> list[Record]:
    """Flowers of one truss, so many opening a day: those that set are picked after 16 days, others drop after 3."""
    records: list[Record] = []
    for place, is_set in enumerate(outcomes):
        opened = first + timedelta(place // a_day)
        ended = opened + timedelta(16 if is_set else 3)
        records.append(FlowerFate(
            plant, name, place + 1, opened_on=opened, set_on=opened + timedelta(4) if is_set else None, ended_on=ended,
            end="picked" if is_set else "flower dropped",
        ))  # fmt: skip
    return records


def days(first: date, last: date) -> list[date]:
    """Every day from first to last."""
    return [first + timedelta(n) for n in range((last - first).days + 1)]


def weather(first: date, last: date, t_min_c: float = 11.0, t_max_c: float = 22.0, rain_mm: float = 5.0,
            besides: dict[date, dict[str, float]] | None = None) -> list[Record]:  # fmt: skip
    """Weather of the site day by day, alike but for what is given besides."""
    usual = {"t_min_c": t_min_c, "t_max_c": t_max_c, "rain_mm": rain_mm}
    return [Weather(one, site=SITE, **(usual | (besides or {}).get(one, {}))) for one in days(first, last)]


def watched(on: Iterable[date], visits: int, robbed: int | None = 0) -> list[Record]:
    """Ten minutes' watch of the bed on each of these days."""
    return [Visits(one, 10.0, visits, robbed, bed=BED) for one in on]
