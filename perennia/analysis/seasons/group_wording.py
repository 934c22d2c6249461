"""Mean curves of groups in sentences for a grower."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import combinations, groupby

import numpy as np

from perennia.analysis import layout as lay
from perennia.analysis.measures import MEASURES, number
from perennia.analysis.seasons.curve_question import CurveQuestion
from perennia.analysis.seasons.group_means import FEWEST_FOR_A_BAND, Group, mean_of
from perennia.analysis.units import NOT_RECORDED, Unit, unit_from
from perennia.checking.words import counted

_EPOCH = date(1970, 1, 1)
_IN = {"g": MEASURES["total_g"], "count": MEASURES["count"]}


def group_name(group: Group) -> str:
    """The group in words: its crop, season and levels, and the measure."""
    named = [
        f"{'plant season ' if name == 'plant_season' else ''}{group.season_name if name == 'season' else value}"
        if value is not None else f"{name.replace('_', ' ')} {NOT_RECORDED}"
        for name, value in group.key.items()
    ]  # fmt: skip
    return ", ".join([*named, "in g" if group.measure == "g" else "by count"])


def group_finding(group: Group, question: CurveQuestion) -> str:
    """Where the mean curve of a group ends, or where the first of its units leaves it, with its band."""
    curves = group.curves
    # of the units that go on longest, the end of the curve tells nothing of the group
    whole = int(np.flatnonzero(group.n == group.n.max())[-1])
    reached = mean_of(curves.cumulative, curves.present)[whole]
    low, high = group.crop_band.low[whole], group.crop_band.high[whole]
    band = "no band" if np.isnan(low) else f"95 % band {number(low)} to {number(high)}"
    text = f"mean {number(reached)} {_IN[group.measure].unit} {_place(float(curves.at[whole]), question)}"
    text = f"{group_name(group)}: {counted(len(group.units), 'unit')}; {text} (n = {group.n[whole]}, {band})"
    if group.n[-1] < group.n[whole]:
        mean = number(mean_of(curves.cumulative, curves.present)[-1])
        text += f", the last point with all on record; {counted(int(group.n[-1]), 'unit')} on record to the end, mean "
        text += f"{mean} {_IN[group.measure].unit} {_place(float(curves.at[-1]), question)}"
    # degree-days alone can lack: a curve along another axis has all its days or none
    if early := _ending_early(group):
        text += f"; the curves of {counted(early, 'unit')} end before the season does, for missing weather"
    return f"{text}."


def _ending_early(group: Group) -> int:
    return sum(unit.cut for unit in group.units)


def _place(at: float, question: CurveQuestion) -> str:
    if question.axis == "date":
        day = _EPOCH + timedelta(int(at))
        return f"by {day.day} {day:%B %Y}"
    noun = {"day_of_season": "of the season", "days_since_start": "after the start"}.get(question.axis)
    return f"by {at:.0f} degree-days" if noun is None else f"by day {at:.0f} {noun}"


def group_cautions(
    groups: Sequence[Group], by: Sequence[str], left_out: Counter[str], question: CurveQuestion
) -> list[str]:  # fmt: skip
    """What stands against taking the mean curves at face value, with its counts."""
    cautions = []
    if len(groups) > 1:
        cautions.append(
            "These curves speak of the seasons and beds seen; nothing was put into its group by lot unless you did so."
        )
    cautions += _about_groups(groups, question)
    if "stock" in by:
        cautions += _confounded(groups)
    cautions += [f"{counted(n, 'unit')} left out: {why}." for why, n in sorted(left_out.items())]
    came_along = _not_asked_for(groups, question)
    if came_along:
        cautions.append(f"{counted(came_along, 'label')} not asked for came along, sharing pickings with one that was.")
    return cautions


def _about_groups(groups: Sequence[Group], question: CurveQuestion) -> list[str]:
    """Where n falls, where there is no band, and what stands behind a mean otherwise than as a curve of its own."""
    drawn = [group for group in groups if group.n.size]
    ends = [(group_name(group), group.n.max(), group.n[-1]) for group in drawn]
    falls = [f"{name} ({most} to {last})" for name, most, last in ends if last < most]
    bare = [(group, int(np.isnan(group.crop_band.low).sum())) for group in drawn]
    narrow = [f"{group_name(group)} ({_extent(group, points)})" for group, points in bare if points]
    nothing = [(group, sum(not unit.curves for unit in group.units)) for group in groups]
    early = [f"{group_name(group)} ({_ending_early(group)} of {len(group.units)})"
             for group in groups if _ending_early(group)]  # fmt: skip
    given = [f"{group_name(group)} ({n})" for group, n in nothing if n]
    repeated = [(group, len(group.units) - len(set(group.together.tolist()))) for group in groups]
    again = [f"{group_name(group)} ({n})" for group, n in repeated if n]
    stops = "its last entry or where the weather stops" if question.axis == "degree_days" else "its last entry"
    said = (
        (falls, "the number of units falls along the curve, and the mean can fall with it, for a running season is in "
         f"it up to {stops}"),
        (early, "units whose curves end before the season does, for missing weather"),
        (narrow, f"no band where fewer than {FEWEST_FOR_A_BAND} plants, or linked plants, stand behind the mean; draw "
         "the curves of the units there, which are in unit_curves"),
        (given, "units known to have given nothing, which are in the mean as 0"),
        (again, "units that are in a group again in another season, which tell less than new plants would"),
    )  # fmt: skip
    return [f"{text[0].upper()}{text[1:]}: {'; '.join(named)}." for named, text in said if named]


def _extent(group: Group, points: int) -> str:
    where = "everywhere" if points == group.n.size else f"at {points} of {counted(group.n.size, 'point')}"
    return f"{counted(len(group.units), 'unit')}, {where}"


def _confounded(groups: Sequence[Group]) -> list[str]:
    """Kinds of stock that share no bed, cover or cultivar with one another, all else of their groups being alike."""

    def others(group: Group) -> str:
        # seasons of both hemispheres have one number, and their groups are no two kinds of stock of one season
        key = {**group.key, "season_name": group.season_name, "measure": group.measure}
        return str([(name, value) for name, value in key.items() if name != "stock"])

    cautions = []
    for _, alike in groupby(sorted(groups, key=others), key=others):
        for one, other in combinations(alike, 2):
            arms = (str(one.key["stock"] or NOT_RECORDED), str(other.key["stock"] or NOT_RECORDED))
            counts = lay.overlap(_units(one), _units(other), one.key["crop"], one.key.get("season"))
            key = {**one.key, "season": one.season_name} if "season" in one.key else one.key
            where = ", ".join(str(v) for name, v in key.items() if name != "stock" and v is not None)
            cautions += [f"{where}: {text}." for text in lay.nothing_shared(counts, lay.FACTORS, arms)]
    return cautions


def _units(group: Group) -> list[Unit]:
    return [unit_from(unit.rows, _IN[group.measure]) for unit in group.units]


def _not_asked_for(groups: Sequence[Group], question: CurveQuestion) -> int:
    """Labels in the means that were not chosen by name."""
    chosen = question.chosen["labels"]
    if not isinstance(chosen, list):
        return 0
    rows = [row for group in groups for unit in group.units for row in unit.rows]
    return sum(row["label"] not in chosen and row["plant"] not in chosen for row in rows)
