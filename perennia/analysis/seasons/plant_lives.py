"""The life of each plant as spells: growing, at rest in the ground, lifted, in store, and how it ended."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.name_order import ordered
from perennia.analysis.result import Result, framed
from perennia.analysis.units import Row, rows_of
from perennia.checking import arguments
from perennia.checking.words import counted, days_in_cell
from perennia.lifecycle import ENDED

if TYPE_CHECKING:
    from perennia.source import Source

COLUMNS = {
    "plant": "string", "label": "string", "crop": "string", "state": "string", "from": "datetime64[s]",
    "to": "datetime64[s]", "earliest": "datetime64[s]", "began": "string", "until": "string",
    "inferred": "boolean", "ended_how": "string",
}  # fmt: skip
PICKINGS = {"plant": "string", "on": "datetime64[s]"}
"""Columns of PlantLives.pickings; one row a plant and day on which it gave a crop."""
_CHOSEN = (
    "($labels is null or list_contains($labels, label) or list_contains($labels, plant)) "
    "and ($crops is null or list_contains($crops, crop))"
)
_ACTS = (
    'select life.plant, life.label, life.crop, life.event, life."on", life.on_from, life.on_to, life.ordinal, '
    "life.inferred, life.state, plants.began_on, plants.ended_how "
    "from life join (select plant, began_on, ended_how from plants) as plants "
    f'using (plant) where {_CHOSEN} order by crop, label, began_on, plant, "on", ordinal, not inferred, event'
)
_PICKINGS = (
    f"select distinct plant, \"on\" from harvest where event = 'picked' and {_CHOSEN} and plant is not null "
    'and coalesce(grams, "count") > 0 order by plant, "on"'
)
_SEEN_TO = (
    "select max(on_to) as on_to from (select on_to from life where not inferred union all select on_to from harvest "
    "union all select on_to from flowering union all select on_to from care)"
)
_STATE_AFTER = {
    "emerged": "growing", "regrew": "growing", "lifted": "lifted", "stored": "stored", "replanted": "dormant",
}  # fmt: skip
"""The state after an act that nobody wrote down, which the view life leaves out."""


@attrs.frozen(kw_only=True, eq=False)
class PlantLives(Result):
    """The spells of each plant's life; n counts plants.

    pickings: the days each was picked (columns in PICKINGS). seen_to: the latest day on record, to which a spell that
    goes on can be drawn; None in an empty garden.

    Columns of the table: one row a spell of a plant, in order. state: sown, growing, dormant (at rest in the ground),
    lifted, stored (bare root), sheltered (in its pot under cover), or ended. from: day it began, to: day the next one
    did; missing for the last. earliest: first day on which it can have begun, missing where nobody knows. began, until:
    from and to as the book has them, such as "about March 2024". inferred: it was shown by a later entry and not
    written down, or something that nobody wrote down happened in it, so that it was over some day before to. ended_how:
    died, removed or divided, for the spell ended.
    """

    pickings: pd.DataFrame
    seen_to: date | None


def plant_lives(
    source: Source, labels: Collection[str] | None = None, *, crops: Collection[str] | None = None
) -> PlantLives:
    """Each plant's life as spells of one state, with the days it was picked.

    One row is one spell of one plant; columns as help(perennia.PlantLives) tells. labels, crops: which plants to take,
    all unless given; labels may name plants, as ``A1/2021``. Days are those taken in the order of the plant's life (the
    view life), so a spell whose ends are known to within a span only has the day taken for it, and the span in words in
    began and until. Raises ArgumentError
    when a choice is of another kind.
    """
    chosen = {
        "labels": None if labels is None else arguments.names(labels, "labels"),
        "crops": None if crops is None else arguments.names(crops, "crops"),
    }
    acts = rows_of(source.sql(_ACTS, chosen))
    picked = source.sql(_PICKINGS, chosen)
    bore = {str(plant): sorted(days.dt.date) for plant, days in picked.groupby("plant")["on"]}
    rows = [
        part for plant, own in groupby(acts, key=lambda act: str(act["plant"]))
        for spell in spells(list(own)) for part in come_up(spell, bore.get(plant, []))
    ]  # fmt: skip
    last = source.sql(_SEEN_TO)["on_to"].iloc[0]
    plants = {str(row["plant"]) for row in rows}
    ended = sum(row["state"] == ENDED for row in rows)
    inferred = sum(row["inferred"] is True for row in rows)
    return PlantLives(
        table=ordered(framed(rows, COLUMNS), ["crop", "label"]), n=len(plants),
        pickings=framed(rows_of(picked), PICKINGS), seen_to=None if pd.isna(last) else pd.Timestamp(last).date(),
        method="Each plant's life events in order, recorded and inferred; a spell lasts to the next change of state.",
        units="one plant, that is one life of a label; a stand is one plant; dates as days",
        cautions=(
            *([f"{counted(inferred, 'spell')} not written down as such: their days are the latest possible ones."]
              if inferred else []),
        ),
        findings=(f"{counted(len(plants), 'plant')}, {ended} of them dead, removed or divided up.",) if rows else (),
    )  # fmt: skip


def spells(acts: Sequence[Row]) -> Iterator[dict[str, Any]]:
    """The spells of one plant from its acts in order, those that nobody wrote down before the one that shows them."""
    spell: dict[str, Any] | None = None
    for place, act in enumerate(acts):
        # a beginning with an open start lies in the mists of time
        on = max(_day(act["on"]), _day(act["began_on"]))
        state = _STATE_AFTER[str(act["event"])] if act["inferred"] else str(act["state"])
        if spell is not None and act["inferred"] and place + 1 < len(acts) and _day(acts[place + 1]["on"]) <= on:
            # it must have happened by the day of the next act, nobody knows when: within the spell that ends there
            spell["inferred"] = True
        elif spell is None or state != spell["state"]:
            if spell is not None and spell["from"] < on:
                yield spell | {"to": on, "until": _said(act)}
            ended_how = act["ended_how"] if state == ENDED else None
            spell = {
                **{name: act[name] for name in ("plant", "label", "crop")}, "state": state, "from": on, "to": None,
                "earliest": act["on_from"], "began": _said(act), "until": None,
                "inferred": act["inferred"] is True, "ended_how": ended_how,
            }  # fmt: skip
    if spell is not None:
        yield spell


def come_up(spell: dict[str, Any], bore: Sequence[date]) -> Iterator[dict[str, Any]]:
    """A spell; of a sowing that bore, which must have come up by then, two."""
    start, stop = spell["from"], spell["to"]
    first = next((day for day in bore if start < day and (stop is None or day < stop)), None)
    if spell["state"] != "sown" or first is None:
        yield spell
        return
    yield spell | {"to": first, "until": f"by {first}", "inferred": True}
    yield spell | {"state": "growing", "from": first, "began": f"by {first}", "inferred": True}


def _said(act: Row) -> str:
    """When an act was, as the book has it."""
    return days_in_cell(None if act["on_from"] is None else _day(act["on_from"]), _day(act["on_to"]))


def _day(value: Any) -> date:
    return pd.Timestamp(value).date()
