"""The pedigree from the terminal: the tree, what scripts get, how a slip ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import perennia as pn
from perennia.analysis.decisions.descent.pedigree import pedigree
from tests.demo_gardens import demo_by_terminal
from tests.terminal import run


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("pedigree") / "demo")


def test_tree_sentences_and_lots(demo: Path) -> None:
    code, out, err = run("pedigree", str(demo), "R6")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith("R6/2021: Capsicum pubescens Fuego de Invierno, begun 2021-08-09")
    assert lines[2].startswith("  R1/2020 (by seed of lot FI 2021, saved in June 2021)")
    assert lines[3].startswith("    sown from lot FI 2020, of which no saving is on record; where the seed")
    assert "It was sown from lot FI 2021, seed of R1/2020: a new genotype, its father not on record." in out
    assert next(line for line in lines if line.startswith("FI 2021")).split()[2] == "R1/2020"


def test_scripts_get_the_table(demo: Path) -> None:
    code, out, err = run("pedigree", str(demo), "Ru2/2020", "--json")
    assert (code, err) == (0, "")
    rows = json.loads(out)
    with pn.Garden.open(demo, read_only=True) as garden:
        assert list(rows[0]) == list(pedigree(garden, "Ru2").table.columns)
    assert [(row["plant"], row["relation"], row["clone"], row["on_to"]) for row in rows] == [
        ("Ru2/2020", "self", True, None),
        ("Ru8/2022", "daughter", True, "2022-08-09"),
        ("Ru9/2022", "daughter", True, "2022-08-09"),
    ]
    assert run("pedigree", str(demo), "Ru2", "--csv")[1].startswith("relation,way,steps,")


def test_before_the_books_knew(demo: Path) -> None:
    assert run("pedigree", str(demo), "Ru2", "--as-of", "1990-01-01")[0] == 1


def test_a_slip_ends_in_words(demo: Path) -> None:
    code, out, err = run("pedigree", str(demo), "r6")
    assert (code, out) == (1, "")
    assert "no plant labelled 'r6' in this garden; near it: R6" in err
