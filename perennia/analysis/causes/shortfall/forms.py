"""Which forms of failure fit a season's flowers alone, which comes first, and whether one alone can be named.

The rules and their limits were set by simulation (tests/calibration/test_shortfall_smoke.py; figures in DEVELOPERS.md).
No form is chosen by an information criterion: flowers of one truss and one day are no units of their own.
"""

from __future__ import annotations

from typing import Literal, get_args

import attrs

from perennia.analysis.causes.shortfall.form_tests import PRESENT, Form, FormTests

Shape = Literal["one day", "spell", "slow", "days", "position", "load", "even"]
SHAPES: tuple[Shape, ...] = get_args(Shape)
"""Forms that a season's failures may have as a whole; even: every flower by the same chance."""
BETWEEN_DAYS: tuple[Form, ...] = ("spell", "slow", "days")
AGAINST = 0.003
"""p of another form from which a form does not fit alone: each is held against several others."""
ABSENT = 0.1
"""p above which a form is taken as absent, where there are flowers enough to show it."""
ENOUGH_TRUSSES = 40
ENOUGH_FLOWERS = 500
ENOUGH_PLANTS = 4
ENOUGH_DAYS = 20
"""Sizes from which a form that does not show is taken as absent; below them nothing is ruled out for not showing."""
_EVEN_P = 0.011
"""Where every flower by the same chance stands in the order of p: forms with a larger one come after it."""

_OWN: dict[Shape, tuple[Form, ...]] = {
    "even": (),
    "one day": ("one day",),
    "spell": ("spell", "days", "curve"),
    "slow": ("slow", "curve"),
    "days": ("days", "spell", "slow", "curve"),
    "position": ("position", "neighbours"),
    "load": ("load", "spell", "slow", "curve", "days", "plants", "drift", "patches"),
}
"""Forms that each shape brings with it: only others stand against it. The search for a spell and a slow change holds
good and bad days against chance already, so that the few found among them are not held against days."""


@attrs.frozen
class ShapeFit:
    """One shape. kept: whether it may be the only one; rank: 1 the best, equal where two cannot be told apart; p: of
    its form; against: forms that stand out and that it does not bring."""

    shape: Shape
    kept: bool
    rank: int
    p: float | None
    against: tuple[Form, ...]


@attrs.frozen(eq=False)
class Shapes:
    """All shapes in order of rank. alone: the one that can be named, None where more than one fits or several work at
    once. enough: whether there are flowers enough to rule out what does not show. together: pairs that these flowers
    cannot tell apart."""

    fits: tuple[ShapeFit, ...]
    alone: Shape | None
    enough: bool
    together: tuple[tuple[Shape, Shape], ...]


def shapes(tests: FormTests) -> Shapes:
    """The shapes of a season's failures, from its form tests."""
    enough = (tests.n_trusses >= ENOUGH_TRUSSES and tests.n_flowers >= ENOUGH_FLOWERS
              and tests.n_plants >= ENOUGH_PLANTS and tests.n_days >= ENOUGH_DAYS)  # fmt: skip
    against = {shape: _against(shape, tests) for shape in SHAPES}
    kept = {shape: not against[shape] and _may_be(shape, tests, enough) for shape in SHAPES}
    keys = {shape: _place(shape, tests) for shape in SHAPES}
    order = sorted(SHAPES, key=lambda shape: (not kept[shape], keys[shape]))
    together = _together(tests, kept)
    ranks = _ranks(order, kept, together, any(test.p is not None for test in tests.tests.values()))
    fits = tuple(ShapeFit(shape, kept[shape], ranks[shape], _p(shape, tests), against[shape]) for shape in order)
    return Shapes(fits, _alone(tests, kept, enough), enough, together)


def _p(shape: Shape, tests: FormTests) -> float | None:
    return None if shape == "even" else tests.p(shape)


def _against(shape: Shape, tests: FormTests) -> tuple[Form, ...]:
    return tuple(
        form for form, test in tests.tests.items()
        if form not in _OWN[shape] and test.p is not None and test.p <= AGAINST
    )  # fmt: skip


def _may_be(shape: Shape, tests: FormTests, enough: bool) -> bool:
    """Whether a shape that nothing stands against can be the only one: it must show, where it would."""
    if not enough or shape == "even":
        return True
    p = tests.p(shape)
    if shape == "load" and p is None:
        # a load that matters rises as pods do, and so makes days differ
        return any((tests.p(form) or 0.0) <= ABSENT for form in BETWEEN_DAYS)
    return p is None or p <= ABSENT


def _place(shape: Shape, tests: FormTests) -> tuple[float, float, int]:
    """Smaller comes first: the p of its form, then how much it takes up, then the order of SHAPES."""
    p = _EVEN_P if shape == "even" else tests.p(shape)
    weight = 0.0 if shape == "even" else tests.tests[shape].weight
    if shape in BETWEEN_DAYS and p is not None and p <= PRESENT:
        p = PRESENT
    return (1.0 if p is None else p, -weight, SHAPES.index(shape))


def _together(tests: FormTests, kept: dict[Shape, bool]) -> tuple[tuple[Shape, Shape], ...]:
    """Load moves with the date on all plants alike unless they were picked unequally."""
    if tests.p("load") is not None:
        return ()
    return tuple(("load", shape) for shape in ("spell", "slow", "days") if kept[shape] and kept["load"])


def _ranks(
    order: list[Shape], kept: dict[Shape, bool], together: tuple[tuple[Shape, Shape], ...], told: bool
) -> dict[Shape, int]:
    """Ranks by order; load stands beside the first that it cannot be told from; all alike where nothing can be told."""
    if not told:
        return dict.fromkeys(order, 1)
    places = [shape for shape in order if shape != "load" or not together]
    ranks = {shape: place for place, shape in enumerate(places, start=1)}
    if together:
        ranks["load"] = min(ranks[other] for _, other in together)
    return ranks


def _alone(tests: FormTests, kept: dict[Shape, bool], enough: bool) -> Shape | None:
    """The shape that can be named: the only one kept, itself plain to see, and every other absent."""
    left = [shape for shape in SHAPES if kept[shape] and (shape == "even" or tests.there(shape))]
    named = [shape for shape in left if shape != "even"] or left
    if not enough or len(named) != 1:
        return None
    shape = named[0]
    for form, test in tests.tests.items():
        # what a shape may bring with it need not be absent, but is not plain to see either
        most = PRESENT if form in _BLIND.get(shape, ()) else ABSENT
        if form != shape and test.p is not None and test.p <= most:
            return None
    # where load cannot be told, a change between days may be its doing; where it can, a slow change beside it cannot
    if shape == "load" or (shape in BETWEEN_DAYS and tests.p("load") is None):
        return None
    return shape


_BLIND: dict[Shape, tuple[Form, ...]] = {"position": ("neighbours",), "days": ("spell", "slow", "curve")}
"""Forms that a shape may bring with it, and that need not be absent for it to be named, only not plain to see."""
