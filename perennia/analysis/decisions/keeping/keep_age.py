"""Whether the records can tell what a later season does to a plant from what the year does, and from who is left.

Of plants kept because they had cropped well the first season was a lucky one, so that all of them fall back without any
ageing; where the weak ones die, those left are the strong ones, and stand above fresh stock without any gain by age. An
effect of age is therefore taken up only where nobody is missing: where every plant that bore in an earlier season bears
on record in the season of the choice too. It is the change of the same plants, first season and later ones, against
fresh plants of the seasons of both ages, three of either at least, with the plants' own effects in the model. Plants
whose first season is not on record have a level of their own and say nothing of age.
"""

from __future__ import annotations

from collections.abc import Sequence

import attrs
import numpy as np
from scipy import stats

from perennia.analysis.seasons.ageing import FEWEST_UNITS
from perennia.analysis.seasons.histories import CropHistories
from perennia.analysis.seasons.shrinkage import Shrunken
from perennia.analysis.units import Unit
from perennia.checking.words import counted


@attrs.frozen(kw_only=True)
class Age:
    """What is known of later seasons against first ones.

    told: whether an effect is taken up; why_not otherwise. begun: units whose first season is on record. apart: whether
    some have none on record, or seasons of unknown age. missing: plants with an earlier crop and none in the season of
    the choice. change: crop in later seasons less that in a first one, with its interval low to high.
    """

    told: bool
    why_not: str | None
    begun: frozenset[str]
    apart: bool
    missing: int
    change: float | None = None
    low: float | None = None
    high: float | None = None

    def columns(self, unit: str, season: Unit) -> list[float]:
        """The columns of one season of a unit."""
        if not self.told:
            return []
        of_age = _of_known_age(self.begun, unit, season)
        return [float(of_age and _later(season) is True), *([float(not of_age)] if self.apart else [])]

    def columns_later(self, unit: str, known: bool) -> list[float]:
        """The columns of a unit's season to come, which is a later one for every root kept; known: by its records."""
        if not self.told:
            return []
        of_age = unit in self.begun or not known
        return [float(of_age), *([float(not of_age)] if self.apart else [])]

    def untold(self, why_not: str) -> Age:
        """Without an effect, and why."""
        return attrs.evolve(self, told=False, why_not=why_not)

    def with_estimate(self, model: Shrunken | None, before: int, level: float) -> Age:
        """With what the model found, whose first columns, so many, are of something else."""
        if model is None or not self.told:
            return attrs.evolve(self, told=False) if model is None else self
        columns = len(model.fixed) - 1
        later = np.zeros(columns)
        later[before] = 1.0
        change = float(model.fixed[1 + before])
        half = float(stats.t.ppf((1 + level) / 2, model.residual_df)) * model.error_of(later)
        return attrs.evolve(self, change=change, low=change - half, high=change + half)


def age_of(found: CropHistories, entries: Sequence[tuple[str, Unit]], season: int) -> Age:
    """Whether an effect of age can be taken up for the units of a crop, by their seasons with a known crop."""
    begun = frozenset(name for name, one in entries if _later(one) is False)
    followed = begun & {name for name, one in entries if _later(one) is True}
    ages: dict[tuple[str | None, int], dict[bool, set[str]]] = {}
    for name, one in entries:
        if _of_known_age(begun, name, one):
            ages.setdefault((one.site, one.season), {}).setdefault(_later(one) is True, set()).add(name)
    both = [cell for cell in ages.values() if {True, False} <= set(cell)]
    fewest = min(len(set().union(*(cell[age] for cell in both))) for age in (True, False))
    missing = _missing(found, season)
    why = None
    if not followed:
        why = "no plant has a known crop both in its first season and in a later one"
    elif not both:
        why = "no season holds both first-season and older plants, so that age and year cannot be told apart"
    elif fewest < FEWEST_UNITS:
        why = f"fewer than {FEWEST_UNITS} plants of either age stand in seasons that hold both"
    elif missing:
        why = (
            f"{counted(missing, 'plant')} that had borne before died, had been taken out, or left no crop on record in "
            f"season {season}: those left may be the stronger ones, or were chosen by a good season and fall back "
            "afterwards, both without any ageing"
        )
    return Age(
        told=why is None, why_not=why, begun=begun, missing=missing,
        apart=any(not _of_known_age(begun, name, one) for name, one in entries),
    )  # fmt: skip


def _later(season: Unit) -> bool | None:
    """Whether a season of a unit is not its first; None where that is not known."""
    return None if season.stock is None else season.stock == "overwintered"


def _of_known_age(begun: frozenset[str], unit: str, season: Unit) -> bool:
    return unit in begun and season.stock in ("fresh", "overwintered")


def _missing(found: CropHistories, season: int) -> int:
    """Plants with a known crop in a season before that of the choice and none in it."""
    last: dict[str, int] = {}
    for row in found.rows:
        if row["grew"] is True and row[found.measure.name] is not None:
            plant = str(row["plant"])
            last[plant] = max(last.get(plant, 0), int(row["season"]))
    return sum(year < season for year in last.values())
