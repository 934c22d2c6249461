"""Forms of failure on simulated gardens, and the laws by which one is kept, ranked and named."""

from __future__ import annotations

from datetime import date, timedelta

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.analysis.causes.shortfall.candidates import CANDIDATES
from perennia.analysis.causes.shortfall.evidence import Evidence, Split
from perennia.analysis.causes.shortfall.form_tests import FORMS, Form, FormTest, FormTests, form_tests
from perennia.analysis.causes.shortfall.forms import ABSENT, AGAINST, SHAPES, shapes
from perennia.analysis.causes.shortfall.weighing import STRENGTHS, the_cause, weighed
from tests.calibration.setting_gardens import FIRST, SPELL_DAYS, garden

DRAWS = 399
SEED = 11


def with_p(n_trusses: int, **p: float | None) -> FormTests:
    """Form tests with these p, every other 0.6."""
    values: dict[Form, float | None] = {form: p.get(form.replace(" ", "_"), 0.6) for form in FORMS}
    return FormTests({form: FormTest(form, value) for form, value in values.items()}, 1200, n_trusses, 5, 30)


p_values = st.one_of(st.none(), st.sampled_from([0.0025, 0.004, 0.009, 0.05, 0.15, 0.5, 0.95]))
any_tests = st.builds(
    lambda ps, trusses: FormTests({form: FormTest(form, p) for form, p in zip(FORMS, ps, strict=True)},
                                  trusses * 20, trusses, 5, 30),
    st.lists(p_values, min_size=len(FORMS), max_size=len(FORMS)), st.sampled_from([8, 39, 40, 60]),
)  # fmt: skip


@pytest.mark.parametrize(
    ("cause", "form", "unequal"),
    [("stop", "one day", False), ("spell", "spell", False), ("stress", "slow", False), ("none", "days", False),
     ("position", "position", False), ("load", "load", True), ("whole trusses", "trusses", False),
     ("every third flower", "neighbours", False), ("weak plants", "plants", False),
     ("some plants slowly", "drift", False), ("rise and fall", "curve", False)],
)  # fmt: skip
def test_each_form_is_found_where_it_is_and_not_where_flowers_fail_at_random(
    cause: str, form: Form, unequal: bool
) -> None:
    assert form_tests(garden(cause, 2, unequal_picking=unequal), DRAWS, SEED).there(form)
    assert not form_tests(garden("random", 2, unequal_picking=unequal), DRAWS, SEED).there(form)


def test_some_plants_that_fail_for_a_week_are_found_in_most_gardens_and_not_among_others() -> None:
    def found(cause: str) -> int:
        return sum(form_tests(garden(cause, seed), DRAWS, SEED).there("patches") for seed in range(3, 9))

    assert found("some plants for a week") >= 5
    assert found("random") == 0


def test_the_day_of_a_stop_and_the_days_of_a_spell_are_told() -> None:
    stop = garden("stop", 2)
    lost: dict[date, int] = {}
    for one in stop.flowers:
        if one.lost_on:
            lost[one.lost_on] = lost.get(one.lost_on, 0) + 1
    found = form_tests(stop, DRAWS, SEED).tests["one day"]
    assert found.on_from == found.on_to == max(lost, key=lambda day: lost[day])
    spell = form_tests(garden("spell", 2), DRAWS, SEED).tests["spell"]
    assert spell.on_from is not None
    assert spell.on_to is not None
    assert (spell.on_to - spell.on_from).days == pytest.approx(SPELL_DAYS - 1, abs=2)


def test_what_one_day_took_does_not_stand_for_other_forms() -> None:
    tests = form_tests(garden("stop", 2), DRAWS, SEED)
    assert [form for form in FORMS if tests.there(form)] == ["one day"]


def test_load_is_told_only_where_picking_was_unequal() -> None:
    assert form_tests(garden("load", 2), DRAWS, SEED).p("load") is None
    found = shapes(form_tests(garden("stress", 2), DRAWS, SEED))
    assert ("load", "slow") in found.together
    assert {fit.shape for fit in found.fits if fit.rank == 1} == {"load", "slow"}
    assert found.alone is None
    assert shapes(form_tests(garden("stress", 2, unequal_picking=True), DRAWS, SEED)).together == ()


