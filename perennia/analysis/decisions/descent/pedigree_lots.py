"""Seed lots of a pedigree, and what is on record of how the seed that went into them was pollinated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import attrs

from perennia.analysis.decisions.descent.descent import Link
from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.source import Source

# of the lots that seed of these plants went into, and those these plants were sown from
_SAVED = """
select lot, string_agg(distinct plant, ', ' order by plant) as mothers, min(on_from) as saved_from,
    max(on_to) as saved_to, sum(grams) as grams, cast(sum("count") as bigint) as "count",
    string_agg(distinct plant, ', ' order by plant) filter (plant in (select unnest($plants))) as own
from seed where event = 'seed_saved' group by lot
having lot in (select unnest($lots)) or own is not null
"""
_TESTED = """
select lot, cast(sum(sown) as bigint) as tested, cast(sum(germinated) as bigint) as germinated
from seed where event = 'germination_test' and lot in (select unnest(?)) group by lot
"""
_RAISED = "select lot, count(*) as raised from plants where lot in (select unnest(?)) group by lot"
_HAND = """
select distinct plant, year(on_to) as year from care
where event = 'hand_pollinated' and plant in (select unnest(?))
"""
_CULTIVARS = """
select distinct crop, cultivar, began_on, ended_on from plants
where crop in (select unnest(?)) and cultivar is not null
"""

LOTS = {
    "lot": "string", "mothers": "string", "saved_from": "datetime64[s]", "saved_to": "datetime64[s]",
    "grams": "Float64", "count": "Int64", "raised": "Int64", "tested": "Int64", "germinated": "Int64",
}  # fmt: skip
"""Columns of Pedigree.lots; one row a seed lot.

mothers: the plants off which seed was saved into it, saved_from to saved_to, grams in g and count in seeds as far as
recorded; missing where no saving is on record. raised: plants (labels) sown from it. tested, germinated: seeds in all
its germination tests.
"""


@attrs.frozen
class Pollination:
    """What is on record of how the seed of one crop in a pedigree was pollinated.

    savings: mothers and lots; by_hand: those whose mother had flowers pollinated by hand in the year of the saving or
    the year before. cultivars: those of the crop that stood here in the years of the savings.
    """

    crop: str
    savings: int
    by_hand: int
    cultivars: tuple[str, ...]


def lot_rows(source: Source, plants: Sequence[str], sown: Sequence[str]) -> list[dict[str, object]]:
    """Rows of LOTS, by the day of saving, those without a saving last."""
    saved = {
        str(row["lot"]): row
        for row in rows_of(source.sql(_SAVED, {"plants": list(plants), "lots": list(sown)}))
    }  # fmt: skip
    lots = sorted({*saved, *sown})
    tested = {row["lot"]: row for row in rows_of(source.sql(_TESTED, [lots]))}
    raised = {row["lot"]: row for row in rows_of(source.sql(_RAISED, [lots]))}
    unsaved: Row = dict.fromkeys(("mothers", "saved_from", "saved_to", "grams", "count"))
    untested: Row = dict.fromkeys(("tested", "germinated"))
    unsown: Row = {"raised": 0}
    lots.sort(key=lambda lot: str(saved[lot]["saved_to"]) if lot in saved else "without a saving")
    return [
        {**saved.get(lot, unsaved), **tested.get(lot, untested), **raised.get(lot, unsown), "lot": lot} for lot in lots
    ]


def pollination(source: Source, links: Sequence[Link], known: Mapping[str, Row]) -> list[Pollination]:
    """What is on record of the pollination of the seed in a pedigree, crop by crop."""
    savings = {(link.mother, link.lot, link.on_to) for link in links if link.by == "seed"}
    if not savings:
        return []
    mothers = sorted({mother for mother, _, _ in savings})
    crops = sorted({str(known[mother]["crop"]) for mother in mothers})
    treated = {(row["plant"], row["year"]) for row in rows_of(source.sql(_HAND, [mothers]))}
    stood = rows_of(source.sql(_CULTIVARS, [crops]))
    found = []
    for crop in crops:
        own = [(mother, on) for mother, _, on in savings if known[mother]["crop"] == crop]
        cultivars = {
            str(row["cultivar"]) for row in stood for _, on in own
            if row["crop"] == crop and row["began_on"].date() <= on
            and (row["ended_on"] is None or row["ended_on"].date().year >= on.year - 1)
        }  # fmt: skip
        by_hand = sum((mother, on.year) in treated or (mother, on.year - 1) in treated for mother, on in own)
        found.append(Pollination(crop, len(own), by_hand, tuple(sorted(cultivars))))
    return found
