"""The seasons of each plant: what it was, what it cropped, and when; and how plants and seasons are chosen."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

import pandas as pd

from perennia.analysis.name_order import BY_PLANT_SEASON, ordered
from perennia.analysis.result import Result
from perennia.analysis.unknown_names import unknown_names
from perennia.checking import arguments
from perennia.checking.words import counted
from perennia.crops import profile

if TYPE_CHECKING:
    from perennia.source import Source

CHOSEN = (
    "($labels is null or list_contains($labels, label) or list_contains($labels, plant)) "
    "and ($crops is null or list_contains($crops, crop)) "
    "and ($seasons is null or list_contains($seasons, season))"
)
"""Condition on a view's rows, its parameters those of choices; one whose list is missing lets every row through."""
_QUERIES = {
    view: f"select * from {view} where {CHOSEN} order by plant, season"
    for view in ("plant_seasons", "season_summary")
}
_MEANS = (
    'select unit, season, sum(total_g) / nullif(sum("count"), 0) as mean_g from season_summary '
    'where total_g is not null and "count" is not null group by unit, season'
)
UNIT = "one plant, that is one life of a label, in one growing year; a stand is one plant"


class SeasonTable(Result):
    """A table of seasons; n counts its plants."""


def plant_seasons(
    source: Source,
    *,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
) -> SeasonTable:
    """What each plant was in each season: age, what it was raised from, how it wintered, where it stood.

    One row is one plant and season in which it was alive, or for which its root had been put by. Columns as in the view
    plant_seasons (Garden.views() describes them). labels, crops, seasons: which plants and seasons to take, all
    unless given; labels may name plants, as ``A1/2021``.
    Raises ArgumentError when a choice is of another kind.
    """
    frame = _chosen(source, "plant_seasons", labels, crops, seasons)
    cautions = []
    if unknown := int(frame["grew"].isna().sum()):
        cautions.append(f"{counted(unknown, 'plant season')} without an entry that shows whether the plant grew.")
    if unknown := int((frame["wintering"] == "unknown").fillna(False).sum()):
        cautions.append(f"{counted(unknown, 'winter')} not written down; the wintering is unknown.")
    return SeasonTable(
        table=frame, n=frame["plant"].nunique(), method="The order of each plant's recorded and inferred life events.",
        units=UNIT, cautions=(*unknown_names(source, labels, crops), *cautions),
        findings=_extent(frame, "plant season"),
    )  # fmt: skip


def season_summary(
    source: Source,
    *,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
    forgone: bool = False,
) -> SeasonTable:
    """The crop of each plant in each season, its timing, and how the plant was grown.

    One row is one plant and season. Columns as in the view season_summary: weights in g, dates as datetime64[s], rates
    in g a day, g_per_m2 in g a square metre; a total is missing, not 0, when nothing shows that there was none. t10,
    t50 and t90 are the days by whose end that share of the crop was in, each picking being spread evenly over the days
    since the last picking or look, or since the plant came up, grew again or was set out again; peak_on is the middle
    of the 7 days with the largest mean rate (own definitions).
    forgone adds the column forgone_g: what the pods or fruits left for seed would have weighed at the mean weight of
    those that its unit (plants linked by shared pickings) gave that season; missing where that is not known. It is in
    no total. labels, crops, seasons: which plants and seasons to take, all unless given.
    Raises ArgumentError when a choice is of another kind.
    """
    frame = _chosen(source, "season_summary", labels, crops, seasons)
    cautions = []
    uncounted = frame["left_uncounted"] > 0
    if uncounted.any():
        text = "in which some of what was left for seed was not counted, and is in no figure here."
        cautions.append(f"{counted(int(uncounted.sum()), 'season')} {text}")
    if forgone:
        frame["forgone_g"] = _forgone(source, frame).mask(uncounted)
        cautions.append("What was left for seed is weighed at the mean of the table pods, and is in no total.")
        if unweighed := int((frame["forgone_g"].isna() & frame["left_for_seed"].notna() & ~uncounted).sum()):
            text = "with something left for seed and no mean pod weight, for not all was weighed and counted."
            cautions.append(f"{counted(unweighed, 'season')} {text}")
    cautions += _cautions(source, frame)
    return SeasonTable(
        table=frame, n=frame["plant"].nunique(),
        method="Sums of pickings; dates from the cumulative crop, straight between pickings, looks and regrowth.",
        units=f"{UNIT}; weights in g, dates as days", cautions=(*unknown_names(source, labels, crops), *cautions),
        findings=_extent(frame, "season"),
    )  # fmt: skip


def choices(
    labels: Collection[str] | None, crops: Collection[str] | None, seasons: Collection[int] | None
) -> dict[str, object]:
    """What was chosen, as parameters of CHOSEN. Raises ArgumentError when a choice is of another kind."""
    return {
        "labels": None if labels is None else arguments.names(labels, "labels"),
        "crops": None if crops is None else arguments.names(crops, "crops"),
        "seasons": None if seasons is None else arguments.years(seasons, "seasons"),
    }


