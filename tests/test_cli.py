"""The terminal: what it prints, what scripts get, how it ends."""

from __future__ import annotations

import csv
import importlib
import io
import json
import pkgutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import perennia as pn
from perennia import cli
from perennia.cli import main


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("terminal") / "demo"
    done = CliRunner().invoke(main, ["demo", str(folder)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    (folder.parent / "printed.txt").write_text(done.output, encoding="utf-8")
    return folder


def run(*words: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(main, list(words))
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def test_the_demo_shows_summary_comparison_life_and_cautions(demo: Path) -> None:
    printed = (demo.parent / "printed.txt").read_text(encoding="utf-8")
    for part in (
        "An invented garden",
        "Season summary of the beans, 2023/24",
        "per root kept",
        "Cautions:",
        "The life of P03",
        "smallest p this layout could give",
        "follow your local food-safety authority",
    ):
        assert part in printed
    assert "Traceback" not in printed


def test_the_demo_again_finds_its_garden_and_stores_nothing_new(demo: Path) -> None:
    code, out, _ = run("demo", str(demo))
    assert code == 0
    assert ": 0 stored," in out


def test_the_demo_leaves_another_garden_alone(tmp_path: Path) -> None:
    pn.Garden.create(tmp_path / "plot", name="mine")
    code, _, err = run("demo", str(tmp_path / "plot"))
    assert code == 1
    assert "already holds a garden" in err
    assert pn.Garden.open(tmp_path / "plot").table("plants").empty


def test_summary_for_scripts(demo: Path) -> None:
    code, out, _ = run("summary", str(demo), "--season", "2021/22", "--label", "P03", "--json")
    assert code == 0
    (row,) = json.loads(out)
    assert (row["label"], row["season"], row["season_name"], row["finished"]) == ("P03", 2021, "2021/22", True)
    assert row["first_pick"] == "2022-01-10"
    code, out, _ = run("summary", str(demo), "--crop", "Rheum x hybridum", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert {line["crop"] for line in rows} == {"Rheum x hybridum"}
    assert {line["peak_on"] for line in rows} == {""}


def test_summary_weighs_what_was_left_for_seed_when_asked(tmp_path: Path) -> None:
    with pn.Garden.create(tmp_path / "plot") as garden:
        garden.record(
            pn.Sown("A1", "2024-05-01", "Phaseolus coccineus"), pn.Picked("A1", "2024-08-01", 90, count=10),
            pn.LeftForSeed("A1", "2024-09-01", 4),
        )  # fmt: skip
    asked = json.loads(run("summary", str(tmp_path / "plot"), "--season", "2024", "--forgone", "--json")[1])
    assert [row["forgone_g"] for row in asked] == [36.0]
    assert "forgone_g" in run("summary", str(tmp_path / "plot"), "--forgone")[1]
    assert "forgone_g" not in run("summary", str(tmp_path / "plot"))[1]


def test_summary_for_people_says_what_is_missing_and_dangerous(demo: Path) -> None:
    code, out, _ = run("summary", str(demo), "--crop", "Rheum x hybridum", "--season", "2024")
    assert code == 0
    assert "still run" in out
    assert "leaf" in out.lower()


def test_history_and_compare(demo: Path) -> None:
    code, out, _ = run("history", str(demo), "N2/2022")
    assert code == 0
    assert "died" in out
    code, out, _ = run(
        "compare", str(demo), "--crop", "Phaseolus coccineus", "--season", "2021", "--measure", "first_pick"
    )
    assert code == 0
    assert "as if randomised" in out
    code, out, _ = run("compare", str(demo), "--seasons", "--crop", "Capsicum pubescens", "--json")
    assert code == 0
    assert json.loads(out)


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("summary", "nowhere"), 1, "is no garden"),
        (("history", "{demo}", "P3"), 1, "no plant labelled 'P3'"),
        (("compare", "{demo}", "--measure", "taste"), 2, "is not one of"),
        (("compare", "{demo}", "--beds-alike", "No such bed"), 1, "No such bed"),
        (("compare", "{demo}", "--seasons", "--season", "2021"), 2, "leave --season"),
        (("summary", "{demo}", "--json", "--csv"), 2, "choose one"),
        (("history", "{demo}"), 2, "Missing argument"),
        (("summary", "{demo}", "--crop", "runner bean"), 1, "nothing matches. The crops here are Capsicum pubescens,"),
        (("summary", "{demo}", "--season", "2023/25"), 2, "is no growing year; write 2023 or 2023/24"),
    ],
)
def test_a_slip_ends_with_a_sentence(demo: Path, words: tuple[str, ...], code: int, message: str) -> None:
    ended, out, err = run(*(word.format(demo=demo) for word in words))
    assert ended == code
    assert message in err
    assert "Traceback" not in out + err


def test_what_nobody_can_show_is_null_or_a_sentence(tmp_path: Path) -> None:
    places = (pn.Site("home"), pn.Bed("b", "home"))
    stock = [pn.AlreadyHere(label, "2022-05-01", crop="Oca", bed="b", since="2020") for label in ("A1", "A2")]
    sown = [pn.Sown(label, "2023-04-01", crop="Oca", bed="b") for label in ("B1", r"[b]\[x]")]
    crops = [pn.Picked(label, "2023-08-01", 100) for label in ("A1", "A2")]
    none = [pn.BooksKept("b", "2023-01-01", "2023-12-31"), pn.Noted("2023-12-31", labels="A1", what=r"hail [/b]\[x]")]
    with pn.Garden.create(tmp_path / "plot") as garden:
        garden.record(*places, *stock, *sown, *crops, *none)
    code, out, err = run("compare", str(tmp_path / "plot"), "--season", "2023", "--json")
    assert (code, err) == (0, "")
    compared = json.loads(out, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    assert (compared[0]["mean_against"], compared[0]["ratio"]) == (0.0, None)
    assert r"[b]\[x]" in run("summary", str(tmp_path / "plot"))[1]
    assert r"hail [/b]\[x]" in run("history", str(tmp_path / "plot"), "A1")[1]
    code, _, err = run("compare", str(tmp_path / "plot"), "--season", "1999")
    assert code == 1
    assert "No overwintered or fresh plants are on record for what was asked. The crops here are Oca" in err


def test_a_garden_from_nothing_in_the_terminal(tmp_path: Path) -> None:
    plot, book = str(tmp_path / "plot"), tmp_path / "harvest.csv"
    book.write_text(
        "event,label,labels,on,crop,grams\nsown,B1,,2023-05-10,Phaseolus coccineus,\n"
        "picked,,B1,2023-08-01,,180\npicked,,B1,2023-08-05,,0.2\n", encoding="utf-8",
    )  # fmt: skip
    assert run("new", plot, "--name", "mine")[0] == 0
    code, out, _ = run("take-in", plot, str(book), "--book", "kitchen")
    assert code == 0
    assert "3 rows read from 1 file of kitchen: 3 stored, 0 already known, 0 set aside; 1 doubt." in out
    assert "- B1: 0.2 g picked on 2023-08-05 would be likely in kilograms" in out
    assert "0 stored, 3 already known" in run("take-in", plot, str(book), "--book", "kitchen")[1]
    code, out, _ = run("check", plot)
    assert (code, "1 weight looks like kilograms." in out) == (0, True)
    assert json.loads(run("check", plot, "--json")[1])[0]["kind"] == "light"
    assert "180 g" in run("history", plot, "B1", "--as-of", "2999-01-01")[1]
    code, _, err = run("summary", plot, "--as-of", "2001-01-01")
    assert (code, "The garden has no plant yet." in err) == (1, True)
    assert "there is no file" in run("take-in", plot, str(tmp_path / "none.csv"), "--book", "kitchen")[2]


def test_version_and_help() -> None:
    assert run("--help")[0] == 0


def test_every_command_of_every_file_is_found() -> None:
    for module in pkgutil.iter_modules(cli.__path__):
        importlib.import_module(f"perennia.cli.{module.name}")
    nowhere = click.Context(main)
    assert main.list_commands(nowhere) == sorted(main.commands)
    assert [name for name in main.commands if main.get_command(nowhere, name) is None] == []
    assert main.get_command(nowhere, "no-such-command") is None


def test_the_list_of_commands_has_a_whole_sentence_for_each() -> None:
    listed = " ".join(run("--help")[1].split())
    for name, command in main.commands.items():
        told = " ".join((command.help or "").split("\n\n")[0].split())
        sentence = told.partition(". ")[0].removesuffix(".")
        assert sentence
        assert f" {name} {sentence}" in listed
    assert "history" in run("-h")[1]


def test_the_command_runs_as_a_module() -> None:
    done = subprocess.run([sys.executable, "-m", "perennia", "--help"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("Usage: ")
    assert "take-in" in done.stdout
