"""Whether a keep list tells ageing from choosing, from the survival of the strong, and from the year."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.analysis.keep_frame import LAST, Rows, asked, differing, life


def staggered(age: float) -> Rows:
    """Plants begun in each of four years, whose later seasons bear so much more."""
    random = np.random.default_rng(11)
    rows: Rows = []
    for i in range(16):
        crops = 700 + 40 * random.normal() + 30 * random.normal(size=1 + i % 4)
        crops[1:] += age
        rows += life(f"P{i:02}", [float(crop) for crop in crops])
    return rows


def test_age_is_taken_up_where_it_can_be_told() -> None:
    result = asked(staggered(-200.0))
    outlook = result.outlook.iloc[0]
    assert outlook["age_low"] <= -200 <= outlook["age_high"]
    assert outlook["age_high"] < 0
    assert "in later seasons plants bore -" in result.summary()
    # every root kept will be in a later season
    assert result.table["expected_if_alive"].mean() < result.table["fresh_expected"].iloc[0] - 100


@pytest.mark.parametrize("how", ["died", "removed", None])
def test_a_plant_that_is_missing_leaves_age_untold(how: str | None) -> None:
    rows = [*staggered(-200.0), *(one | {"ended_how": how} for one in life("G", [600.0], until=LAST - 2))]
    result = asked(rows)
    assert pd.isna(result.outlook["age_change"].iloc[0])
    assert "1 plant that had borne before died, had been taken out" in str(result.outlook["age_note"].iloc[0])
    assert "without any ageing" in result.summary()


def test_strong_plants_that_live_on_are_not_taken_for_plants_that_grew_better_with_age() -> None:
    """Every plant bears the same in every year; the weaker half of the first sowing dies in store."""
    crops = [200.0, 300.0, 350.0, 400.0, 450.0, 900.0, 950.0, 1000.0, 1100.0, 1200.0]
    rows = [one for i, crop in enumerate(crops) for one in life(f"Q{i}", [crop])]
    for i, crop in enumerate(crops):
        both = life(f"P{i}", [crop, crop])
        rows += both if crop > 500 else [both[0], both[1] | {"total_g": None, "grew": False, "ended_how": "died"}]
    result = asked(rows)
    assert pd.isna(result.outlook["age_change"].iloc[0])
    assert "5 plants that had borne before died" in str(result.outlook["age_note"].iloc[0])


def test_age_takes_effects_of_plants() -> None:
    """Without them the lead of those that lasted would count as age."""
    rows = [one for i in range(4) for one in life(f"P{i}", [900.0 + i, 901.0 + 2 * i])]
    rows += [one for i in range(4) for one in life(f"F{i}", [400.0 + 3 * i])]
    result = asked(rows)
    assert pd.isna(result.outlook["age_change"].iloc[0])
    assert "plants are not told apart" in str(result.outlook["age_note"].iloc[0])


def test_plants_whose_first_season_is_not_on_record_say_nothing_of_age() -> None:
    old = [one | {"stock": "overwintered", "kept_root": True} for i in range(20)
           for one in life(f"U{i}", [560.0 + i])]  # fmt: skip
    alone, beside = (asked(rows).outlook.iloc[0] for rows in (staggered(-200.0), [*staggered(-200.0), *old]))
    assert beside["age_change"] == pytest.approx(alone["age_change"], abs=3)


@pytest.mark.parametrize(("young", "told"), [(2, False), (3, True)])
def test_age_takes_three_plants_of_either_age_in_one_season(young: int, told: bool) -> None:
    rows = [one for i in range(young) for one in life(f"Y{i}", [600.0 + 9 * i])]
    result = asked([*differing(), *rows])
    assert (result.outlook["age_change"].notna().iloc[0]) == told
    assert told or "fewer than 3 plants of either age" in result.summary()


def test_plants_of_unknown_age_leave_the_effect_of_age_as_it_is() -> None:
    rows = [one for i in range(4) for one in life(f"U{i}", [3000.0, 3000.0], stock=None)]
    result = asked([*staggered(-200.0), *rows])
    outlook = result.outlook.iloc[0]
    assert outlook["age_low"] <= -200 <= outlook["age_high"]


def test_plants_of_one_beginning_cannot_tell_age_from_year() -> None:
    note = str(asked(differing()).outlook["age_note"].iloc[0])
    assert "age and year cannot be told apart" in note
