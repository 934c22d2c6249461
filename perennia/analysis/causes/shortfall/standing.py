"""What plants stood in and beside, and what they were raised from: neighbours, feeding, roots broken in lifting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import care_rows
from perennia.analysis.causes.shortfall.evidence import Evidence, held_by_plants
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

_LIFTED = (
    "select plant, on_to, roots_broken from life where event = 'lifted' and not inferred order by plant, ordinal"
)


def neighbour_evidence(source: Source, asked: Asked) -> Evidence:
    """Other crops close by, and whether plants beside them set less."""
    rows = [row for row in care_rows(source, asked, "neighbour") if _lasts(asked, row)]
    if not rows:
        return Evidence("not recorded", unknown=("no neighbour is on record: none was there, or none was written",))
    beside = _reached(asked, rows)
    names = ", ".join(sorted({str(row["crop"]) for row in rows}))
    text = f"{names} stood close to {counted(len(beside), 'plant')} of {len(asked.plants)}"
    contrast, words = held_by_plants(asked, beside, "plants beside them", "plants that were not")
    if contrast == "no fewer set":
        return Evidence("seen", contrast, (), (text, *words))
    return Evidence("seen", contrast, (text, *words))


def feeding_evidence(source: Source, asked: Asked) -> Evidence:
    """What was given, and whether plants that got it differ; whether it was too little or too much no record says."""
    rows = care_rows(source, asked, "fed")
    if not rows:
        return Evidence("not recorded", unknown=("no feeding is on record: none was given, or none was written down",))
    fed = _reached(asked, rows)
    given = "; ".join(f"{row['what']} on {day_of(row['on_to'])}" for row in rows[:4])
    more = f" and {len(rows) - 4} more" if len(rows) > 4 else ""
    text = f"{counted(len(fed), 'plant')} of {len(asked.plants)} fed: {given}{more}"
    unknown = ("what the soil held is not recorded", )
    contrast, words = held_by_plants(asked, set(asked.plants) - fed, "plants not fed", "plants fed")
    if contrast == "fewer set":
        return Evidence("seen", contrast, (text, *words), (), unknown)
    if contrast == "no fewer set":
        return Evidence("in part", contrast, (), (text, *words), unknown)
    return Evidence("in part", contrast, (), (text,), unknown)


def broken_roots_evidence(source: Source, asked: Asked) -> Evidence:
    """Roots broken in the lifting before the season, and whether plants on them set less."""
    lifted: dict[str, bool | None] = {}
    for row in rows_of(source.sql(_LIFTED)):
        if row["plant"] in asked.plants and _before(asked, row):
            lifted[str(row["plant"])] = row["roots_broken"]
    if not lifted:
        return Evidence("not seen", told_against=("none of them was lifted before the season",))
    broken = {plant for plant, state in lifted.items() if state}
    untold = sum(state is None for state in lifted.values())
    unknown = (f"whether roots broke is not recorded of {counted(untold, 'plant')}",) if untold else ()
    if not broken:
        if untold == len(lifted):
            return Evidence("not recorded", unknown=unknown)
        whole = f"no root broke of {counted(len(lifted) - untold, 'plant')} lifted"
        return Evidence("in part" if untold else "not seen", told_against=(whole,), unknown=unknown)
    names = ", ".join(sorted(broken))
    text = f"roots broke in lifting of {counted(len(broken), 'plant')} of {len(lifted)} lifted: {names}"
    contrast, words = held_by_plants(asked, broken, "plants on broken roots", "the others")
    if contrast == "no fewer set":
        return Evidence("seen", contrast, (), (text, *words), unknown)
    return Evidence("seen", contrast, (text, *words), (), unknown)


def _lasts(asked: Asked, row: Row) -> bool:
    return row["until"] is None or asked.first is None or day_of(row["until"]) >= asked.first


def _reached(asked: Asked, rows: list[Row]) -> set[str]:
    """Plants that the care reached, by their label or through their bed."""
    named = {str(row["plant"]) for row in rows if row["plant"] is not None}
    beds = {row["bed"] for row in rows if row["bed"] is not None}
    return {str(row["plant"]) for row in asked.rows if row["plant"] in named or row["bed"] in beds}


def _before(asked: Asked, row: Row) -> bool:
    """Whether a lifting lay before the season's growth."""
    started = next((one["planted_on"] for one in asked.rows if one["plant"] == row["plant"]), None)
    if started is not None:
        return bool(day_of(row["on_to"]) <= day_of(started))
    return asked.first is None or day_of(row["on_to"]) < asked.first
