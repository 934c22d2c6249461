"""How strongly records and flowers speak for a candidate, and when one alone can be named."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Literal, get_args

import attrs

from perennia.analysis.causes.shortfall.candidates import Candidate
from perennia.analysis.causes.shortfall.evidence import Evidence
from perennia.analysis.causes.shortfall.form_tests import Form, FormTest, FormTests
from perennia.analysis.causes.shortfall.forms import Shapes

Fit = Literal["there", "may be", "not there", "cannot be told"]
"""Whether the flowers show a form that the candidate predicts."""
Strength = Literal["strong", "some", "weak", "open", "not recorded", "against"]
STRENGTHS: tuple[Strength, ...] = get_args(Strength)
"""From the strongest down. Open: recorded in part, and not seen there. Not recorded stands before against, for what is
not recorded is not ruled out."""
_BETWEEN_PLANTS: tuple[Form, ...] = ("plants", "drift")
YOUNG_DAYS = 10
"""Days from opening within which a flower or young pod is mostly lost (own rule)."""


@attrs.frozen(eq=False)
class Weighed:
    """A candidate with its evidence, whether the flowers show what it predicts, and how strongly both speak for it."""

    candidate: Candidate
    evidence: Evidence
    fit: Fit
    strength: Strength

    @property
    def ruled_out(self) -> bool:
        """Whether records of the whole flowering, or the flowers themselves, stand against it."""
        return self.strength == "against"


def weighed(
    candidate: Candidate, evidence: Evidence, tests: FormTests | None, shapes: Shapes | None, usual: bool | None
) -> Weighed:
    """usual: whether as many flowers set in all as the crop usually sets, None where that is not known."""
    fit = _fit(candidate, evidence, tests, shapes, usual)
    return Weighed(candidate, evidence, fit, _strength(evidence, fit))


def _fit(
    candidate: Candidate, evidence: Evidence, tests: FormTests | None, shapes: Shapes | None, usual: bool | None
) -> Fit:
    if tests is None or shapes is None or all(test.p is None for test in tests.tests.values()):
        return "cannot be told"
    shown = [form for form in candidate.forms if tests.there(form)]
    if any(_falls_on(evidence, tests.tests[form]) for form in shown):
        return "there"
    if shown:
        return "may be"
    kept = {fit.shape for fit in shapes.fits if fit.kept}
    first = {fit.shape for fit in shapes.fits if fit.rank == 1}
    if candidate.even and (usual is not True or "even" in kept & first):
        # what takes all flowers alike leaves no form, and hides behind any: only where enough set is it not there
        return "may be"
    untold = any(tests.p(form) is None for form in candidate.forms)
    if shapes.enough and not untold and not kept & _shapes(candidate.forms):
        return "not there"
    return "may be"


def _falls_on(evidence: Evidence, test: FormTest) -> bool:
    """Whether a form can be the doing of what the records show: a difference between plants of what some plants have,
    a spell of the days on which the candidate was at work, losses on one day of flowers that opened on them."""
    if evidence.by_plants and evidence.contrast == "fewer set":
        return test.form in _BETWEEN_PLANTS
    if evidence.days is None or test.on_from is None or test.on_to is None or test.form not in ("spell", "one day"):
        return True
    if test.form == "one day":
        return any(test.on_from - timedelta(YOUNG_DAYS) <= day <= test.on_to for day in evidence.days)
    days = [test.on_from + timedelta(n) for n in range((test.on_to - test.on_from).days + 1)]
    return 2 * sum(day in evidence.days for day in days) >= len(days)


def _shapes(forms: frozenset[Form]) -> set[str]:
    return {str(form) for form in forms}


def _strength(evidence: Evidence, fit: Fit) -> Strength:
    """By what the records show, and by whether the flowers agree.

    Seen in the records, with fewer flowers setting where it was: strong where the flowers show its form, some where
    they may. Seen, with nothing to hold it against: one less. Seen, and set no less: weak. Where the records cover the
    flowering and do not show it, or the flowers show that it cannot be, they are against it.
    """
    if evidence.seen == "not seen" or fit == "not there":
        return "against"
    if evidence.seen == "seen":
        if evidence.contrast == "no fewer set":
            return "weak"
        if evidence.contrast == "fewer set":
            return "strong" if fit == "there" else "some"
        return "some" if fit == "there" else "weak"
    return "open" if evidence.seen == "in part" else "not recorded"


def the_cause(found: Sequence[Weighed], shapes: Shapes | None, harmed: bool) -> str | None:
    """The one candidate that can be named: the flowers have one form, it alone speaks strongly, and every other is
    ruled out. What is not recorded is not ruled out, so that it keeps any other from being named; and so does harm on
    record (hail, slugs), which is weighed against none of them."""
    if shapes is None or shapes.alone is None or harmed:
        return None
    strong = [one for one in found if one.strength == "strong"]
    others = [one for one in found if one.strength not in ("strong", "against")]
    return strong[0].candidate.name if len(strong) == 1 and not others else None


def left_over(found: Sequence[Weighed]) -> tuple[str, ...]:
    """Candidates that nothing rules out, the strongest first."""
    kept = [one for one in found if not one.ruled_out]
    return tuple(one.candidate.name for one in sorted(kept, key=lambda one: STRENGTHS.index(one.strength)))
