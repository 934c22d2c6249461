"""Why one plant stands where it does in a keep list."""

from __future__ import annotations

from perennia.analysis.decisions.keeping.keep_fresh import Fresh
from perennia.analysis.decisions.keeping.keep_outlook import Outlook
from perennia.analysis.decisions.keeping.keep_roots import Root
from perennia.analysis.decisions.keeping.keep_rows import VETO, Candidate
from perennia.analysis.measures import Measure, number
from perennia.checking.words import counted

NO_EVIDENCE = "no evidence that these plants differ"


def reason(one: Candidate, outlook: Outlook, fresh: Fresh, measure: Measure) -> str:
    """Why one plant stands where it does."""
    if one.keep == VETO:
        return f"Not to be kept, nor set near others: {one.root.veto}."
    said = []
    if outlook.basis == "none":
        said.append(f"{NO_EVIDENCE}; choose by the condition of the root ({_condition(one)})")
    elif one.forecast is not None:
        seen = "no crop of its own is on record" if not one.own else (
            f"{measure.figure(sum(one.own) / len(one.own), None)} over {counted(len(one.own), 'season')}"
        )  # fmt: skip
        if one.history is not None and len(one.history.plants) > 1:
            seen += f", taken together with {len(one.history.plants) - 1} more by shared pickings"
        text = f"{seen}, so {measure.figure(one.forecast.mean, None)} is expected if it lives"
        if one.forecast.low is not None and one.forecast.high is not None:
            text += f" ({number(one.forecast.low)} to {number(one.forecast.high)})"
        if one.expected is not None:
            text += f", {measure.figure(one.expected, None)} with the winter reckoned in"
        if fresh.mean is not None:
            text += f", against {number(fresh.mean)} for fresh stock"
        said.append(text)
    if one.why:
        said.append(one.why)
    if one.root.look_at:
        said.append("to look at: " + ", ".join(one.root.look_at))
    if one.missing:
        said.append("; ".join(one.missing))
    text = "; ".join(said)
    return text[:1].upper() + text[1:] + "."


def _condition(one: Candidate) -> str:
    said = [one.root.condition or "condition not recorded"]
    if one.root.broken is True:
        said.append("roots broken in lifting")
    if one.root.root_g is not None:
        said.append(weight_of(one.root))
    return ", ".join(said)


def weight_of(root: Root) -> str:
    """The last weight of a root with the day it was taken."""
    on = "" if root.weighed_on is None else f" on {root.weighed_on}"
    return "" if root.root_g is None else f"{number(root.root_g)} g{on}{', an earlier winter' if root.old else ''}"
