"""What does one plant come from, and what has come from it?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.decisions.descent.descent import Link, Relative, Way, relatives
from perennia.analysis.decisions.descent.pedigree_lots import LOTS, lot_rows, pollination
from perennia.analysis.decisions.descent.pedigree_tree import drawn
from perennia.analysis.decisions.descent.pedigree_wording import pedigree_cautions, pedigree_findings
from perennia.analysis.result import Result, framed
from perennia.analysis.units import Row, rows_of
from perennia.checking import arguments

if TYPE_CHECKING:
    from perennia.source import Source

# a union that keeps each plant once ends by itself, however many ways lead to a plant
_UP = """
with recursive lineage as (
    select cast(? as varchar) as plant
    union
    select links.mother from lineage join parentage as links on links.plant = lineage.plant
)
select links.* from parentage as links join lineage on links.plant = lineage.plant order by all
"""
_DOWN = """
with recursive offspring as (
    select cast(? as varchar) as plant
    union
    select links.plant from offspring join parentage as links on links.mother = offspring.plant
)
select links.* from parentage as links join offspring on links.mother = offspring.plant order by all
"""
_PLANTS = """
select
    plants.plant, label, crop, cultivar, origin, lot as sown_lot, plants, began_on, ended_on, ended_how, state,
    ended.on_from as ended_from, ended.on_to as ended_to
from plants left join (select plant, on_from, on_to from life where state = 'ended') as ended
    on plants.plant = ended.plant
where plants.plant in (select unnest(?))
"""
_CROPS = """
select
    plant, sum(total_g) as total_g, count(total_g) as seasons_weighed, sum("count") as "count",
    count("count") as seasons_counted, count(*) as seasons, coalesce(sum(shared_g), 0) as shared_g
from season_totals where plant in (select unnest(?)) group by plant
"""
_NO_CROP = {
    "total_g": None, "seasons_weighed": 0, "count": None, "seasons_counted": 0, "seasons": 0, "shared_g": 0.0,
}  # fmt: skip
_METHOD = (
    "divisions and cuttings as recorded, each from the life of its mother's label in which it was made; seed by the "
    "name of its lot, from the plants of the crop off which it was saved by the day of the sowing; each relative by "
    "the shortest way. A clone has its mother's genotype but for chance mutations; a seedling is a new one."
)
_NAMES = {"up": ("mother", "grandmother", "ancestor"), "down": ("daughter", "granddaughter", "descendant")}

COLUMNS = {
    "relation": "string", "way": "string", "steps": "Int64", "vegetative_generations": "Int64",
    "seed_generations": "Int64", "clone": "boolean", "of": "string", "by": "string", "lot": "string",
    "on_from": "datetime64[s]", "on_to": "datetime64[s]", "mothers": "Int64", "certain": "boolean",
    "plant": "string", "label": "string", "crop": "string", "cultivar": "string", "origin": "string",
    "sown_lot": "string", "plants": "Int64", "began_on": "datetime64[s]", "ended_on": "datetime64[s]",
    "ended_from": "datetime64[s]", "ended_to": "datetime64[s]", "ended_how": "string", "state": "string",
    "total_g": "Float64", "seasons_weighed": "Int64", "count": "Float64", "seasons_counted": "Int64",
    "seasons": "Int64", "shared_g": "Float64",
}  # fmt: skip
"""Columns of Pedigree.table; one row a relative by the shortest way to it, the plant itself first.

