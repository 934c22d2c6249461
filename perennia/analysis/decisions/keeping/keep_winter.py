"""The chance that a kept root comes through the winter, by the winters of roots kept the same way before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import attrs

from perennia.analysis.decisions.surviving.root_winters import OPEN, Winter, boxes_of, share_alive
from perennia.analysis.decisions.surviving.shares import Share, effective_roots
from perennia.analysis.units import Row

WINTERS = {
    "crop": "string", "wintering": "string", "roots": "Int64", "alive": "Int64", "chance": "Float64", "low": "Float64",
    "high": "Float64", "level": "Float64", "note": "string",
}  # fmt: skip
"""Columns of KeepList.winters; one row a crop and wintering that its roots would get.

roots: earlier winters of roots under it whose outcome is known; alive: how many came through. chance: that a root comes
through, the observed share drawn a little towards one half; missing where no such winter is on record. low, high: the
interval of the observed share at level.
"""
UNKNOWN = "unknown"


@attrs.frozen(kw_only=True)
class Chance:
    """The chance of one wintering. share: what was seen. alive, dead: in roots that each stand for themselves, half a
    root added to either (Brown, Cai and DasGupta 2001, Statistical Science 16: 101-133, doi:10.1214/ss/1009213286)."""

    wintering: str | None
    share: Share | None
    alive: float = 0.0
    dead: float = 0.0

    @property
    def known(self) -> float | None:
        """The chance to live, None where no winter shows it."""
        return None if self.alive + self.dead == 0 else self.alive / (self.alive + self.dead)


def usual_wintering(rows: Sequence[Row], winters: Sequence[Winter], season: int) -> str | None:
    """The wintering most used for kept roots of one crop up to the season; of equals the latest.

    It goes by their winters, and by rows of season_summary, which tell it of living roots above all, where there are
    none.
    """
    used = [(winter.winter, winter.wintering) for winter in winters if winter.winter <= season]
    used = used or [(int(row["season"]), str(row["wintering"] or UNKNOWN)) for row in rows if row["kept_root"] is True]
    known = sorted(one for one in used if one[1] != UNKNOWN)
    counts, latest = Counter(name for _, name in known), {name: year for year, name in known}
    return max(counts, key=lambda name: (counts[name], latest[name], name), default=None)


def own_wintering(winters: Sequence[Winter], season: int) -> dict[str, str]:
    """By plant, how roots already put away for the winter after the season are kept, as far as they are."""
    return {
        winter.plant: winter.wintering for winter in winters
        if winter.winter == season + 1 and winter.outcome == OPEN and winter.in_store and ", " in winter.wintering
    }  # fmt: skip


def chance_of(winters: Sequence[Winter], wintering: str | None, season: int, level: float) -> Chance:
    """The chance under a wintering, from winters before the season of the choice was over."""
    alike = [winter for winter in winters if winter.wintering == wintering and winter.winter <= season]
    if wintering is None or not any(winter.decided for winter in alike):
        return Chance(wintering=wintering, share=None)
    share, boxes = share_alive(alike, level), boxes_of(alike)
    shared = len(boxes) < share.roots
    roots = min(effective_roots(boxes), share.roots) if shared and len(boxes) > 1 else float(len(boxes))
    alive = roots * share.alive / share.roots
    return Chance(wintering=wintering, share=share, alive=alive + 0.5, dead=roots - alive + 0.5)


def winter_row(crop: str, chance: Chance, level: float) -> dict[str, object]:
    """The row of one wintering."""
    share = chance.share
    return {
        "crop": crop, "wintering": chance.wintering, "roots": 0 if share is None else share.roots,
        "alive": 0 if share is None else share.alive, "chance": chance.known,
        "low": None if share is None else share.low, "high": None if share is None else share.high,
        "level": None if share is None or share.low is None else level,
        "note": "no winter of a root kept so is on record" if share is None else share.withheld,
    }  # fmt: skip
