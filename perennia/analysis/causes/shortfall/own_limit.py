"""The plant's own limit: it opens more flowers than it carries, and sheds most of the upper and later ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from perennia import crops
from perennia.analysis.causes.setting.flowers import FlowerBooks
from perennia.analysis.causes.setting.pod_set import pod_set_of
from perennia.analysis.causes.setting.pod_set_wording import stood
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.evidence import Evidence, Set
from perennia.analysis.causes.shortfall.form_tests import PRESENT, FormTest
from perennia.analysis.causes.shortfall.forms import ABSENT
from perennia.analysis.units import rows_of

if TYPE_CHECKING:
    from perennia.source import Source

_TRUSS_CARRIES = {"Phaseolus coccineus": (3, 5)}
"""Pods that a truss usually carries to full size, seldom over 7: common practice, no source."""


def own_limit_evidence(
    source: Source, asked: Asked, position: FormTest | None, share: float | None
) -> Evidence:
    """Whether as many set as the crop usually sets, and whether it is the upper flowers of a truss that fail. share: of
    the flowers that set, as share_set has it."""
    if asked.book is None:
        return Evidence("not recorded", unknown=("no flower or truss is on record",))
    told_for, told_against, unknown = list[str](), list[str](), list[str]()
    contrast: Set = "no contrast"
    if position is not None and position.p is not None and position.change is not None:
        place = f"{stood(position.change)} (p {position.p:.2g})"
        if position.p <= PRESENT and position.change < 0:
            contrast = "fewer set"
            told_for.append(place)
        elif position.p > ABSENT or position.change > 0:
            told_against.append(place)
        else:
            unknown.append(f"{place}, which is neither plain to see nor absent")
    profile = crops.profile(asked.crop, source.profiles)
    low, high = (profile and profile.setting_share_min), (profile and profile.setting_share_max)
    usual = sets_as_usual(source, asked, share)
    if share is not None and low and high:
        words = f"{100 * share:.0f} % of flowers set, as the mean of plants, where {100 * low.value:.0f} to " \
                f"{100 * high.value:.0f} % is usual"
        (told_for if usual else told_against).append(words)
    elif share is not None:
        unknown.append(f"{100 * share:.0f} % set; what is usual is in no profile of {asked.crop}")
    else:
        unknown.append("no flower has an end on record")
    carried = _carried(asked)
    if carried:
        (told_for if carried[1] else told_against).append(carried[0])
    if usual or contrast == "fewer set":
        return Evidence("seen", contrast, tuple(told_for), tuple(told_against), tuple(unknown))
    if usual is None:
        return Evidence("in part", contrast, tuple(told_for), tuple(told_against), tuple(unknown))
    return Evidence("not seen", contrast, tuple(told_for), tuple(told_against), tuple(unknown))


def sets_as_usual(source: Source, asked: Asked, share: float | None) -> bool | None:
    """Whether as many flowers set, as the mean of plants, as the crop's profile holds usual; None where either is not
    known."""
    profile = crops.profile(asked.crop, source.profiles)
    low = profile and profile.setting_share_min
    return None if share is None or not low else bool(share >= low.value)


def share_set(asked: Asked) -> float | None:
    """The share of flowers that set, as the mean of plants; None where none is decided."""
    if asked.book is None:
        return None
    found = pod_set_of(FlowerBooks((asked.book,), 0, ()))
    return next((row["share"] for row in rows_of(found.shares) if row["stage"] == "set"), None)


def _carried(asked: Asked) -> tuple[str, bool] | None:
    """Pods carried to full size by a truss, beside what is usual; whether they are as many."""
    usual = _TRUSS_CARRIES.get(asked.crop)
    if usual is None or asked.book is None:
        return None
    carried: dict[tuple[str, str], int] = {}
    for one in asked.book.flowers:
        if one.growing or one.still_open or one.lost_to_view:
            return None
        carried[one.truss] = carried.get(one.truss, 0) + bool(one.full)
    for counts in asked.book.counts:
        if counts.truss not in carried and "full_size" in counts.latest:
            carried[counts.truss] = counts.latest["full_size"]
    if not carried:
        return None
    mean = sum(carried.values()) / len(carried)
    text = f"{mean:.1f} pods a truss came to full size or were picked, where {usual[0]} to {usual[1]} are usual " \
           "(common practice, no source)"
    return text, mean >= usual[0]
