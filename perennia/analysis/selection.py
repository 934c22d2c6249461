"""How far the plants carried into a season had out-cropped the others in the season before: they were not a sample."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence

from perennia.analysis.exact import exact_two_sample
from perennia.analysis.measures import MEASURES, Measure, number
from perennia.analysis.units import Row, named

SURVIVOR = "per survivor"
KEPT = "per root kept"
"""What is said of later seasons is of plants that lived to them, or of all roots kept, those lost as no crop."""
PICKED_OUT = 0.2
"""Our own bound: a sign of choosing need not be certain to cast doubt on what follows from it."""

SELECTION = {
    "crop": "string", "season": "Int64", "season_name": "string", "measure": "string", "n_kept": "Int64",
    "n_not_kept": "Int64", "mean_kept": "Float64", "mean_not_kept": "Float64", "gap": "Float64", "ratio": "Float64",
    "missing": "Int64",
}  # fmt: skip
"""Columns of a selection table: one row a crop and season.

n_kept, n_not_kept: plants with a known crop in the season before; missing: those without. mean_kept, mean_not_kept: of
that crop, a plant, in the measure; gap, ratio: of the first to the second.
"""


def selection(rows: Iterable[Row], crop: str, season: int, measure: Measure) -> dict[str, object] | None:
    """The season before of the plants carried into a season against that of those that were not, or None if unknown.

    rows are those of season_summary. A plant is carried over if it has a row in the season, be it that its root was
    lost in the winter; not carried over are the dead and the discarded alike.
    """
    ours = [row for row in rows if row["crop"] == crop]
    carried = {row["plant"] for row in ours if row["season"] == season}
    before = [row for row in ours if row["season"] == season - 1 and row["grew"] is True]
    used = measure if measure.kind == "amount" else MEASURES["total_g"]
    if all(row[used.name] is None for row in before):
        used = MEASURES["count"]
    kept = _crops([row for row in before if row["plant"] in carried], used)
    left = _crops([row for row in before if row["plant"] not in carried], used)
    if not kept or not left or not carried:
        return None
    mean_kept, mean_left = statistics.fmean(kept), statistics.fmean(left)
    return {
        "crop": crop, "season": season, "season_name": named(ours, season), "measure": used.name, "n_kept": len(kept),
        "n_not_kept": len(left), "mean_kept": mean_kept, "mean_not_kept": mean_left, "gap": mean_kept - mean_left,
        "ratio": mean_kept / mean_left if mean_left > 0 else None, "missing": len(before) - len(kept) - len(left),
    }  # fmt: skip


def picked_out(kept: Sequence[float], others: Sequence[float]) -> float | None:
    """The p with which plants carried on had borne otherwise in their first season than those that were not, or None.

    Plants picked out by one season, by the grower or by the winter, were partly lucky in it and fall back by
    themselves. Where this p is at most PICKED_OUT, a change from that season on is no sign of age, and is not tested.
    """
    if not kept or not others:
        return None
    p = exact_two_sample([(kept, others)]).p
    return p if p <= PICKED_OUT else None


def _crops(rows: Sequence[Row], measure: Measure) -> list[float]:
    return [float(row[measure.name]) / int(row["plants"]) for row in rows if row[measure.name] is not None
            and (row["plants"] or 0) > 0]  # fmt: skip


def selection_caution(row: dict[str, object]) -> str:
    """The selection in a sentence."""
    unit = MEASURES[str(row["measure"])].unit
    return (
        f"{row['crop']}: plants carried into {row['season_name']} were not drawn by lot; the season before they had "
        f"averaged {number(float(str(row['mean_kept'])))} {unit} (n = {row['n_kept']}), those not carried over "
        f"{number(float(str(row['mean_not_kept'])))} {unit} (n = {row['n_not_kept']}), so part of any lead may have "
        "been theirs already."
    )
