"""The tables of what flowers came to: by plant, truss, day of opening, day of loss and position."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

import numpy as np
from scipy.optimize import isotonic_regression

from perennia.analysis.causes.setting.flowers import Flower, FlowerBook
from perennia.analysis.causes.setting.truss_counts import Increment, TrussCounts
from perennia.analysis.name_order import in_order

_Key = TypeVar("_Key")

TALLY = (
    "opened", "set", "set_decided", "flowers_dropped", "pods_dropped", "dropped", "full_size", "picked",
    "full_decided", "damaged", "lost_to_view", "still_open", "growing",
)  # fmt: skip
"""What is counted of flowers. dropped: flowers and pods; full_size: grown to full size or picked, and picked those of
them that were picked; *_decided: flowers of which it is known."""

BY_TRUSS = {
    "crop": "string", "season": "Int64", "season_name": "string", "plant": "string", "truss": "string",
    "basis": "string", **dict.fromkeys(TALLY, "Int64"), "set_share": "Float64", "full_share": "Float64",
    "counts": "Int64", "counted_on": "datetime64[s]", "opened_by_count": "Int64", "set_by_count": "Int64",
}  # fmt: skip
"""Columns of PodSet.trusses. basis: flowers (followed one by one) or counts. counts: times it was counted, last on
counted_on; opened_by_count, set_by_count: what the counts say of a truss that was also followed flower by flower."""
BY_OPENING_DAY = {
    "crop": "string", "season": "Int64", "season_name": "string", "basis": "string", "on_from": "datetime64[s]",
    "on_to": "datetime64[s]", "opened": "Int64", "trusses": "Int64", "plants": "Int64", "set": "Int64",
    "set_decided": "Int64", "full_size": "Int64", "full_decided": "Int64", "set_share": "Float64",
    "full_share": "Float64",
}  # fmt: skip
"""Columns of PodSet.by_opening_day; one row a day on which flowers opened, or a span between two counts of trusses, of
which nobody knows which of the flowers set."""
BY_LOSS_DAY = {
    "crop": "string", "season": "Int64", "season_name": "string", "basis": "string", "on_from": "datetime64[s]",
    "on_to": "datetime64[s]", "lost": "Int64", "flowers": "Int64", "pods": "Int64", "trusses": "Int64",
    "plants": "Int64", "at_risk": "Int64",
}  # fmt: skip
"""Columns of PodSet.by_loss_day; one row a day on which losses were seen, or a span between two counts. at_risk:
flowers and pods that had opened and were not known to have ended before that day; missing for counts."""
BY_POSITION = {
    "crop": "string", "season": "Int64", "season_name": "string", "position": "Int64", "opened": "Int64",
    "trusses": "Int64", "set": "Int64", "set_decided": "Int64", "full_size": "Int64", "full_decided": "Int64",
    "set_share": "Float64", "full_share": "Float64", "falling_share": "Float64",
}  # fmt: skip
"""Columns of PodSet.by_position. falling_share: set share by the isotonic regression that never rises with position, a
description and no test; missing where no flower of the position is decided."""


def tally(flowers: Sequence[Flower]) -> dict[str, int]:
    """Flowers counted by what became of them."""
    return {
        "opened": len(flowers),
        "set": sum(one.set is True for one in flowers),
        "set_decided": sum(one.set is not None for one in flowers),
        "flowers_dropped": sum(one.end == "flower dropped" for one in flowers),
        "pods_dropped": sum(one.end == "pod dropped" for one in flowers),
        "dropped": sum(one.full is False for one in flowers),
        "full_size": sum(one.full is True for one in flowers),
        "picked": sum(one.end == "picked" for one in flowers),
        "full_decided": sum(one.full is not None for one in flowers),
        "damaged": sum(one.end == "damaged" for one in flowers),
        "lost_to_view": sum(one.lost_to_view for one in flowers),
        "still_open": sum(one.still_open for one in flowers),
        "growing": sum(one.growing for one in flowers),
    }


def share(part: int | None, whole: int | None) -> float | None:
    """A share, missing of nothing."""
    return part / whole if part is not None and whole else None


def truss_rows(book: FlowerBook) -> list[dict[str, Any]]:
    """One row a truss; where it was both followed and counted, the flowers win and the counts stand beside them."""
    followed = gathered(book.flowers, lambda flower: flower.truss)
    counted = {counts.truss: counts for counts in book.counts}
    rows = []
    for truss in sorted(set(followed) | set(counted), key=lambda truss: [in_order(name) for name in truss]):
        counts = counted.get(truss)
        row = _followed(followed[truss]) if truss in followed else _counted(counted[truss])
        rows.append({
            **head(book), "plant": truss[0], "truss": truss[1], **row,
            "counts": counts.counts if counts else None,
            "counted_on": max(counts.counted_on.values()) if counts else None,
            "opened_by_count": counts.latest.get("opened") if counts and truss in followed else None,
            "set_by_count": counts.latest.get("set") if counts and truss in followed else None,
        })  # fmt: skip
    return rows


def _followed(flowers: Sequence[Flower]) -> dict[str, Any]:
    found = tally(flowers)
    return {
        "basis": "flowers", **found, "set_share": share(found["set"], found["set_decided"]),
        "full_share": share(found["full_size"], found["full_decided"]),
        "set_of_decided": found["set"], "full_of_decided": found["full_size"],
    }  # fmt: skip


def _counted(counts: TrussCounts) -> dict[str, Any]:
    """A truss that was counted only: what no count tells stays missing."""
    was_set, full = counts.set_of_decided() or (None, None), counts.full_of_decided() or (None, None)
    return {
        "basis": "counts", **dict.fromkeys(TALLY), **counts.latest, "set_decided": was_set[1],
        "full_decided": full[1], "set_share": share(*was_set), "full_share": share(*full),
        "set_of_decided": was_set[0], "full_of_decided": full[0],
    }  # fmt: skip


def plant_rows(book: FlowerBook, trusses: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """One row a plant from its trusses. A sum is missing where no truss has the number; shares rest on the trusses
    whose decided flowers are known."""
    rows = []
    for plant, ours in gathered(trusses, lambda row: str(row["plant"])).items():
        known = [{name: row[name] for name in TALLY} for row in ours]
        sums = {name: _sum(row[name] for row in known) for name in TALLY}
        set_of, full_of = (_sum(row[name] for row in ours) for name in ("set_of_decided", "full_of_decided"))
        rows.append({
            **head(book), "plant": plant, "trusses": len(ours),
            "counted_trusses": sum(row["basis"] == "counts" for row in ours),
            **sums, "set_of_decided": set_of, "full_of_decided": full_of,
            "set_share": share(set_of, sums["set_decided"]), "full_share": share(full_of, sums["full_decided"]),
        })  # fmt: skip
    return rows


def opening_rows(book: FlowerBook) -> list[dict[str, Any]]:
    """Flowers by the day they opened, and by the span between two counts in which they did."""
    rows = []
    days = gathered((one for one in book.flowers if one.opened_on), lambda flower: flower.opened_on)
    for day, flowers in days.items():
        found = tally(flowers)
        rows.append({
            **head(book), "basis": "flowers", "on_from": day, "on_to": day,
            **{name: found[name] for name in ("opened", "set", "set_decided", "full_size", "full_decided")},
            "trusses": len({one.truss for one in flowers}), "plants": len({one.plant for one in flowers}),
            "set_share": share(found["set"], found["set_decided"]),
            "full_share": share(found["full_size"], found["full_decided"]),
        })  # fmt: skip
    lacking = dict.fromkeys(("set", "set_decided", "full_size", "full_decided", "set_share", "full_share"))
    return rows + [
        {**head(book), "basis": "counts", "on_from": begins, "on_to": ends, "opened": added, **among, **lacking}
        for begins, ends, added, among in _spans(book, "opened")
    ]


def loss_rows(book: FlowerBook) -> list[dict[str, Any]]:
    """Flowers and pods by the day their loss was seen, and by the span between two counts in which they were lost."""
    rows = []
    for day, flowers in gathered((one for one in book.flowers if one.lost_on), lambda flower: flower.lost_on).items():
        at_risk = [
            one for one in book.flowers
            if one.opened_on and day and one.opened_on <= day and (one.ended_on is None or one.ended_on >= day)
            and not one.lost_to_view
        ]  # fmt: skip
        rows.append({
            **head(book), "basis": "flowers", "on_from": day, "on_to": day, "lost": len(flowers),
            "flowers": sum(one.end == "flower dropped" for one in flowers),
            "pods": sum(one.end == "pod dropped" for one in flowers),
            "trusses": len({one.truss for one in flowers}), "plants": len({one.plant for one in flowers}),
            "at_risk": len(at_risk),
        })  # fmt: skip
    return rows + [
        {**head(book), "basis": "counts", "on_from": begins, "on_to": ends, "lost": added, "flowers": None,
         "pods": None, **among, "at_risk": None}
        for begins, ends, added, among in _spans(book, "dropped")
    ]  # fmt: skip


def position_rows(book: FlowerBook) -> list[dict[str, Any]]:
    """Flowers by their place on the truss, with the shares that never rise along it."""
    rows = []
    for position, flowers in gathered(book.flowers, lambda flower: flower.position).items():
        found = tally(flowers)
        rows.append({
            **head(book), "position": position, "trusses": len({one.truss for one in flowers}), **found,
            "set_share": share(found["set"], found["set_decided"]),
            "full_share": share(found["full_size"], found["full_decided"]), "falling_share": None,
        })  # fmt: skip
    told = [row for row in rows if row["set_decided"]]
    fitted = falling([row["set_share"] for row in told], [row["set_decided"] for row in told])
    for row, value in zip(told, fitted, strict=True):
        row["falling_share"] = value
    return rows


def falling(values: Sequence[float], weights: Sequence[float]) -> list[float]:
    """The least-squares fit that never rises (pool adjacent violators; Barlow et al. 1972)."""
    if not values:
        return []
    fitted = isotonic_regression(np.asarray(values, dtype=float), weights=np.asarray(weights, dtype=float),
                                 increasing=False)  # fmt: skip
    return [float(value) for value in fitted.x]


def head(book: FlowerBook) -> dict[str, Any]:
    """What every row of a book begins with."""
    return {"crop": book.crop, "season": book.season, "season_name": book.season_name}


def gathered(items: Iterable[Any], key: Callable[[Any], _Key]) -> dict[_Key, list[Any]]:
    """Items by key, in order of the keys."""
    found: dict[Any, list[Any]] = {}
    for item in items:
        found.setdefault(key(item), []).append(item)
    return {name: found[name] for name in sorted(found)}


def _spans(book: FlowerBook, quantity: str) -> list[tuple[Any, Any, int, dict[str, int]]]:
    """What counts of trusses that were not followed added between two days, alike spans together."""
    followed = {flower.truss for flower in book.flowers}
    ours: list[tuple[tuple[str, str], Increment]] = [
        (counts.truss, one)
        for counts in book.counts if counts.truss not in followed
        for one in counts.increments if one.quantity == quantity
    ]  # fmt: skip
    spans = gathered(ours, lambda pair: (pair[1].on_to, str(pair[1].on_from), pair[1].on_from))
    return [
        (begins, ends, sum(one.added for _, one in found),
         {"trusses": len({truss for truss, _ in found}), "plants": len({truss[0] for truss, _ in found})})
        for (ends, _, begins), found in spans.items()
    ]  # fmt: skip


def _sum(values: Iterable[int | None]) -> int | None:
    known = [value for value in values if value is not None]
    return sum(known) if known else None
