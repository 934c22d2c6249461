"""Bearing from year to year: alternation, age and lasting differences, from rows and from a garden."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import perennia as pn
from perennia.analysis.seasons import ageing, repeatability
from perennia.analysis.seasons.bearing import BY_CROP, COLUMNS, Bearing, bearing
from perennia.analysis.seasons.variance import level_columns, variance_components
from perennia.errors import AnalysisError, ArgumentError
from tests.analysis.seasons_frame import FrameSource, lost, row

Rows = list[dict[str, Any]]


def life(label: str, crops: Sequence[float | None], began: int = 2018, **given: Any) -> Rows:
    """A plant's finished seasons from the year it began; None is a season in growth whose crop is not known."""
    return [
        row(label, began + i, **({"total_g": crop, "plant_season": i + 1, "plant": f"{label}/{began}",
                                  "kept_root": i > 0, "stock": "overwintered" if i else "fresh"} | given))
        for i, crop in enumerate(crops)
    ]  # fmt: skip


def asked(rows: Sequence[Mapping[str, Any]], **options: Any) -> Bearing:
    return bearing(FrameSource(list(rows)), **options)


def trend_of(result: Bearing, basis: str) -> pd.Series:
    (found,) = (entry for _, entry in result.trend.iterrows() if entry["basis"] == basis)
    return found


def staggered(slopes: Sequence[float], **given: Any) -> Rows:
    """Plants begun in 2018 and 2019 in turn, all seen to 2021, each on a line of its own slope."""
    rows: Rows = []
    for i, slope in enumerate(slopes):
        began = 2018 + i % 2
        rows += life(f"P{i}", [500 + 40 * i + slope * k for k in range(2022 - began)], began, **given)
    return rows


def test_seasons_of_one_number_in_both_halves_of_the_world_are_named_both() -> None:
    south = [
        entry | {"season_name": f"{entry['season']}/{entry['season'] % 100 + 1}", "site": "far", "bed": "away"}
        for entry in life("S", [300.0, 310.0, 290.0, 280.0])
    ]
    result = asked([*staggered([-10, 20, 5, -15]), *life("gone", [900.0], 2018), *south])
    assert set(result.trend["began"]) == {"2018 and 2018/19 (3), 2019 (2)"}
    assert any("plants carried into 2019 and 2019/20 were not drawn by lot" in text for text in result.cautions)


def test_one_row_a_unit_with_its_index() -> None:
    result = asked([*life("A", [120.0, 40, 110, 50]), *life("B", [50.0, None, 70, 70])])
    assert list(result.table.columns) == list(COLUMNS)
    a, b = (result.table.iloc[i] for i in (0, 1))
    assert (a["unit"], a["plants"], a["seasons"], a["pairs"], a["breaks"]) == ("A/2018", "A/2018", 4, 3, 0)
    assert a["index"] == pytest.approx((80 / 160 + 70 / 150 + 60 / 160) / 3)
    assert (b["seasons"], b["pairs"], b["breaks"], b["without_value"], b["index"]) == (3, 1, 1, 1, 0.0)
    assert (a["first_season"], a["last_season"], a["mean_crop"], result.n) == ("2018", "2021", 80.0, 2)
    crop = result.alternation.iloc[0]
    assert list(result.alternation.columns) == list(BY_CROP)
    assert (crop["n_units"], crop["index"]) == (2, pytest.approx(a["index"] / 2))
    assert any("1 time a missing season breaks the succession" in text for text in result.cautions)


def test_the_index_is_told_as_a_comparison_and_never_as_a_bare_p() -> None:
    told = asked([*life("A", [120.0, 40, 110, 50]), *life("B", [90.0, 30, 95, 35])])
    assert "the same seasons in other orders give" in told.findings[0]
    assert "too few seasons for any order to stand out" in told.findings[0]
    assert any("weather alone makes them differ" in text for text in told.cautions)
    assert " p " not in told.summary()


