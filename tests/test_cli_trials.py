"""Planning a trial from the terminal: what is shown, written and recorded, and how a slip ends."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

import perennia as pn
from perennia.analysis.decisions.trials.trial import plan_trial
from perennia.cli import main
from tests.copies import copied

BEAN = "Phaseolus coccineus"


def recorded(folder: Path) -> None:
    with pn.Garden.create(folder) as garden:
        garden.record(
            pn.Site("Home", latitude=48.0), pn.Bed("north", "Home"), pn.Bed("south", "Home"),
            *(pn.Sown(f"S{i}", "2023-05-01", crop=BEAN, bed="north") for i in range(8)),
        )  # fmt: skip


@pytest.fixture
def plot(tmp_path: Path) -> Path:
    return copied(recorded, tmp_path / "plot")


def run(plot: Path, *words: str) -> tuple[int, str, str]:
    """Status and what was printed, errors apart."""
    usual = ["--crop", BEAN, "--bed", "north:6", "--bed", "south:4", "--seed", "7", "--spread", "100"]
    done = CliRunner().invoke(main, ["plan-trial", str(plot), *usual, *words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def test_the_plan_is_shown_with_what_it_can_show_and_cautions(plot: Path) -> None:
    code, out, err = run(plot, "--difference", "250")
    assert (code, err) == (0, "")
    for part in (
        "A = overwintered", "bed south", "block 2: 1 ", "To tell apart a difference of +250 g a plant", "Cautions",
        "seed 7",
    ):  # fmt: skip
        assert part in out


def test_scripts_get_the_places_of_the_library(plot: Path) -> None:
    code, out, err = run(plot, "--json", "--difference", "250", "--allocation", "1:2", "--block-size", "3")
    assert (code, err) == (0, "")
    with pn.Garden.open(plot, read_only=True) as garden:
        own = plan_trial(
            garden, crop=BEAN, beds={"north": 6, "south": 4}, seed=7, spread=100.0, difference=250.0,
            allocation=(1, 2), block_size=3,
        )  # fmt: skip
    found = json.loads(out)
    assert [row["arm"] for row in found] == [place.arm for place in own.places]
    assert {row["block"] for row in found} >= {"1", "2", "3"}
    code, out, _ = run(plot, "--csv")
    assert code == 0
    assert out.splitlines()[0] == "bed,block,place,arm,label"


def test_plan_and_drawing_are_written_and_the_lot_is_recorded(plot: Path, tmp_path: Path) -> None:
    words = [
        "--arm", "bare", "--arm", "mulched", "--name", "mulch", "--labels", "bare:S0,S1,S2,S3", "--labels",
        "mulched:S4,S5,S6", "--plan-csv", str(tmp_path / "plan.csv"), "--drawing", str(tmp_path / "plan.svg"),
    ]  # fmt: skip
    code, out, err = run(plot, *words, "--record", "2023-05-20")
    assert (code, err) == (0, "")
    assert "Recorded: trial mulch, 4 records" in out
    assert (tmp_path / "plan.csv").read_text(encoding="utf-8").count("mulched") == 3
    assert ElementTree.parse(tmp_path / "plan.svg").getroot().tag.endswith("svg")
    with pn.Garden.open(plot, read_only=True) as garden:
        rows = garden.sql("select * from trial_arms where by_lot order by label")
        assert rows["arm"].tolist().count("bare") == rows["arm"].tolist().count("mulched") == 3
        assert set(rows["trial"]) == {"mulch"}
    code, out, err = run(plot, "--name", "mulch")
    assert (code, out) == (1, "")
    assert "a trial called 'mulch' is on record" in err


def test_nothing_is_written_when_nothing_can_be_recorded(plot: Path, tmp_path: Path) -> None:
    code, out, err = run(plot, "--plan-csv", str(tmp_path / "plan.csv"), "--record", "2023-05-20")
    assert (code, out) == (1, "")
    assert "no label is known for the plants at north 1" in err
    assert not (tmp_path / "plan.csv").exists()


def test_plants_that_are_not_sown_yet_are_recorded_later(plot: Path) -> None:
    words = ["--arm", "bare", "--arm", "mulched", "--labels", "bare:N0,N1,N2", "--labels", "mulched:S4,S5,S6"]
    code, out, err = run(plot, *words, "--record", "2023-05-20")
    assert (code, out) == (1, "")
    assert "nothing was recorded: 3 of the plants had not begun by 2023-05-20" in err.replace("\n", " ")
    assert "with --units 3: seed 7 draws the same plan" in err.replace("\n", " ")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--bed", "east"], 2, "write NAME:PLACES"),
        (["--bed", "north:3"], 2, "bed north is given twice"),
        (["--labels", "fresh"], 2, "write ARM:LABEL,LABEL"),
        (["--allocation", "2"], 2, "write 1:1, or 1:2"),
        (["--bed", "east:1"], 1, "bed east has 1 of the 2 places that both arms need"),
        (["--arm", "fresh"], 1, "two different names"),
        (["--drawing", "plan.png"], 1, "ends in .svg"),
    ],
)
def test_a_slip_ends_in_words(plot: Path, words: list[str], code: int, says: str) -> None:
    status, out, err = run(plot, *words)
    assert (status, out) == (code, "")
    assert says in " ".join(err.split())


def test_another_crop_is_answered_with_those_on_record(plot: Path) -> None:
    words = ["--crop", "Bogus bogus", "--bed", "north:6", "--seed", "7", "--difference", "100"]
    done = CliRunner().invoke(main, ["plan-trial", str(plot), *words])
    assert done.exit_code == 1
    assert "Crops on record are Phaseolus coccineus" in done.stderr.replace("\n", " ")
