"""How a keep list meets a target: by roots, by sowings, by both, and how much seed that takes."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from perennia.analysis.decisions.keeping.keep_list import keep_list_of
from perennia.analysis.decisions.keeping.keep_roots import Root
from perennia.analysis.decisions.keeping.keep_seed import seeds_for
from tests.analysis.keep_frame import LAST, alike, asked, books, differing, life, winters
from tests.analysis.seasons_frame import frame


def test_a_target_is_met_by_roots_by_seed_and_by_both() -> None:
    rows = differing()
    easy, hard = (asked(rows, winters=winters(19, 1), target=target) for target in (2000.0, 6000.0))
    ways = easy.plan.set_index("plan")
    assert {"roots", "sowings", "roots and sowings"} <= set(ways.index)
    assert (ways["probability"] >= 0.9).all()
    assert ways.loc["roots", "roots"] < hard.plan.set_index("plan").loc["roots", "roots"]
    assert ways.loc["sowings", "sowings"] < hard.plan.set_index("plan").loc["sowings", "sowings"]
    surer = asked(rows, winters=winters(19, 1), target=6000.0, assurance=0.99).plan.set_index("plan")
    assert surer.loc["sowings", "sowings"] > hard.plan.set_index("plan").loc["sowings", "sowings"]
    assert "a target of 6000 g is met" in hard.summary()


def test_plans_and_insurance_take_no_more_roots_than_there_are_places() -> None:
    """Of twelve equals for six places all are left to choose from, and six are reckoned with."""
    rows = [*alike(), *(one for i in range(4) for one in life(f"F{i}", [600.0 + 40 * i]))]
    roomy, tight = (asked(rows, winters=winters(18, 2), target=6000.0, places=places) for places in (None, 6))
    ways = tight.plan.set_index("plan")
    assert ways.loc["roots and sowings", "roots"] == 6
    assert pd.isna(ways.loc["roots", "roots"])
    assert "the roots for 6 winter places do not meet it" in tight.summary()
    assert roomy.plan.set_index("plan").loc["roots", "roots"] > 6
    assert "as the 6 roots that may be kept are expected to" in tight.summary()
    none = asked(rows, winters=winters(18, 2), target=6000.0, places=0).plan.set_index("plan")
    assert (none["roots"].fillna(0) == 0).all()


def test_roots_that_may_die_take_more_than_roots_that_do_not() -> None:
    safe, risky = (asked(differing(), winters=known, target=2500.0).plan.set_index("plan").loc["roots", "roots"]
                   for known in (winters(200, 0), winters(100, 100)))  # fmt: skip
    assert risky > safe
    unknown = asked(differing(), target=2500.0)
    assert unknown.plan.set_index("plan").loc["roots", "winter_reckoned"] == np.False_
    assert "if every root lives, for survival is not known" in unknown.summary()


def test_seasons_that_differ_take_more_roots_and_sowings() -> None:
    """A bad year is bad for all: more plants do not make up for it as they do for single ones that fail."""
    calm, wild = differing(seasons=5), differing(seasons=5)
    for one in wild:
        one["total_g"] += {2017: 250.0, 2018: -250.0, 2019: 250.0, 2020: -250.0}.get(one["season"], 0.0)
    needed = [asked(rows, winters=winters(190, 10), target=3000.0).plan.set_index("plan") for rows in (calm, wild)]
    assert needed[1].loc["roots", "roots"] > needed[0].loc["roots", "roots"]
    assert needed[1].loc["sowings", "sowings"] > needed[0].loc["sowings", "sowings"]


def test_a_target_beyond_all_roots_says_so() -> None:
    result = asked(differing(), winters=winters(19, 1), target=90_000.0)
    assert pd.isna(result.plan.set_index("plan").loc["roots", "roots"])
    assert "is not met by the roots alone" in result.summary()


def test_losing_the_fullest_box_is_shown_apart() -> None:
    roots = books(**{f"P{i:02}": Root(box="crate 1" if i > 6 else None) for i in range(12)})
    result = asked(differing(), books=roots, winters=winters(19, 1), target=8000.0)
    ways = result.plan.set_index("plan")
    assert "roots without box crate 1" in ways.index
    assert ways.loc["roots without box crate 1", "sowings"] > ways.loc["roots and sowings", "sowings"]
    assert 'should all in the box "crate 1" be lost,' in result.summary()


def lot(event: str, on: date, **given: Any) -> dict[str, Any]:
    return {"lot": "own", "event": event, "on_to": on, "sown": None, "germinated": None} | given


def test_seed_is_sown_by_the_latest_test_of_its_lot() -> None:
    tests = [
        lot("seed_saved", date(2014, 9, 1)),
        lot("germination_test", date(2015, 2, 1), sown=20, germinated=19),
        lot("germination_test", date(2020, 2, 1), sown=20, germinated=10),
    ]
    result = asked(differing(), lots={"bean": tests}, winters=winters(19, 1), target=6000.0)
    seed = result.seeds.iloc[0]
    assert (seed["tested"], seed["germinated"], seed["age_years"]) == (20, 10, 7)
    alone = result.plan.set_index("plan").loc["sowings", "sowings"]
    assert seed["sow_alone"] == seeds_for(int(alone), 10, 20, 0.9)
    assert seed["sow_alone"] > 1.5 * alone
    assert "lot own germinated 10 of 20" in result.summary()
    untested = asked(differing(), lots={"bean": tests[:1]})
    assert "no lot of seed has a germination test" in untested.summary()
    assert "no seed lot of this crop is on record" in asked(differing()).summary()


def test_old_seed_and_old_tests_are_to_be_minded() -> None:
    rows = [one | {"crop": "Phaseolus coccineus"} for one in differing()]
    tests = [lot("seed_saved", date(2014, 9, 1)),
             lot("germination_test", date(2015, 2, 1), sown=20, germinated=19)]  # fmt: skip
    note = str(keep_list_of(frame(rows), LAST, lots={"Phaseolus coccineus": tests}).seeds["note"].iloc[0])
    assert "7 years old by then, and its crop's seed is counted on for 3" in note
    assert "tested in 2015, seed loses life with age: test it again" in note


@given(st.integers(1, 30), st.integers(1, 40), st.data())
def test_seeds_to_sow_are_enough_and_one_fewer_is_not(plants: int, tested: int, data: st.DataObject) -> None:
    germinated = data.draw(st.integers(1, tested))
    seeds = seeds_for(plants, germinated, tested, 0.9)
    if seeds is None:
        return
    law = [stats.betabinom(n, germinated + 0.5, tested - germinated + 0.5).sf(plants - 1) for n in (seeds, seeds - 1)]
    assert law[0] >= 0.9 > law[1]


def test_insurance_is_said_without_a_target() -> None:
    result = asked(differing(), winters=winters(19, 1))
    worth = result.table[result.table["keep"].isin(["yes", "even"])]["expected"].sum()
    sowings = int(np.ceil(worth / result.fresh["expected"].iloc[0]))
    assert f"should every root be lost in one store, {sowings} plants from seed" in result.summary()
    assert result.plan.empty