@pytest.mark.parametrize(("plants", "trusses"), [(1, 2), (1, 12), (5, 1)])
def test_few_trusses_or_one_plant_tell_nothing(plants: int, trusses: int) -> None:
    tests = form_tests(garden("stop", 2, plants=plants, trusses=trusses), DRAWS, SEED)
    assert all(test.p is None and test.reason for test in tests.tests.values())
    found = shapes(tests)
    assert found.alone is None
    assert all(fit.kept and fit.rank == 1 for fit in found.fits)


def test_days_far_apart_or_all_of_one_fate_tell_nothing() -> None:
    book = garden("random", 2)
    failed = attrs.evolve(book, flowers=tuple(
        attrs.evolve(one, set_on=None, end="flower dropped", ended_on=one.opened_on + timedelta(2))
        for one in book.flowers if one.opened_on
    ))  # fmt: skip
    assert form_tests(failed, DRAWS, SEED).tests["slow"].reason == "all flowers have one fate"
    short = attrs.evolve(book, flowers=tuple(
        one for one in book.flowers if one.opened_on and one.opened_on < FIRST + timedelta(9)
    ))  # fmt: skip
    tests = form_tests(short, DRAWS, SEED).tests
    assert tests["slow"].p is None
    assert tests["slow"].reason == "fewer than the 12 days with flowers that it takes"


@given(any_tests)
def test_laws_of_what_fits(tests: FormTests) -> None:
    found = shapes(tests)
    assert sorted(fit.shape for fit in found.fits) == sorted(SHAPES)
    assert min(fit.rank for fit in found.fits) == 1
    kept = {fit.shape for fit in found.fits if fit.kept}
    for fit in found.fits:
        assert all((tests.p(form) or 1.0) <= AGAINST for form in fit.against)
        assert not (fit.kept and fit.against)
    if found.alone is not None:
        assert found.enough
        assert found.alone in kept
        assert found.alone not in {"load"}
        assert found.alone == "even" or tests.there(found.alone)  # type: ignore[arg-type]
        for pair in found.together:
            assert found.alone not in pair
    if not found.enough:
        assert found.alone is None


@given(any_tests, st.sampled_from(FORMS))
def test_a_second_form_takes_a_verdict_away_and_never_makes_another(tests: FormTests, form: Form) -> None:
    before = shapes(tests).alone
    more = attrs.evolve(tests, tests={**tests.tests, form: FormTest(form, 0.001)})
    after = shapes(more).alone
    assert after in (None, before) or after == form


def test_an_unclear_second_form_withholds_the_verdict() -> None:
    assert shapes(with_p(60, position=0.001, load=0.5)).alone == "position"
    assert shapes(with_p(60, position=0.001, load=0.5, days=ABSENT)).alone is None
    assert shapes(with_p(39, position=0.001, load=0.5)).alone is None
    assert shapes(with_p(60, slow=0.001, load=0.5)).alone == "slow"
    assert shapes(with_p(60, slow=0.001, load=None)).alone is None
    assert shapes(with_p(60, load=0.001)).alone is None
    for form in ("curve", "patches"):
        assert shapes(with_p(60, position=0.001, load=0.5, **{form: ABSENT})).alone is None
    assert shapes(with_p(60, days=0.001, load=0.5, spell=0.02)).alone == "days"
    assert shapes(with_p(60, days=0.001, load=0.5, curve=0.01)).alone is None
    assert shapes(with_p(60, load=0.5)).alone == "even"


evidence = st.builds(
    Evidence, st.sampled_from(["seen", "not seen", "in part", "not recorded"]),
    st.sampled_from(["fewer set", "no fewer set", "no contrast"]),
)  # fmt: skip


