"""What roots of a keep list are held against: the expectation of fresh stock."""

from __future__ import annotations

import statistics

import pytest

from perennia.analysis.decisions.keeping.keep_list import keep_list_of
from tests.analysis.keep_frame import LAST, asked, differing, life, of, winters
from tests.analysis.seasons_frame import frame


def test_roots_are_held_against_fresh_stock_of_the_mean_season() -> None:
    """A good year for seedlings is not held against roots: fresh crops are moved to the mean season."""
    rows = differing()
    for i in range(6):
        rows += life(f"F{i}", [825.0 + 20 * i])
    for one in rows:
        one["total_g"] += {2020: 1600.0}.get(one["season"], 0.0)
    result = asked(rows, winters=winters(19, 1))
    fresh = result.fresh.iloc[0]
    assert (fresh["n"], fresh["with_kept"]) == (18, 1)
    raw = statistics.fmean(one["total_g"] for one in rows if one["stock"] == "fresh")
    # seedlings of 2020 had 1600 g of the year's, of which a mean of four seasons holds 400
    assert raw == pytest.approx(875 + 1600 / 3, abs=30)
    assert fresh["expected"] == pytest.approx(875 + 400, abs=30)
    assert fresh["plain_mean"] == pytest.approx(raw)
    assert bool(fresh["moved"])
    assert f"whose plain mean is {raw:.0f}: each is moved to a mean season" in result.summary()
    top, bottom = result.table.iloc[0], result.table.iloc[-1]
    assert (top["keep"], bottom["keep"]) == ("yes", "no")
    assert "more than fresh stock, the winter reckoned with" in top["reason"]
    assert "less than fresh stock once the winter is reckoned with" in bottom["reason"]
    assert " p " not in result.summary()


@pytest.mark.parametrize(("beside", "moved"), [(0, False), (2, False), (3, True)])
def test_fresh_crops_are_moved_only_where_fresh_and_older_plants_shared_a_season(beside: int, moved: bool) -> None:
    """Seedlings of the first year alone, older plants ever after: what a year did cannot be told from age."""
    rows = [*differing(), *(one for i in range(beside) for one in life(f"F{i}", [800.0 + 9 * i]))]
    for one in rows:
        one["total_g"] += 400.0 * (one["stock"] == "overwintered")
    result = asked(rows)
    fresh = result.fresh.iloc[0]
    assert bool(fresh["moved"]) == moved
    plain = statistics.fmean(one["total_g"] for one in rows if one["stock"] == "fresh")
    assert fresh["plain_mean"] == pytest.approx(plain)
    assert (fresh["expected"] == pytest.approx(plain)) != moved
    text = "the plain mean of 1" if not moved else "whose plain mean is"
    assert text in result.summary()


def test_where_plants_are_not_told_apart_fresh_crops_are_left_as_they_were() -> None:
    rows = [one for i in range(5) for one in life(f"P{i}", [300.0 + i, 900.0 + i])]
    rows += [one for i in range(4) for one in life(f"F{i}", [280.0 + i])]
    result = asked(rows)
    assert result.fresh["expected"].iloc[0] == pytest.approx((5 * 302 + 4 * 281.5) / 9)
    assert "cannot be told from who stood in it" in str(result.fresh["unmoved"].iloc[0])


def test_what_the_records_cannot_tell_from_fresh_stock_is_even_and_never_before_more() -> None:
    rows = [*differing(), *life("U", [None, None]), *(one for i in range(6) for one in life(f"F{i}", [945.0 + 5 * i]))]
    result = asked(rows, winters=winters(190, 10))
    keeps = result.table["keep"].tolist()
    assert set(keeps) == {"yes", "even", "no"}
    assert keeps == sorted(keeps, key=["yes", "even", "no"].index)
    even = result.table[result.table["keep"] == "even"]["reason"]
    assert even.str.contains("as much as fresh stock, so far as the records can tell").all()
    # nothing is known of it, which is no reason to put it before those that are expected to bear more
    assert "expected to bear less than others that are not worth a place" in of(result, "U")["reason"]


def test_what_fresh_and_kept_stock_did_not_share_is_said() -> None:
    rows = [one | ({"bed": "B2", "cover": "tunnel"} if one["stock"] == "fresh" else {}) for one in differing()]
    said = " ".join(asked(rows).cautions)
    assert "the arms share no cover (kept against fresh: open" in said
    assert "the arms share no bed" in said


def test_no_fresh_stock_on_record_leaves_nothing_to_hold_roots_against() -> None:
    rows = [one | {"stock": "overwintered"} for one in differing()]
    result = asked(rows, winters=winters(19, 1))
    assert result.table["fresh_expected"].isna().all()
    assert set(result.table["keep"]) == {"even"}
    said = str(result.table["reason"].iloc[0])
    assert "nothing to hold it against: no first season of a plant from seed has a known crop" in said


def test_a_crop_that_bears_nothing_in_its_first_season_has_no_fresh_expectation() -> None:
    rows = [one | {"crop": "Asparagus officinalis"} for one in differing(seasons=5)]
    result = keep_list_of(frame(rows), LAST)
    assert "by its profile it first crops in season" in str(result.fresh["note"].iloc[0])
    assert any("too young to bear" in text for text in result.cautions)
    assert any(text.startswith("Cautions are reminders") for text in result.cautions)


def test_a_season_to_come_differs_from_the_mean_of_those_there_were_by_more_than_they_do() -> None:
    rows = differing(seasons=4)
    means = [statistics.fmean(one["total_g"] for one in rows if one["season"] == year) for year in range(2017, 2021)]
    told = asked(rows).outlook["season_variance"].iloc[0]
    assert told == pytest.approx(statistics.variance(means) * (1 + 1 / 4), rel=1e-6)
