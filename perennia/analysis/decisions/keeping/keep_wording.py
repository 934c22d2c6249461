"""A keep list in sentences for a grower."""

from __future__ import annotations

import re
from collections.abc import Sequence

from perennia.analysis.decisions.keeping.keep_crop import Ask, CropAnswer
from perennia.analysis.decisions.keeping.keep_outlook import Outlook
from perennia.analysis.decisions.keeping.keep_reason import NO_EVIDENCE
from perennia.analysis.decisions.keeping.keep_rows import EVEN, NO, VETO, YES, Candidate, to_keep
from perennia.analysis.decisions.keeping.keep_target import Plan, stand_in
from perennia.analysis.decisions.keeping.keep_unseen import LOOK, told
from perennia.analysis.measures import number
from perennia.checking.words import counted

CHOICES = {
    YES: "keep", EVEN: "nothing on record decides for or against", NO: "not worth a place",
    VETO: "not to be kept, nor set near others",
}  # fmt: skip
"""What each choice means."""
_SHOWN = 12
_ROUNDING = 1e-6
_PER_CENT = re.compile(r"\d+%")


def keep_findings(answer: CropAnswer, ask: Ask) -> list[str]:
    """What the list of one crop comes to: what to do first, then what it rests on."""
    said = [_plan(plan, answer, ask) for plan in answer.plans]
    said += [*_choices(answer, ask), _look_at(answer), _insurance(answer, ask)]
    said += [_basis(answer), _winter(answer, ask), _fresh(answer), _age(answer)]
    return [f"{answer.crop}: {text}." for text in said if text]


def _basis(answer: CropAnswer) -> str:
    view = answer.outlook
    size = f"n = {counted(view.n_units, 'unit')}, {counted(view.n_values, 'season')} of theirs"
    if view.basis == "none":
        own = "" if _own_given(view) else "; given a repeatability of your own, they are ranked by that"
        return f"{NO_EVIDENCE}: {view.why_none} ({size}); choose by the condition of the roots{own}"
    if view.basis == "repeatability":
        return f"ranked by the repeatability given, {view.share:.2f}, not by one estimated from these records ({size})"
    text = f"ranked by expected crop; repeatability of one season {view.share:.2f}"
    shares = view.shares
    if shares is None or shares.low is None or shares.high is None:
        return f"{text} ({size}), without an interval"
    text += f" ({_percent(shares.level)} interval {shares.low:.2f} to {shares.high:.2f}; {size})"
    return text + ("; that interval reaches 0, so that they differ at all is not shown" if shares.low == 0 else "")


def _own_given(view: Outlook) -> bool:
    """Whether a repeatability has been given already."""
    return view.why_none == "the repeatability given is 0"


def _winter(answer: CropAnswer, ask: Ask) -> str:
    said = []
    for chance in answer.chances:
        if chance.wintering is None:
            said.append("how its kept roots are wintered is not on record, so the chance to live is not known and what "
                        "is expected holds for a root that lives")  # fmt: skip
            continue
        how = f"wintered as {chance.wintering}"
        if ask.wintering is None and chance.wintering == answer.usual:
            how += " (the wintering most used here)"
        if chance.share is None or chance.known is None:
            others = ", ".join(answer.winterings)
            there = f" (there are {others})" if others else ""
            said.append(f"{how}, survival is not known, for no such winter is on record{there}; what is expected holds "
                        "for a root that lives")  # fmt: skip
            continue
        share = chance.share
        text = f"{how}, {share.alive} of {counted(share.roots, 'root')} on record came through"
        if share.low is not None and share.high is not None:
            text += f" ({_percent(ask.level)} interval {share.low:.0%} to {share.high:.0%})"
        boxes = chance.alive + chance.dead - 1 < share.roots - _ROUNDING
        fewer = "; roots that shared a box count for fewer, as they live or die together" if boxes else ""
        said.append(f"{text}; the chance to live is taken as {chance.known:.0%}, half a root being added to the living "
                    f"and half a root to the dead{fewer}")  # fmt: skip
    return "; ".join(said)


def _fresh(answer: CropAnswer) -> str:
    fresh, measure = answer.fresh, answer.measure
    if fresh.mean is None:
        return f"fresh stock has no expectation: {fresh.why_none}"
    text = f"fresh stock is expected to bear {measure.figure(fresh.mean, None)} in its first season"
    if fresh.low is not None and fresh.high is not None:
        text += f" (a single plant {number(fresh.low)} to {number(fresh.high)})"
    seen = f"{counted(fresh.n, 'first season')} of plants from seed in {', '.join(fresh.seasons)}"
    if fresh.unmoved is not None:
        text += f", the plain mean of {seen}; it is not moved to a mean season, for {fresh.unmoved}"
    elif number(fresh.plain or 0.0) == number(fresh.mean):
        text += f", by {seen}"
    else:
        text += (
            f", by {seen}, whose plain mean is {number(fresh.plain or 0.0)}: each is moved to a mean season, by "
            "what its own did to all plants in it"
        )
    if not fresh.with_kept:
        text += ", none of which had kept roots beside it, so that years may be part of any gap"
    return text


