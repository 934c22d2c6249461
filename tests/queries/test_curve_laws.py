"""Laws of a season's curve: what must hold of any run of pickings, and what must change nothing.

A garden costs more to build than a plant in it: each example is a garden of several plants, a run of pickings each.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import BooksKept, Picked
from perennia.records.life import Sown
from perennia.records.places import Bed, Site
from tests.queries.built_views import built, rows_of, with_ids

# a crop of whose usual gap nothing is known and one with a gap of its own, by turns
CROPS = ("Oca", "Phaseolus coccineus")
FIRST_PICK = date(2023, 6, 1)
DATES = ("first_pick", "last_pick", "t10", "t50", "t90", "peak_on", "peak_from", "peak_to")
FEWER = settings(max_examples=settings.default.max_examples // 6)

Row = dict[str, Any]
Run = list[tuple[int, float, bool]]
Season = tuple[Row, list[Row]]


@st.composite
def runs(draw: st.DrawFn, longest_gap: int = 9, fewest: int = 1) -> Run:
    """Pickings of one plant as (days since the one before, grams, clearance); a clearance comes last if at all."""
    grams = st.sampled_from([0.0, 35.0, 120.0, 120.0, 410.5, 980.0])
    steps = draw(st.lists(st.tuples(st.integers(1, longest_gap), grams), min_size=fewest, max_size=14))
    stripped = draw(st.booleans())
    return [(gap, amount, stripped and place == len(steps)) for place, (gap, amount) in enumerate(steps, start=1)]


def several(longest_gap: int = 9, fewest: int = 1) -> st.SearchStrategy[list[Run]]:
    """Runs of six to twelve plants, any number as likely as another."""
    any_run = runs(longest_gap, fewest)
    return st.integers(6, 12).flatmap(lambda plants: st.lists(any_run, min_size=plants, max_size=plants))


def picked(run: Run, label: str, scale: float = 1.0) -> list[Picked]:
    """The run as records."""
    day, found = FIRST_PICK, []
    for gap, grams, clearance in run:
        day += timedelta(gap)
        found.append(Picked(label, day, grams=grams * scale, clearance=clearance))
    return found


def seasons(plants: Sequence[Sequence[Picked]], crops: Sequence[str] | None = None) -> list[Season]:
    """Summary and curve of every plant's season, which is over; the plants stand in one garden as P0, P1 ..."""
    grown = crops or [CROPS[number % len(CROPS)] for number in range(len(plants))]
    garden: list[Record] = [
        Site("plot", latitude=48.0), Bed("row", "plot", area_m2=2.0),
        Noted(date(2024, 2, 1), bed="row", what="dug over"), BooksKept("row", date(2023, 1, 1), date(2023, 12, 31)),
        *(Sown(f"P{number}", date(2023, 3, 1), crop=crop, bed="row") for number, crop in enumerate(grown)),
        *(picking for pickings in plants for picking in pickings),
    ]  # fmt: skip
    with built(with_ids(garden), ["season_summary", "season_curves"]) as connection:
        summaries = {row["label"]: row for row in rows_of(connection, "season_summary") if row["season"] == 2023}
        curves: dict[str, list[Row]] = {label: [] for label in summaries}
        for row in rows_of(connection, 'season_curves ORDER BY label, "on"'):
            curves[row["label"]].append(row)
    assert all(row["finished"] for row in summaries.values())
    return [(summaries[f"P{number}"], curves[f"P{number}"]) for number in range(len(plants))]


def beside(first: Sequence[Run], change: Any) -> list[tuple[Season, Season]]:
    """Every run beside the same run changed, each on a plant of its own in one garden."""
    plain = [picked(run, f"P{number}") for number, run in enumerate(first)]
    changed = [change(picked(run, f"P{number}")) for number, run in enumerate(first, start=len(first))]
    crops = [CROPS[number % len(CROPS)] for number in range(len(first))]
    found = seasons([*plain, *changed], [*crops, *crops])
    return list(zip(found[: len(first)], found[len(first) :], strict=True))


def dates_of(summary: Row) -> dict[str, date | None]:
    return {name: summary[name] for name in DATES}


@FEWER
@given(several())
def test_a_curve_rises_day_by_day_to_the_total(plants: list[Run]) -> None:
    for summary, curve in seasons([picked(run, f"P{number}") for number, run in enumerate(plants)]):
        assert all((later["on"] - row["on"]).days == 1 for row, later in pairwise(curve))
        assert all(later["cumulative"] >= row["cumulative"] - 1e-9 for row, later in pairwise(curve))
        assert all(row["cumulative"] >= 0 and row["per_day"] >= 0 for row in curve)
        assert (curve[-1]["cumulative"] if curve else 0.0) == pytest.approx(summary["total_g"], abs=1e-6)


