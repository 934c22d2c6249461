"""A plan on paper and on record: CSV, drawing, plain text, and the records of who was allotted where."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import pandas as pd
import pyarrow as pa
from pyarrow import csv

from perennia.analysis.decisions.trials.trial_drawing import drawn_plan, text_plan
from perennia.analysis.decisions.trials.trial_layout import Arms, Place
from perennia.errors import AnalysisError
from perennia.intake.formulas import guarded
from perennia.records.care import Allotted

_NAMED = 8


def csv_bytes(table: pd.DataFrame) -> bytes:
    """The table as CSV in UTF-8, texts safe from being run as formulas."""
    rows = pa.Table.from_pandas(table, preserve_index=False)
    columns = [
        guarded(column.combine_chunks().cast(pa.string())) if pa.types.is_string(column.type)
        or pa.types.is_large_string(column.type) else column
        for column in rows.columns
    ]  # fmt: skip
    out = io.BytesIO()
    csv.write_csv(pa.table(columns, names=rows.column_names), out)
    return out.getvalue()


def drawing_of(places: Sequence[Place], arms: Arms, name: str, crop: str, seed: int) -> str:
    """The plan as SVG text."""
    return drawn_plan(places, arms, f"Trial {name}", drawn_by_lot(places, arms, crop, seed))


def drawn_by_lot(places: Sequence[Place], arms: Arms, crop: str, seed: int) -> str:
    """What stands under the title of a drawn plan: the crop, the plants of each arm, and the lot."""
    counts = ", ".join(f"{sum(place.arm == arm for place in places)} {arm}" for arm in arms)
    return f"{crop}: {counts} plants; drawn by lot with seed {seed}"


def text_of(places: Sequence[Place], arms: Arms, name: str) -> str:
    """The plan as plain text."""
    return f"Trial {name}\n{text_plan(places, arms)}"


def allotted_records(places: Sequence[Place], name: str, on: Any) -> tuple[Allotted, ...]:
    """One record an arm and block. Raises AnalysisError while a place of the trial has no label."""
    used = [place for place in places if place.arm is not None]
    blank = [f"{place.bed} {place.place}" for place in used if place.label is None]
    if blank:
        more = f" and {len(blank) - _NAMED} more" if len(blank) > _NAMED else ""
        raise AnalysisError(
            f"no label is known for the plants at {', '.join(blank[:_NAMED])}{more}; plan with labels=, or give them "
            "by (bed, place) to the plan's labelled()"
        )
    groups: dict[tuple[str | None, str], list[str]] = {}
    for place in used:
        groups.setdefault((place.block, str(place.arm)), []).append(str(place.label))
    return tuple(
        Allotted(tuple(labels), on, trial=name, arm=arm, by_lot=True, block=block)
        for (block, arm), labels in groups.items()
    )
