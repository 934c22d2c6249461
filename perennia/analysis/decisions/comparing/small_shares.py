"""Rows of season_summary without what a plant had of pickings off several labels, where that was little of its crop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from perennia.analysis.values import Row

SMALL = 0.05
"""Share of a plant's crop below which what it had of shared pickings is left out."""


def without_small_shares(rows: Sequence[Row]) -> list[Row]:
    """The rows; a plant whose shared pickings made up under a twentieth of its crop stands alone, without them.

    Its dates are left as they are: so little moves them by hardly a day. Where no share is known nothing changes.
    """
    apart = [_apart(row) for row in rows]
    still: dict[Any, int] = {}
    for row in apart:
        if (row["sharing"] or 1) > 1:
            still[row["season"], row["unit"]] = still.get((row["season"], row["unit"]), 0) + 1
    return [_with(row, sharing=still.get((row["season"], row["unit"]), 1)) for row in apart]


def _apart(row: Row) -> Row:
    share = _share(row)
    if (row["sharing"] or 1) <= 1 or share is None or share >= SMALL:
        return row
    return _with(
        row, unit=row["plant"], sharing=1,
        total_g=_less(row["total_g"], row["shared_g"]), count=_less(row["count"], row["shared_count"]),
        g_per_m2=None if row["g_per_m2"] is None else float(row["g_per_m2"]) * (1 - share),
    )  # fmt: skip


def _share(row: Row) -> float | None:
    """The part of a plant's crop that came from shared pickings, by weight where all was weighed, else by count."""
    for whole, part in (("total_g", "shared_g"), ("count", "shared_count")):
        if row[whole] and row[part] is not None:
            return float(row[part]) / float(row[whole])
    return None


def _less(whole: Any, part: Any) -> Any:
    return whole if whole is None or part is None else float(whole) - float(part)


def _with(row: Row, **changed: Any) -> Mapping[str, Any]:
    return {**row, **changed}
