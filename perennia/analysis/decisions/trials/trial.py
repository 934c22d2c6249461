"""How many plants an arm would make the answer clear, which place gets which arm, and what such a trial can tell?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia.analysis.decisions.trials import trial_layout as lay
from perennia.analysis.decisions.trials.outlook import OUTLOOK, outlook_at
from perennia.analysis.decisions.trials.power import Residuals
from perennia.analysis.decisions.trials.spread import Spread, given_spread, residual_spread
from perennia.analysis.decisions.trials.trial_asked import Asked, asked_of
from perennia.analysis.decisions.trials.trial_layout import Arms, Block, Place
from perennia.analysis.decisions.trials.trial_paper import allotted_records, csv_bytes, drawing_of, text_of
from perennia.analysis.decisions.trials.trial_wording import trial_cautions, trial_findings, trial_method
from perennia.analysis.exact import Scores
from perennia.analysis.measures import Measure, choose_measure, own_measure
from perennia.analysis.result import Result, framed
from perennia.analysis.units import rows_of, units_of
from perennia.errors import AnalysisError
from perennia.intake.new_file import new_path, write_new

if TYPE_CHECKING:
    from pathlib import Path

    from perennia.records.care import Allotted
    from perennia.source import Source

COLUMNS = {"bed": "string", "block": "string", "place": "Int64", "arm": "string", "label": "string"}
"""Columns of TrialPlan.table; one row a place, counted from 1 in each bed. block and arm are missing for a place left
over, label where none was given."""
_CROPS = "select distinct crop from season_summary where crop is not null order by crop"
_ROWS = "select * from season_summary where crop = ?"
_BEDS = "select bed from beds"
_TRIALS = "select distinct trial from trial_arms"


@attrs.frozen(kw_only=True, eq=False)
class TrialPlan(Result):
    """A trial laid out by lot, with what it can and cannot tell apart.

    table: the places (columns in COLUMNS). outlook: what to expect of it, one row for the spread as estimated and one
    for either end of its interval (columns in outlook.OUTLOOK). n: plants it needs as laid out. units_needed: units of
    the first arm that reach the power wanted, None where no difference was given or no number up to 1,000 does.
    """

    name: str
    crop: str
    measure: str
    arms: Arms
    allocation: tuple[int, int]
    seed: int
    units_needed: int | None
    outlook: pd.DataFrame
    places: tuple[Place, ...]

    def to_csv(self, path: str | Path) -> Path:
        """Write the places to a new CSV file at path, texts that a spreadsheet would run behind an apostrophe.

        Raises IntakeError when the file is there already or cannot be written.
        """
        path = new_path(path, ".csv", "the plan")
        write_new(path, csv_bytes(self.table))
        return path

    def drawing(self) -> str:
        """The beds and their places as SVG text, whole in itself and readable in black and white."""
        return drawing_of(self.places, self.arms, self.name, self.crop, self.seed)

    def text(self) -> str:
        """The beds and their places as plain text."""
        return text_of(self.places, self.arms, self.name)

    def labelled(self, labels: Mapping[tuple[str, int], str]) -> TrialPlan:
        """The plan with labels at places, by (bed, place), which keep their arms.

        Raises AnalysisError for a place that is none of the trial's or a label given twice.
        """
        known = {(place.bed, place.place): place for place in self.places if place.arm is not None}
        strange = [f"{bed} {place}" for bed, place in labels if (bed, place) not in known]
        if strange:
            raise AnalysisError(f"the plan has no plant at {', '.join(strange)}; give labels by (bed, place)")
        places = tuple(
            attrs.evolve(place, label=labels.get((place.bed, place.place), place.label)) for place in self.places
        )
        given = [place.label for place in places if place.label is not None]
        twice = sorted({label for label in given if given.count(label) > 1})
        if twice:
            raise AnalysisError(f"{', '.join(twice)} would stand in two places; a label names one plant")
        return attrs.evolve(self, places=places, table=_table(places))

    def records(self, on: Any) -> tuple[Allotted, ...]:
        """What to hand to garden.record once the plants have begun: who was allotted where, by lot, on that day.

        Raises AnalysisError while a place has no label.
        """
        return allotted_records(self.places, self.name, on)


def plan_trial(
    source: Source,
    *,
    crop: str,
    beds: Mapping[str, int],
    seed: int,
    arms: Arms = ("overwintered", "fresh"),
    measure: str | None = None,
    difference: float | None = None,
    ratio: float | None = None,
    power: float = 0.8,
    level: float = 0.95,
    spread: float | None = None,
    mean: float | None = None,
    residuals: Residuals = "normal",
    statistic: Scores = "ranks",
    allocation: tuple[int, int] = (1, 1),
    block_size: int | None = None,
    units: int | None = None,
    labels: Mapping[str, Sequence[str]] | None = None,
    name: str | None = None,
) -> TrialPlan:
    """Plan a trial of two arms, so that the permutation test of compare_stock tells a difference apart.

    One row of the table is one place. beds: places of each bed that takes part; each holds both arms, in blocks of
    block_size places (a bed is one block unless given). difference: the smallest gain of the first arm over the second
    that matters, in the measure's unit (days for dates); or ratio, of the means, which needs the mean of the second
    arm. Without either the beds are filled. power: wanted chance to find such a difference, the two-sided p being at
    most 1 - level. spread: standard deviation between plants of one arm and block, and mean, of the second arm, both in
    the measure's unit; unless given, from the crop's seasons on record. residuals: how plants differ, "normal",
    "lognormal" or "heavy". statistic: "ranks" or "values", as the comparison will have it. allocation: plants of the
    arms in proportion, (1, 2) for two of the second to each of the first. units: plants of the first arm to lay out,
    whatever the power. labels: by arm, drawn by lot to its places. name: the trial's own, by which a
    comparison knows it. The same seed lays out the same plan.

    Power is simulated (see power.py); the layout is drawn as lay.METHOD says, in blocks after Fisher 1935, The Design
    of Experiments. Columns in COLUMNS.

    Raises AnalysisError for what cannot be planned, ArgumentError for what is of another kind.
    """
    asked = asked_of(
        crop=crop, beds=beds, seed=seed, arms=arms, difference=difference, ratio=ratio, power=power, level=level,
        spread=spread, mean=mean, residuals=residuals, statistic=statistic, allocation=allocation,
        block_size=block_size, units=units, labels=labels, name=name,
    )  # fmt: skip
    taken = set(source.sql(_TRIALS)["trial"])
    if asked.name in taken:
        raise AnalysisError(f"a trial called {asked.name!r} is on record; give this one another name")
    rows = rows_of(source.sql(_ROWS, [asked.crop]))
    measured = own_measure(asked.crop, rows, source.profiles) if measure is None else choose_measure(measure)
    known = _spread(asked, measured, rows, "" if rows else _crops_here(source))
    unknown_beds = [bed for bed in asked.beds if bed not in set(source.sql(_BEDS)["bed"])]
    return _planned(asked, measured, known, unknown_beds)


def _spread(asked: Asked, measured: Measure, rows: Sequence[Mapping[str, Any]], crops_here: str) -> Spread:
    if asked.spread is not None:
        found = given_spread(asked.spread, asked.mean, asked.level)
        if found.mean is None:
            recorded = residual_spread(units_of(rows, measured), asked.arms[1], asked.level)
            if recorded is not None:
                found = attrs.evolve(found, mean=recorded.mean, mean_of=recorded.mean_of)
        return found
    recorded = residual_spread(units_of(rows, measured), asked.arms[1], asked.level)
    if recorded is None:
        raise AnalysisError(
            f"no two plants of {asked.crop} on record share season, bed, cover, cultivar and stock with a known "
            f"{measured.name}, so how much plants differ is not known; give the spread, the standard deviation "
            f"between plants of one arm and bed that you reckon with{crops_here}"
        )
    return recorded if asked.mean is None else attrs.evolve(recorded, mean=asked.mean, mean_of="as given")


def _crops_here(source: Source) -> str:
    """The crops on record, for someone who named another."""
    here = source.sql(_CROPS)["crop"].tolist()
    return f". Crops on record are {', '.join(here)}" if here else ""


def _planned(asked: Asked, measured: Measure, known: Spread, unknown_beds: Sequence[str]) -> TrialPlan:
    difference = asked.difference_for(measured, known)
    blocks = lay.blocks_of(asked.beds, asked.allocation, asked.block_size)
    room = _room(asked, blocks)
    ends = [("as given" if known.low is None else "estimate", known.sd)]
    if known.low is not None and known.high is not None:
        ends = [("low end", known.low), *ends, ("high end", known.high)]
    middle = ends[len(ends) // 2]
    needed = asked.sets_needed(blocks, difference, middle[1], known.mean)
    if asked.units is not None:
        sets = asked.units // asked.allocation[0]
    else:
        sets = room if needed is None else min(needed.sets, room)
    outlook = [
        outlook_at(asked, blocks, sets, difference, name, sd, known.mean,
                   needed if (name, sd) == middle else asked.sets_needed(blocks, difference, sd, known.mean))
        for name, sd in ends
    ]  # fmt: skip
    places = lay.with_labels(
        lay.lay_out_places(asked.beds, blocks, sets, asked.arms, asked.allocation, asked.seed), asked.labels, asked.seed
    )
    own = outlook[len(outlook) // 2]
    return TrialPlan(
        table=_table(places),
        n=sets * sum(asked.allocation),
        method=trial_method(asked, blocks, sets, own),
        units=f"a unit is a plant in a place of its own; {measured.name} in {measured.unit}"
        + (", differences in days." if measured.kind == "day" else "."),
        cautions=trial_cautions(asked, measured, known, own, unknown_beds),
        findings=trial_findings(asked, measured, known, difference, outlook, room),
        name=asked.name, crop=asked.crop, measure=measured.name, arms=asked.arms, allocation=asked.allocation,
        seed=asked.seed, units_needed=None if needed is None else needed.sets * asked.allocation[0],
        outlook=framed([attrs.asdict(row) for row in outlook], OUTLOOK), places=tuple(places),
    )  # fmt: skip


def _room(asked: Asked, blocks: Sequence[Block]) -> int:
    """Sets that beds and labels at hand allow. Raises AnalysisError where units= asks for more, or none is left."""
    room = sum(block.sets for block in blocks)
    for arm, share in zip(asked.arms, asked.allocation, strict=True):
        if arm in asked.labels:
            room = min(room, len(asked.labels[arm]) // share)
    if room == 0:
        raise AnalysisError("the labels at hand do not fill one place of each arm; give more of them, or none")
    if asked.units is not None and asked.units > room * asked.allocation[0]:
        raise AnalysisError(
            f"units={asked.units}, but beds and labels at hand allow {room * asked.allocation[0]} plants of "
            f"{asked.arms[0]}; give more places or fewer units"
        )
    return room


def _table(places: Sequence[Place]) -> pd.DataFrame:
    return framed([attrs.asdict(place) for place in places], COLUMNS)