@FEWER
@given(several())
def test_shares_come_in_order_and_the_curve_reaches_them(plants: list[Run]) -> None:
    for summary, curve in seasons([picked(run, f"P{number}") for number, run in enumerate(plants)]):
        if not summary["total_g"]:
            assert (summary["t10"], summary["t50"], summary["t90"]) == (None, None, None)
            continue
        assert curve[0]["on"] <= summary["t10"] <= summary["t50"] <= summary["t90"] <= summary["last_pick"]
        by_day = {row["on"]: row["cumulative"] for row in curve}
        for column, share in (("t10", 0.1), ("t50", 0.5), ("t90", 0.9)):
            level = share * summary["total_g"]
            assert by_day[summary[column]] >= level - 1e-3
            assert by_day.get(summary[column] - timedelta(1), 0.0) < level


@FEWER
@given(several(), st.integers(0, 13), st.sampled_from([0.25, 0.5, 0.9]))
def test_a_picking_written_in_two_parts_changes_nothing(
    plants: list[Run], place: int, part: float
) -> None:  # fmt: skip
    def parted(pickings: list[Picked]) -> list[Picked]:
        chosen = pickings.pop(place % len(pickings))
        weights = (chosen.grams * part, chosen.grams * (1 - part))
        return pickings + [Picked(chosen.labels, chosen.on, each, clearance=chosen.clearance) for each in weights]

    for (one, one_curve), (two, two_curve) in beside(plants, parted):
        assert dates_of(two) == dates_of(one)
        assert (two["picks"], two["withheld"]) == (one["picks"], one["withheld"])
        assert two["total_g"] == pytest.approx(one["total_g"])
        assert [row["cumulative"] for row in two_curve] == pytest.approx([row["cumulative"] for row in one_curve])


@FEWER
@given(several(), st.sampled_from([0.001, 0.3, 7.0, 1000.0]))
def test_other_weights_in_proportion_move_no_date(plants: list[Run], scale: float) -> None:
    def scaled(pickings: list[Picked]) -> list[Picked]:
        return [Picked(one.labels, one.on, one.grams * scale, clearance=one.clearance) for one in pickings]

    for (plain, _), (other, _) in beside(plants, scaled):
        assert dates_of(other) == dates_of(plain)
        assert other["withheld"] == plain["withheld"]
        assert other["total_g"] == pytest.approx(plain["total_g"] * scale)
        if plain["peak_g_per_day"] is not None:
            assert other["peak_g_per_day"] == pytest.approx(plain["peak_g_per_day"] * scale)


@FEWER
@given(several(longest_gap=4, fewest=6))
def test_the_peak_is_the_largest_rate_within_the_season(plants: list[Run]) -> None:
    for summary, curve in seasons([picked(run, f"P{number}") for number, run in enumerate(plants)]):
        if summary["peak_on"] is None:
            continue
        assert curve[0]["on"] <= summary["peak_on"] <= curve[-1]["on"]
        assert summary["peak_from"] + timedelta(3) <= summary["peak_on"] <= summary["peak_to"] - timedelta(3)
        rates = {row["on"]: row["per_day"] for row in curve}
        best = max(sum(rates.get(day + timedelta(away), 0.0) for away in range(-3, 4)) / 7 for day in rates)
        assert summary["peak_g_per_day"] == pytest.approx(best)
        at_peak = sum(rates.get(summary["peak_on"] + timedelta(away), 0.0) for away in range(-3, 4)) / 7
        assert at_peak == pytest.approx(best)


@FEWER
@given(several(), st.integers(0, 60))
def test_a_look_that_found_nothing_changes_no_total(plants: list[Run], wait: int) -> None:
    def looked(pickings: list[Picked]) -> list[Picked]:
        return [*pickings, Picked(pickings[0].labels, FIRST_PICK + timedelta(wait), 0.0)]

    for (plain, _), (other, curve) in beside(plants, looked):
        for column in ("total_g", "picks", "first_pick", "last_pick", "measure"):
            assert other[column] == plain[column], column
        if curve:
            assert curve[-1]["cumulative"] == pytest.approx(plain["total_g"], abs=1e-6)


@FEWER
@given(several())
def test_clearance_is_in_the_total_and_in_no_rate(plants: list[Run]) -> None:
    def stripped(pickings: list[Picked]) -> list[Picked]:
        last = pickings[-1]
        return [*pickings, Picked(last.labels, last.on.end + timedelta(1), 2000.0, clearance=True)]

    plants = [[(gap, grams, False) for gap, grams, _ in run] for run in plants]
    for (plain, curve), (other, longer) in beside(plants, stripped):
        assert other["total_g"] == pytest.approx(plain["total_g"] + 2000.0)
        assert other["picks"] == plain["picks"] + 1
        if plain["total_g"]:
            assert (other["peak_on"], other["peak_g_per_day"]) == (plain["peak_on"], plain["peak_g_per_day"])
            assert longer[-1]["per_day"] == 0
            assert [row["per_day"] for row in longer[:-1]] == pytest.approx([row["per_day"] for row in curve])
