"""What plants stood in and beside, and what they were raised from: neighbours, feeding, roots broken in lifting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import (
    care_rows,
    each_once,
    reached,
    reaching_rows,
    season_begins,
    when,
)
from perennia.analysis.causes.shortfall.evidence import Evidence, held_by_plants
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

_LIFTED = (
    "select plant, on_to, roots_broken from life where event = 'lifted' and "
    "list_contains($plants, plant) order by plant, ordinal"
)
_ROOTS_DAYS = 366
"""Days before the season's growth within which a lifting is the one it grows from."""
_WHOLE_FROM = ("seed", "bought plant")
"""What plants are raised from whose roots nobody lifted bare."""


def neighbour_evidence(source: Source, asked: Asked) -> Evidence:
    """Other crops close by, and whether plants beside them set less."""
    every = reaching_rows(source, asked, "neighbour")
    rows = [row for row in care_rows(source, asked, "neighbour") if _lasts(asked, row)]
    unended = [row for row in every if row["until"] is None and day_of(row["on_to"]) < season_begins(asked)]
    unknown = tuple(f"whether {row['crop']}, written down {when(row)}, stood there still is not recorded"
                    for row in each_once(unended))  # fmt: skip
    if not rows:
        missing = "no neighbour is on record: none was there, or none was written"
        return Evidence("not recorded", unknown=unknown or (missing,))
    beside = reached(asked, rows)
    names = ", ".join(sorted({str(row["crop"]) for row in rows}))
    text = f"{names} stood close to {counted(len(beside), 'plant')} of {len(asked.plants)}"
    contrast, words = held_by_plants(asked, beside, "plants beside them", "plants that were not")
    if contrast == "no fewer set":
        return Evidence("seen", contrast, (), (text, *words), unknown)
    return Evidence("seen", contrast, (text, *words), (), unknown, by_plants=True)


def feeding_evidence(source: Source, asked: Asked) -> Evidence:
    """What was given, and whether plants that got it differ; whether it was too little or too much no record says."""
    rows = care_rows(source, asked, "fed")
    if not rows:
        return Evidence("not recorded", unknown=("no feeding is on record: none was given, or none was written down",))
    fed = reached(asked, rows)
    records = each_once(rows)
    given = "; ".join(f"{row['what']} {when(row)}" for row in records[:4])
    more = f" and {len(records) - 4} more" if len(records) > 4 else ""
    text = f"{counted(len(fed), 'plant')} of {len(asked.plants)} fed: {given}{more}"
    unknown = ("what the soil held is not recorded",)
    contrast, words = held_by_plants(asked, set(asked.plants) - fed, "plants not fed", "plants fed")
    if contrast == "fewer set":
        return Evidence("seen", contrast, (text, *words), (), unknown, by_plants=True)
    return Evidence("in part", contrast, (), (text, *words), unknown)


def broken_roots_evidence(source: Source, asked: Asked) -> Evidence:
    """Roots broken in the lifting before the season, and whether plants on them set less.

    A root that was bought, divided or dug up without a record may be broken too: of such plants it is not known.
    """
    lifted: dict[str, bool | None] = {}
    for row in rows_of(source.sql(_LIFTED, {"plants": list(asked.plants)})):
        if _before(asked, row):
            lifted[str(row["plant"])] = row["roots_broken"]
    past_unknown = [str(row["plant"]) for row in asked.rows if row["plant"] not in lifted and not _never_dug(row)]
    broken = {plant for plant, state in lifted.items() if state}
    untold = sum(state is None for state in lifted.values()) + len(past_unknown)
    unknown = (f"whether roots broke is not recorded of {counted(untold, 'plant')}",) if untold else ()
    if broken:
        text = f"roots broke in lifting of {counted(len(broken), 'plant')} of {len(lifted)} lifted: " \
               f"{', '.join(sorted(broken))}"  # fmt: skip
        contrast, words = held_by_plants(asked, broken, "plants on broken roots", "the others")
        if contrast == "no fewer set":
            return Evidence("seen", contrast, (), (text, *words), unknown)
        return Evidence("seen", contrast, (text, *words), (), unknown, by_plants=True)
    if untold == len(asked.plants):
        return Evidence("not recorded", unknown=unknown)
    told = [state for state in lifted.values() if state is not None]
    whole = f"no root broke of {counted(len(told), 'plant')} lifted" if told else \
            f"{counted(len(asked.plants) - untold, 'plant')} grew from seed or stayed in the ground: no root was lifted"
    return Evidence("in part" if untold else "not seen", told_against=(whole,), unknown=unknown)


def _never_dug(row: Row) -> bool:
    """Whether a plant without a lifting on record had none: in its first season from seed, or wintered in the
    ground."""
    wintering = row["wintering"]
    if wintering is None:
        return row["raised_from"] in _WHOLE_FROM
    return str(wintering).startswith("ground")


def _lasts(asked: Asked, row: Row) -> bool:
    return row["until"] is None or asked.first is None or day_of(row["until"]) >= asked.first


def _before(asked: Asked, row: Row) -> bool:
    """Whether a lifting lay before the season's growth, and after that of the season before."""
    started = next((one["planted_on"] for one in asked.rows if one["plant"] == row["plant"]), None)
    grown_from = day_of(started) if started is not None else asked.first
    if grown_from is None:
        return True
    return 0 <= (grown_from - day_of(row["on_to"])).days <= _ROOTS_DAYS
