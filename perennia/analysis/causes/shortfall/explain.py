"""Why did so few flowers set? Every candidate side by side, with what the records and the flowers say of it."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.causes.setting.date_null import DRAWS, SEED
from perennia.analysis.causes.shortfall.asked import Asked, asked
from perennia.analysis.causes.shortfall.candidates import CANDIDATES
from perennia.analysis.causes.shortfall.care_rows import harm_rows
from perennia.analysis.causes.shortfall.dryness import water_evidence
from perennia.analysis.causes.shortfall.evidence import Evidence
from perennia.analysis.causes.shortfall.form_tests import FORMS, FormTests, form_tests
from perennia.analysis.causes.shortfall.forms import Shapes, shapes
from perennia.analysis.causes.shortfall.insects import robbing_evidence, visits_evidence
from perennia.analysis.causes.shortfall.left_pods import left_pods_evidence
from perennia.analysis.causes.shortfall.own_limit import own_limit_evidence, sets_as_usual, share_set
from perennia.analysis.causes.shortfall.standing import broken_roots_evidence, feeding_evidence, neighbour_evidence
from perennia.analysis.causes.shortfall.temperature import cold_evidence, heat_evidence
from perennia.analysis.causes.shortfall.weighing import STRENGTHS, Weighed, left_over, the_cause, weighed
from perennia.analysis.causes.shortfall.wording import METHOD, UNITS, explained, explained_cautions
from perennia.analysis.result import Result, framed
from perennia.checking import arguments
from perennia.checking.words import named_few
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.source import Source

_BY_THE_BED = ("too few visits", "robbed flowers", "hot nights or days", "cold nights", "water deficit")
FEWEST_DRAWS = 399
"""Draws below which no p could be small enough to be held against a form."""
MOST_HELD = 60_000_000
"""Draws times flowers, all held at once, beyond which they would fill the memory of a small machine."""

COLUMNS = {
    "candidate": "string", "strength": "string", "recorded": "string", "contrast": "string", "form": "string",
    "predicts": "string", "speaks_for": "string", "speaks_against": "string", "unknown": "string",
    "cannot_tell": "string", "decides": "string",
}  # fmt: skip
FORM_COLUMNS = {
    "form": "string", "p": "Float64", "there": "boolean", "change": "Float64", "on_from": "datetime64[s]",
    "on_to": "datetime64[s]", "reason": "string",
}  # fmt: skip
"""Columns of Explanation.forms; one row a form that failures take.

form: one day (a burst of losses), spell (a date or a stretch of opening days), slow (a change over the season), curve
(a rise and fall over it), days (good and bad days), position (place on the truss), load (pods on the plant), neighbours
(flowers beside each other alike or unlike), trusses and plants (that differ), drift (plants that draw apart), patches
(some plants that differ for some days). p: of one at least as marked; there:
whether it stands out; change: on the logit scale, for position a part of the truss and for load pods; reason: why it
cannot be told.
"""
SHAPE_COLUMNS = {"shape": "string", "rank": "Int64", "kept": "boolean", "p": "Float64", "against": "string"}
"""Columns of Explanation.shapes; one row a form that may be the only one, even meaning the same chance for every
flower.

