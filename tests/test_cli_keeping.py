"""The keep list from the terminal, and the page it writes."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

import perennia as pn
from perennia.analysis.decisions.keeping.keep_list import keep_list
from perennia.cli import main
from perennia.errors import IntakeError
from tests.demo_gardens import demo_by_terminal

BEAN = "Phaseolus coccineus"
_EMPTY = {"meta", "col"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_by_terminal(tmp_path_factory.mktemp("keeping") / "demo")


def run(*words: str) -> tuple[int, str, str]:
    """Status and what was printed, errors apart."""
    done = CliRunner().invoke(main, ["keep", *words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


def test_the_list_is_shown_with_reasons_winters_plan_seed_and_cautions(demo: Path) -> None:
    code, out, err = run(str(demo), "--season", "2023/24", "--crop", BEAN, "--target", "8000", "--places", "6")
    assert (code, err) == (0, ""), err
    for part in ("rank", "expected_if_alive", "came through", "plants from seed alone", "seeds_a_sowing", "keep: ",
                 "Do not eat the root", "Cautions are reminders"):  # fmt: skip
        assert part in out, part
    # the crop is named once, then come the table, what to do, what that rests on, and what stands against it
    assert out.count(BEAN) == 1
    places = [out.index(part) for part in ("expected_if_alive", "A target of 8000 g", "\nKeep: P", "came through",
                                           "Do not eat the root")]  # fmt: skip
    assert places == sorted(places)
    assert "keep: yes, keep; even, nothing on record decides" in out
    # the cautions of the crop are said once
    assert out.count("Do not eat the root") == 1


def test_scripts_get_the_rows_of_the_library(demo: Path) -> None:
    with pn.Garden.open(demo, read_only=True) as garden:
        own = keep_list(garden, 2023, crop=BEAN, repeatability=0.3, wintering="ground", assurance=0.8)
    code, out, err = run(str(demo), "--season", "2023", "--crop", BEAN, "--repeatability", "0.3", "--wintering",
                         "ground", "--assurance", "0.8", "--json")  # fmt: skip
    assert (code, err) == (0, "")
    rows = json.loads(out)
    assert list(rows[0]) == list(own.table.columns)
    assert [row["plant"] for row in rows] == own.table["plant"].tolist()
    assert {row["wintering"] for row in rows} == {"ground"}
    assert run(str(demo), "--season", "2023", "--crop", BEAN, "--csv")[1].startswith("rank,plant,label,")


def test_the_books_of_an_earlier_day_give_the_list_of_that_day(demo: Path) -> None:
    assert "No plant on record lives in season 2023" in run(str(demo), "--season", "2023", "--as-of", "2000-01-01")[2]


class Page(HTMLParser):
    """Reads a page, holding that every element is closed in its turn."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        if tag not in _EMPTY:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def read(path: Path) -> Page:
    page = Page()
    page.feed(path.read_text(encoding="utf-8"))
    assert page.open == []
    return page


def test_the_page_has_a_line_and_a_label_for_each_and_needs_nothing_else(demo: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.html"
    code, out, _ = run(str(demo), "--season", "2023", "--crop", BEAN, "--places", "5", "--page", str(path))
    assert code == 0
    assert "list.html" in out
    page = read(path)
    with pn.Garden.open(demo, read_only=True) as garden:
        result = keep_list(garden, 2023, crop=BEAN, places=5)
    assert sum(tag == "tr" for tag, _ in page.seen) == 1 + len(result.table)
    assert sum(given.get("class") == "box" for _, given in page.seen) == len(result.table)
    kept = result.table["keep"].isin(["yes", "even"]).sum()
    labels = path.read_text(encoding="utf-8").split('class="labels"')[1].split("</ul>")[0]
    assert labels.count("<li>") == kept
    # self-contained: no script, no link, nothing fetched, no weight filled in beforehand
    assert not {"script", "link", "img"} & {tag for tag, _ in page.seen}
    assert not re.search(r"https?://|url\(", path.read_text(encoding="utf-8"))
    assert "@page" in path.read_text(encoding="utf-8")
    assert "begun" in "".join(page.text)


def test_names_cannot_break_the_page(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    wild = '<b>"A&1'
    garden.record(
        pn.Site("home", latitude=51.0), pn.Bed("b", "home"),
        pn.Sown(wild, "2023-05-01", crop=BEAN, bed="b", cultivar="<i>Red & white</i>"),
        pn.Picked(wild, "2023-08-01", grams=400),
        pn.Lifted(wild, "2023-10-01", kept_because="<script>alert(1)</script>", note="<script> rot?"),
    )  # fmt: skip
    path = keep_list(garden, 2023).to_html(tmp_path / "list.html")
    page = read(path)
    assert "script" not in {tag for tag, _ in page.seen}
    assert {"b", "i"} & {tag for tag, _ in page.seen} == {"b"}
    assert wild in page.text
    assert "<i>Red & white</i>" in page.text


def test_several_crops_stand_one_after_another_with_shared_cautions_said_once(demo: Path) -> None:
    code, out, err = run(str(demo), "--season", "2023")
    assert (code, err) == (0, "")
    heads = re.findall(r"^--+ ?([A-Z][a-z]+ [a-z]+)|^([A-Z][a-z]+ [a-z]+) -+$", out, re.MULTILINE)
    assert len(heads) > 1
    assert out.count("Cautions are reminders") == 1
    lines = [line for line in out.splitlines() if line.startswith("- ")]
    assert len(lines) == len(set(lines))


def test_what_is_not_there_is_said_without_contradiction(demo: Path) -> None:
    err = run(str(demo), "--season", "2023", "--crop", "Humulus lupulus")[2]
    assert "No plant on record lives in season 2023. The crops here are" in err
    assert "none" not in err


def test_the_answer_is_in_words_and_not_in_those_of_the_library(demo: Path) -> None:
    for crop in (["--crop", BEAN], []):
        assert not re.search(r"[a-z]=", run(str(demo), "--season", "2023", *crop)[1])


def test_a_page_is_never_written_over(demo: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.html"
    path.write_text("mine", encoding="utf-8")
    code, out, err = run(str(demo), "--season", "2023", "--crop", BEAN, "--page", str(path))
    assert (code, out) == (1, "")
    assert "is there already" in err
    assert path.read_text(encoding="utf-8") == "mine"
    with pn.Garden.open(demo, read_only=True) as garden, pytest.raises(IntakeError, match=r"ends in \.html"):
        keep_list(garden, 2023, crop=BEAN).to_html(tmp_path / "list.txt")


def test_a_slip_ends_in_words(demo: Path, tmp_path: Path) -> None:
    assert "is no growing year; write 2023 or 2023/24" in run(str(demo), "--season", "23")[2]
    assert "Missing option '--season'" in run(str(demo))[2]
    choices = "'season_days' is not one of 'total_g', 'count', 'g_per_m2'"
    assert choices in run(str(demo), "--season", "2023", "--measure", "season_days")[2]
    assert "name one of" in run(str(demo), "--season", "2023", "--places", "3")[2]
    assert "repeatability 2.0 is not between 0 and 1" in run(str(demo), "--season", "2023", "--repeatability", "2")[2]
    pn.Garden.create(tmp_path / "empty")
    code, out, err = run(str(tmp_path / "empty"), "--season", "2023")
    assert (code, out) == (1, "")
    assert "The garden has no plant yet." in err
