"""Flowers and what they came to from the terminal: what is shown, what scripts get, how it ends without any."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import perennia as pn
from perennia.analysis.causes.setting.pod_set import pod_set
from tests.demo_gardens import demo_by_terminal
from tests.terminal import run


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("setting") / "demo")


def test_tables_sentences_and_cautions(demo: Path) -> None:
    code, out, err = run("pod-set", str(demo), "--season", "2023/24")
    assert (code, err) == (0, "")
    for part in ("set_share", "By truss", "By day of opening", "By day of loss", "By position on the truss",
                 "of decided flowers, as the mean of plants (n = 7 plants, 113 decided flowers)",
                 "4 trusses only counted", "Cautions for these crops"):  # fmt: skip
        assert part in out
    assert "Patterns of failure" not in out
    assert "2024/25" not in out


def test_patterns_where_asked_for(demo: Path) -> None:
    code, out, err = run("pod-set", str(demo), "--crop", "Phaseolus coccineus", "--season", "2024", "--patterns")
    assert (code, err) == (0, "")
    assert "Patterns of failure" in out
    assert "none of the patterns looked for can be told, for it takes 6 trusses with dated, decided flowers" in out


def test_scripts_get_the_rows_of_the_library(demo: Path) -> None:
    code, out, err = run("pod-set", str(demo), "--label", "P01", "--season", "2023/24", "--json")
    assert (code, err) == (0, "")
    (row,) = json.loads(out)
    with pn.Garden.open(demo, read_only=True) as garden:
        own = pod_set(garden, labels=["P01"], season=2023).table
    assert list(row) == list(own.columns)
    assert (row["opened"], row["set"], row["set_share"]) == (22, 11, 0.5)
    header = run("pod-set", str(demo), "--patterns", "--csv")[1].splitlines()[0]
    assert header.startswith("crop,season,season_name,pattern,statistic,")


def test_nothing_on_record_ends_in_words(demo: Path) -> None:
    code, out, err = run("pod-set", str(demo), "--label", "nobody")
    assert (code, out) == (1, "")
    assert "No flowering is on record for what was asked. No flowering is on record under the label nobody." in err
    assert run("pod-set", str(demo), "--season", "2023/25")[0] == 2