shape: a form, or even. rank: 1 the best, equal where two cannot be told apart; p: of its form, missing for even; kept:
whether it fits alone; against: forms that stand out and that it does not bring with it.
"""


@attrs.frozen(kw_only=True, eq=False)
class Explanation(Result):
    """Candidates for a shortfall side by side, the strongest first; n counts plants.

    Columns of the table, one row a candidate. strength: strong, some, weak, open (recorded
    in part, and not seen there), not recorded, or against. recorded: whether
    the records show it at work: seen, not seen, in part, not recorded. contrast: whether fewer flowers set where it
    was. form: whether the flowers show what it predicts: there, may be, not there, cannot be told. predicts: what it
    would leave behind, with its source. speaks_for, speaks_against, unknown: what these records hold, and what they do
    not. cannot_tell: what they cannot say whatever they hold. decides: the observation or small trial that would.

    cause: the one candidate that can be named, None where two fit alike or any is not recorded. left: those that
    nothing rules out. forms, shapes: what the failures look like (columns in FORM_COLUMNS and SHAPE_COLUMNS). form: the
    one form that can be named, None where there is none. enough: whether flowers enough were followed to rule a form
    out.
    crop, season, season_name: what was asked.
    """

    cause: str | None
    left: tuple[str, ...]
    form: str | None
    enough: bool
    forms: pd.DataFrame
    shapes: pd.DataFrame
    crop: str
    season: int
    season_name: str


def explain_shortfall(
    source: Source,
    bed_or_labels: str | Collection[str],
    season: int,
    *,
    crop: str | None = None,
    soil: str | None = None,
    since: str | date | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Explanation:
    """What may have kept flowers from setting in a bed or on some plants in one season, and what would tell it.

    One row is one candidate; columns as help(perennia.Explanation) tells. bed_or_labels: the name of a bed, a label, or
    several labels. crop: needed where the bed held several. soil: a texture for the water balance, in place of the
    bed's own; since: the day on which that balance begins with the soil full, in place of the season's first. draws:
    shuffles and series behind each p of a form, 399 at least and as many as memory holds; seed: of them.

    A form of failure is sought in flowers followed one by one (FlowerFate); truss counts alone show none. What is not
    recorded is never taken as absent. No cause is named by an information criterion, and none where another fits alike.

    Raises UnknownLabelError where nothing of that name grew in the season, AnalysisError where several crops did or
    for too few or too many draws, ArgumentError for what is of another kind.
    """
    if arguments.a_whole_number(draws, "draws", DRAWS) < FEWEST_DRAWS:
        raise AnalysisError(f"draws is {draws}; give {FEWEST_DRAWS} or more, or no p could be small enough")
    start = abs(arguments.a_whole_number(seed, "seed", SEED))
    texture = None if soil is None else arguments.a_name(soil, "soil")
    plants = asked(source, bed_or_labels, season, crop)
    tests = None
    if plants.book is not None:
        _must_fit(len(plants.book.flowers), draws)
        tests = form_tests(plants.book, draws, start)
    found = None if tests is None else shapes(tests)
    share = share_set(plants)
    evidence = _evidence(source, plants, tests, texture, arguments.a_day(since, "since"), share)
    usual = sets_as_usual(source, plants, share)
    weights = [weighed(one, evidence[one.name], tests, found, usual) for one in CANDIDATES]
    return _answer(source, plants, weights, tests, found)


def _must_fit(flowers: int, draws: int) -> None:
    """Raises AnalysisError where so many draws of so many flowers would not fit into memory."""
    if flowers * draws > MOST_HELD:
        most = MOST_HELD // flowers
        better = f"give {most} draws or fewer" if most >= FEWEST_DRAWS else "ask for fewer plants at once"
        raise AnalysisError(
            f"{flowers} flowers were followed, and every draw of every flower is held at once; {better}, not {draws}"
        )


def _evidence(
    source: Source, plants: Asked, tests: FormTests | None, soil: str | None, since: date | None, share: float | None
) -> dict[str, Evidence]:
    """What the records hold of each candidate, by its name."""
    load, position = (None if tests is None else tests.tests[form] for form in ("load", "position"))
    evidence = {
        "too few visits": visits_evidence(source, plants),
        "robbed flowers": robbing_evidence(source, plants),
        "hot nights or days": heat_evidence(source, plants),
        "cold nights": cold_evidence(source, plants),
        "water deficit": water_evidence(source, plants, soil, since),
        "pods left to ripen": left_pods_evidence(source, plants, load),
        "neighbours' demand": neighbour_evidence(source, plants),
        "feeding": feeding_evidence(source, plants),
        "broken roots": broken_roots_evidence(source, plants),
        "the plant's own limit": own_limit_evidence(source, plants, position, share),
    }
    return {name: _beyond_the_bed(plants, name, one) for name, one in evidence.items()}


def _beyond_the_bed(plants: Asked, name: str, evidence: Evidence) -> Evidence:
    """The evidence of what goes by the bed, not ruled out where some plants stood in another while they flowered."""
    if name not in _BY_THE_BED or not plants.elsewhere:
        return evidence
    names = named_few(plants.elsewhere)
    unknown = (*evidence.unknown, f"{names} stood in another bed too while flowers opened, whose records are left out")
    return attrs.evolve(evidence, seen="in part" if evidence.seen == "not seen" else evidence.seen, unknown=unknown)


def _answer(
    source: Source, plants: Asked, weights: list[Weighed], tests: FormTests | None, found: Shapes | None
) -> Explanation:
    order = sorted(weights, key=lambda one: STRENGTHS.index(one.strength))
    harm = harm_rows(source, plants)
    cause, left = the_cause(order, found, bool(harm)), left_over(order)
    return Explanation(
        table=framed([_row(one) for one in order], COLUMNS),
        n=len(plants.plants),
        method=METHOD,
        units=UNITS,
        cautions=explained_cautions(source, plants, tests, found, harm),
        findings=explained(plants, order, tests, found, cause, harm),
        cause=cause,
        left=left,
        form=None if found is None else found.alone,
        enough=found is not None and found.enough,
        forms=_forms(tests),
        shapes=_shapes(found),
        crop=plants.crop,
        season=plants.season,
        season_name=plants.season_name,
    )


def _row(one: Weighed) -> dict[str, object]:
    held = {
        "speaks_for": one.evidence.told_for, "speaks_against": one.evidence.told_against,
        "unknown": one.evidence.unknown,
    }  # fmt: skip
    return {
        "candidate": one.candidate.name, "strength": one.strength, "recorded": one.evidence.seen,
        "contrast": one.evidence.contrast, "form": one.fit, "predicts": one.candidate.predicts,
        **{name: "; ".join(sentences) or None for name, sentences in held.items()},
        "cannot_tell": one.candidate.cannot_tell, "decides": one.candidate.decides,
    }  # fmt: skip


def _forms(tests: FormTests | None) -> pd.DataFrame:
    rows: list[dict[str, object]] = []
    for form in FORMS:
        if tests is None:
            rows.append({**dict.fromkeys(FORM_COLUMNS), "form": form, "reason": "no flower or truss is on record"})
            continue
        test = tests.tests[form]
        there = None if test.p is None else tests.there(form)
        rows.append({"form": form, "p": test.p, "there": there, "change": test.change, "on_from": test.on_from,
                     "on_to": test.on_to, "reason": test.reason})  # fmt: skip
    return framed(rows, FORM_COLUMNS)


def _shapes(found: Shapes | None) -> pd.DataFrame:
    fits = () if found is None else found.fits
    return framed(
        [{"shape": fit.shape, "rank": fit.rank, "kept": fit.kept, "p": fit.p,
          "against": ", ".join(fit.against) or None} for fit in fits],
        SHAPE_COLUMNS,
    )  # fmt: skip
