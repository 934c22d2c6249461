"""Plants as they stand where the books end: the view standing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from tests.oracle.book import Book, Row
from tests.oracle.lives import Plant, begun_plants
from tests.oracle.places import covers_over, place_on

_STANDING = ("sown", "growing", "dormant")


def standing_view(book: Book, lives: list[Plant]) -> Iterator[Row]:
    """Rows of standing."""
    for life in lives:
        if life.ended is not None:
            continue
        here = place_on(book, life, covers_over(book, lives, life), date.max)
        changed = [turn.day for turn in life.turns if turn.before != turn.after]
        yield {
            "plant": life.name, "label": life.label, "crop": life.crop, "cultivar": life.cultivar,
            "origin": life.origin, "lot": getattr(life.first.act.record, "lot", None), "plants": _plants(life),
            "state": life.turns[-1].after, "state_since": changed[-1], "site": here.site if here else life.site,
            "bed": here.bed if here else None, "cover": here.cover if here else None,
            "container": here.container if here else None, "place": _last(life, "place"),
            "protection": _last(life, "protection"), "box": _last(life, "box"), "began_on": life.began,
            "season_starts": life.starts, "life": life.number,
        }  # fmt: skip


def _plants(life: Plant) -> int:
    counted = [getattr(turn.act.record, "alive", None) for turn in life.turns]
    known = [alive for alive in counted if alive]
    return int(known[-1]) if known else begun_plants(life)


def _last(life: Plant, name: str) -> Any:
    """What was last said of a rest that is not over."""
    found = None
    for turn in life.turns:
        if turn.after in _STANDING:
            found = None
        else:
            found = getattr(turn.act.record, name, None) or found
    return found
