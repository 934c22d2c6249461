"""The rows of a keep list: each living plant with its expectation, its rank, and whether it is worth a winter place."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence

import attrs

from perennia.analysis.decisions.keeping.keep_fresh import Fresh
from perennia.analysis.decisions.keeping.keep_outlook import Forecast, Outlook
from perennia.analysis.decisions.keeping.keep_roots import Root
from perennia.analysis.decisions.keeping.keep_winter import Chance
from perennia.analysis.measures import Measure
from perennia.analysis.name_order import in_order
from perennia.analysis.seasons.histories import CropHistories, History
from perennia.analysis.units import Row, unit_from
from perennia.checking.words import counted

COLUMNS = {
    "rank": "Int64", "plant": "string", "label": "string", "crop": "string", "cultivar": "string", "site": "string",
    "bed": "string", "plants": "Int64", "plant_season": "Int64", "unit": "string", "measure": "string",
    "seasons": "Int64", "mean_crop": "Float64", "effect": "Float64", "expected_if_alive": "Float64", "low": "Float64",
    "high": "Float64", "level": "Float64", "holds_season": "boolean", "wintering": "string", "chance_alive": "Float64",
    "expected": "Float64", "fresh_expected": "Float64", "keep": "string", "root_g": "Float64",
    "weighed_on": "datetime64[s]", "condition": "string", "roots_broken": "boolean", "box": "string",
    "look_at": "string", "words": "string", "missing": "string", "reason": "string",
}  # fmt: skip
"""Columns of KeepList.table; one row a living plant (a stand is one), in order of rank, vetoed ones last.

