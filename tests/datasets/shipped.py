"""The shipped books of the invented garden read with nothing but the csv module, and the lives they tell."""

from __future__ import annotations

import csv
import runpy
from collections import defaultdict
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from perennia.lifecycle import TRANSITIONS, Happening, place
from perennia.records import Acquired, CuttingTaken, DiedBack, Divided, Picked, Record, Stored
from perennia.records.base import event_of
from perennia.records.catalogue import class_of, rules_of
from perennia.records.convert import from_dict

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = ROOT / "perennia" / "demo_garden"
DATASHEET = (ROOT / "datasets" / "DATASHEET.md").read_text(encoding="utf-8")
TABLES = ("sites", "beds", "life", "harvest", "flowering", "care", "weather", "seed")
TRUTH_FILE = runpy.run_path(str(ROOT / "datasets" / "demo_garden" / "truth.py"))
TRUTH, CUT_OFF, SEASONS = TRUTH_FILE["TRUTH"], TRUTH_FILE["CUT_OFF"], TRUTH_FILE["SEASONS"]
FINISHED = SEASONS[:-1]

READ: dict[str, Callable[[str], Any]] = {
    "number": float,
    "whole": int,
    "flag": {"true": True, "false": False}.__getitem__,
    "labels": lambda text: tuple(part.strip() for part in text.split(",")),
}


def cells(table: str) -> list[dict[str, str]]:
    """The filled cells of each row of a shipped CSV."""
    with (SHIPPED / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return [{name: text for name, text in row.items() if text} for row in csv.DictReader(file)]


def record(row: dict[str, str]) -> Record:
    """The record a row stands for; raises when it is none."""
    rules = rules_of(class_of(row["event"]))
    values = {name: READ.get(rules[name].kind, str)(text) for name, text in row.items() if name != "event"}
    return from_dict({"event": row["event"], **values})


ROWS = {table: cells(table) for table in TABLES}
RECORDS = {table: [record(row) for row in rows] for table, rows in ROWS.items()}
LIFE: list[Any] = RECORDS["life"]
PICKINGS: list[Picked] = [one for one in RECORDS["harvest"] if isinstance(one, Picked)]
BEDS_OF_BEANS = ("Gate bed", "Tunnel bed", "Net bed")


def season(day: date) -> int:
    """The growing year from 1 July; a picking in early July ends the season before."""
    return day.year - ((day.month, day.day) < (7, 15))


def act(life: Any) -> str:
    """The lifecycle's name for a life event."""
    match life:
        case Acquired():
            return f"acquired_{life.kind}" + ("_set" if life.kind == "root" and life.bed else "")
        case Stored():
            return "stored_pot" if life.place == "pot" else "stored_bare"
        case DiedBack():
            return f"died_back_{life.extent}"
        case Divided():
            return "divided" if life.mother_continues else "divided_ending"
        case _:
            return event_of(type(life))


def acts_by_label() -> dict[str, list[Happening]]:
    """Everything that happened to each label, the beginnings of daughters and the pickings included."""
    acts: dict[str, list[Happening]] = defaultdict(list)

    def happen(label: str, name: str, span: Any) -> None:
        acts[label].append(Happening(f"{label} {len(acts[label]):03d}".encode(), name, span.start, span.end))

    for one in LIFE:
        happen(one.label, act(one), one.on)
        for daughter in getattr(one, "into", ()):
            happen(daughter, "cutting" if isinstance(one, CuttingTaken) else "division_set", one.on)
    for picking in PICKINGS:
        for label in picking.labels:
            happen(label, "picked", picking.on)
    return acts


def placed(happenings: list[Happening]) -> list[tuple[str, tuple[str, ...]]] | None:
    """A label's acts in their order, each with those forgotten before it; None when no order of the days is legal."""
    placements = place(happenings)
    if placements is None:
        return None
    names = {happening.key: happening.act for happening in happenings}
    state, lived = "none", []
    for placement in placements:
        step = TRANSITIONS[names[placement.key], state]
        lived.append((names[placement.key], step.inferred if step.doubt else ()))
        state = step.after
    return lived


_PLACED = {label: placed(happenings) for label, happenings in acts_by_label().items()}
LIVES = {label: lived for label, lived in _PLACED.items() if lived is not None}
ILLEGAL = sorted(set(_PLACED) - set(LIVES))
