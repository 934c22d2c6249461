"""Plants that have shown no life since their latest winter: they are looked for, not ranked.

They are those that survival counts as dead without anybody having found them so. One verdict holds everywhere.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import attrs

from perennia.analysis.decisions.keeping.keep_roots import Root
from perennia.analysis.decisions.surviving.root_winters import Winter
from perennia.analysis.name_order import in_order
from perennia.analysis.units import Row

UNSEEN = {
    "plant": "string", "label": "string", "crop": "string", "cultivar": "string", "site": "string", "bed": "string",
    "box": "string", "winter": "string", "wintering": "string", "last_alive_on": "datetime64[s]",
    "dead_by": "datetime64[s]", "root_g": "Float64", "weighed_on": "datetime64[s]", "look_at": "string",
}  # fmt: skip
"""Columns of KeepList.unseen; one row a plant in the books of which nothing was seen since its latest winter.

winter: the season that winter led into, as a grower writes it. box: where it was last put in that winter.
last_alive_on: last day on which it was seen alive; dead_by: the latest day by which one that lives has shown itself.
root_g, weighed_on: last weight of the root in g. look_at: what to look at first.
"""
LOOK = "not seen since the winter: look before you keep"


@attrs.frozen(eq=False)
class Unseen:
    """One such plant: its row in the season of the choice, its latest winter, and its root."""

    row: Row
    winter: Winter
    root: Root


def unseen_of(
    rows: Sequence[Row], winters: Sequence[Winter], roots: Mapping[str, Root], ended: Collection[str]
) -> tuple[Unseen, ...]:
    """The plants of these rows that did not live through their latest winter, those that have ended left out."""
    latest: dict[str, Winter] = {}
    for winter in winters:
        if winter.plant not in latest or winter.winter >= latest[winter.plant].winter:
            latest[winter.plant] = winter
    found = [
        Unseen(row, latest[plant], roots.get(plant, Root())) for row in rows
        if (plant := str(row["plant"])) in latest and latest[plant].dead and plant not in ended
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: in_order(one.row["label"])))


def unseen_row(one: Unseen) -> dict[str, object]:
    """The row of one plant."""
    row, winter, root = one.row, one.winter, one.root
    return {name: row[name] for name in ("plant", "label", "crop", "cultivar", "site", "bed")} | {
        "box": winter.box, "winter": winter.winter_name, "wintering": winter.wintering,
        "last_alive_on": winter.last_alive_on, "dead_by": winter.dead_by, "root_g": root.root_g,
        "weighed_on": root.weighed_on, "look_at": "; ".join(root.look_at) or None,
    }  # fmt: skip


def told(one: Unseen) -> str:
    """The plant with what was last seen of it."""
    said = [f"before {one.winter.winter_name} {one.winter.wintering}"]
    if one.winter.last_alive_on is not None:
        said.append(f"last seen alive on {one.winter.last_alive_on}")
    if one.winter.dead_by is not None:
        said.append(f"no sign of life by {one.winter.dead_by}")
    return f"{one.row['label']} ({', '.join(said)})"
