"""How many roots and sowings meet a target with a given assurance, and how much seed that takes.

A season to come is drawn many times with a fixed seed: every root lives or dies, and those that live, and all sowings,
bear what they are expected to, give or take what is not known of it, single plants and the season itself. Deaths are
independent but for the chance of the winter, which is drawn anew each time from what is known of it; a season's own
part is the same for all plants. No crop is below nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import attrs
import numpy as np

from perennia.analysis.decisions.keeping.keep_fresh import Fresh
from perennia.analysis.decisions.keeping.keep_outlook import Outlook
from perennia.analysis.decisions.keeping.keep_rows import Candidate, to_keep
from perennia.analysis.permutation import Floats
from perennia.checking.words import counted

PLAN = {
    "crop": "string", "plan": "string", "target": "Float64", "roots": "Int64", "sowings": "Int64",
    "probability": "Float64", "assurance": "Float64", "winter_reckoned": "boolean", "note": "string",
}  # fmt: skip
"""Columns of KeepList.plan; one row a crop and plan, with a target.

plan: roots (the best alone), sowings (alone), roots and sowings (all roots to be kept, sowings beside them), and, where
roots share a box now, roots without their fullest box; never more roots than there are winter places.
roots, sowings: how many are enough, missing where none are.
probability: with which they meet the target, at least assurance where they are enough. winter_reckoned: whether deaths
over winter are in it; not so where no such winter is on record. note: why there is none.
"""
DRAWS = 10_000
MOST_SOWINGS = 500
_SEED = 20_190


@attrs.frozen(kw_only=True)
class Plan:
    """One way to meet the target."""

    plan: str
    roots: int | None
    sowings: int | None
    probability: float | None
    winter_reckoned: bool
    note: str | None = None


@attrs.frozen(eq=False)
class _Draws:
    """What the same seasons to come bring: roots, a column a root in order; and sowings one after another."""

    roots: Floats
    season: Floats
    fresh: Fresh
    random: np.random.Generator

    def sowings_for(self, got: Floats, target: float, assurance: float) -> tuple[int | None, float]:
        """The fewest sowings beside what is got that meet the target, with the probability; None if too many."""
        total = got.copy()
        reached = float(np.mean(total >= target))
        if reached >= assurance or self.fresh.mean is None:
            return (0 if reached >= assurance else None), reached
        mean = self.fresh.mean + math.sqrt(self.fresh.variance) * self.random.standard_normal(total.size) + self.season
        for sowings in range(1, MOST_SOWINGS + 1):
            total += np.maximum(mean + (self.fresh.sd or 0.0) * self.random.standard_normal(total.size), 0.0)
            reached = float(np.mean(total >= target))
            if reached >= assurance:
                return sowings, reached
        return None, reached


def plans(
    every: Sequence[Candidate], outlook: Outlook, fresh: Fresh, target: float, assurance: float, places: int | None
) -> list[Plan]:
    """The plans for a crop, its candidates in order of rank; none takes more roots than there are places."""
    roots = [one for one in every if one.rank is not None and one.forecast is not None]
    wanted = {one.plant for one in to_keep(every, places)}
    kept = [place for place, one in enumerate(roots) if one.plant in wanted]
    reckoned = all(one.chance.known is not None for one in roots)
    draws = _drawn(roots, outlook, fresh)
    nothing = np.zeros(DRAWS)
    alone, at = draws.sowings_for(nothing, target, assurance)
    found = [
        _roots_alone(draws.roots[:, :places], places, target, assurance, reckoned),
        Plan(plan="sowings", roots=0, sowings=alone, probability=at, winter_reckoned=True,
             note=_why_no_sowing(alone, fresh)),
        _beside(draws, "roots and sowings", kept, target, assurance, reckoned),
    ]  # fmt: skip
    boxes: dict[str, list[int]] = {}
    for place in kept:
        if roots[place].root.box is not None:
            boxes.setdefault(str(roots[place].root.box), []).append(place)
    if boxes:
        fullest = max(boxes, key=lambda box: (len(boxes[box]), box))
        left = [place for place in kept if place not in boxes[fullest]]
        found.append(_beside(draws, f"roots without box {fullest}", left, target, assurance, reckoned))
    return found


def plan_row(crop: str, target: float, assurance: float, plan: Plan) -> dict[str, object]:
    """The row of one plan."""
    return {"crop": crop, "target": target, "assurance": assurance} | attrs.asdict(plan)


def stand_in(every: Sequence[Candidate], fresh: Fresh, places: int | None) -> int | None:
    """Sowings that would on average bear as much as all roots to be kept are expected to, should all be lost."""
    kept = [one for one in to_keep(every, places) if one.forecast is not None]
    worth = sum(one.plants * (one.forecast.mean if one.expected is None else one.expected)
                for one in kept if one.forecast is not None)  # fmt: skip
    return math.ceil(worth / fresh.mean) if kept and fresh.mean else None


def _drawn(roots: Sequence[Candidate], outlook: Outlook, fresh: Fresh) -> _Draws:
    random = np.random.default_rng(_SEED)
    season = math.sqrt(outlook.season_variance or 0.0) * random.standard_normal(DRAWS)
    alive: Mapping[str | None, Floats] = {
        one.chance.wintering: random.beta(one.chance.alive, one.chance.dead, DRAWS)
        if one.chance.known is not None else np.ones(DRAWS)
        for one in roots
    }  # fmt: skip
    units = {one.unit: random.standard_normal(DRAWS) for one in roots}
    crops = np.zeros((DRAWS, len(roots)))
    for place, one in enumerate(roots):
        if one.forecast is None:
            continue
        mean = one.forecast.mean + math.sqrt(one.forecast.variance) * units[one.unit] + season
        single = math.sqrt(max(one.forecast.single - one.forecast.variance, 0.0)) * random.standard_normal(DRAWS)
        lives = random.random(DRAWS) < alive[one.chance.wintering]
        crops[:, place] = lives * np.maximum(mean + single, 0.0) * one.plants
    return _Draws(crops, season, fresh, random)


def _roots_alone(roots: Floats, places: int | None, target: float, assurance: float, reckoned: bool) -> Plan:
    reached = np.mean(np.cumsum(roots, axis=1) >= target, axis=0)
    enough = np.flatnonzero(reached >= assurance)
    if enough.size:
        first = int(enough[0])
        return Plan(plan="roots", roots=first + 1, sowings=0, probability=float(reached[first]),
                    winter_reckoned=reckoned)  # fmt: skip
    return Plan(
        plan="roots", roots=None, sowings=0, probability=float(reached[-1]) if reached.size else None,
        winter_reckoned=reckoned,
        note="all the roots there are do not meet it" if places is None or roots.shape[1] < places
        else f"the roots for {counted(places, 'winter place')} do not meet it",
    )  # fmt: skip


def _beside(draws: _Draws, name: str, kept: Sequence[int], target: float, assurance: float, reckoned: bool) -> Plan:
    sowings, at = draws.sowings_for(draws.roots[:, kept].sum(axis=1), target, assurance)
    return Plan(plan=name, roots=len(kept), sowings=sowings, probability=at, winter_reckoned=reckoned or not kept,
                note=_why_no_sowing(sowings, draws.fresh))  # fmt: skip


def _why_no_sowing(sowings: int | None, fresh: Fresh) -> str | None:
    if sowings is not None:
        lone = fresh.sd is None and sowings > 0
        return "one fresh plant on record tells nothing of the spread of its kind" if lone else None
    return fresh.why_none or f"{MOST_SOWINGS} sowings do not meet it"