def test_five_seasons_in_turn_are_told_how_far_five_can_reach_and_how_many_it_takes() -> None:
    empty = asked(life("A", [90.0, 0, 90, 0, 90]))
    assert "too few seasons for any order to stand out" in empty.findings[0]
    assert "of 5 seasons the order with the most unlike neighbours comes about in 10 of 100" in empty.findings[0]
    crop = empty.alternation.iloc[0]
    assert (crop["seasons"], crop["tellable"], crop["smallest_p"]) == (5, False, pytest.approx(0.1))
    uneven = asked(life("A", [500.0, 100, 450, 120, 480])).findings[0]
    assert "cannot be told from the order that chance brings; heavy and light seasons in turn" in uneven
    assert "in turn come about in 10 of 100 orders of 5 seasons in a row, and" in uneven
    holds = "fewer than 2.5 of 100, as a plant's heavy and light seasons in turn do from 9 seasons in a row on"
    assert all(holds in told for told in (empty.findings[0], uneven))


def test_seasons_with_gaps_are_not_told_what_holds_of_seasons_in_a_row() -> None:
    # ten seasons that alternate, of which no more than two are neighbours, cannot stand out
    rows = [entry for pair in range(5) for entry in life("A", [90.0, 10], 2010 + 3 * pair, plant="A/2010")]
    told = asked(rows).findings[0]
    assert "no order of these crops could stand out" in told
    assert "of 10 seasons the order with the most unlike neighbours comes about in 13 of 100" in told
    assert told.endswith("as a plant's heavy and light seasons in turn do from 9 seasons in a row on.")


@pytest.mark.parametrize("crops", [[50.0, 50, 50], [90.0, 0, 0], [0.0, 0, 0, 5]])
def test_crops_of_which_all_orders_are_alike_come_about_in_100_of_100(crops: list[float]) -> None:
    told = asked(life("A", crops)).findings[0]
    assert "the order with the most unlike neighbours comes about in 100 of 100, and" in told


def test_seasons_enough_for_others_are_not_called_too_few() -> None:
    alike = asked(life("A", [50.0] * 9, 2010)).findings[0]
    assert "too few" not in alike
    assert "no order of these crops could stand out, so alternation can be neither shown nor ruled out" in alike
    mixed = asked(life("A", [90.0, 80, 30, 20, 95, 40, 85, 90, 25, 50], 2010)).findings[0]
    assert mixed.endswith("alternation cannot be told from the order that chance brings.")


def test_long_alternation_and_a_long_rise_are_named() -> None:
    crops = [90.0, 12, 95, 10, 88, 14, 93, 11, 91]
    assert "as in plants that alternate" in asked(life("A", crops, 2010)).findings[0]
    assert "as in a steady rise or fall" in asked(life("A", sorted(crops), 2010)).findings[0]


def test_pairs_of_two_empty_seasons_are_counted() -> None:
    result = asked(life("A", [0.0, 0.0, 80.0]))
    assert (result.table["zero_pairs"][0], result.table["index"][0]) == (1, 1.0)
    assert any("1 pair of two seasons without a crop, which has no index" in text for text in result.cautions)


@given(st.lists(st.floats(-80, 80), min_size=4, max_size=8))
def test_the_trend_is_the_mean_slope_with_its_t_interval(slopes: list[float]) -> None:
    result = asked(staggered(slopes))
    for basis in ("per survivor", "all"):
        found = trend_of(result, basis)
        mean = statistics.fmean(slopes)
        half = stats.t.ppf(0.975, len(slopes) - 1) * np.std(slopes, ddof=1) / len(slopes) ** 0.5
        assert found["change"] == pytest.approx(mean, abs=1e-6)
        assert (found["low"], found["high"]) == (pytest.approx(mean - half, abs=1e-6),
                                                 pytest.approx(mean + half, abs=1e-6))  # fmt: skip
        assert (found["n_units"], found["tested_units"], found["level"]) == (len(slopes), len(slopes), 0.95)
        assert (found["youngest"], found["oldest"]) == (1, 4)
    assert any("only partly mixed" in text for text in result.cautions)


