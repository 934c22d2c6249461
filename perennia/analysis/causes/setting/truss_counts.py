"""Trusses whose flowers and pods were counted on some days: the latest count, and what came between two counts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import attrs

from perennia.analysis.units import Row

QUANTITIES = ("opened", "set", "dropped", "full_size")


@attrs.frozen
class Increment:
    """What was added to a count between two counts of one truss: from the day after the one to the day of the other;
    on_from is None before the first count."""

    quantity: str
    on_from: date | None
    on_to: date
    added: int


@attrs.frozen(eq=False)
class TrussCounts:
    """The counts of one truss (plant, truss). latest: the last number given of each quantity, counted_on: its day.
    fallen: numbers lower than an earlier one of the same quantity, which no number since the truss began can be."""

    truss: tuple[str, str]
    latest: dict[str, int]
    counted_on: dict[str, date]
    increments: tuple[Increment, ...]
    counts: int
    fallen: int

    def set_of_decided(self) -> tuple[int, int] | None:
        """Pods or fruits set, and flowers whose setting is decided: those that set and those that dropped as flowers.

        A drop is taken as that of a flower wherever a flower had not set; the count does not tell. None where drops
        were not counted when pods last were.
        """
        if not {"opened", "set", "dropped"} <= set(self.latest) or self.counted_on["dropped"] < self.counted_on["set"]:
            return None
        failed = min(self.latest["dropped"], self.latest["opened"] - self.latest["set"])
        return self.latest["set"], self.latest["set"] + max(failed, 0)

    def full_of_decided(self) -> tuple[int, int] | None:
        """Pods or fruits of full size, and flowers whose end is decided; None where both were not counted on one
        day."""
        if not {"dropped", "full_size"} <= set(self.latest):
            return None
        if self.counted_on["dropped"] != self.counted_on["full_size"]:
            return None
        return self.latest["full_size"], self.latest["full_size"] + self.latest["dropped"]

    @property
    def drops_untold(self) -> bool:
        """Whether its drops may have been of flowers or of pods, so that set_of_decided rests on a reading of them."""
        if not set(QUANTITIES) <= set(self.latest):
            return True
        fewest = max(self.latest["dropped"] - (self.latest["set"] - self.latest["full_size"]), 0)
        return fewest < min(self.latest["dropped"], self.latest["opened"] - self.latest["set"])


def truss_counts(truss: tuple[str, str], rows: Sequence[Row]) -> TrussCounts:
    """The counts of one truss from its rows in order of their days."""
    latest: dict[str, int] = {}
    counted_on: dict[str, date] = {}
    increments: list[Increment] = []
    fallen = 0
    for row in rows:
        day = day_of(row["on_to"])
        for quantity in QUANTITIES:
            if row[quantity] is None:
                continue
            value = int(row[quantity])
            added = value - latest.get(quantity, 0)
            if added < 0:
                fallen += 1
            elif added > 0:
                before = counted_on.get(quantity)
                increments.append(Increment(quantity, before and before + timedelta(1), day, added))
            latest[quantity], counted_on[quantity] = value, day
    return TrussCounts(truss, latest, counted_on, tuple(increments), len(rows), fallen)


def day_of(value: Any) -> date:
    """A day as a plain date."""
    day: date = value.date() if hasattr(value, "date") else value
    return day
