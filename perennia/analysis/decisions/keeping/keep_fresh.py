"""What a fresh sowing is expected to bear in its first season: what a root is held against."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence

import attrs

from perennia.analysis import layout as lay
from perennia.analysis.decisions.keeping.keep_outlook import Outlook, half_width, mean_season
from perennia.analysis.seasons.ageing import FEWEST_UNITS
from perennia.analysis.seasons.histories import CropHistories
from perennia.analysis.units import Unit

FRESH = {
    "crop": "string", "measure": "string", "n": "Int64", "seasons": "string", "with_kept": "Int64",
    "plain_mean": "Float64", "moved": "boolean", "unmoved": "string", "expected": "Float64", "sd": "Float64",
    "low": "Float64", "high": "Float64", "level": "Float64", "note": "string",
}  # fmt: skip
"""Columns of KeepList.fresh; one row a crop.

n: first seasons of units from seed with a known crop, in these seasons, with_kept of which hold kept roots too.
plain_mean: of their crops as they were. expected: that, or where moved, their mean crop with each season's own part
taken off and that of a mean season put in its place; unmoved: why that was not done. sd: of single plants about it.
low, high: where the crop of one fresh plant is expected to lie at level. note: why there is none.
"""


@attrs.frozen(kw_only=True)
class Fresh:
    """Fresh stock of a crop. plain: the mean of its crops as they were; unmoved: why they were not moved to the mean
    season, None where they were. mean, variance: expected crop a plant and the variance of its error; sd: of single
    plants. confounded: what fresh and kept stock did not share, in words."""

    n: int
    seasons: tuple[str, ...]
    with_kept: int
    plain: float | None
    unmoved: str | None
    mean: float | None
    variance: float
    sd: float | None
    low: float | None
    high: float | None
    confounded: tuple[str, ...]
    why_none: str | None


def fresh_of(found: CropHistories, outlook: Outlook, first_crop_season: int | None) -> Fresh:
    """The expectation of fresh stock; none where a crop by its profile bears nothing to speak of in a first season."""
    seasons = [season for unit in found.units for season in unit.seasons]
    over = [one for one in seasons if (one.site, one.season) in outlook.over]
    fresh = [one for one in over if one.stock == "fresh"]
    kept = [one for one in over if one.stock == "overwintered"]
    if first_crop_season is not None and first_crop_season > 1:
        return _none(f"by its profile it first crops in season {first_crop_season}, so not in the next")
    if not fresh:
        return _none("no first season of a plant from seed has a known crop")
    unmoved = _why_unmoved(fresh, kept, outlook)
    values = [one.known_value if unmoved else _in_mean_season(one, outlook) for one in fresh]
    mean, n = statistics.fmean(values), len(values)
    sd = statistics.stdev(values) if n > 1 else None
    low = high = None
    if sd is not None:
        parts = [(sd**2 * (1 + 1 / n), n - 1), (outlook.season_variance or 0.0, max(outlook.season_df, 1))]
        half = half_width(parts, outlook.level)
        low, high = max(mean - half, 0.0), mean + half
    held = {one.season for one in kept}
    together = [one for one in fresh if one.season in held]
    with_fresh = {one.season for one in fresh}
    # left as it is, the mean has a part of these seasons that one to come need not have
    of_seasons = 0.0 if unmoved is None else (outlook.season_variance or 0.0) / len(with_fresh)
    return Fresh(
        n=n, seasons=tuple(sorted({one.season_name for one in fresh})),
        with_kept=len({one.season for one in together}), plain=statistics.fmean(one.known_value for one in fresh),
        unmoved=unmoved, mean=mean, variance=of_seasons + (0.0 if sd is None else sd**2 / n), sd=sd, low=low,
        high=high, why_none=None,
        confounded=_confounded([one for one in kept if one.season in with_fresh] or kept, together or fresh),
    )  # fmt: skip


def fresh_row(crop: str, measure: str, fresh: Fresh, level: float) -> dict[str, object]:
    """The row of a crop."""
    return {
        "crop": crop, "measure": measure, "n": fresh.n, "seasons": ", ".join(fresh.seasons) or None,
        "with_kept": fresh.with_kept, "plain_mean": fresh.plain,
        "moved": None if fresh.mean is None else fresh.unmoved is None, "unmoved": fresh.unmoved,
        "expected": fresh.mean, "sd": fresh.sd, "low": fresh.low, "high": fresh.high,
        "level": None if fresh.low is None else level, "note": fresh.why_none,
    }  # fmt: skip


def _none(why: str) -> Fresh:
    return Fresh(n=0, seasons=(), with_kept=0, plain=None, unmoved=None, mean=None, variance=0.0, sd=None, low=None,
                 high=None, confounded=(), why_none=why)  # fmt: skip


def _why_unmoved(fresh: Sequence[Unit], kept: Sequence[Unit], outlook: Outlook) -> str | None:
    """Why crops cannot be moved to the mean season; None where they can.

    What a season did is known by who stood in it. Where older plants alone stood in one, it is known for seedlings only
    if effects of plants are taken off and some season holds both.
    """
    cells = Counter((one.site, one.season) for one in fresh)
    of_kept = Counter((one.site, one.season) for one in kept)
    for site in {one.site for one in fresh}:
        weights = mean_season(outlook.cells, outlook.over, site)
        taken = [cell for cell, weight in zip(outlook.cells, weights, strict=True) if weight > 0]
        both = [cell for cell in taken if min(cells[cell], of_kept[cell]) >= FEWEST_UNITS]
        if not both and not all(cells[cell] for cell in taken):
            shared = f"no season holds {FEWEST_UNITS} plants of fresh and as many of older stock"
            return f"{shared}, so that year and stock cannot be told apart"
        if outlook.basis == "none" and any(of_kept[cell] for cell in taken):
            return "plants are not told apart, so that what a season did cannot be told from who stood in it"
    return None


def _in_mean_season(one: Unit, outlook: Outlook) -> float:
    """The crop as it would have been in a mean season of its site."""
    if outlook.model is None:
        return one.known_value
    of_cells = outlook.model.fixed[1 : 1 + len(outlook.cells)]
    weights = mean_season(outlook.cells, outlook.over, one.site)
    mean = math.fsum(weight * effect for weight, effect in zip(weights, of_cells, strict=True))
    return one.known_value - float(of_cells[outlook.cells.index((one.site, one.season))]) + mean


def _confounded(kept: Sequence[Unit], fresh: Sequence[Unit]) -> tuple[str, ...]:
    if not kept or not fresh:
        return ()
    counts = lay.overlap(kept, fresh, fresh[0].crop, None)
    return tuple(lay.nothing_shared(counts, lay.FACTORS, ("kept", "fresh")))
