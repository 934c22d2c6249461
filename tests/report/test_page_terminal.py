"""perennia report: where the page goes, the season and day it is of, and a PDF where a browser is found."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import perennia as pn
from perennia.errors import IntakeError
from perennia.report.page import season_report
from perennia.report.pdf import write_pdf
from tests.report.page_gardens import ODD_DAY, one_plant
from tests.terminal import run


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("one") / "plot"
    one_plant(folder).close()
    return folder


def test_the_page_is_that_of_the_library(plot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # without figures, which take most of the time and have tests of their own
    monkeypatch.setitem(sys.modules, "matplotlib.axes", None)
    out = tmp_path / "page.html"
    code, said, wrong = run("report", str(plot), "--season", "2024", "--today", ODD_DAY, "--out", str(out))
    assert (code, wrong) == (0, "")
    assert said == f"The season report lies in {out}.\n"
    with pn.Garden.open(plot, read_only=True) as garden:
        assert out.read_text(encoding="utf-8") == season_report(garden, 2024, ODD_DAY)


def test_without_a_name_the_page_is_named_by_its_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pn.Garden.create(tmp_path / "plot").close()
    monkeypatch.chdir(tmp_path)
    code, said, _ = run("report", "plot", "--today", ODD_DAY)
    assert (code, said) == (0, f"The season report lies in season-report-{ODD_DAY}.html.\n")
    assert (tmp_path / f"season-report-{ODD_DAY}.html").exists()
    code, _, wrong = run("report", "plot", "--today", ODD_DAY)
    assert code == 1
    assert "is there already" in wrong


def test_without_a_browser_a_pdf_is_refused_in_words(
    plot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    code, _, wrong = run("report", str(plot), "--pdf", str(tmp_path / "page.pdf"))
    assert code == 1
    assert "a PDF needs a browser to print it, and none is installed here" in wrong
    assert list(tmp_path.iterdir()) == []


def test_a_wrong_name_is_told_before_the_work(plot: Path, tmp_path: Path) -> None:
    code, _, wrong = run("report", str(plot), "--out", str(tmp_path / "page.pdf"))
    assert code == 1
    assert "write page.html" in wrong
    code, _, wrong = run("report", str(plot), "--pdf", str(tmp_path / "page.html"))
    assert code == 1
    assert "write page.pdf" in wrong


def test_a_browser_that_makes_nothing_is_told_with_what_it_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = tmp_path / "chromium"
    browser.write_text("#!/bin/sh\necho no display >&2\nexit 3\n")
    browser.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(IntakeError, match="made no PDF; it said: no display"):
        write_pdf("<p>page</p>", tmp_path / "page.pdf")
    assert not (tmp_path / "page.pdf").exists()
