"""Projections of running seasons: on what they rest, what is withheld, and the arithmetic of their intervals."""

from __future__ import annotations

import math
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import perennia as pn
from perennia.analysis.seasons.picking_curves import read_curves, usual_gaps
from perennia.analysis.seasons.projecting import project
from perennia.analysis.seasons.projection_bases import FinishedSeasons
from perennia.analysis.seasons.projections import COLUMNS, project_totals
from tests.analysis.picked_garden import BEAN, TODAY, garden, later, over_winter, picked, sown, unpicked_and_picked

WHOLE = [100.0] * 10
"""Ten pickings at 3 days; after the fourth, 40 % is in."""


def only(plot: pn.Garden, label: str, **choice: int) -> pd.Series:
    found = project_totals(plot, labels=[label], **choice)
    assert found.table.dtypes.astype(str).to_dict() == COLUMNS
    (row,) = (row for _, row in found.table.iterrows())
    return row


def seasons_of(label: str, first: int, starts: dict[int, int], running: int) -> list[pn.Record]:
    """A bean sown in the first year and kept; by season, pickings from so many days after 10 July. running: pickings so
    far in the last."""
    made = [sown(label, first)]
    for year, start in starts.items():
        made += over_winter(label, year) if year > first else []
        crop = WHOLE[:running] if year == max(starts) else WHOLE
        made += picked(label, date(year, 7, 10) + timedelta(start), crop)
    return made


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    """K1 has three overwintered seasons behind it, K2 one, F1 none; all run in 2024. F2 ended early in it, and is no
    measure of the others."""
    return garden(
        tmp_path_factory.mktemp("projections"),
        *seasons_of("K1", 2020, {2020: 20, 2021: 0, 2022: 3, 2023: -3, 2024: 0}, 4),
        *seasons_of("K2", 2022, {2022: 23, 2023: 3, 2024: 3}, 3),
        sown("F1", 2024), *picked("F1", date(2024, 7, 13), [100.0] * 3), sown("F2", 2024),
        *picked("F2", date(2024, 7, 13), [100.0] * 3), pn.Removed("F2", "2024-07-25", reason="given away"),
    )  # fmt: skip


def test_own_seasons_of_the_same_stock(plot: pn.Garden) -> None:
    row = only(plot, "K1")
    # by 19 July, in whatever year, a picking more or less was in
    assert row["to_date"] == 400
    assert row["as_of"] == pd.Timestamp("2024-07-19")
    assert row["as_of_day"] == 201
    shares = [0.4, 0.3, 0.5]
    logs = -np.log(shares)
    center, margin = logs.mean(), stats.t.ppf(0.975, 2) * logs.std(ddof=1) * math.sqrt(4 / 3)
    assert row["projected"] == pytest.approx(400 * math.exp(center))
    assert row["low"] == pytest.approx(max(400, 400 * math.exp(center - margin)))
    assert row["high"] == pytest.approx(400 * math.exp(center + margin))
    assert (row["n"], row["years"], row["basis"], row["level"]) == (3, 3, "own seasons", 0.95)
    assert pd.isna(row["withheld"])


def test_else_plants_of_the_crop_and_stock(plot: pn.Garden) -> None:
    row = only(plot, "K2")
    assert (row["n"], row["years"], row["basis"]) == (4, 3, "crop, overwintered")
    found = project_totals(plot, labels=["K2"])
    assert any("of two or three years" in caution for caution in found.cautions)
    assert found.n == 1
    assert "a projection, not a record" in found.findings[0]
    assert "projections, not records" in found.units


def test_else_plants_of_the_crop_of_any_stock(plot: pn.Garden) -> None:
    """Two fresh seasons are too few; in them nothing was in by then, so that four of six have begun."""
    row = only(plot, "F1")
    assert (row["n"], row["basis"]) == (4, "crop")
    assert pd.isna(row["high"])
    assert row["level"] == pytest.approx(3 / 4)
    cautions = project_totals(plot, labels=["F1"]).cautions
    assert any("there is no upper limit" in caution for caution in cautions)
    assert any("of any stock" in caution for caution in cautions)


def test_what_running_seasons_of_one_day_are_held_against_is_worked_out_once(plot: pn.Garden) -> None:
    _, curves = read_curves(plot)
    one, other = (curves["K1/2020", 2024], curves["K2/2022", 2024])
    assert one.on(one.visits[-1]) == other.on(other.visits[-1])
    for basis in FinishedSeasons(curves).bases(other):
        assert basis.standing(one) is basis.standing(other)


def test_what_is_over_is_not_projected_and_choices_narrow(plot: pn.Garden) -> None:
    assert set(project_totals(plot).table["label"]) == {"K1", "K2", "F1"}
    assert project_totals(plot, season=2023).n == 0
    assert project_totals(plot, season=2023).findings == ("No running season can be projected.",)
    assert set(project_totals(plot, season=2024, crops=[BEAN]).table["label"]) == {"K1", "K2", "F1"}
    assert project_totals(plot, crops=["Rheum x hybridum"]).table.empty


