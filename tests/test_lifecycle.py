"""The table of states says what growers see, and the search for an order is as good as trying every order."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from perennia import lifecycle
from perennia.lifecycle import (
    ACTS,
    BEGINNINGS,
    ENDED,
    GROWTH,
    OPENING,
    STATE_WORDS,
    STATES,
    TRANSITIONS,
    Happening,
    Placement,
    place,
)  # fmt: skip

# what happened -> the states it led through -> what must have happened unrecorded, in order
LIVES = {
    "sown in place": ("sown emerged flowered picked", "sown growing growing growing", ""),
    "raised and planted out": ("sown emerged planted picked", "sown growing growing growing", ""),
    "a stand counted": ("sown counted counted picked", "sown growing growing growing", "emerged"),
    "emergence is nobody's note": ("sown picked", "sown growing", "emerged"),
    "already there": ("already_here flowered picked", "growing growing growing", ""),
    "a young plant bought": ("acquired_plant planted picked", "growing growing growing", ""),
    "a dormant root bought": ("acquired_root planted regrew picked", "lifted dormant growing growing", ""),
    "a dormant root bought and set at once": ("acquired_root_set regrew", "dormant growing", ""),
    "a bought root kept in store": ("acquired_root stored_bare replanted", "lifted stored dormant", ""),
    "wintered in the ground": ("sown died_back_whole regrew", "sown dormant growing", "emerged"),
    "wintered under mulch": ("sown emerged died_back_whole mulched regrew", "sown growing dormant dormant growing", ""),
    "lifted and stored bare": (
        "sown emerged lifted stored_bare store_checked replanted regrew picked",
        "sown growing lifted stored stored dormant growing growing", "",
    ),
    "potted under cover in leaf": (
        "acquired_plant stored_pot picked replanted picked", "growing sheltered sheltered growing growing", "",
    ),
    "a potted plant moved out": ("acquired_plant stored_pot moved", "growing sheltered growing", ""),
    "moved with the rootball": ("already_here moved flowered", "growing growing growing", ""),
    "several shoots": ("already_here died_back_whole regrew regrew", "growing dormant growing growing", ""),
    "partial dieback and recovery": ("already_here died_back_partial picked", "growing growing growing", ""),
    "whole dieback and regrowth": ("already_here died_back_whole regrew picked", "growing dormant growing growing", ""),
    "cut back": ("already_here cut_back picked", "growing growing growing", ""),
    "lost in store": ("already_here lifted stored_bare died", "growing lifted stored ended", ""),
    "composted from store": ("already_here lifted stored_bare removed", "growing lifted stored ended", ""),
    "divided, the mother ends": ("already_here divided_ending", "growing ended", ""),
    "divided, the mother goes on": ("already_here divided picked", "growing growing growing", ""),
    "divided in store": ("already_here lifted stored_bare divided", "growing lifted stored stored", ""),
    "a part of a division": ("division planted regrew", "lifted dormant growing", ""),
    "a part set at once": ("division_set regrew picked", "dormant growing growing", ""),
    "cuttings taken, and one of them": ("cutting cutting_taken picked", "growing growing growing", ""),
    "cutting off a stored root": ("already_here lifted stored_bare cutting_taken", "growing lifted stored stored", ""),
    "removed": ("sown removed", "sown ended", ""),
    "a label used again": ("sown died sown picked", "sown ended sown growing", "emerged"),
    "replanting not recorded": (
        "already_here lifted stored_bare regrew", "growing lifted stored growing", "replanted",
    ),
    "replanting and regrowth not recorded": (
        "already_here lifted stored_bare flowered", "growing lifted stored growing", "replanted regrew",
    ),
    "regrowth not recorded": ("already_here died_back_whole picked", "growing dormant growing", "regrew"),
    "lifting not recorded": ("already_here stored_bare", "growing stored", "lifted"),
    "putting away not recorded": ("already_here lifted store_checked", "growing lifted stored", "stored_bare"),
    "lifted again, so it was replanted": (
        "already_here lifted stored_bare lifted", "growing lifted stored lifted", "replanted",
    ),
    "replanted, so it was lifted": ("already_here replanted", "growing dormant", "lifted"),
    "mulched, so it stands in the ground again": ("already_here lifted mulched", "growing lifted dormant", "replanted"),
}  # fmt: skip


def lived(acts: str) -> tuple[list[str], list[str], int]:
    """The states a life goes through, what it missed, and how many of these are doubts; fails at a contradiction."""
    state, states, missed, doubts = "none", [], [], 0
    for act in acts.split():
        step = TRANSITIONS[act, state]
        state = step.after
        states.append(state)
        missed += step.inferred
        doubts += len(step.inferred) if step.doubt else 0
    return states, missed, doubts


@pytest.mark.parametrize("name", LIVES)
def test_a_life_goes_through_the_states_a_grower_sees(name: str) -> None:
    acts, states, missed = LIVES[name]
    assert lived(acts)[:2] == (states.split(), missed.split())


def test_only_an_unrecorded_emergence_is_no_doubt() -> None:
    for step in TRANSITIONS.values():
        assert step.doubt == bool(step.inferred and step.inferred != ("emerged",))
    assert lived("sown picked")[2] == 0
    assert lived("already_here lifted flowered")[2] == 2


@pytest.mark.parametrize(
    ("acts", "contradiction"),
    [
        ("", "picked"), ("", "emerged"), ("", "died"), ("", "replanted"), ("", "lifted"), ("", "divided"),
        ("sown", "sown"), ("already_here lifted", "sown"), ("acquired_root stored_bare", "acquired_plant"),
        ("already_here lifted", "picked"), ("already_here lifted stored_bare", "picked"), ("division", "picked"),
        ("sown died", "regrew"), ("sown died", "picked"), ("sown removed", "died"), ("sown died", "died"),
        ("already_here divided_ending", "flowered"), ("sown died", "counted"), ("sown", "division"),
        ("sown", "cutting"),
    ],
)  # fmt: skip
def test_a_contradiction_has_no_step(acts: str, contradiction: str) -> None:
    state = lived(acts)[0][-1] if acts else "none"
    assert (contradiction, state) not in TRANSITIONS


def test_the_table_is_whole() -> None:
    assert set(STATE_WORDS) == set(STATES)
    assert {state for _, state in TRANSITIONS} == set(STATES)
    assert {step.after for step in TRANSITIONS.values()} == set(STATES) - {"none"}
    assert set(GROWTH) <= set(ACTS)
    assert set(BEGINNINGS) <= OPENING <= set(ACTS)
    # a plant begins where there is none or where the last one has ended, and nowhere else
    for act in ACTS:
        begun_in = {state for state in STATES if (act, state) in TRANSITIONS}
        assert begun_in == {"none", ENDED} if act in BEGINNINGS else begun_in.isdisjoint({"none", ENDED})
    # what is inferred must itself be something that can be recorded
    assert {act for step in TRANSITIONS.values() for act in step.inferred} <= set(ACTS)


def test_what_is_inferred_leads_to_where_the_act_itself_is_legal_and_complete() -> None:
    """Writing down what was missed takes the doubt away and changes nothing else."""
    for (act, before), step in TRANSITIONS.items():
        state = before
        for missed in step.inferred:
            between = TRANSITIONS[missed, state]
            assert not between.doubt, f"{act} of a plant {before} misses what {missed} misses"
            state = between.after
        last = TRANSITIONS[act, state]
        assert (last.after, last.inferred) == (step.after, ()), (act, before)


# ---------------------------------------------------------------------- the search for an order

EPOCH = date(2023, 5, 1)
FOLLOWING = {state: [act for act in ACTS if (act, state) in TRANSITIONS] for state in STATES}


@st.composite
def happenings(draw: st.DrawFn, most: int = 6) -> list[Happening]:
    """Acts of one label on few days, mostly a possible life, each remembered as a span round its day, shuffled."""
    found = []
    state, day = "none", 0
    for number in range(draw(st.integers(1, most))):
        act = draw(st.sampled_from(FOLLOWING[state] if draw(st.integers(0, 9)) else ACTS))
        state = TRANSITIONS[act, state].after if (act, state) in TRANSITIONS else state
        day += draw(st.integers(0, 3))
        before, after = draw(st.tuples(st.integers(0, 5), st.integers(0, 5)) | st.just((0, 0)))
        first = EPOCH + timedelta(day - before)
        open_start = draw(st.integers(0, 9)) == 0
        found.append(
            Happening(
                bytes([number]), act, lifecycle.FIRST_DAY if open_start else first, EPOCH + timedelta(day + after)
            )
        )
    return draw(st.permutations(found))


def in_their_spans(order: tuple[Happening, ...]) -> bool:
    """Whether days can be found within the spans, none before the one before it."""
    day = lifecycle.FIRST_DAY
    for item in order:
        day = max(day, item.on_from)
        if day > item.on_to:
            return False
    return True


def cost(order: tuple[Happening, ...] | list[Happening]) -> int | None:
    """Doubts along an order, None where it contradicts itself."""
    try:
        return lived(" ".join(item.act for item in order))[2]
    except KeyError:
        return None


def fewest_doubts(items: list[Happening]) -> int | None:
    """The same found by trying every order."""
    costs = [cost(order) for order in permutations(items) if in_their_spans(order)]
    return min((found for found in costs if found is not None), default=None)


def ordered(items: list[Happening], placements: list[Placement]) -> list[Happening]:
    by_key = {item.key: item for item in items}
    return [by_key[placement.key] for placement in placements]


@given(happenings())
def test_the_order_found_is_as_good_as_the_best_of_all_orders(items: list[Happening]) -> None:
    found = place(items)
    fewest = fewest_doubts(items)
    if found is None:
        assert fewest is None
        return
    assert sorted(placement.key for placement in found) == sorted(item.key for item in items)
    assert [placement.order for placement in found] == list(range(len(items)))
    assert cost(ordered(items, found)) == fewest


@given(happenings(most=10))
def test_days_lie_in_their_spans_and_in_order(items: list[Happening]) -> None:
    found = place(items)
    if found is None:
        return
    for placement, item in zip(found, ordered(items, found), strict=True):
        assert item.on_from <= placement.on <= item.on_to
        assert placement.act == item.act
    assert all(one.on <= next_.on for one, next_ in pairwise(found))


@given(happenings(), st.randoms(use_true_random=False))
def test_the_order_does_not_hang_on_the_order_of_entry(items: list[Happening], shuffler: object) -> None:
    again = list(items)
    shuffler.shuffle(again)  # type: ignore[attr-defined]
    assert place(items) == place(again)


def of(*acts: tuple[str, str, str]) -> list[Happening]:
    return [
        Happening(bytes([number]), act, date.fromisoformat(first), date.fromisoformat(last))
        for number, (act, first, last) in enumerate(acts)
    ]


def test_a_half_remembered_death_comes_after_the_last_picking() -> None:
    items = of(
        ("sown", "2023-05-01", "2023-05-01"), ("died", "2023-08-01", "2023-08-31"),
        ("picked", "2023-08-31", "2023-08-31"),
        ("sown", "2023-09-01", "2023-09-30"),
    )  # fmt: skip
    found = place(items)
    assert found is not None
    assert [placement.act for placement in found] == ["sown", "picked", "died", "sown"]


def test_beginnings_are_taken_early_and_endings_late() -> None:
    items = of(
        ("sown", "2023-05-01", "2023-05-31"),
        ("lifted", "2023-11-01", "2023-11-30"),
        ("died", "2024-01-01", "2024-03-31"),
    )
    found = place(items)
    assert found is not None
    assert [str(placement.on) for placement in found] == ["2023-05-01", "2023-11-30", "2024-03-31"]


def test_a_very_long_life_is_placed() -> None:
    years = [("regrew", f"{year}-03-01", f"{year}-05-31") for year in range(1900, 2025)]
    years += [("died_back_whole", f"{year}-05-01", f"{year}-12-31") for year in range(1900, 2025)]
    years += [("picked", f"{year}-06-0{day}", f"{year}-06-0{day}") for year in range(1900, 2025) for day in range(1, 9)]
    items = [
        Happening(number.to_bytes(2, "big"), act, date.fromisoformat(first), date.fromisoformat(last))
        for number, (act, first, last) in enumerate([("already_here", "0001-01-01", "1899-12-31"), *years])
    ]
    found = place(items)
    assert found is not None
    assert cost(ordered(items, found)) == 0


@settings(max_examples=10)
@given(st.permutations(range(18)))
def test_a_tangle_too_large_to_search_through_is_still_ordered_legally(shuffled: list[int]) -> None:
    """Eighteen different acts that all overlap: whether with the fewest gaps or not, an order is found."""
    acts = [act for act in ACTS if act not in BEGINNINGS and act not in ("died", "removed", "divided_ending")]
    pile = ["sown", *acts[:17], "died"]
    items = [
        Happening(bytes([number]), pile[number], EPOCH + timedelta(number % 5), EPOCH + timedelta(300 + number))
        for number in [*shuffled, 18]
    ]
    found = place(items)
    assert found is not None
    assert cost(ordered(items, found)) is not None
