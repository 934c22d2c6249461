"""How much seed a number of plants takes, by the germination tests of a crop's lots."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import pandas as pd
from scipy import stats

from perennia.analysis.units import Row, rows_of

if TYPE_CHECKING:
    from perennia.source import Source

_LOTS = (
    "with lots as (select lot from plants where crop = ? and lot is not null union select seed.lot from seed "
    "join plants on seed.plant = plants.plant where plants.crop = ?) "
    "select seed.* from seed join lots on seed.lot = lots.lot order by seed.lot, seed.on_to, seed.record_id"
)
SEEDS = {
    "crop": "string", "lot": "string", "tested_on": "datetime64[s]", "tested": "Int64", "germinated": "Int64",
    "share": "Float64", "low": "Float64", "high": "Float64", "level": "Float64", "saved_on": "datetime64[s]",
    "age_years": "Int64", "viability_years": "Float64", "seeds_a_sowing": "Int64", "sow_beside_roots": "Int64",
    "sow_alone": "Int64", "note": "string",
}  # fmt: skip
"""Columns of KeepList.seeds; one row a seed lot of a crop.

tested, germinated: seeds in its latest germination test, on tested_on, share with Wilson's interval low to high at
level. age_years: from the day it was saved, saved_on, to the season to come; viability_years: as the profile of the
crop has it. seeds_a_sowing, sow_beside_roots, sow_alone: seeds to sow for one plant, for the sowings beside the roots
kept and for sowings alone to meet the target, each so that as many come up with the assurance asked for; missing
without a test or such a plan. note: what to mind.
"""
MOST_SEEDS = 10_000
_OLD_TEST_YEARS = 1


def seed_rows(source: Source, crop: str) -> list[Row]:
    """What is on record of the crop's seed lots: those saved from its plants, and those it was sown from."""
    return rows_of(source.sql(_LOTS, [crop, crop]))


def lots_of(
    rows: Sequence[Row], crop: str, sown_in: int, viability_years: float | None, needed: tuple[int | None, int | None],
    assurance: float, level: float,
) -> list[dict[str, object]]:  # fmt: skip
    """One row a lot. sown_in: the season to come. needed: sowings beside the roots and alone."""
    lots: dict[str, list[Row]] = {}
    for row in rows:
        lots.setdefault(str(row["lot"]), []).append(row)
    return [_lot(crop, lot, lots[lot], sown_in, viability_years, needed, assurance, level) for lot in sorted(lots)]


def seeds_for(plants: int, germinated: int, tested: int, assurance: float) -> int | None:
    """Seeds to sow so that as many plants come up with that assurance, the test's own uncertainty in it (half a seed
    added to either side, so that the number is beta-binomial); None where it would take too many."""
    if plants <= 0:
        return 0
    low, high = plants - 1, MOST_SEEDS
    if _comes_up(high, plants, germinated, tested) < assurance:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _comes_up(middle, plants, germinated, tested) >= assurance else (middle, high)
    return high


def _comes_up(seeds: int, plants: int, germinated: int, tested: int) -> float:
    return float(stats.betabinom(seeds, germinated + 0.5, tested - germinated + 0.5).sf(plants - 1))


def _lot(
    crop: str, lot: str, rows: Sequence[Row], sown_in: int, viability_years: float | None,
    needed: tuple[int | None, int | None], assurance: float, level: float,
) -> dict[str, object]:  # fmt: skip
    test = next((row for row in reversed(rows) if row["event"] == "germination_test"), None)
    saved = next((_day(row["on_to"]) for row in rows if row["event"] == "seed_saved"), None)
    age = None if saved is None else max(sown_in - saved.year, 0)
    row: dict[str, object] = dict.fromkeys(SEEDS)
    row |= {"crop": crop, "lot": lot, "saved_on": saved, "age_years": age, "viability_years": viability_years}
    notes = []
    if age is not None and viability_years is not None and age > viability_years:
        notes.append(f"{age} years old by then, and its crop's seed is counted on for {viability_years:g}")
    if test is None:
        return row | {"note": "; ".join([*notes, "not tested: test it before it is relied upon"])}
    tested, germinated, tested_on = int(test["sown"]), int(test["germinated"]), _day(test["on_to"])
    if sown_in - tested_on.year > _OLD_TEST_YEARS:
        notes.append(f"tested in {tested_on.year}, seed loses life with age: test it again")
    interval = stats.binomtest(germinated, tested).proportion_ci(level, method="wilson")
    counts = {
        "seeds_a_sowing": seeds_for(1, germinated, tested, assurance),
        **{name: None if plants is None else seeds_for(plants, germinated, tested, assurance)
           for name, plants in zip(("sow_beside_roots", "sow_alone"), needed, strict=True)},
    }  # fmt: skip
    return row | counts | {
        "tested_on": tested_on, "tested": tested, "germinated": germinated, "share": germinated / tested,
        "low": float(interval.low), "high": float(interval.high), "level": level, "note": "; ".join(notes) or None,
    }  # fmt: skip


def _day(value: Any) -> date:
    day: date = pd.Timestamp(value).date()
    return day