def fresh(*labels: str, year: int = 2023, bed: str = "b") -> list[pn.Record]:
    """Plants sown and picked to the end in one year."""
    return [
        record for label in labels
        for record in (sown(label, year, bed), *picked(label, date(year, 7, 10), WHOLE),
                       pn.Removed(label, date(year, 11, 1), reason="compost"))
    ]  # fmt: skip


def test_plants_of_the_other_half_of_the_world_say_nothing_of_a_date(tmp_path: Path) -> None:
    """In January the south picks, and all that the north picked is in: shares of 1 would make a whole of what is in."""
    south = [pn.Sown(f"S{n}", "2021-10-10", crop=BEAN, bed="far") for n in (1, 2)]
    south += picked("S1", date(2022, 1, 9), WHOLE) + picked("S2", date(2022, 1, 12), WHOLE)
    south += [pn.Sown("S3", "2022-10-10", crop=BEAN, bed="far"), *picked("S3", date(2023, 1, 9), WHOLE[:4])]
    north = [record for n in range(4) for record in (sown(f"N{n}", 2021), *picked(f"N{n}", date(2021, 7, 10), WHOLE))]
    plot = garden(tmp_path, pn.Site("away", latitude=-36.0), pn.Bed("far", "away"), *north, *south)
    assert "fewer than 3 finished seasons to go by" in str(only(plot, "S3")["withheld"])
    plot.record(pn.Sown("S4", "2021-10-10", crop=BEAN, bed="far"), *picked("S4", date(2022, 1, 6), WHOLE), today=TODAY)
    row = only(plot, "S3")
    shares = -np.log([0.4, 0.3, 0.5])
    assert (row["n"], row["projected"]) == (3, pytest.approx(400 * math.exp(shares.mean())))


def test_seasons_running_in_both_halves_of_the_world_are_held_each_against_its_own(tmp_path: Path) -> None:
    south = [pn.Sown(f"S{n}", "2021-08-10", crop=BEAN, bed="far") for n in range(3)]
    south += [one for n in range(3) for one in picked(f"S{n}", date(2021, 11, 6 + 3 * n), WHOLE)]
    south += [pn.Sown("S3", "2022-08-10", crop=BEAN, bed="far"), *picked("S3", date(2022, 11, 9), WHOLE[:4])]
    north = [record for n in range(4) for record in (sown(f"N{n}", 2021), *picked(f"N{n}", date(2021, 7, 10), WHOLE))]
    north += [sown("N4", 2022), *picked("N4", date(2022, 11, 9), WHOLE[:4])]
    plot = garden(tmp_path, pn.Site("away", latitude=-36.0), pn.Bed("far", "away"), *north, *south)
    # in November the north had all in, and the south a part
    found = project_totals(plot, season=2022, labels=["N4", "S3"]).table.set_index("label")
    assert found["withheld"].notna().to_dict() == {"N4": True, "S3": False}
    assert found["n"]["S3"] == 3


@pytest.mark.parametrize(("gaps", "usual"), [(1, 1.0), (4, 1.0), (5, 10.0)])
def test_a_crop_without_a_profile_takes_the_gap_of_the_garden_once_it_shows_five(
    tmp_path: Path, gaps: int, usual: float
) -> None:
    crop = "Tropaeolum tuberosum"
    plot = garden(tmp_path, pn.Sown("A", "2023-05-01", crop=crop, bed="b"),
                  *picked("A", date(2023, 8, 1), [90.0] * (gaps + 1), 10))  # fmt: skip
    assert usual_gaps(plot, [crop]) == {crop: usual}


def test_one_year_only_is_said(tmp_path: Path) -> None:
    plot = garden(tmp_path, *fresh("A", "B", "C", bed="tunnel"), sown("R", 2024),
                  *picked("R", date(2024, 7, 10), [90.0] * 5))  # fmt: skip
    row = only(plot, "R")
    assert (row["projected"], row["n"], row["years"], row["basis"]) == (pytest.approx(900), 3, 1, "crop, fresh")
    # all shares equal: what three seasons can show is 3 in 4
    assert (row["low"], row["high"], row["level"]) == (pytest.approx(900), pytest.approx(900), 0.75)
    cautions = project_totals(plot).cautions
    assert any("one year only: all saw the same weather" in caution for caution in cautions)
    assert any("under another cover" in caution for caution in cautions)


