"""From a plant's season to the pickings in the books: what ripened when, on which rounds it was gathered, how noted."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from demo_garden.books import Books, chance, month_of


@dataclass(frozen=True)
class Picking:
    """One picking off the labels, together."""

    on: date
    labels: tuple[str, ...]
    grams: float
    count: int
    clearance: bool = False


def ripening(
    key: tuple[object, ...], total_g: float, piece_g: float, start: float, days: float, shape: tuple[float, float]
) -> list[tuple[float, float]]:
    """A season's pods, fruits or stalks as (day ripe, as an ordinal with a fraction; g).

    They ripen along a Kumaraswamy curve of the given shape from start over `days`, and weigh total_g together.
    """
    draws = chance("pieces", *key)
    number = round(total_g / piece_g)
    weights = [min(max(draws.gauss(1.0, 0.1), 0.75), 1.25) for _ in range(number)]
    scale = total_g / sum(weights) if number else 0.0
    first, second = shape
    shares = [(place + 0.5) / number for place in range(number)]
    return [
        (start + days * (1 - (1 - share) ** (1 / second)) ** (1 / first), weight * scale)
        for share, weight in zip(shares, weights, strict=True)
    ]


def rounds(key: tuple[object, ...], first: date, last: date, gaps: tuple[int, ...]) -> list[date]:
    """The days on which the grower goes round with the basket."""
    draws = chance("rounds", *key)
    days, day = [], first
    while day <= last:
        days.append(day)
        day += timedelta(days=draws.choice(gaps))
    return days


def gather(
    label: str, pieces: list[tuple[float, float]], days: list[date], *, least: int = 1, clearance: date | None = None
) -> list[Picking]:
    """Pick on each round what has ripened, once there are `least`; on the last round, and at the clearance, all."""
    pickings, waiting = [], pieces
    for day in days:
        ripe = [grams for ripe_on, grams in waiting if ripe_on <= day.toordinal()]
        if len(ripe) >= (1 if day == days[-1] else least):
            pickings.append(Picking(day, (label,), sum(ripe), len(ripe)))
            waiting = waiting[len(ripe) :]
    if clearance is not None and waiting:
        grams = sum(grams for _, grams in waiting)
        pickings.append(Picking(clearance, (label,), grams, len(waiting), clearance=True))
    return pickings


def shared(pickings: Iterable[Picking], labels: Collection[str], days: Collection[date] | None = None) -> list[Picking]:
    """The pickings with those of the labels on one day (of `days`, else of any) thrown into one basket."""
    ours = [one for one in pickings if set(one.labels) <= set(labels) and (days is None or one.on in days)]
    others = [one for one in pickings if one not in ours]
    ours.sort(key=lambda one: (one.on, one.clearance, one.labels))
    for _, group in groupby(ours, key=lambda one: (one.on, one.clearance)):
        parts = list(group)
        names = tuple(sorted({label for one in parts for label in one.labels}))
        together = replace(
            parts[0], labels=names, grams=sum(one.grams for one in parts), count=sum(one.count for one in parts)
        )
        others.append(together)
    return sorted(others, key=lambda one: (one.on, one.labels))


def note_pickings(
    books: Books,
    pickings: Iterable[Picking],
    *,
    weight_only: float = 0.0,
    count_only: float = 0.0,
    minutes_a_label: float = 1.5,
    use: str | None = None,
    remembered_month: Collection[date] = (),
) -> None:
    """Write pickings down as the grower does: some unweighed, some uncounted, a few late, some with the minutes."""
    for one in pickings:
        draws = chance("noting", one.on, one.labels)
        lot, late, timed, late_days = draws.random(), draws.random() < 0.012, draws.random(), draws.randint(18, 60)
        weighed, counted = not lot < count_only, not 1 - lot < weight_only
        fields: dict[str, Any] = {
            "labels": one.labels,
            "grams": round(one.grams) if weighed else None,
            "count": one.count if counted or not weighed else None,
            "clearance": True if one.clearance else None,
            "minutes": round(minutes_a_label * (len(one.labels) + timed * 5)) if timed < 0.08 else None,
            "use": use if timed > 0.9 else None,
            "note": "stripped before the frost" if one.clearance else None,
        }
        if one.on in remembered_month:
            fields["note"] = "date forgotten"
            books.write("harvest", "picked", month_of(one.on), written=one.on + timedelta(days=31), **fields)
        else:
            books.write("harvest", "picked", one.on, late_days=late_days if late else 0, **fields)


def note_nothing_ripe(books: Books, label: str, on: date) -> None:
    """Looked over, nothing ripe: a picking of 0 g."""
    books.write("harvest", "picked", on, labels=(label,), grams=0, count=0, note="looked, nothing ripe")
