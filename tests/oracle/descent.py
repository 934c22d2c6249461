"""Which plant comes from which, by division, cutting or seed: the view parentage."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from tests.oracle.book import Book, Row
from tests.oracle.lives import Plant


def parentage_view(book: Book, lives: list[Plant], seed: list[Row]) -> Iterator[Row]:
    """Rows of parentage, from the lives and the rows of the view seed."""
    for life in lives:
        entry = life.first.act.entry
        if life.mother is not None:
            yield {
                "plant": life.name, "mother": life.mother, "by": life.origin, "lot": None, "on_from": entry.first,
                "on_to": entry.last, "mothers": 1, "certain": True,
            }  # fmt: skip
        elif life.origin == "seed":
            yield from _by_seed(life, lives, seed)


def _by_seed(life: Plant, lives: list[Plant], seed: list[Row]) -> Iterator[Row]:
    sowing = life.first.act.entry
    record: Any = sowing.record
    found: dict[str, list[Row]] = {}
    for row in seed:
        if row["event"] == "seed_saved" and row["lot"] == record.lot and _not_after(row["on_from"], sowing.last):
            found.setdefault(row["plant"], []).append(row)
    kin = {
        mother.name: found[mother.name] for mother in lives
        if mother.name in found and mother is not life and _crop(mother) == _crop(life)
    }  # fmt: skip
    for name, savings in kin.items():
        firsts = [row["on_from"] for row in savings]
        sure = any(sowing.first is not None and row["on_to"] <= sowing.first for row in savings)
        yield {
            "plant": life.name, "mother": name, "by": "seed", "lot": record.lot,
            "on_from": None if None in firsts else min(firsts), "on_to": max(row["on_to"] for row in savings),
            "mothers": len(kin), "certain": sure and len(kin) == 1,
        }  # fmt: skip


def _not_after(first: date | None, last: date) -> bool:
    return first is None or first <= last


def _crop(life: Plant) -> str:
    return (life.crop or "").replace("×", "x")