def test_labels_linked_by_a_picking_are_one_unit(tmp_path: Path) -> None:
    linked = [sown("A", 2023), sown("B", 2023), *picked(("A", "B"), date(2023, 7, 10), WHOLE)]
    plot = garden(tmp_path, *linked, *fresh("C"), sown("R", 2024), *picked("R", date(2024, 7, 10), [90.0] * 5))
    row = only(plot, "R")
    assert row["withheld"] == "fewer than 3 finished seasons to go by"
    assert pd.isna(row["projected"])
    assert pd.isna(row["n"])
    assert row["to_date"] == 450


def test_a_clearance_is_left_out_of_the_shares(tmp_path: Path) -> None:
    stripped = [
        record for label in ("A", "B", "C")
        for record in (sown(label, 2023), *picked(label, date(2023, 7, 10), [*WHOLE, 5000.0], clearance_last=True))
    ]  # fmt: skip
    plot = garden(tmp_path, *stripped, sown("R", 2024), *picked("R", date(2024, 7, 10), [90.0] * 5))
    assert only(plot, "R")["projected"] == pytest.approx(900)


def test_a_vaguely_dated_picking_leaves_a_season_out(tmp_path: Path) -> None:
    plot = garden(tmp_path, *fresh("A", "B", "C"), pn.Picked("A", "2023-07/2023-08", grams=10), sown("R", 2024),
                  *picked("R", date(2024, 7, 10), [90.0] * 5))  # fmt: skip
    assert only(plot, "R")["withheld"] == "fewer than 3 finished seasons to go by"


@pytest.mark.parametrize(
    ("records", "reason"),
    [
        ([], "not picked yet"),
        ([pn.Picked("R", "2024-07-09", grams=0)], "not picked yet"),
        (picked("R", date(2024, 7, 9), [90.0, 90.0, 90.0], clearance_last=True),
         "a clearance took what would have ripened later"),
        ([pn.Picked("R", "2024-07-09", grams=90), pn.Picked("R", "2024-07-12", count=4)],
         "some pickings not weighed and some not counted"),
        ([pn.Picked("R", "2024-06/2024-07", grams=90)], "no picking dated to 14 days"),
        (picked("R", date(2024, 6, 1), [90.0] * 3), "fewer than 3 finished seasons had anything in by that day"),
        # the others had given all by the end of July
        (picked("R", date(2024, 7, 9), [90.0] * 20),
         "all finished seasons had all in by that day, which does not tell what is still to come"),
        ([*picked("R", date(2024, 7, 9), [90.0] * 3), sown("S", 2024), pn.Picked("S", "2024-08-09", grams=40)],
         "neither picked nor looked at for over 21 days, while picking went on at its site"),
    ],
)  # fmt: skip
def test_reasons_to_withhold(tmp_path: Path, records: list[pn.Record], reason: str) -> None:
    plot = garden(tmp_path, *fresh("A", "B", "C"), sown("R", 2024), *records)
    row = only(plot, "R")
    assert row["withheld"] == reason
    assert row[["projected", "low", "high", "level", "n", "basis"]].isna().all()
    assert f"1 running season not projected: {reason}." in project_totals(plot, labels=["R"]).cautions


def test_picking_at_another_site_does_not_show_that_a_plant_was_forgotten(tmp_path: Path) -> None:
    far = [pn.Site("Far", latitude=-40.0), pn.Bed("far bed", "Far"), pn.Sown("S", "2024-03-01", "Kale", bed="far bed")]
    plot = garden(
        tmp_path, *fresh("A", "B", "C"), sown("R", 2024), *picked("R", date(2024, 7, 9), [90.0] * 3), *far,
        pn.Picked("S", "2024-08-09", grams=40),
    )  # fmt: skip
    assert pd.isna(only(plot, "R")["withheld"])


def test_a_plant_that_was_moved_is_held_against_the_site_where_it_stands(tmp_path: Path) -> None:
    far = [pn.Site("Far", latitude=50.0), pn.Bed("far bed", "Far")]
    moved = [record for label in "RQ" for record in (sown(label, 2024), pn.Moved(label, "2024-05-20", bed="far bed"))]
    plot = garden(
        tmp_path, *fresh("A", "B", "C"), *far, *moved, *picked("R", date(2024, 7, 9), [90.0] * 3),
        *picked("Q", date(2024, 7, 9), [90.0] * 12),
    )  # fmt: skip
    assert str(only(plot, "R")["withheld"]).startswith("neither picked nor looked at for over 21 days, while picking")


def test_plants_not_picked_yet_are_in_the_table_and_not_among_the_rows_it_shows(tmp_path: Path) -> None:
    found = project_totals(unpicked_and_picked(tmp_path, 25))
    assert found.table["label"].tolist() == [*(f"N{number:02}" for number in range(25)), "R"]
    assert found.shown_rows["label"].tolist() == ["R"]
    assert "<td>R</td>" in found._repr_html_()
    assert "25 more rows in .table." in found._repr_html_()
    assert "N00" not in found._repr_html_()
    assert "25 running seasons not projected: not picked yet." in found.cautions


