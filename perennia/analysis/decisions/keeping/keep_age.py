"""Whether the records can tell what a later season does to a plant from what the year does, and from choosing.

Of plants kept because they had cropped well the first season was a lucky one, so that all of them fall back without any
ageing. An effect of age is therefore taken up only where nobody chose: where every plant that was not carried on had
died, and some season holds plants of both ages, three of either at least.
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

    told: whether an effect is taken up; why_not otherwise. change: crop in later seasons less that in a first one, with
    its interval low to high. unknown: whether the age of some seasons is not known, which then count on their own.
    chosen: plants that were taken out alive, or of which nothing more is recorded, before the season of the choice.
    """

    told: bool
    why_not: str | None
    unknown: bool
    chosen: int
    change: float | None = None
    low: float | None = None
    high: float | None = None

    def columns(self, season: Unit) -> list[float]:
        """The columns of one season of a unit."""
        if not self.told:
            return []
        later = _later(season)
        return [float(later is True), *([float(later is None)] if self.unknown else [])]

    def columns_later(self) -> list[float]:
        """The columns of a season to come, which is a later one for every root kept."""
        return [] if not self.told else [1.0, *([0.0] if self.unknown else [])]

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
    ages: dict[tuple[str | None, int], dict[bool | None, set[str]]] = {}
    for name, one in entries:
        ages.setdefault((one.site, one.season), {}).setdefault(_later(one), set()).add(name)
    every = {age for cell in ages.values() for age in cell}
    both = [cell for cell in ages.values() if {True, False} <= set(cell)]
    fewest = min(len(set().union(*(cell[age] for cell in both))) for age in (True, False))
    chosen = _taken_out(found, season)
    if not {True, False} <= every:
        why = "the records hold no known crops of both first and later seasons"
    elif not both:
        why = "no season holds both first-season and older plants, so that age and year cannot be told apart"
    elif fewest < FEWEST_UNITS:
        why = f"fewer than {FEWEST_UNITS} plants of either age stand in seasons that hold both"
    elif chosen:
        why = (
            f"{counted(chosen, 'plant')} had been taken out, or left the books, before: those kept were chosen, and "
            "plants chosen by a good season fall back afterwards without any ageing"
        )
    else:
        return Age(told=True, why_not=None, unknown=None in every, chosen=0)
    return Age(told=False, why_not=why, unknown=None in every, chosen=chosen)


def _later(season: Unit) -> bool | None:
    """Whether a season of a unit is not its first; None where that is not known."""
    return None if season.stock is None else season.stock == "overwintered"


def _taken_out(found: CropHistories, season: int) -> int:
    """Plants that were not carried on to the season of the choice and had not died."""
    last: dict[str, tuple[int, str | None]] = {}
    for row in found.rows:
        plant, year = str(row["plant"]), int(row["season"])
        if year >= last.get(plant, (-1, None))[0]:
            last[plant] = year, row["ended_how"]
    return sum(year < season and how != "died" for year, how in last.values())
