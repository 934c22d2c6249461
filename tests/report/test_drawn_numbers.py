"""The places of the marks of figures are the numbers of their tables, and not only as many."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from perennia.analysis import season_summary
from perennia.analysis.decisions.surviving.survival_lives import GROWTH
from perennia.analysis.values import calendar_day
from perennia.report import plot
from tests.analysis.built_source import BuiltSource, source_of
from tests.report.drawn_results import marked, water_balance
from tests.report.gardens import QUESTIONS, multiplied, records


@pytest.fixture(scope="module")
def source() -> Iterator[BuiltSource]:
    with source_of(*records()) as made:
        yield made


def numbers(figure: Figure, gid: str, axis: str = "x") -> list[list[float]]:
    """Along an axis, the points of every line that bears the mark, a nan as None."""
    return [
        [float(value) for value in (line.get_xdata() if axis == "x" else line.get_ydata())]
        for line in marked(figure, gid)
    ]


def flat(figure: Figure, gid: str, axis: str = "x") -> list[float]:
    """All points that are known, by size."""
    return sorted(value for line in numbers(figure, gid, axis) for value in line if not np.isnan(value))


def column(frame: pd.DataFrame, *names: str) -> list[float]:
    """The values of columns that are known, by size."""
    return sorted(float(value) for name in names for value in frame[name].dropna())


def place(row: Any, name: str) -> float:
    """Where a day of a season stands on an axis of dates."""
    return calendar_day(row[name], int(row["season"])) - 1


def test_survival(source: BuiltSource) -> None:
    found = QUESTIONS["survival"](source)
    figure = plot(found)
    assert flat(figure, "share") == column(found.table, "share")
    bounded = found.table.dropna(subset=["low"])
    assert sorted(numbers(figure, "interval")) == sorted(bounded[["low", "high"]].to_numpy(dtype=float).tolist())
    said = [text.get_text() for text in figure.findobj(Text) if text.get_gid() == "counts"]
    assert said == [f"{row.alive} of {row.n_roots}" for row in found.table.itertuples()]
    keys = list(found.lives.columns[: found.lives.columns.get_loc("plant_season")])
    cohorts = [own for _, own in found.lives.groupby(keys, sort=True, dropna=False)]
    lived = [
        [row.plant_season + (0 if row.part == GROWTH else 0.5) for row in own.itertuples()] for own in cohorts
    ]
    assert numbers(figure, "steps") == [[0.0, *times] for times in lived]
    assert numbers(figure, "steps", "y") == [[1.0, *own["share"]] for own in cohorts]


def test_season_summary(source: BuiltSource) -> None:
    found = QUESTIONS["season_summary"](source)
    figure = plot(found)
    grew = found.table[found.table["grew"].fillna(True)]
    assert flat(figure, "crop") == column(grew, "total_g")
    rows = [row for row in grew.to_dict("records") if not pd.isna(row["t50"])]
    assert len(rows) > 20
    assert flat(figure, "t50") == sorted(place(row, "t50") for row in rows)
    drawn = [ends for ends in numbers(figure, "t10 to t90") if not np.isnan(ends).any()]
    assert sorted(drawn) == sorted([place(row, "t10"), place(row, "t90")] for row in rows)


def test_season_curves(source: BuiltSource) -> None:
    found = QUESTIONS["season_curves"](source)
    own = found.table[found.table["label"].isin(["A1", "A2"])]
    summary = season_summary(source, labels=["A1", "A2"])
    figure = plot(type(found)(table=own, n=2, method="", units=""), summary=summary)
    for shown, name in (("cumulative", "cumulative"), ("rate", "per_day")):
        assert flat(figure, shown, "y") == column(own, name)
        assert flat(figure, shown) == sorted(place(row, "on") for row in own.to_dict("records"))
    for name in ("t50", "peak_on"):
        rows = summary.table.dropna(subset=[name]).to_dict("records")
        assert rows
        assert flat(figure, name) == sorted(place(row, name) for row in rows)


def test_comparisons(source: BuiltSource) -> None:
    for name, low, estimate, high in (
        ("compare_stock", "shift_low", "shift", "shift_high"), ("compare_seasons", "shift_low", "shift", "shift_high"),
    ):  # fmt: skip
        found = QUESTIONS[name](source)
        # plants of these records change alike, so that an interval would have no width
        apart = {low: found.table[low] - 7, high: found.table[high] + 9}
        found = attrs.evolve(found, table=found.table.assign(**apart))
        figure = plot(found)
        tested = found.table.dropna(subset=[low, high])
        assert len(tested)
        assert sorted(numbers(figure, "interval")) == sorted(tested[[low, high]].to_numpy(dtype=float).tolist())
        assert flat(figure, "estimate") == column(tested, estimate)
        units = found.by_unit.query("basis == 'per survivor'")
        if name == "compare_stock":
            assert flat(figure, "units") == column(units, "value")
            lanes = units.groupby(["crop", "seasons", "measure", "stratum", "stock"], dropna=False)["value"]
            means = [own.mean() for _, own in lanes if own.notna().sum() > 1]
            assert flat(figure, "mean") == pytest.approx(sorted(means))
        else:
            pairs = units[["first", "later"]].dropna().to_numpy(dtype=float).tolist()
            assert sorted(pair for pair in numbers(figure, "pair") if not np.isnan(pair).any()) == sorted(pairs)


def test_change_of_roots_with_an_interval(source: BuiltSource) -> None:
    # the garden has too few plants for an interval, so one is written in
    found = QUESTIONS["compare_change"](source)
    held = {"gap": [12.0, -3.0], "gap_low": [-5.0, -9.0], "gap_high": [31.0, 2.0], "level": [0.95] * 2, "p": [0.2] * 2}
    figure = plot(attrs.evolve(found, table=found.table.head(2).assign(**held)))
    assert numbers(figure, "interval") == [[-5.0, 31.0], [-9.0, 2.0]]
    assert numbers(figure, "estimate") == [[12.0], [-3.0]]
    assert flat(figure, "units") == column(found.by_unit, "first", "later")


def test_keep_list(source: BuiltSource) -> None:
    found = QUESTIONS["keep_list"](source)
    figure, table = plot(found), found.table
    assert numbers(figure, "expected") == [[value] for value in table["expected"].fillna(table["expected_if_alive"])]
    assert numbers(figure, "interval") == table[["low", "high"]].dropna().to_numpy(dtype=float).tolist()
    assert numbers(figure, "fresh") == [[table["fresh_expected"].iloc[0]] * 2]


def test_projections(source: BuiltSource) -> None:
    found = QUESTIONS["project_totals"](source)
    figure = plot(found)
    assert flat(figure, "to date") == column(found.table, "to_date")
    assert flat(figure, "projected") == column(found.table, "projected")


def test_lives_counted_by_state(source: BuiltSource) -> None:
    many = multiplied(QUESTIONS["plant_lives"](source), 6)
    figure = plot(many)
    spells = many.table[many.table["state"] != "ended"]
    day = pd.Timestamp("2022-08-01")
    there = spells[(spells["from"] <= day) & ~(spells["to"] <= day)]
    heights = [height for state in there["state"].unique() for (area,) in [marked(figure, state)]
               for height in area.get_paths()[0].vertices[:, 1]]  # fmt: skip
    most = max(
        int(((spells["from"] <= on) & ~(spells["to"] <= on)).sum()) for on in pd.date_range("2021-05-01", "2024-07-23")
    )
    assert max(heights) == most


@pytest.mark.parametrize("field", ["dry", "watered", "gaps"])
def test_water(field: str) -> None:
    found = water_balance(field)
    figure = plot(found)
    assert flat(figure, "taw", "y") == [found.taw_mm] * 2
    assert flat(figure, "raw", "y") == column(found.table, "raw_mm")
    assert flat(figure, "depletion", "y") == column(found.table, "depletion_mm")
    for name in ("rain", "watering"):
        bars = sorted(bar.get_height() for bar in marked(figure, name))
        assert bars == pytest.approx([mm for mm in column(found.table, f"{name}_mm") if mm > 0])
