"""Questions about seasons from the terminal: what is shown, what scripts get, how it ends where there is nothing."""

from __future__ import annotations

import csv
import io
from itertools import pairwise
from pathlib import Path

import pytest

import perennia as pn
from tests.analysis.picked_garden import unpicked_and_picked
from tests.demo_gardens import demo_by_terminal
from tests.terminal import rows, run


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("seasons") / "demo")


SHOWN = {
    "curves": (["--label", "R1", "--season", "2023/24"], ["R1", "cumulative", "per_day"]),
    "flushes": (["--crop", "Capsicum pubescens"], ["R1", "starts_on", "flush"]),
    "project": (["--crop", "Capsicum pubescens"], ["own seasons", "projection, not a record"]),
    "fit": (["--form", "gompertz", "--season", "2022/23"], ["asymptote", "midpoint"]),
    "bearing": (["--crop", "Rheum x hybridum"], ["per survivor", "repeatability", "index"]),
}


@pytest.mark.parametrize("command", SHOWN)
def test_what_is_shown_has_figures_words_and_cautions(demo: Path, command: str) -> None:
    options, parts = SHOWN[command]
    code, out, err = run(command, str(demo), *options)
    assert (code, err) == (0, ""), err
    assert [part for part in parts if part not in out] == []
    assert "Cautions for these crops" in out


def test_scripts_get_the_rows_of_the_library(demo: Path) -> None:
    with pn.Garden.open(demo, read_only=True) as garden:
        own = pn.flushes(garden, labels=["R1"], seasons=[2023]).table
    (row,) = rows("flushes", str(demo), "--label", "R1", "--season", "2023/24")
    assert list(row) == list(own.columns)
    assert row["amount"] == pytest.approx(own["amount"].iloc[0])
    steps = rows("curves", str(demo), "--label", "R1", "--season", "2023", "--axis", "day_of_season", "--step", "10")
    days = [int(str(step["day_of_season"])) for step in steps]
    # the last point is that of the last picking, wherever it lies
    assert {later - sooner for sooner, later in pairwise(days[:-1])} == {10}


def test_whole_numbers_beside_missing_ones_stay_whole(demo: Path) -> None:
    out = run("project", str(demo), "--csv")[1]
    numbers = {row["n"] for row in csv.DictReader(io.StringIO(out))}
    assert "" in numbers
    assert numbers - {""}
    assert all(number.isdigit() for number in numbers - {""})


def test_a_summary_names_the_crop_where_there_are_several(demo: Path) -> None:
    given = ([], ["--crop", "Phaseolus coccineus"])
    heads = [run("summary", str(demo), *of)[1].splitlines()[0].split() for of in given]
    assert heads == [["crop", *heads[1]], heads[1]]
    assert "crop" not in heads[1]


def test_mean_curves_of_groups(demo: Path) -> None:
    found = rows("curves", str(demo), "--by", "stock", "--season", "2023", "--crop", "Phaseolus coccineus",
                 "--measure", "g", "--axis", "day_of_season")  # fmt: skip
    assert {row["stock"] for row in found} == {"fresh", "overwintered"}
    code, out, _ = run("curves", str(demo), "--by", "stock", "--season", "2023", "--crop", "Phaseolus coccineus")
    assert code == 0
    assert "no band" in out


def test_plants_not_picked_yet_are_one_line_of_what_is_printed_and_a_row_each_for_scripts(tmp_path: Path) -> None:
    made = unpicked_and_picked(tmp_path, 30)
    made.close()
    plot = str(tmp_path / "plot")
    code, out, err = run("project", plot)
    assert (code, err) == (0, "")
    assert [line for line in out.splitlines() if "not picked yet" in line] == [
        "- 30 running seasons not projected: not picked yet."
    ]
    assert not any(line.startswith(("N0", "N1", "N2")) for line in out.splitlines())
    assert any(line.startswith("R ") and "fewer than 3 finished seasons to go by" in line for line in out.splitlines())
    found = rows("project", plot)
    assert [row["label"] for row in found if row["withheld"] == "not picked yet"] == [f"N{i:02}" for i in range(30)]
    code, out, err = run("project", plot, "--label", "N03")
    assert (code, err) == (0, "")
    assert out.startswith("No running season can be projected.\n- 1 running season not projected: not picked yet.\n")


@pytest.mark.parametrize("command", SHOWN)
def test_where_there_is_nothing_it_says_what_there_is(tmp_path: Path, command: str) -> None:
    pn.Garden.create(tmp_path / "plot")
    code, out, err = run(command, str(tmp_path / "plot"))
    assert (code, out) == (1, "")
    assert "The garden has no plant yet." in err


def test_a_slip_ends_in_words(demo: Path) -> None:
    assert "is no growing year; write 2023 or 2023/24" in run("flushes", str(demo), "--season", "23")[2]
    assert "--season is taken once here" in run("project", str(demo), "--season", "2023", "--season", "2024")[2]
    assert "step" in run("curves", str(demo), "--step", "0")[2]
    assert "unknown measure" in run("bearing", str(demo), "--measure", "weight")[2]
