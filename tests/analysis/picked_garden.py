"""Gardens of invented pickings for the tests of flushes, projections and fits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from pathlib import Path

import perennia as pn

BEAN = "Phaseolus coccineus"
PLACES = (pn.Site("home", latitude=51.0), pn.Bed("b", "home"), pn.Bed("tunnel", "home", cover="tunnel"))
TODAY = date(2026, 2, 1)


def garden(folder: Path, *records: pn.Record) -> pn.Garden:
    """A garden of these records."""
    made = pn.Garden.create(folder / "plot")
    made.record(*PLACES, *records, today=TODAY)
    return made


def sown(label: str, year: int, bed: str = "b") -> pn.Record:
    """A runner bean sown in May."""
    return pn.Sown(label, date(year, 5, 1), crop=BEAN, bed=bed)


def over_winter(label: str, year: int) -> list[pn.Record]:
    """Lifted in the autumn before and set out again in May."""
    return [pn.Lifted(label, date(year - 1, 11, 5)), pn.Replanted(label, date(year, 5, 1), bed="b")]


def picked(
    label: str | tuple[str, ...], first: date, grams: Iterable[float], gap_days: int = 3, *,
    clearance_last: bool = False,
) -> list[pn.Record]:  # fmt: skip
    """Pickings at even gaps; 0 g is a look that found nothing."""
    amounts: Sequence[float] = list(grams)
    return [
        pn.Picked(label, first + timedelta(gap_days * place), grams=amount,
                  clearance=clearance_last and place == len(amounts) - 1)
        for place, amount in enumerate(amounts)
    ]  # fmt: skip


def unpicked_and_picked(folder: Path, unpicked: int) -> pn.Garden:
    """A garden of so many running beans N00, N01 ... that were not picked yet, and one, R, that was."""
    labels = [f"N{number:02}" for number in range(unpicked)]
    seen = [record for label in labels for record in (sown(label, 2024), pn.Emerged(label, "2024-05-20"))]
    return garden(folder, *seen, sown("R", 2024), *picked("R", date(2024, 7, 9), [90.0] * 3))


def later(day: date) -> pn.Record:
    """An entry that shows that a season before it is over."""
    return pn.Noted(day, bed="b", what="weeded")
