"""A simple model of what may be written down: by trying everything, whether the records of a label can be true.

They can when some order of its acts and pickings, each on a day of its span, is legal in the
table of states. Nothing here is shared with the package but that table.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from functools import cache
from typing import Any

import attrs
from hypothesis import strategies as st

from perennia.lifecycle import BEGINNINGS, TRANSITIONS
from perennia.records import (
    Acquired,
    AlreadyHere,
    Counted,
    CutBack,
    CuttingTaken,
    Died,
    DiedBack,
    Divided,
    Flowered,
    LeftForSeed,
    Lifted,
    Picked,
    Planted,
    Record,
    Regrew,
    Removed,
    Replanted,
    Sown,
    Span,
    StoreChecked,
    Stored,
    TrussCount,
    Watered,
)  # fmt: skip

BED = "b"
START = date(2022, 4, 1)
STEP_DAYS = 10
# what is drawn for an act, given a label, days and the labels of daughters
MADE: dict[str, Any] = {
    "sown": lambda label, on, into: Sown(label, on, crop="Oca"),
    "already_here": lambda label, on, into: AlreadyHere(label, on, "Oca"),
    "acquired_plant": lambda label, on, into: Acquired(label, on, "Oca", "plant"),
    "acquired_root": lambda label, on, into: Acquired(label, on, "Oca", "root"),
    "acquired_root_set": lambda label, on, into: Acquired(label, on, "Oca", "root", bed=BED),
    "planted": lambda label, on, into: Planted(label, on, BED),
    "replanted": lambda label, on, into: Replanted(label, on),
    "regrew": lambda label, on, into: Regrew(label, on),
    "flowered": lambda label, on, into: Flowered(label, on),
    "counted": lambda label, on, into: Counted(label, on, 1),
    "cut_back": lambda label, on, into: CutBack(label, on),
    "died_back_whole": lambda label, on, into: DiedBack(label, on),
    "lifted": lambda label, on, into: Lifted(label, on),
    "stored_bare": lambda label, on, into: Stored(label, on, "bare root"),
    "stored_pot": lambda label, on, into: Stored(label, on, "pot"),
    "store_checked": lambda label, on, into: StoreChecked(label, on, "sound"),
    "divided": lambda label, on, into: Divided(label, on, into, mother_continues=True),
    "divided_ending": lambda label, on, into: Divided(label, on, into, bed=BED),
    "cutting_taken": lambda label, on, into: CuttingTaken(label, on, into),
    "died": lambda label, on, into: Died(label, on),
    "removed": lambda label, on, into: Removed(label, on),
    "picked": lambda label, on, into: Picked(label, on, 30.0),
    "left": lambda label, on, into: LeftForSeed(label, on, 2),
    "trusses": lambda label, on, into: TrussCount(label, "t1", on, opened=3),
}


@attrs.frozen
class Item:
    """One thing said of one label: an act or picking with the days it can have happened on."""

    act: str
    first: date
    last: date


def items_of(records: Iterable[Record]) -> dict[str, list[Item]]:
    """What is said of each label."""
    found: dict[str, list[Item]] = defaultdict(list)
    for record in records:
        for label, act in said(record):
            span: Span = record.on  # type: ignore[attr-defined]
            found[label].append(Item(act, span.start or date.min, span.end))
    return found


def said(record: Record) -> list[tuple[str, str]]:
    """Labels a record speaks of, each with the act; none for care, which alters no state."""
    match record:
        case Watered():
            return []
        case Picked():
            return [(label, "picked") for label in record.labels]
        case LeftForSeed() | TrussCount():
            return [(record.label, "picked")]
        case Divided():
            part = "division" if record.bed is None else "division_set"
            own = "divided" if record.mother_continues else "divided_ending"
            return [(record.label, own), *((daughter, part) for daughter in record.into)]
        case CuttingTaken():
            return [(record.label, "cutting_taken"), *((daughter, "cutting") for daughter in record.into)]
        case Stored():
            return [(record.label, "stored_pot" if record.place == "pot" else "stored_bare")]
        case DiedBack():
            return [(record.label, f"died_back_{record.extent}")]
        case Acquired(kind="plant"):
            return [(record.label, "acquired_plant")]
        case Acquired():
            return [(record.label, "acquired_root" if record.bed is None else "acquired_root_set")]
        case _:
            name = "".join(f"_{letter.lower()}" if letter.isupper() else letter for letter in type(record).__name__)
            return [(record.label, name.lstrip("_"))]  # type: ignore[attr-defined]


def last_state(items: Sequence[Item]) -> str | None:
    """The state in which some legal order of the items ends; None when there is none."""
    kinds = sorted(set(items), key=lambda item: (item.last, item.first, item.act))

    @cache
    def end(left: tuple[int, ...], state: str, day: date) -> str | None:
        if not any(left):
            return state
        for place, item in enumerate(kinds):
            step = TRANSITIONS.get((item.act, state))
            on = max(day, item.first)
            if left[place] and step is not None and on <= item.last:
                fewer = (*left[:place], left[place] - 1, *left[place + 1 :])
                if (found := end(fewer, step.after, on)) is not None:
                    return found
        return None

    return end(tuple(list(items).count(kind) for kind in kinds), "none", date.min)


def impossible(records: Iterable[Record]) -> set[str]:
    """Labels of which the records cannot all be true."""
    return {label for label, items in items_of(records).items() if last_state(items) is None}


@st.composite
def next_records(
    draw: st.DrawFn, counting: Sequence[Record], labels: Sequence[str], daughters: Sequence[str]
) -> Record:  # fmt: skip
    """A record that mostly goes on from what is known of a label, and at times says anything."""
    everything = items_of(counting)
    straight = draw(st.integers(0, 9)) > 0
    label = draw(st.sampled_from([*labels, *(name for name in daughters if name in everything or not straight)]))
    known = everything.get(label, [])
    state = last_state(known) or "none"
    latest = max((item.last for item in known if item.act != "picked"), default=START)
    if straight:
        # daughters begin with their mothers; leaving for seed and counting flowers need what picking needs
        acts = [act for act in MADE if (act, state) in TRANSITIONS and (label in labels or act not in BEGINNINGS)]
        acts += ["picked", "left", "trusses"] if ("picked", state) in TRANSITIONS else []
        day = latest + timedelta(STEP_DAYS * draw(st.sampled_from([0, 1, 1, 2, 5])))
    else:
        acts = list(MADE)
        day = START + timedelta(STEP_DAYS * draw(st.integers(-2, 30)))
    act = draw(st.sampled_from(acts or ["picked"]))
    widths = st.tuples(st.sampled_from([0, 0, 1, 5]), st.sampled_from([0, 0, 1, 5]))
    before, after = draw(widths)
    first = None if draw(st.integers(0, 14)) == 0 else day - timedelta(STEP_DAYS * before)
    into = [name for name in daughters if name != label] or [f"{label}x"]
    return MADE[act](label, Span(first, day + timedelta(STEP_DAYS * after)), draw(st.sampled_from(into)))  # type: ignore[no-any-return]
