"""Pods left to ripen: left for seed, grown to full size unpicked, or passed over by pickings too far apart."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from perennia import crops
from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.evidence import Evidence, Seen, Set
from perennia.analysis.causes.shortfall.form_tests import PRESENT, FormTest
from perennia.analysis.causes.shortfall.forms import ABSENT
from perennia.analysis.units import rows_of
from perennia.checking.words import counted, named_few

if TYPE_CHECKING:
    from perennia.source import Source

LATE_GAPS = 2
"""Usual picking gaps from which pods of a picking are taken to have been left to ripen (own rule, no source)."""
_LEFT = "select plant, on_to, count from harvest where event = 'left_for_seed' and season = ? order by on_to, plant"


def left_pods_evidence(source: Source, asked: Asked, load: FormTest | None) -> Evidence:
    """Pods left on the plants while they flowered, and whether plants that carried more set less."""
    told_for, unknown = [], []
    left = [row for row in rows_of(source.sql(_LEFT, [asked.season])) if row["plant"] in asked.plants]
    ours = [row for row in left if asked.last is None or day_of(row["on_to"]) <= asked.last]
    if ours:
        known = [int(row["count"]) for row in ours if row["count"] is not None]
        amount = counted(sum(known), "pod") if known else "pods, not counted,"
        if 0 < len(known) < len(ours):
            amount += " and others, not counted,"
        told_for.append(f"{amount} left for seed while they flowered, from {day_of(ours[0]['on_to'])} on")
    # a pod that grew to full size after the last flower had opened held none of them back
    unpicked = [one for one in asked.book.flowers if one.end == "full size" and one.ended_on
                and (asked.last is None or one.ended_on <= asked.last)] if asked.book else []  # fmt: skip
    if unpicked:
        pods = f"{counted(len(unpicked), 'pod')} of the flowers followed"
        told_for.append(f"{pods} grew to full size while others opened, and no picking of them is on record")
    gaps, why = _late_pickings(source, asked)
    told_for += gaps
    unknown += why
    contrast, words = _by_load(load)
    against = () if contrast != "no fewer set" else words
    told_for += words if contrast == "fewer set" else ()
    if told_for:
        return Evidence("seen", contrast, tuple(told_for), against, tuple(unknown))
    if why:
        seen: Seen = "in part" if asked.pickings else "not recorded"
        return Evidence(seen, contrast, (), against, tuple(unknown))
    return Evidence("not seen", contrast, (), ("nothing left for seed on record, and no long gap between pickings",
                                              *against), tuple(unknown))  # fmt: skip


def _late_pickings(source: Source, asked: Asked) -> tuple[list[str], list[str]]:
    """Gaps between pickings of a plant that let pods ripen, and why they are not known."""
    profile = crops.profile(asked.crop, source.profiles)
    usual = profile.usual_picking_gap_days if profile else None
    if not asked.pickings:
        return [], ["no picking is on record"]
    if usual is None:
        return [], ["the crop's profile has no usual gap between pickings"]
    late: list[tuple[str, date, date]] = []
    ended: list[str] = []
    for plant in asked.plants:
        days = sorted({day_of(row["on"]) for row in asked.pickings if row["plant"] == plant})
        late += [(plant, before, after) for before, after in pairwise(days)
                 if (after - before).days > LATE_GAPS * usual.value and (asked.last is None or before <= asked.last)]
        if not days or (asked.last and (asked.last - days[-1]).days > LATE_GAPS * usual.value):
            ended.append(plant)
    unknown = [f"no picking of {named_few(ended)} is on record for the last weeks of flowering"] if ended else []
    if not late:
        return [], unknown
    plant, before, after = max(late, key=lambda gap: gap[2] - gap[1])
    plants = len({one for one, _, _ in late})
    return [f"{counted(len(late), 'gap')} of more than {LATE_GAPS * usual.value:g} days between pickings on "
            f"{counted(plants, 'plant')}, the longest on {plant} from {before} to {after} (usual gap {usual.value:g} "
            f"days, {usual.source})"], unknown  # fmt: skip


def _by_load(load: FormTest | None) -> tuple[Set, tuple[str, ...]]:
    """What plants picked unequally show of pods held against setting."""
    if load is None or load.p is None or load.change is None:
        return "no contrast", ()
    words = f"picking had left {abs(load.change):.1f} pods {'fewer' if load.change < 0 else 'more'} on the plants of " \
            f"flowers that set than of those that failed on the same day (p {load.p:.2g})"
    if load.p <= PRESENT and load.change < 0:
        return "fewer set", (words,)
    if load.p > ABSENT:
        return "no fewer set", (words,)
    return "no contrast", ()