def test_one_finished_season_with_a_little_still_to_come_is_enough_to_go_by(tmp_path: Path) -> None:
    # by the 20th picking A and B had all in, C all but a hundredth
    longest = [sown("C", 2023), *picked("C", date(2023, 7, 9), [99.0] * 10 + [0.0] * 11 + [10.0])]
    plot = garden(tmp_path, *fresh("A", "B"), *longest, sown("R", 2024), *picked("R", date(2024, 7, 9), [90.0] * 20))
    row = only(plot, "R")
    assert pd.isna(row["withheld"])
    assert row["projected"] == pytest.approx(1800 * (1000 / 990) ** (1 / 3))


def test_an_empty_garden_and_odd_choices_are_answered_in_words(tmp_path: Path) -> None:
    empty = pn.Garden.create(tmp_path / "plot")
    found = project_totals(empty)
    assert found.n == 0
    assert found.table.dtypes.astype(str).to_dict() == COLUMNS
    assert "No running season can be projected." in found.summary()
    with pytest.raises(pn.PerenniaError, match="season"):
        project_totals(empty, season="2024")  # type: ignore[arg-type]
    with pytest.raises(pn.PerenniaError, match="crops"):
        project_totals(empty, crops=3)  # type: ignore[arg-type]


def test_a_finished_season_is_over(tmp_path: Path) -> None:
    plot = garden(tmp_path, *fresh("A"), later(date(2024, 3, 1)))
    assert project_totals(plot).table.empty


SHARES = st.lists(st.floats(0.01, 1.0), min_size=3, max_size=12)


@given(SHARES, st.data())
def test_limits_lie_round_the_projection_and_above_what_is_in(shares: list[float], data: st.DataObject) -> None:
    years = data.draw(st.lists(st.integers(2018, 2022), min_size=len(shares), max_size=len(shares)))
    found = project(250.0, shares, years)
    assert found is not None
    assert 250 <= found.low <= found.total * (1 + 1e-12)
    assert found.high is None or found.high >= found.total * (1 - 1e-12)
    double = project(500.0, shares, years)
    assert double is not None
    assert double.total == pytest.approx(2 * found.total)
    order = data.draw(st.permutations(range(len(shares))))
    other = project(250.0, [shares[place] for place in order], [years[place] for place in order])
    assert other is not None
    assert (other.total, other.low) == pytest.approx((found.total, found.low))


@given(SHARES)
def test_seasons_of_as_many_years_make_the_plain_t_interval(shares: list[float]) -> None:
    found = project(1.0, shares, range(len(shares)))
    assert found is not None
    logs = -np.log(shares)
    spread = logs.std(ddof=1) * math.sqrt(1 + 1 / len(logs))
    high = math.exp(logs.mean() + stats.t.ppf(0.975, len(logs) - 1) * spread)
    if found.level == 0.95:
        assert found.high == pytest.approx(high, rel=1e-9)
        one_year = project(1.0, shares, [2020] * len(shares))
        assert one_year is not None
        assert one_year.high == pytest.approx(high, rel=1e-9)


def test_variances_between_and_within_years_by_hand() -> None:
    """Two years of two: means of the logs 1 and 2, each off by 0.1. Between: 0.5 (1 + 1/2) on 1; within 0.02 on 2, of
    which half is in the means already."""
    logs = np.array([0.9, 1.1, 1.9, 2.1])
    found = project(1.0, np.exp(-logs).tolist(), [1, 1, 2, 2])
    assert found is not None
    variance = 0.75 + 0.01
    freedom = variance**2 / (0.75**2 / 1 + 0.01**2 / 2)
    assert found.total == pytest.approx(math.exp(1.5))
    assert found.high == pytest.approx(math.exp(1.5 + stats.t.ppf(0.975, freedom) * math.sqrt(variance)))
    assert found.low == 1.0


@pytest.mark.parametrize(
    ("shares", "total", "low"), [([0.0, 0.2, 0.4, 0.5], 2.5, 2.0), ([0.0, 0.0, 0.2, 0.4, 0.5], 2.5, 2.0)]
)
def test_seasons_that_had_not_begun_bound_nothing_above(shares: list[float], total: float, low: float) -> None:
    found = project(1.0, shares, range(len(shares)))
    assert found is not None
    assert (found.total, found.low, found.high) == (total, low, None)
    assert (found.level, found.seasons) == (3 / 4, 3)


@pytest.mark.parametrize(
    ("to_date", "shares"), [(1.0, [0.5, 0.5]), (0.0, [0.5, 0.5, 0.5]), (1.0, [0.0, 0.0, 0.5, 0.5])]
)
def test_too_little_gives_no_projection(to_date: float, shares: list[float]) -> None:
    assert project(to_date, shares, range(len(shares))) is None