def test_all_begun_in_one_year_have_a_raw_change_and_no_interval() -> None:
    result = asked([entry for i in range(6) for entry in life(f"P{i}", [500.0 + i, 450, 400 - i])])
    found = trend_of(result, "all")
    assert (found["confounded_with"], found["raw_change"]) == ("year", pytest.approx(-52.5))
    assert found[["change", "low", "high", "level"]].isna().all()
    assert "age and year cannot be told apart: no interval" in result.findings[1]
    told = "all units of known age that kept their place began together (2018 (6)), so age and year cannot be"
    assert any(told in text for text in result.cautions)


def test_below_three_units_there_is_no_interval() -> None:
    result = asked(staggered([10.0, 30.0]))
    found = trend_of(result, "all")
    assert found["raw_change"] == pytest.approx(20.0)
    assert found["note"] == "fewer than 3 units of known age can be followed in one place"
    assert found[["change", "low", "high"]].isna().all()
    assert asked(staggered([10.0, 30.0, 35.0])).trend["low"].notna().all()


def test_units_held_in_no_interval_are_not_told_among_those_that_began_together() -> None:
    rows = [row for label in "ABC" for row in life(label, [90.0, 80, 75])] + life("D", [9.0, 8], 2019)
    rows[-1]["bed"] = "B9"
    result = asked(rows)
    assert set(result.trend["began"]) == {"2018 (3)"}
    assert any("kept their place began together (2018 (3)), so" in text for text in result.findings)


def test_a_place_that_is_not_recorded_is_no_other_place() -> None:
    rows = [*staggered([-10, 20, 5, -15]), *life("lost", [300.0, 310], bed=None)]
    assert not any("units differed also in bed" in text for text in asked(rows).cautions)
    rows[0]["bed"] = "B9"
    assert any("bed (2, 2 seasons without)" in text for text in asked(rows).cautions)


def test_a_change_of_place_leaves_only_the_raw_change() -> None:
    rows = staggered([10.0, 20.0, 30.0, 40.0])
    for entry in rows:
        entry["cover"] = "open" if entry["season"] < 2021 else "tunnel"
    found = trend_of(asked(rows), "all")
    assert (found["confounded_with"], found["changed_place"]) == ("change of cover", 4)
    assert found[["change", "low"]].isna().all()
    rows = staggered([10.0, 20.0, 30.0, 40.0, 90.0])
    rows[-1]["bed"] = "B9"
    partly = trend_of(asked(rows), "all")
    assert (partly["tested_units"], partly["n_units"], partly["change"]) == (4, 5, pytest.approx(25.0))
    assert partly["raw_change"] == pytest.approx(38.0)
    told = "1 unit changed bed, cover or container, or are not known to have kept them"
    assert any(told in text for text in asked(rows).cautions)


def test_plants_of_unknown_age_count_in_no_interval_of_age() -> None:
    rows = [*staggered([10.0, 20.0, 30.0, 40.0]), *life("U", [100.0, 900.0, 100.0, 900.0], plant_season=None)]
    found = trend_of(asked(rows), "all")
    assert (found["tested_units"], found["age_unknown"], found["change"]) == (4, 1, pytest.approx(25.0))
    assert any("1 unit of unknown or mixed age, counted in no interval of age" in text for text in asked(rows).cautions)
    nobody = trend_of(asked(life("U", [100.0, 900.0], plant_season=None)), "all")
    assert nobody["note"] == "the plants are of unknown or mixed age"


