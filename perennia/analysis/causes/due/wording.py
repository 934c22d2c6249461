"""How days, labels and places are named in what is due."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from perennia.analysis.name_order import in_order

NAMED = 8
"""Labels named in a sentence; the table names all."""


def listed(labels: Sequence[str], most: int = NAMED) -> str:
    """Labels with commas and an and, those beyond the first few by their number."""
    if len(labels) > most:
        return f"{', '.join(labels[:most])} and {len(labels) - most} more"
    return joined(labels)


def joined(words: Sequence[str]) -> str:
    """Words with commas and an and."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def placed(bed: str | None) -> str:
    """In a bed, where it is known."""
    return "in a bed not recorded" if bed is None else f"in {bed}"


def day_in_year(day: date) -> str:
    """A day without its year."""
    return f"{day.day} {day:%B}"


def days_ago(day: date, today: date) -> str:
    """How long ago a day was."""
    gone = (today - day).days
    return "today" if gone <= 0 else "yesterday" if gone == 1 else f"{gone} days ago"


def crop_named(crop: str | None, cultivar: str | None = None) -> str:
    """A crop by its botanical name, with the cultivar where there is one."""
    name = "an unnamed crop" if crop is None else crop
    return name if cultivar is None else f"{name} {cultivar!r}"


def beds_of(beds: Iterable[str | None]) -> str | None:
    """Beds in the order of their names, None where none is known."""
    known = sorted({bed for bed in beds if bed is not None}, key=in_order)
    return ", ".join(known) or None
