"""Why flowers set so little, from the terminal."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.demo_gardens import demo_by_terminal
from tests.terminal import rows, run


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("explain") / "demo")


def test_candidates_what_would_decide_and_cautions(demo: Path) -> None:
    code, out, err = run("explain", str(demo), "Gate bed", "--season", "2023/24", "--forms")
    assert (code, err) == (0, "")
    for part in ("no single cause can be named", "Robbed flowers (weak)", "What would decide", "Forms of failure",
                 "Cautions for these crops", "One bed's weather, visitors and care are one series"):  # fmt: skip
        assert part in out
    below = out[out.index("What these records cannot tell"):]
    (line,) = (line for line in below.splitlines() if "one bed's weather is one series" in line)
    assert "hot nights or days" in line
    assert "water deficit" in line


def test_scripts_get_candidates_or_forms(demo: Path) -> None:
    found = rows("explain", str(demo), "Gate bed", "--season", "2023/24", "--soil", "loam", "--since", "2023-12-01")
    water = next(row for row in found if row["candidate"] == "water deficit")
    assert water["recorded"] != "not recorded"
    code, out, _ = run("explain", str(demo), "Gate bed", "--season", "2023/24", "--forms", "--json")
    assert code == 0
    assert {row["form"] for row in json.loads(out)} >= {"one day", "position", "load"}


def test_several_labels_and_unknown_ones(demo: Path) -> None:
    code, out, _ = run("explain", str(demo), "P01", "P02", "--season", "2023/24")
    assert code == 0
    assert "P01, P02" in out
    code, _, err = run("explain", str(demo), "nowhere", "--season", "2023/24")
    assert code == 1
    assert "no plant or bed nowhere is known in 2023" in err
    assert "Its beds are" in err
    assert "Gate bed" in err