relation: self, mother, grandmother, ancestor, daughter, granddaughter, descendant; possible before it where not
certain. way: self, up or down. steps: divisions, cuttings and sowings between; vegetative_generations and
seed_generations are those that were divisions or cuttings and those that were seed. clone: no seed is between, so it
has the genotype of the plant asked about. of: the next plant on the way to that one; by: how one of these two came
from the other (division, cutting, seed), from lot, on_from to on_to (for seed, when it was saved), mothers being the
plants it may have come from. certain: whether each step on the way is. origin: how the plant began, sown_lot: the lot
it was sown from, plants: plants under the label. ended_from to ended_to: the days in which its end lies, as the book
has it. total_g in g and count, the crop so far over the seasons_weighed and seasons_counted in which it is known, out
of seasons on record; shared_g is the part that is shares of pickings off several labels.
"""
LINKS = {
    "plant": "string", "mother": "string", "by": "string", "lot": "string", "on_from": "datetime64[s]",
    "on_to": "datetime64[s]", "mothers": "Int64", "certain": "boolean",
}  # fmt: skip
"""Columns of Pedigree.links; one row a relative and one of its mothers, as the view parentage has them."""


@attrs.frozen(kw_only=True, eq=False)
class Pedigree(Result):
    """What one plant comes from, and what came from it. plant: the one asked about. links: each relative with each of
    its mothers (columns in LINKS). lots: the seed lots these plants were sown from, and those with seed of the plant
    or its descendants (columns in pedigree_lots.LOTS)."""

    plant: str
    links: pd.DataFrame
    lots: pd.DataFrame

    def tree(self) -> str:
        """The pedigree as indented plain text: the plant, what it came from, what it gave."""
        rows = {str(row["plant"]): row for row in rows_of(self.table)}
        recorded = {str(row["lot"]) for row in rows_of(self.lots) if row["mothers"] is not None}
        return drawn(self.plant, rows, _links_of(rows_of(self.links)), recorded)


def pedigree(source: Source, label: str) -> Pedigree:
    """Mother, divisions, cuttings, seed lots and generations of one plant, both ways.

    label is the grower's label (its latest life) or an address such as ``A1/2021``. A division or cutting is the same
    genotype, seed a new one whose father no record names. Seed is followed by the name of its lot: the mothers are all
    plants of the crop off which seed was saved into that lot by the day of the sowing. One row is one relative; columns
    in COLUMNS.

    Raises UnknownLabelError where no plant has the label, ArgumentError where it is no text.
    """
    history = source.history(arguments.a_name(label, "label"))
    return pedigree_of(source, str(history["plant"].iloc[0]))


def pedigree_of(source: Source, plant: str) -> Pedigree:
    """pedigree of the plant of that address."""
    links: dict[Way, list[Link]] = {"up": _links(source, _UP, plant), "down": _links(source, _DOWN, plant)}
    both = list(dict.fromkeys([*links["up"], *links["down"]]))
    everyone = [plant, *(name for link in both for name in (link.mother, link.plant))]
    names = list(dict.fromkeys(everyone))
    known = {str(row["plant"]): row for row in rows_of(source.sql(_PLANTS, [names]))}
    cropped = {str(row["plant"]): row for row in rows_of(source.sql(_CROPS, [names]))}
    own = Relative(plant, None, 0, 0, True)
    rows = [_row(own, "self", known, cropped)]
    rows += [_row(relative, way, known, cropped) for way in links for relative in relatives(plant, links[way], way)]
    bearing = [str(row["plant"]) for row in rows if row["way"] != "up"]
    lots = lot_rows(source, bearing, [str(row["sown_lot"]) for row in rows if row["sown_lot"] is not None])
    return Pedigree(
        table=framed(rows, COLUMNS),
        n=len(rows) - 1,
        method=_METHOD,
        units="a relative is a plant, or a stand however many plants it has; weights in g.",
        cautions=pedigree_cautions(rows, both, lots, pollination(source, both, known), source.profiles),
        findings=pedigree_findings(rows, both, lots),
        plant=plant,
        links=framed([attrs.asdict(link) for link in both], LINKS),
        lots=framed(lots, LOTS),
    )


def _links(source: Source, query: str, plant: str) -> list[Link]:
    return _links_of(rows_of(source.sql(query, [plant])))


def _links_of(rows: Sequence[Row]) -> list[Link]:
    return [
        Link(
            plant=str(row["plant"]), mother=str(row["mother"]), by=str(row["by"]), lot=row["lot"],
            on_from=None if row["on_from"] is None else row["on_from"].date(), on_to=row["on_to"].date(),
            mothers=int(row["mothers"]), certain=bool(row["certain"]),
        )
        for row in rows
    ]  # fmt: skip


def _row(relative: Relative, way: str, known: Mapping[str, Row], cropped: Mapping[str, Row]) -> dict[str, object]:
    link = relative.link
    of = None if link is None else link.plant if way == "up" else link.mother
    return {
        "relation": _relation(relative, way), "way": way, "steps": relative.steps,
        "vegetative_generations": relative.vegetative, "seed_generations": relative.by_seed,
        "clone": relative.by_seed == 0, "of": of, "by": link.by if link else None, "lot": link.lot if link else None,
        "on_from": link.on_from if link else None, "on_to": link.on_to if link else None,
        "mothers": link.mothers if link else None, "certain": relative.certain,
        **known[relative.plant], **cropped.get(relative.plant, {"plant": relative.plant, **_NO_CROP}),
    }  # fmt: skip


def _relation(relative: Relative, way: str) -> str:
    if way == "self":
        return "self"
    name = _NAMES[way][min(relative.steps, 3) - 1]
    return name if relative.certain else f"possible {name}"