def test_survivors_are_those_seen_through_the_last_season() -> None:
    rows = [
        *staggered([10.0, 20.0, 30.0, 40.0]),
        *life("D", [900.0, 600.0], 2018),
        *life("K", [300.0, 310.0, 320.0, 330.0], 2018),
    ]
    rows[-1]["ended_how"] = "died"
    result = asked(rows)
    survivors, every = trend_of(result, "per survivor"), trend_of(result, "all")
    assert (survivors["n_units"], every["n_units"], survivors["not_seen_through"]) == (4, 6, 2)
    assert survivors["raw_change"] == pytest.approx(25.0)
    assert every["raw_change"] == pytest.approx((100 - 300 + 10) / 6)
    assert any("survivors are 4 of 6 units" in text for text in result.cautions)
    assert "can come of choosing alone, without any ageing" in result.findings[1]
    rows[-1]["ended_how"] = "removed"
    assert trend_of(asked(rows), "per survivor")["n_units"] == 5


def test_how_kept_plants_had_cropped_is_told() -> None:
    rows = [entry for i in range(5) for entry in life(f"K{i}", [900.0 + i, 610.0])]
    rows += [entry for i in range(15) for entry in life(f"L{i}", [400.0 + i])]
    result = asked(rows)
    assert "survivors are 5 of 20 units; in their first season on record they had averaged 902" in result.summary()
    assert "Plants kept because they had cropped well fall back towards the mean" in result.summary()
    assert "plants carried into 2019 were not drawn by lot" in result.summary()
    assert "15 units with one season only" in result.summary()
    assert "choosing after the first season works here too" in result.findings[2]


def test_repeatability_is_that_of_the_variance_components() -> None:
    random = np.random.default_rng(8)
    crops = 500 + random.normal(0, 80, (12, 1)) + random.normal(0, 60, (12, 4)) + np.array([0, 300, -100, 50])
    result = asked([entry for i, values in enumerate(crops) for entry in life(f"P{i:02}", list(values))])
    assert list(result.variance.columns) == list(repeatability.COLUMNS)
    assert list(result.trend.columns) == list(ageing.COLUMNS)
    found = result.variance.iloc[0]
    unit, season = np.repeat(np.arange(12), 4), np.tile(np.arange(4), 12)
    shares = variance_components(crops.ravel(), list(unit), level_columns(list(season)))
    names = ("between", "within", "repeatability", "low", "high")
    assert [found[name] for name in names] == pytest.approx([getattr(shares, name) for name in names])
    assert (found["mean_of"], found["repeatability_of_mean"]) == (4, pytest.approx(shares.of_mean(4)))
    assert (found["n_units"], found["n_repeated"], found["n_seasons"], found["n_values"]) == (12, 12, 4, 48)
    assert pd.isna(found["note"])
    assert "of a mean of 4 seasons" in result.findings[-1]
    assert any("where a few plants crop far more than the rest it is too narrow" in text for text in result.cautions)


def test_a_repeatability_of_nothing_is_said_to_be_nothing() -> None:
    crops = np.array([[1.0, 5, 3], [5, 3, 1], [3, 1, 5.5], [1, 5, 3.2]]) * 100
    result = asked([entry for i, values in enumerate(crops) for entry in life(f"P{i}", list(values))])
    assert result.variance["repeatability"][0] == 0.0
    assert "repeatability 0, no evidence that these plants differ" in result.findings[-1]
    assert "there are fewer than 10 units with two seasons or more, so that it tells little" in result.findings[-1]


def test_plants_out_of_step_are_closer_than_chance_and_have_no_interval() -> None:
    """On and off years in turn: every mean is the same, which chance alone would hardly bring about."""
    rows = [entry for i in range(12) for entry in life(f"P{i}", [[900.0, 100, 900, 100], [100, 900, 100, 900]][i % 2])]
    result = asked(rows)
    found = result.variance.iloc[0]
    assert (found["repeatability"], pd.isna(found["low"]), pd.isna(found["level"])) == (0.0, True, True)
    assert "by less than chance alone would bring about" in result.findings[-1]
    assert any("can be a sign of alternation out of step" in text for text in result.cautions)