@given(any_tests, st.lists(evidence, min_size=len(CANDIDATES), max_size=len(CANDIDATES)),
       st.sampled_from([True, False, None]), st.booleans())  # fmt: skip
def test_no_cause_is_named_where_another_is_not_ruled_out(
    tests: FormTests, found: list[Evidence], usual: bool | None, harmed: bool
) -> None:
    fits = shapes(tests)
    weights = [weighed(one, what, tests, fits, usual) for one, what in zip(CANDIDATES, found, strict=True)]
    cause = the_cause(weights, fits, harmed)
    assert not (harmed and cause)
    for one in weights:
        assert one.strength in STRENGTHS
        if one.evidence.seen == "not recorded" and one.fit != "not there":
            assert one.strength == "not recorded"
        if one.candidate.even and usual is not True:
            assert one.fit != "not there"
        if one.strength == "strong":
            assert (one.evidence.seen, one.evidence.contrast, one.fit) == ("seen", "fewer set", "there")
    if cause is not None:
        assert fits.alone is not None
        assert all(one.ruled_out for one in weights if one.candidate.name != cause)


def test_shares_of_few_flowers_are_not_held_against_each_other() -> None:
    assert Split(19, 0, 500, 400).contrast == "no contrast"
    assert Split(20, 0, 20, 19).contrast == "fewer set"
    assert Split(20, 10, 20, 10).contrast == "no fewer set"


def strength_of(name: str, what: Evidence, **dated: FormTest) -> str:
    """How strong a candidate is with that evidence, where these forms stand out."""
    tests = with_p(60, load=0.5)
    tests = attrs.evolve(tests, tests={**tests.tests, **{one.form: one for one in dated.values()}})
    (candidate,) = [one for one in CANDIDATES if one.name == name]
    return weighed(candidate, what, tests, shapes(tests), usual=True).strength


def test_a_spell_or_a_stop_on_other_days_does_not_make_a_candidate_strong() -> None:
    spell = FormTest("spell", 0.0025, on_from=FIRST, on_to=FIRST + timedelta(5))
    for start, strength in ((0, "strong"), (3, "strong"), (4, "some"), (20, "some"), (-3, "strong"), (-4, "some")):
        days = frozenset(FIRST + timedelta(start + n) for n in range(6))
        hot = Evidence("seen", "fewer set", days=days)
        assert strength_of("hot nights or days", hot, spell=spell) == strength, start
    stop = FormTest("one day", 0.0025, on_from=FIRST, on_to=FIRST)
    for day, strength in ((-11, "some"), (-10, "strong"), (0, "strong"), (1, "some")):
        hit = Evidence("seen", "fewer set", days=frozenset({FIRST + timedelta(day)}))
        assert strength_of("water deficit", hit, stop=stop) == strength, day


def test_a_change_on_all_plants_is_not_the_doing_of_what_some_of_them_have() -> None:
    beside = Evidence("seen", "fewer set", by_plants=True)
    assert strength_of("neighbours' demand", beside, slow=FormTest("slow", 0.0025)) == "some"
    assert strength_of("neighbours' demand", beside, plants=FormTest("plants", 0.0025)) == "strong"


def test_what_takes_all_flowers_alike_is_ruled_out_by_a_form_only_where_as_many_set_as_usual() -> None:
    tests = with_p(60, position=0.001, load=0.5)
    visits = CANDIDATES[0]
    found = [weighed(visits, Evidence("not recorded"), tests, shapes(tests), usual).strength
             for usual in (True, False, None)]  # fmt: skip
    assert found == ["against", "not recorded", "not recorded"]


def test_harm_on_record_keeps_any_cause_from_being_named() -> None:
    tests = with_p(60, spell=0.001, load=0.5)
    fits = shapes(tests)
    weights = [
        weighed(one, Evidence("seen", "fewer set") if one.name == "cold nights" else Evidence("not seen"), tests, fits,
                usual=True)
        for one in CANDIDATES
    ]  # fmt: skip
    assert the_cause(weights, fits, harmed=False) == "cold nights"
    assert the_cause(weights, fits, harmed=True) is None
