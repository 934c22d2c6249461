"""What is due, from the terminal."""

from __future__ import annotations

from pathlib import Path

import pytest

import perennia as pn
from perennia.analysis.causes.due.matters import COLUMNS
from tests.terminal import rows, run


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("due") / "plot"
    garden = pn.Garden.create(folder, name="Back plot")
    garden.record(
        pn.Site("plot", latitude=48.0), pn.Bed("B1", "plot", soil="black earth"),
        pn.Sown("A1", "2023-05-01", crop="Phaseolus coccineus", bed="B1"), pn.Picked("A1", "2023-07-20", 90.0),
        pn.LeftForSeed("A1", "2023-07-20"),
    )  # fmt: skip
    return folder


def test_what_is_due_is_told_by_standing(plot: Path) -> None:
    code, out, err = run("due", str(plot), "--today", "2023-07-26")
    assert (code, err) == (0, "")
    assert out.startswith("Back plot, 2023-07-26")
    assert out.index("Overdue") < out.index("1. Picking. Phaseolus coccineus in B1: A1 last picked on 2023-07-20")
    assert "Not known" in out
    assert "Cautions for these crops" in out
    assert "Whether 1 bed is dry is not known, B1" in out


def test_nothing_due_is_said(plot: Path) -> None:
    out = run("due", str(plot), "--today", "2023-07-21")[1]
    assert "Nothing asks for attention on 2023-07-21." in out
    assert "Cautions for these crops" not in out


def test_scripts_get_a_row_a_matter(plot: Path) -> None:
    (row,) = rows("due", str(plot), "--today", "2023-07-26")
    assert list(row) == list(COLUMNS)
    assert (row["kind"], row["standing"], row["by"], row["labels"]) == ("picking", "overdue", "2023-07-23", "A1")
    csv = run("due", str(plot), "--today", "2023-07-26", "--csv")[1].splitlines()
    assert (csv[0], len(csv)) == (",".join(COLUMNS), 2)


def test_slips_end_in_words(plot: Path) -> None:
    assert "today: " in run("due", str(plot), "--today", "soon")[2]
    code, _, err = run("due", str(plot), "--today", "2023-07-26", "--soil", "loam")
    assert (code, "names no texture of a bed" in err) == (2, True)
    assert "frost_risk" in run("due", str(plot), "--frost-risk", "2")[2]