def _cautions(source: Source, frame: pd.DataFrame) -> Iterator[str]:
    """What stands against taking the rows of season_summary at face value, with its counts."""
    stripped = frame["clearance_g"].notna() | frame["clearance_count"].notna()
    if stripped.any():
        text = "with a clearance: in totals and shares, in no rate or peak; t50_without_clearance leaves it out."
        yield f"{counted(int(stripped.sum()), 'season')} {text}"
    for reason, count in frame.loc[frame["finished"].fillna(False), "withheld"].value_counts().sort_index().items():
        yield f"{counted(int(count), 'finished season')} without {reason}."
    if parted := frame.loc[frame["parted"], "season_name"].value_counts().sort_index().to_dict():
        where = ", ".join(f"{name}: {count}" for name, count in parted.items())
        text = "with part of a run of picking only, for it went on unbroken for more than 60 days into the new growing "
        text += "year: those days count for the season before, the rest for the new one, and totals, shares and peaks "
        yield f"{counted(sum(parted.values()), 'season')} ({where}) {text}are of the part."
    open_ = (~frame["finished"]).fillna(False)
    if running := int((open_ & frame["grew"].fillna(False)).sum()):
        text = "still running: totals are to date, and shares and peak are withheld, until the plant is on record as "
        text += "lifted or dead back whole, or anything of a later growing year is."
        yield f"{counted(running, 'season')} {text}"
    if unseen := int((open_ & frame["grew"].isna()).sum()):
        yield f"{counted(unseen, 'season')} of plants of whose growth in it nothing is on record yet."
    yield from _incomplete(source, frame)
    if silent := int((frame["total_g"].isna() & (frame["picks"] == 0) & frame["grew"].fillna(False)).sum()):
        text = "of plants in growth with neither a picking nor proof of no crop: looks a fortnight apart at most, or "
        text += "full books of the bed (books_kept), as long as anybody picked its crop at its site, or it could bear."
        yield f"{counted(silent, 'season')} {text}"
    if left_out := int(frame["spans_left_out"].sum()):
        text = "dated too vaguely (over 14 days): in the totals, but dates and rates go by the other pickings."
        yield f"{counted(left_out, 'picking')} {text}"
    if early := int((frame["peak_from"] <= frame["first_pick"]).sum()):
        text = "reaching back to the first picking or before: how long that crop took is its usual gap, not seen."
        yield f"{counted(early, 'peak')} {text}"
    if moved := int(frame["moved"].fillna(False).sum()):
        text = "in which a plant stood in a second bed, or for long under another cover: named are those of most days."
        yield f"{counted(moved, 'season')} {text}"
    if shared := int((frame["sharing"] > 1).sum()):
        yield f"{counted(shared, 'season')} with shares of pickings off several labels, split evenly."


def _incomplete(source: Source, frame: pd.DataFrame) -> list[str]:
    """Seasons of which the total is missing that the trade measures their crop in, for it was not taken each time."""
    profiles = {crop: profile(crop, source.profiles) for crop in frame["crop"].dropna().unique()}
    pieces = [crop for crop, own in profiles.items() if own is not None and own.harvest_unit == "count"]
    by_count, picked = frame["crop"].isin(pieces), frame["picks"] > 0
    said = []
    for column, own, text in (
        ("total_g", ~by_count, "with a picking that was not weighed: the total weight is missing."),
        ("count", by_count, "of a crop that is counted, with a picking that was not: the total number is missing."),
    ):
        if missing := int((frame[column].isna() & picked & own).sum()):
            said.append(f"{counted(missing, 'season')} {text}")
    return said


def _forgone(source: Source, frame: pd.DataFrame) -> pd.Series:
    """The weight of what was left for seed, by the mean unit weight of all of its unit that season."""
    means = source.sql(_MEANS)
    return frame["left_for_seed"] * frame.merge(means, how="left", on=["unit", "season"])["mean_g"]


def _chosen(
    source: Source,
    view: str,
    labels: Collection[str] | None,
    crops: Collection[str] | None,
    seasons: Collection[int] | None,
) -> pd.DataFrame:
    found = source.sql(_QUERIES[view], choices(labels, crops, seasons))
    return ordered(found, BY_PLANT_SEASON)


def _extent(frame: pd.DataFrame, what: str) -> tuple[str, ...]:
    if frame.empty:
        return (f"No {what} matches.",)
    names = frame[["season", "season_name"]].sort_values("season", kind="stable")["season_name"]
    first, last = names.iloc[0], names.iloc[-1]
    when = first if first == last else f"{first} to {last}"
    return (f"{counted(len(frame), what)} of {counted(frame['plant'].nunique(), 'plant')}, {when}.",)
