"""A Source over records that are nowhere stored, with the real views; and gardens of plain pickings for tests."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from datetime import date, timedelta
from functools import cached_property
from typing import Any

import duckdb
import pandas as pd

from perennia import crops
from perennia.queries import catalogue
from perennia.queries.connection import build
from perennia.queries.frames import shaped
from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import Sown
from perennia.records.places import Bed, Site
from tests.queries.built_views import built, with_ids

BEAN = "Phaseolus coccineus"
"""A crop with a usual gap of 3 days and a base of 8 degrees C."""
SOWN = date(2023, 5, 1)
PLACES: tuple[Record, ...] = (
    Site("plot", latitude=48.0), Bed("B1", "plot", area_m2=10.0), Bed("B2", "plot", cover="tunnel", area_m2=10.0),
    Bed("B3", "plot", area_m2=10.0),
)  # fmt: skip
OVER = Noted(date(2024, 2, 1), bed="B1", what="dug over")
"""With it the seasons up to 2023 are over."""


Seen = Callable[[date | None], duckdb.DuckDBPyConnection]
"""A connection that sees the records up to a day, or all of them."""


class BuiltSource:
    """A Source over a connection with all views, or over one that is made when it is first asked."""

    def __init__(
        self, connection: duckdb.DuckDBPyConnection | None = None, seen: Seen | None = None, until: date | None = None
    ) -> None:
        self._given = connection
        self._seen = seen
        self._until = until

    @cached_property
    def _connection(self) -> duckdb.DuckDBPyConnection:
        if self._given is not None:
            return self._given
        if self._seen is None:
            raise ValueError("neither a connection nor a way to make one is given")
        return self._seen(self._until)

    @cached_property
    def _made(self) -> set[str]:
        there = self._connection.execute("select table_name from information_schema.tables").fetchall()
        return {name for (name,) in there}

    @property
    def profiles(self) -> Mapping[str, crops.CropProfile]:
        """The shipped profiles."""
        return crops.profiles()

    def sql(self, query: str, params: Sequence[Any] | Mapping[str, Any] | None = None, *, as_: Any = "pandas") -> Any:
        """The query's answer; views that it names are made first."""
        if self._given is None:
            build(self._connection, [name for name in catalogue.shown() if name in query], self._made)
        return shaped(self._connection.sql(query, params=params).to_arrow_table(), as_)

    def table(
        self, view: str, *, labels: Collection[str] | None = None, years: Collection[int] | None = None,
        as_: Any = "pandas",
    ) -> Any:  # fmt: skip
        """The whole view."""
        return self.sql(f"select * from {view}", as_=as_)

    def history(self, label: str) -> pd.DataFrame:
        """The life of one label."""
        found: pd.DataFrame = self.sql("select * from life where label = ?", [label])
        return found

    def views(self) -> pd.DataFrame:
        """No descriptions here."""
        return pd.DataFrame()


    def up_to(self, day: date) -> BuiltSource:
        """The same records cut off after that day."""
        return BuiltSource(None, self._seen, day if self._until is None else min(day, self._until))


@contextmanager
def source_of(*records: Record) -> Iterator[BuiltSource]:
    """A Source over the places and these records."""
    with source_over([*PLACES, *records]) as source:
        yield source


@contextmanager
def source_over(records: Sequence[Record]) -> Iterator[BuiltSource]:
    """A Source over these records, places among them, that makes its views when they are first asked."""
    book = with_ids(records)
    with ExitStack() as opened:
        yield BuiltSource(None, lambda until: opened.enter_context(built(book, (), until)))


def sown(label: str, bed: str = "B1", plants: int = 1, on: date = SOWN, crop: str = BEAN) -> Sown:
    """A sowing in a bed."""
    return Sown(label, on, crop=crop, bed=bed, plants=plants)


def day(number: int) -> date:
    """The day so many after SOWN."""
    return SOWN + timedelta(number)


def picked(labels: str | tuple[str, ...], number: int, grams: float | None = None, **given: Any) -> Picked:
    """A picking so many days after SOWN."""
    return Picked(labels, day(number), grams=grams, **given)
