"""How a record is named in a message to the grower."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from difflib import get_close_matches
from typing import Any

from perennia.lifecycle import FIRST_DAY
from perennia.store.schemas import POSITION


def where(row: Mapping[str, Any]) -> str:
    """The record a row belongs to: its place in the batch, what it is, of what, and when."""
    of = next((row[name] for name in ("label", "bed", "site", "name", "lot") if row.get(name)), "")
    on = days(row.get("on_from"), row.get("on_to"))
    place = f"record {row[POSITION] + 1}" if row.get(POSITION, -1) >= 0 else "the garden without the corrected record"
    return " ".join(part for part in (f"{place}:", str(row["event"]), str(of), on) if part)


def days(first: date | None, last: date | None) -> str:
    """A day or span in words."""
    if last is None:
        return ""
    if first == last:
        return f"on {last}"
    return f"by {last}" if first is None or first <= FIRST_DAY else f"between {first} and {last}"


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint at known names like this one, or an empty text."""
    close = get_close_matches(name, sorted(known), n=3, cutoff=0.6)
    return f"; near it: {', '.join(close)}" if close else ""