def test_a_unit_is_all_plants_linked_in_any_season() -> None:
    rows = [*life("A", [100.0, 200, 300]), *life("B", [300.0, 400, 500]), *life("C", [70.0, 80, 90])]
    for entry in rows:
        if entry["label"] in ("A", "B") and entry["season"] == 2019:
            entry |= {"unit": "A/2018", "sharing": 2}
    result = asked(rows)
    assert result.table["plants"].tolist() == ["A/2018, B/2018", "C/2018"]
    assert result.table["mean_crop"].tolist() == [300.0, 80.0]
    assert any("1 unit of several plants linked by shared pickings" in text for text in result.cautions)
    whole = asked(rows, labels=["B"])
    assert whole.table["plants"].tolist() == ["A/2018, B/2018"]


def test_plants_of_different_age_in_one_basket_have_no_age() -> None:
    rows = [*life("A", [100.0, 200, 300]), *life("B", [300.0, 400], 2019)]
    for entry in rows[1:]:
        entry |= {"unit": "A/2018", "sharing": 2}
    found = trend_of(asked(rows), "all")
    assert (found["age_unknown"], found["n_units"], found["tested_units"]) == (1, 1, 0)
    assert found["note"] == "the plants are of unknown or mixed age"
    assert "1 unit of linked plants that were not all there in every season" in asked(rows).summary()


def test_a_stand_is_one_unit_taken_a_plant() -> None:
    result = asked(life("S", [1000.0, 1500.0], plants=10))
    assert (result.table["mean_crop"][0], result.n) == (125.0, 1)
    assert any("1 unit with stands of several plants" in text for text in result.cautions)


def test_a_season_still_running_for_any_is_left_out_for_all() -> None:
    rows = [*life("A", [100.0, 110, 120]), *life("B", [100.0, 90, 10]), *life("E", [80.0, 70, 5], site="Hill")]
    rows[2]["finished"] = False
    result = asked(rows)
    assert result.table.set_index("unit")["last_season"].to_dict() == {
        "A/2018": "2019", "B/2018": "2019", "E/2018": "2020",
    }  # fmt: skip
    assert any("season 2020 is still running for some plants and is left out for all (2 plant seasons)" in text
               for text in result.cautions)  # fmt: skip


def test_roots_lost_in_the_winter_bore_no_empty_crop() -> None:
    rows = [*life("A", [100.0, 110, 120]), *life("L", [100.0, 90]), lost("L", 2020, plant="L/2018", total_g=0.0)]
    found = asked(rows).table.set_index("unit").loc["L/2018"]
    assert (found["seasons"], found["last_season"]) == (2, "2019")


def test_choices_of_measure_crop_and_labels() -> None:
    rows = [*life("A", [100.0, 50.0]), *life("B", [10.0, 20.0], crop="pepper")]
    for entry in rows:
        entry["count"] = 7
    assert set(asked(rows).table["crop"]) == {"bean", "pepper"}
    assert asked(rows, crop="pepper").table["unit"].tolist() == ["B/2018"]
    counts = asked(rows, measure="count")
    assert (set(counts.table["measure"]), counts.measure) == ({"count"}, "count")
    assert counts.table["index"].tolist() == [0.0, 0.0]
    assert asked(rows, labels=["A/2018"]).table["unit"].tolist() == ["A/2018"]
    missing = asked(rows, labels=["A", "Z9"])
    assert "No plant here has the label Z9." in missing.cautions


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(AnalysisError, match="t50 is no crop, and bearing is of crops: choose one of total_g, count"):
        asked([], measure="t50")
    with pytest.raises(AnalysisError, match="unknown measure 'weight'"):
        asked([], measure="weight")
    with pytest.raises(ArgumentError, match="crop is 3"):
        asked([], crop=3)
    with pytest.raises(ArgumentError, match="labels is 3"):
        asked([], labels=3)


