"""How records and numbers are named in a message to the grower."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from difflib import get_close_matches
from typing import Any

from perennia.lifecycle import FIRST_DAY
from perennia.records.spans import unit_in_words
from perennia.store.schemas import POSITION

# to look for names like one among thousands takes milliseconds
_HINTED = 20


def counted(n: int, noun: str) -> str:
    """A number with its noun, which takes an s."""
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def named_few(names: Sequence[str], most: int = 4) -> str:
    """The first few names, and how many more there are."""
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def where(row: Mapping[str, Any]) -> str:
    """The record a row belongs to: its place in the batch, what it is, of what, and when."""
    of = next((row[name] for name in ("label", "name", "bed", "site", "lot") if row.get(name)), "")
    on = days(row.get("on_from"), row.get("on_to"))
    place = f"record {row[POSITION] + 1}" if row.get(POSITION, -1) >= 0 else "the garden without the corrected record"
    return " ".join(part for part in (f"{place}:", str(row["event"]), str(of), on) if part)


def days(first: date | None, last: date | None) -> str:
    """A day or span in words, as it would be said of what is written so: on 2024-03-05, about March 2024."""
    if last is None:
        return ""
    if first is None or first <= FIRST_DAY:
        return f"by {last}"
    return unit_in_words(first, last) or f"between {first} and {last}"


def days_in_cell(first: date | None, last: date | None) -> str:
    """The same as a cell of a table has it: 2024-03-05, March 2024."""
    return re.sub("^(on|in) ", "", days(first, last))


def question(
    label: str, kind: str, event: str, on_from: date | None, on_to: date, grams: float | None, likely_g: float | None,
    crop: str | None, near: str | None,
) -> str:  # fmt: skip
    """What the grower should look at, in a sentence."""
    what = event.replace("_", " ")
    match kind:
        case "heavy":
            return (
                f"{label}: {grams:g} g picked on {on_to} is more than the {likely_g:g} g a day that its crop's profile "
                "holds likely; check the unit and the label"
            )
        case "light":
            return f"{label}: {grams:g} g picked on {on_to} would be likely in kilograms; weights are in grams"
        case "twin":
            return f"{label}: the same crop is written twice on {on_to}; take one back if it is one picking"
        case "silent":
            return f"{label}: nothing is recorded {days(on_from, on_to)}; record that it {what}, or how it ended"
        case "unplaced":
            return (
                f"{label}: where it stood {days(on_from, on_to)}, after its winter in a pot, is not recorded; record "
                "that it was moved, with its bed, for a plant without a bed is held against no other"
            )
        case "crop":
            return f"{label}: crop {crop!r} has no profile; near it: {near}; correct the record if it is meant"
        case "allotted":
            return (
                f"{label}: allotted to more than one arm or block of one trial, last {days(on_from, on_to)}, which "
                "counts; take back what is wrong"
            )
        case "unchecked":
            return f"{label}: no look at the root in store {days(on_from, on_to)}; record store_checked if you looked"
    asked = "with its bed if you know when and where" if event == "replanted" else "if you know when"
    return f"{label}: {what} is not recorded but must have happened {days(on_from, on_to)}; record it {asked}"


def hints(names: Iterable[str], known: Collection[str]) -> dict[str, str]:
    """A hint for each of the first few unknown names, an empty text for the rest: nobody reads hundreds of them."""
    distinct = list(dict.fromkeys(names))
    return {
        name: nearest(name, (other for other in known if other != name)) if place < _HINTED else ""
        for place, name in enumerate(distinct)
    }


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint at known names like this one, or an empty text."""
    # capitals are the first thing that differs between the book and the label
    alike = {other.casefold(): other for other in sorted(known)}
    close = [alike[found] for found in get_close_matches(name.casefold(), alike, n=3, cutoff=0.6)]
    return f"; near it: {', '.join(close)}" if close else ""
