"""A shortfall in sentences for a grower: what the failures look like, each candidate, and what would decide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from perennia import crops
from perennia.analysis.causes.setting.pod_set_wording import trusses_counted
from perennia.analysis.causes.shortfall.asked import Asked
from perennia.analysis.causes.shortfall.care_rows import when
from perennia.analysis.causes.shortfall.form_tests import FORMS, Form, FormTest, FormTests
from perennia.analysis.causes.shortfall.forms import (
    ENOUGH_FLOWERS,
    ENOUGH_PLANTS,
    ENOUGH_TRUSSES,
    Shape,
    Shapes,
)
from perennia.analysis.causes.shortfall.weighing import Fit, Weighed, left_over
from perennia.analysis.measures import probability
from perennia.analysis.units import Row
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

UNITS = (
    "a unit is a plant (a label) in one season; flowers of one truss and one day are no units of their own, and n "
    "counts plants."
)
METHOD = (
    "Forms of failure: a burst of losses on one day is sought first and its flowers set aside; place on the truss, "
    "load and neighbouring flowers by shuffles among flowers of one day, and so are some plants that fail for some "
    "days; a spell, a slow change, a rise and fall and good and bad days "
    "by parametric bootstrap, place and load taken off; trusses by shuffles, plants by the spread between trusses. A "
    "form fits alone unless another stands out that it does not bring (p at most 0.003), and is named alone only where "
    "enough flowers were followed and every other is absent (p above 0.1). Candidates: what the records show of each, "
    "whether fewer flowers set where it was, and whether the flowers have the form it predicts; strong where all three "
    "agree. One is named only where every other is ruled out."
)
_FORM_WORDS: dict[Form, str] = {
    "one day": "a burst of losses on one day",
    "spell": "a date or spell by day of opening",
    "slow": "a slow change over the season",
    "curve": "a rise and fall over the season",
    "days": "good and bad days",
    "position": "a fall along the truss",
    "load": "less set on plants that carried more",
    "neighbours": "neighbours on a truss alike or unlike",
    "trusses": "whole trusses that differ",
    "plants": "plants that differ more than is usual",
    "drift": "plants that draw apart as the season goes on",
    "patches": "some plants that differ for some days",
}
_SHAPE_WORDS: dict[Shape, str] = {
    "one day": _FORM_WORDS["one day"], "spell": _FORM_WORDS["spell"], "slow": _FORM_WORDS["slow"],
    "days": _FORM_WORDS["days"], "position": _FORM_WORDS["position"], "load": _FORM_WORDS["load"],
    "even": "the same chance for every flower",
}  # fmt: skip
_FIT_WORDS: dict[Fit, str] = {
    "there": "; the flowers look like it",
    "may be": "; the flowers may look like it",
    "not there": "; the flowers do not look like it",
    "cannot be told": "",
}


def explained(
    plants: Asked, order: Sequence[Weighed], tests: FormTests | None, found: Shapes | None, cause: str | None,
    harm: Sequence[Row],
) -> tuple[str, ...]:
    """The verdict or why there is none, what to do next, then what the failures look like, then each candidate."""
    head = f"{plants.crop}, {plants.name}, {plants.season_name}"
    return (
        _verdict(head, order, cause, harm), *_decides(order, cause), *_looks_like(head, tests, found),
        *(_candidate(one) for one in order),
    )  # fmt: skip


def _looks_like(head: str, tests: FormTests | None, found: Shapes | None) -> list[str]:
    if tests is None or found is None:
        return [f"{head}: no flower or truss is on record, so that nothing is known of how they failed."]
    if all(test.p is None for test in tests.tests.values()):
        return [f"{head}: how the flowers failed cannot be told: {tests.tests['one day'].reason}."]
    there = [_form(tests.tests[form]) for form in FORMS if tests.there(form)]
    size = f"n = {_size(tests)}"
    shown = f"what stands out in how the flowers failed is {'; '.join(there)}" if there else \
            "nothing stands out in how the flowers failed"
    said = [f"{head}: {shown} ({size})."]
    if found.alone:
        said.append(f"The failures have one form: {_SHAPE_WORDS[found.alone]}; no other shows.")
        return said
    kept = [fit.shape for fit in found.fits if fit.kept]
    if not kept:
        said.append("No single form fits: more than one thing is at work, or something that no form describes.")
    elif len(kept) > 1 or not found.enough:
        kinds = "; ".join(_SHAPE_WORDS[shape] for shape in kept)
        said.append(f"Each of these alone could have left such flowers: {kinds}.")
    else:
        said.append(f"One form fits alone, {_SHAPE_WORDS[kept[0]]}, but something else beside it is not ruled out.")
    said += [
        f"These flowers cannot tell {_SHAPE_WORDS[one]} from {_SHAPE_WORDS[other]}: picking and thinning were alike on "
        "all plants."
        for one, other in found.together
    ]
    return said


_LIMITS = {
    "setting_night_max_c": "That nights above {} are too hot for setting",
    "setting_day_max_c": "That days above {} are too hot for setting",
    "setting_night_min_c": "That nights below {} are too cold for setting",
    "setting_share_min": "That {} of flowers or more usually set",
}


def _figure(name: str, value: float) -> str:
    return f"{value:g} degrees C" if name.endswith("_c") else f"{100 * value:.0f} %"


def _size(tests: FormTests) -> str:
    plants = counted(tests.n_plants, "plant")
    return f"{counted(tests.n_flowers, 'flower')} on {trusses_counted(tests.n_trusses)} of {plants}"


def _form(test: FormTest) -> str:
    text = _FORM_WORDS[test.form]
    if test.on_from is not None and test.on_to is not None:
        days = f"on {test.on_from}" if test.on_from == test.on_to else f"between {test.on_from} and {test.on_to}"
        text += f" {days}"
    return f"{text} (p {probability(test.p)})" if test.p is not None else text


def _verdict(head: str, order: Sequence[Weighed], cause: str | None, harm: Sequence[Row]) -> str:
    if cause:
        return f"{head}: the records speak for {cause}, and against every other candidate."
    left = left_over(order)
    if not left:
        other = "; harm is on record that may have done it" if harm else "; what else was at work is not known"
        return f"{head}: the records speak against every candidate looked at{other}."
    strong = [one.candidate.name for one in order if one.strength == "strong"]
    untold = [one.candidate.name for one in order if one.strength == "not recorded"]
    text = f"{head}: no single cause can be named"
    if strong:
        text += f"; the records speak most for {_and(strong)}"
    if untold:
        text += f"; too little is recorded of {_and(untold)} to rule {'it' if len(untold) == 1 else 'them'} out"
    if harm:
        text += "; harm is on record that may have done it alone"
    return f"{text}."


def _decides(order: Sequence[Weighed], cause: str | None) -> list[str]:
    """What to do first: what would decide about the strongest candidate left."""
    if cause:
        return []
    left = [one for one in order if not one.ruled_out and one.strength != "not recorded"] or \
           [one for one in order if not one.ruled_out]
    return [f"What would tell most next: {left[0].candidate.decides}."] if left else []


def _candidate(one: Weighed) -> str:
    name = one.candidate.name
    text = f"{name[0].upper()}{name[1:]} ({one.strength}{_FIT_WORDS[one.fit]})"
    parts = [
        f"for: {'; '.join(one.evidence.told_for)}" if one.evidence.told_for else "",
        f"against: {'; '.join(one.evidence.told_against)}" if one.evidence.told_against else "",
        f"not known: {'; '.join(one.evidence.unknown)}" if one.evidence.unknown else "",
    ]
    return f"{text}: {'. '.join(part[0].upper() + part[1:] for part in parts if part)}."


def explained_cautions(
    source: Source, plants: Asked, tests: FormTests | None, found: Shapes | None, harm: Sequence[Row]
) -> tuple[str, ...]:
    """What stands against reading this as proof."""
    said = ["One bed's weather, visitors and care are one series: what came in the same days looks alike, however many "
            "flowers there were."]  # fmt: skip
    if len(plants.beds) > 1:
        said.append(f"They stood in {', '.join(plants.beds)}: what differs between beds is not taken off.")
    if tests is not None and found is not None and not found.enough:
        said.append(
            f"{_size(tests)} are too few to rule a form out for not showing; it takes {ENOUGH_FLOWERS} on "
            f"{ENOUGH_TRUSSES} of {ENOUGH_PLANTS}."
        )
    if plants.book is not None and len(plants.book.plants) < len(plants.plants):
        said.append(f"Flowers are on record of {len(plants.book.plants)} of {counted(len(plants.plants), 'plant')}; of "
                    "the others nothing is known.")  # fmt: skip
    if plants.book is not None and plants.book.counts and not plants.book.flowers:
        said.append("Trusses were counted, not followed flower by flower, which shows no form of failure.")
    profile = crops.profile(plants.crop, source.profiles)
    for name, words in _LIMITS.items():
        figure = getattr(profile, name) if profile else None
        if figure is not None:
            said.append(f"{words.format(_figure(name, figure.value))}: {figure.source}.")
    said += [f"Harm is on record, by {row['cause']} {when(row)}; it is none of the candidates weighed." for row in harm]
    said.append("What is usual for the crop, and what heat or cold does to it, is mostly known of other varieties or "
                "of common bean; a trial in your own bed says more.")  # fmt: skip
    return tuple(said)


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
