"""Survival asked from the terminal: what is shown, what scripts get, and how it ends where there is nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import perennia as pn
from perennia.analysis.decisions.surviving.survival import survival
from perennia.cli import main
from tests.demo_gardens import demo_by_terminal


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("survival") / "demo")


def run(*words: str) -> tuple[int, str, str]:
    """Status and what was printed, errors apart."""
    done = CliRunner().invoke(main, ["survival", *words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def test_what_is_shown_has_figures_words_and_cautions(demo: Path) -> None:
    code, out, err = run(str(demo), "--crop", "Phaseolus coccineus")
    assert (code, err) == (0, "")
    for part in ("bare root, frost-free", "in 10 box-winters came through", "no interval, no p", "Kaplan-Meier",
                 "were not drawn by lot"):  # fmt: skip
        assert part in out
    assert "Capsicum" not in out


def test_scripts_get_the_rows_of_the_library(demo: Path) -> None:
    with pn.Garden.open(demo, read_only=True) as garden:
        own = survival(garden, by=("winter", "box"), crop="Phaseolus coccineus", season=2023)
    code, out, _ = run(str(demo), "--by", "winter", "--by", "box", "--crop", "Phaseolus coccineus", "--season",
                       "2023/24", "--json")  # fmt: skip
    rows = json.loads(out)
    assert code == 0
    assert list(rows[0]) == list(own.table.columns)
    assert [row["alive"] for row in rows] == own.table["alive"].tolist()
    assert {row["winter"] for row in rows} == {"2023/24"}
    code, out, _ = run(str(demo), "--csv")
    assert code == 0
    assert out.splitlines()[0].startswith("crop,wintering,n_roots")


def test_whole_lives(demo: Path) -> None:
    with pn.Garden.open(demo, read_only=True) as garden:
        own = survival(garden, by=("cultivar",)).lives
    code, out, _ = run(str(demo), "--by", "cultivar", "--lives", "--json")
    rows = json.loads(out)
    assert code == 0
    assert [row["at_risk"] for row in rows] == own["at_risk"].tolist()
    code, out, _ = run(str(demo), "--by", "cultivar", "--lives")
    assert code == 0
    assert "winter after" in out
    code, _, err = run(str(demo), "--lives", "--season", "2023")
    assert code == 2
    assert "leave --season out" in err


def test_mistakes_end_in_words(demo: Path, tmp_path: Path) -> None:
    pn.Garden.create(tmp_path / "plot")
    code, out, err = run(str(tmp_path / "plot"))
    assert (code, out) == (1, "")
    assert "No root that entered a winter is on record" in err
    assert "no plant yet" in err
    code, _, err = run(str(demo), "--crop", "Beta vulgaris")
    assert code == 1
    assert "The crops here are" in err
    code, _, err = run(str(demo), "--by", "colour")
    assert code == 2
    assert "wintering" in err