def _age(answer: CropAnswer) -> str:
    age, measure = answer.outlook.age, answer.measure
    if not age.told or age.change is None or age.low is None or age.high is None:
        return f"no effect of age is taken up: {age.why_not}" if age.why_not else ""
    return (
        f"in later seasons plants bore {measure.gap(age.change)} against their first ({_percent(answer.outlook.level)} "
        f"interval {number(age.low, sign=True)} to {number(age.high, sign=True)}), which is taken up"
    )


def _choices(answer: CropAnswer, ask: Ask) -> list[str]:
    said = []
    for keep, text in CHOICES.items():
        alike: dict[tuple[bool, str], list[Candidate]] = {}
        for one in answer.every:
            if one.keep == keep:
                alike.setdefault((keep == EVEN and bool(one.root.look_at), _PER_CENT.sub("%", one.why)), []).append(one)
        for (to_look_at, _), ours in alike.items():
            what = "nothing decides but what is to be looked at" if to_look_at else text
            said.append(f"{what}: {_labels(ours)} ({_why(ours)}n = {len(ours)})")
    if answer.unseen:
        said.append(f"{LOOK}: {'; '.join(told(one) for one in answer.unseen)} (n = {len(answer.unseen)})")
    if ask.places is not None:
        wanting = sum(one.keep in (YES, EVEN) for one in answer.every)
        if wanting < ask.places:
            said.append(f"{counted(ask.places - wanting, 'winter place')} of {ask.places} left over")
    return said


def _why(ours: Sequence[Candidate]) -> str:
    """The reason that plants have in common, where their per cents differ from the lowest to the highest."""
    found = sorted({int(each[:-1]) for one in ours for each in _PER_CENT.findall(one.why)})
    span = "%" if not found else f"{found[0]}%" if len(found) == 1 else f"{found[0]}% to {found[-1]}%"
    return f"{_PER_CENT.sub(span, ours[0].why)}; " if ours[0].why else ""


def _look_at(answer: CropAnswer) -> str:
    """What to look at before a plant is kept, plant by plant."""
    ours = [f"{one.row['label']}: {', '.join(one.root.look_at)}" for one in answer.every if one.root.look_at]
    said = [f"look at these first (what is in quotes was written so): {'; '.join(ours)}"] if ours else []
    old = [one for one in answer.every if one.root.old]
    if old:
        said.append(f"weighed in an earlier winter, so weigh again: {_labels(old)} (n = {len(old)})")
    return "; ".join(said)


def _plan(plan: Plan, answer: CropAnswer, ask: Ask) -> str:
    goal = f"a target of {number(ask.target or 0)} {'g' if answer.measure.name == 'total_g' else 'pieces'}"
    reckoned = "" if plan.winter_reckoned else ", if every root lives, for survival is not known"
    what = {
        "roots": f"by {'the roots' if plan.roots is None else f'the best {plan.roots} roots'} alone",
        "sowings": f"by {'sowings' if plan.sowings is None else counted(plan.sowings, 'plant') + ' from seed'} alone",
    }.get(plan.plan)  # fmt: skip
    if what is None:
        sowings = "sowings" if plan.sowings is None else counted(plan.sowings, "plant") + " from seed"
        box = plan.plan.removeprefix("roots without box ")
        lost = "" if box == plan.plan else f', should all in the box "{box}" be lost,'
        what = f"by {counted(plan.roots or 0, 'root')} and {sowings}{lost}"
    enough = plan.roots is not None and plan.sowings is not None
    if enough and plan.probability is not None:
        return f"{goal} is met {what} with a probability of {plan.probability:.2f}{reckoned}"
    reached = "" if plan.probability is None else f", which reach it with a probability of {plan.probability:.2f}"
    return f"{goal} is not met {what} with an assurance of {ask.assurance:g}{reached}{reckoned}: {plan.note}"


def _insurance(answer: CropAnswer, ask: Ask) -> str:
    """Seed as insurance: what would stand in if every root in the store were lost."""
    plants = None if answer.measure.kind == "rate" else stand_in(answer.every, answer.fresh, ask.places)
    if plants is None:
        return ""
    kept = len(to_keep(answer.every, ask.places))
    text = (
        f"seed as insurance: should every root be lost in one store, {counted(plants, 'plant')} from seed would on "
        f"average bear as much as the {counted(kept, 'root')} that may be kept "
        f"{'is' if kept == 1 else 'are'} expected to"
    )  # fmt: skip
    tested = [lot for lot in answer.seeds if lot["share"] is not None]
    if not answer.seeds:
        return f"{text}; no seed lot of this crop is on record"
    if not tested:
        return f"{text}; no lot of seed has a germination test"
    best = max(tested, key=lambda lot: (lot["note"] is None, float(str(lot["low"]))))
    text += f"; lot {best['lot']} germinated {best['germinated']} of {best['tested']}"
    if best["sow_beside_roots"] is not None and best["sow_alone"] is not None:
        text += f", so sow {best['sow_beside_roots']} seeds beside the roots, or {best['sow_alone']} without any"
    elif best["seeds_a_sowing"] is not None:
        text += f", so sow {counted(int(str(best['seeds_a_sowing'])), 'seed')} for every plant"
    if best["note"] is not None:
        text += f" (mind: {best['note']})"
    return text


def _labels(ours: Sequence[Candidate]) -> str:
    names = [str(one.row["label"]) for one in ours]
    more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
    return ", ".join(names[:_SHOWN]) + more


def _percent(level: float) -> str:
    return f"{100 * level:g} %"
