"""What of a plant's place changed from one season to another."""

from __future__ import annotations

from collections.abc import Sequence

from perennia.analysis.values import Row

_PLACE = ("site", "bed", "cover", "container")


def changed_place(rows: Sequence[tuple[Row, Row]]) -> tuple[str, ...]:
    """What of the place changed between two seasons of the same plants, given as rows of season_summary.

    An unknown bed is a place not known to be the same. A root that was lost crops nothing wherever it would have stood,
    so its place does not matter.
    """
    changed: set[str] = set()
    for before, after in rows:
        if after["grew"] is not True:
            continue
        if before["bed"] is None or after["bed"] is None:
            changed.add("bed (not recorded)")
        else:
            changed.update(what for what in _PLACE if before[what] != after[what])
        if before["moved"] is True or after["moved"] is True:
            changed.add("moved within a season")
    return tuple(sorted(changed))