rank: 1 for the best, equal ones share it; missing for a veto. unit: the first plant of all those linked by a shared
picking, whose expectation is one. seasons: its own with a known crop up to the season of the choice, mean_crop their
mean, a plant, its share of shared pickings in it. effect: what lasts of being above or below the others, drawn towards
0 by the number of seasons and the repeatability; missing where plants are not told apart. expected_if_alive: crop a
plant in a mean season, should it come through the winter; low, high: where the crop of that one season is expected to
lie at level. holds_season: whether they hold the spread from season to season, which takes three seasons that are over;
else they are too narrow. wintering: how it would be kept; chance_alive: the chance to come through that; expected:
chance_alive times expected_if_alive; both missing where no such winter is on record. fresh_expected: crop of a plant
sown afresh, in its first season.
keep: yes or no, where expected lies more than its standard error above or below fresh_expected, or by the winter
places; veto (disease); or even, where nothing on record decides. root_g, weighed_on: last weight of the root in g.
condition: as last found since the season began. look_at: what to look at first, words: the grower's own words,
quoted. missing: what the row is without. reason: in a sentence.
"""
YES, NO, VETO, EVEN = "yes", "no", "veto", "even"
_BY_CONDITION = {"sound": 0, None: 1, "sprouting": 1, "damaged": 2, "shrivelled": 2, "soft": 3, "rotten": 4}
"""Sound roots first: common practice, no source."""
_ALIKE = 1e-9


@attrs.frozen(kw_only=True, eq=False)
class Candidate:
    """One living plant with all that is known of it. own: its own crop, a plant, in each season where that is known.
    history: the seasons of the unit its effect is estimated of, None without a known crop. running:
    whether its season was not over when it was asked for. missing: what else it is without, in words. keep and
    why are of the choice; rank is None for a veto."""

    row: Row
    own: tuple[float, ...]
    history: History | None
    forecast: Forecast | None
    root: Root
    chance: Chance
    running: bool
    missing: tuple[str, ...]
    rank: int | None = None
    keep: str = EVEN
    why: str = ""

    @property
    def plant(self) -> str:
        """Its address."""
        return str(self.row["plant"])

    @property
    def unit(self) -> str:
        """The unit its crop is known of."""
        return self.plant if self.history is None else self.history.unit

    @property
    def plants(self) -> int:
        """Plants standing."""
        return max(int(self.row["plants"] or 1), 1)

    @property
    def expected(self) -> float | None:
        """Expected crop a plant with the winter taken in, None where its chance is not known."""
        known = self.chance.known
        return None if self.forecast is None or known is None else known * self.forecast.mean


def candidates(
    living: Sequence[Row], found: CropHistories, outlook: Outlook, roots: Mapping[str, Root],
    chances: Mapping[str, Chance], running: frozenset[str],
) -> list[Candidate]:  # fmt: skip
    """The living plants in no order yet. running: plants whose season was not over when it was asked for."""
    of_plant = {plant: history for history in found.units for plant in history.plants}
    seasons = _own_seasons(found)
    made = []
    for row in living:
        plant = str(row["plant"])
        history = of_plant.get(plant)
        unit = plant if history is None else history.unit
        root = roots.get(plant, Root())
        known = [value for value in seasons.get(plant, []) if value is not None]
        without = len(seasons.get(plant, [])) - len(known)
        made.append(Candidate(
            row=row, own=tuple(known), history=history, forecast=outlook.forecast(unit, row["site"]), root=root,
            chance=chances[plant], running=plant in running,
            missing=tuple(_missing(row, bool(known), without, found.measure, root)),
        ))  # fmt: skip
    return made


def ranked(every: Sequence[Candidate], outlook: Outlook) -> list[Candidate]:
    """In order of rank: by expected crop where plants are told apart, else by the condition of the root.

    The winter is reckoned with where the chance of all of them is known.
    """
    fit = [one for one in every if one.root.veto is None]
    reckoned = all(one.expected is not None for one in fit)
    key = _by_root if outlook.basis == "none" else _by_expected if reckoned else _by_crop
    order = sorted(fit, key=lambda one: (key(one), -_weight(one), *_by_name(one)))
    placed: list[Candidate] = []
    for place, one in enumerate(order, 1):
        same = bool(placed) and _same(key(placed[-1]), key(one))
        placed.append(attrs.evolve(one, rank=placed[-1].rank if same else place))
    vetoed = [attrs.evolve(one, keep=VETO) for one in every if one.root.veto is not None]
    return [*placed, *sorted(vetoed, key=_by_name)]


def chosen(every: Sequence[Candidate], outlook: Outlook, fresh: Fresh, places: int | None) -> list[Candidate]:
    """With the choice made: against fresh stock first, then for the winter places there are."""
    judged: list[Candidate] = []
    for one in every:
        found = one if one.keep == VETO else _judged(one, outlook, fresh)
        # what is not known of a root is no reason to put it before one that is expected to bear more
        if found.keep == EVEN and found.rank is not None and any(
            other.keep == NO and other.rank is not None and other.rank < found.rank for other in judged
        ):
            found = attrs.evolve(found, keep=NO, why="expected to bear less than others that are not worth a place")
        judged.append(found)
    if places is None:
        return judged
    willing = [one for one in judged if one.keep in (YES, EVEN)]
    if len(willing) <= places:
        return judged
    inside = {one.plant for one in willing[:places]}
    edge = willing[places].rank
    tied = {one.plant for one in willing if one.rank == edge} if places and willing[places - 1].rank == edge else set()
    return [_placed(one, inside, tied, places) if one.keep in (YES, EVEN) else one for one in judged]


def to_keep(every: Sequence[Candidate], places: int | None) -> list[Candidate]:
    """Those that will be kept, as many as there are places: of equals for the last place the first in order."""
    return [one for one in every if one.keep in (YES, EVEN)][:places]


def keep_row(one: Candidate, measure: Measure, fresh: Fresh, level: float, reason: str) -> dict[str, object]:
    """The row of one plant."""
    forecast, row = one.forecast, one.row
    return {
        "rank": one.rank, "plant": one.plant, "label": row["label"], "crop": row["crop"], "cultivar": row["cultivar"],
        "site": row["site"], "bed": row["bed"], "plants": one.plants, "plant_season": row["plant_season"],
        "unit": one.unit, "measure": measure.name, "seasons": len(one.own),
        "mean_crop": statistics.fmean(one.own) if one.own else None,
        "effect": None if forecast is None else forecast.effect,
        "expected_if_alive": None if forecast is None else forecast.mean,
        "low": None if forecast is None else forecast.low, "high": None if forecast is None else forecast.high,
        "level": None if forecast is None or forecast.low is None else level,
        "holds_season": None if forecast is None else forecast.holds_season,
        "wintering": one.chance.wintering, "chance_alive": one.chance.known, "expected": one.expected,
        "fresh_expected": fresh.mean, "keep": one.keep, "root_g": one.root.root_g, "weighed_on": one.root.weighed_on,
        "condition": one.root.condition, "roots_broken": one.root.broken, "box": one.root.box,
        "look_at": "; ".join(one.root.look_at) or None, "words": "; ".join(one.root.words) or None,
        "missing": "; ".join([*_to_date(one), *one.missing]) or None, "reason": reason,
    }  # fmt: skip


def _by_crop(one: Candidate) -> tuple[float, ...]:
    return (-(one.forecast.mean if one.forecast is not None else 0.0),)


def _by_expected(one: Candidate) -> tuple[float, ...]:
    return (-(one.expected or 0.0),)


def _by_root(one: Candidate) -> tuple[float, ...]:
    return float(_BY_CONDITION[one.root.condition]), float(one.root.broken is True)


def _weight(one: Candidate) -> float:
    """Of the root as it is now; one of an earlier winter says nothing of that."""
    return 0.0 if one.root.old else one.root.root_g or 0.0


def _by_name(one: Candidate) -> tuple[str, str]:
    return in_order(one.row["label"]), one.plant


def _same(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return all(abs(a - b) <= _ALIKE * max(abs(a), abs(b), 1.0) for a, b in zip(one, other, strict=True))


def _judged(one: Candidate, outlook: Outlook, fresh: Fresh) -> Candidate:
    """Whether a root is worth more than fresh stock, where its own records can say so."""
    if outlook.basis == "none" or one.forecast is None:
        return attrs.evolve(one, keep=EVEN)
    if fresh.mean is None:
        return attrs.evolve(one, keep=EVEN, why=f"nothing to hold it against: {fresh.why_none}")
    if one.expected is None and one.forecast.mean < fresh.mean:
        return attrs.evolve(one, keep=NO, why="less than fresh stock is expected to bear, even if it lives")
    if one.expected is None:
        even = fresh.mean / one.forecast.mean
        return attrs.evolve(one, keep=EVEN, why=(
            f"worth more than fresh stock if its chance to live is above {even:.0%}, and no winter under that "
            "wintering is on record"))  # fmt: skip
    gap, error = one.expected - fresh.mean, _error_of_gap(one, fresh)
    if abs(gap) <= error:
        return attrs.evolve(one, keep=EVEN, why="as much as fresh stock, so far as the records can tell")
    if gap < 0:
        return attrs.evolve(one, keep=NO, why="less than fresh stock once the winter is reckoned with")
    return attrs.evolve(one, keep=YES, why="more than fresh stock, the winter reckoned with")


def _error_of_gap(one: Candidate, fresh: Fresh) -> float:
    """The standard error of what a root is expected to bear, the winter reckoned with, less what fresh stock is."""
    if one.forecast is None:
        return 0.0
    lives = one.chance.known or 0.0
    roots = one.chance.alive + one.chance.dead
    of_chance = lives * (1 - lives) / (roots + 1)
    return math.sqrt(lives**2 * one.forecast.variance + one.forecast.mean**2 * of_chance + fresh.variance)


def _placed(one: Candidate, inside: set[str], tied: set[str], places: int) -> Candidate:
    room = counted(places, "winter place")
    if one.plant in tied:
        keep, why = EVEN, f"equal to others for the last of {room}: choose by the condition of the root, or by lot"
    elif one.plant in inside:
        keep, why = YES, f"among the first for {room}"
    else:
        keep, why = NO, f"misses out on {room}"
    return attrs.evolve(one, keep=keep, why="; ".join(part for part in (one.why, why) if part))


def _to_date(one: Candidate) -> list[str]:
    return [f"season {one.row['season_name']} was not over, its crop is that to date"] if one.running else []


def _own_seasons(found: CropHistories) -> dict[str, list[float | None]]:
    """By plant, its crop in each season in growth, shares of shared pickings in it; None where it is not known."""
    seasons: dict[str, list[float | None]] = {}
    for row in found.rows:
        if row["grew"] is True:
            seasons.setdefault(str(row["plant"]), []).append(unit_from([row], found.measure).value)
    return seasons


def _missing(row: Row, known: bool, without: int, measure: Measure, root: Root) -> list[str]:
    said = []
    if row[measure.name] is None:
        said.append(f"{measure.name} of season {row['season_name']} is missing")
    elif row["plants"] is None:
        said.append("the number of plants is missing")
    if not known:
        said.append("no season with a known crop")
    elif without:
        said.append(f"{counted(without, 'season')} without a known crop")
    if row["plant_season"] is None:
        said.append("its age is not known")
    if root.old:
        said.append(f"its root was last weighed on {root.weighed_on}, in an earlier winter")
    return said