def test_next_to_nothing_is_answered_in_words() -> None:
    empty = asked([])
    assert empty.findings == ("No season that is over, with a known crop, is on record for what was asked.",)
    assert (empty.n, len(empty.table), len(empty.trend), len(empty.variance), len(empty.alternation)) == (0, 0, 0, 0, 0)
    one_season = asked([*life("A", [100.0]), *life("B", [120.0])]).summary()
    assert "no unit has two neighbouring seasons with a crop, so there is no index" in one_season
    assert "change with age: no unit has two seasons" in one_season
    assert "no unit has a second season, so there is no repeatability" in one_season
    one_plant = asked(life("A", [100.0, 140.0]))
    assert "with two seasons a unit there is no other order to hold it against" in one_plant.summary()
    assert "one unit alone has nothing to differ from" in one_plant.summary()
    assert one_plant.trend["low"].isna().all()
    unweighed = asked(life("A", [None, None]))
    assert unweighed.findings == ("bean: no season that is over has a known crop, so nothing can be said.",)
    assert "bean: 1 unit left out, no season has a known crop in that measure (measure= asks for another)." in (
        unweighed.cautions
    )
    running = asked(life("A", [100.0], finished=False))
    assert "no season that is over" in running.findings[0]
    apart = asked([*life("A", [100.0, 110], 2015), *life("B", [120.0, 140], 2019)])
    assert "too few units share their seasons" in apart.summary()
    alike = asked([*life("A", [100.0, 100.0]), *life("B", [100.0, 100.0])])
    assert "every unit cropped alike in every season" in alike.summary()


histories = st.lists(
    st.tuples(
        st.integers(2015, 2018),
        st.lists(st.one_of(st.none(), st.sampled_from([0.0, 10.0, 55.5, 400.0])), min_size=1, max_size=4),
        st.booleans(), st.sampled_from([None, "died", "removed"]), st.sampled_from(["B1", "B2", None]),
    ),
    max_size=6,
)  # fmt: skip


@given(histories)
def test_any_garden_is_answered(plants: list[tuple[int, list[float | None], bool, str | None, str | None]]) -> None:
    rows: Rows = []
    for i, (began, crops, known, ended, bed) in enumerate(plants):
        ours = life(f"P{i}", crops, began, bed=bed, **({} if known else {"plant_season": None}))
        ours[-1]["ended_how"] = ended
        rows += ours
    result = asked(rows)
    assert result.findings
    assert result.n == len(result.table) == sum(any(crop is not None for crop in crops) for _, crops, *_ in plants)
    known = result.table["index"].dropna().astype(float)
    assert known.between(0, 1).all()
    share = result.variance["repeatability"].dropna().astype(float)
    assert share.between(0, 1).all()
    assert (result.trend["low"].isna() == result.trend["change"].isna()).all()
    assert "nan" not in result.summary().lower()
    assert "none" not in result.summary().replace("Cautions: none.", "").lower()


def test_a_garden_of_three_seasons_through_the_door(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    assert bearing(garden).n == 0
    garden.record(pn.Site("home", latitude=51.0), pn.Bed("b", "home"), today="2024-02-01")
    for i in range(3):
        label, began = f"A{i}", 2020 + (i == 2)
        garden.record(pn.Sown(label, f"{began}-04-10", crop="Phaseolus coccineus", bed="b"), today="2024-02-01")
        for year in range(began, 2023):
            garden.record(pn.Picked(label, f"{year}-08-01", 200 + 100 * ((year + i) % 2)), today="2024-02-01")
    garden.record(pn.Noted("2023-02-01", bed="b", what="the season after has begun"), today="2024-02-01")
    result = bearing(garden)
    assert result.table["unit"].tolist() == ["A0/2020", "A1/2020", "A2/2021"]
    assert result.table["pairs"].tolist() == [2, 2, 1]
    assert result.table["index"].tolist() == pytest.approx([0.2, 0.2, 0.2])
    assert trend_of(result, "all")["n_units"] == 3
