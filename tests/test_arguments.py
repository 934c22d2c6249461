"""A call given something else than it can take is answered in words, whatever it was given."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import perennia as pn
from perennia.errors import ArgumentError, PerenniaError, StoreError
from perennia.intake import read

TODAY = date(2025, 6, 1)
Asked = Callable[[pn.Garden], Any]


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    garden = pn.Garden.create(tmp_path_factory.mktemp("slips") / "plot")
    sown = pn.Sown("A1", "2024-05-10", crop="Oca", bed="b")
    garden.record(pn.Site("home"), pn.Bed("b", "home"), sown, pn.Picked("A1", "2024-08-01", 90), today=TODAY)
    return garden


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (lambda garden: pn.Picked("A1", pd.NaT, 5), "NaT is not a date"),
        (lambda garden: pn.BooksKept("b", pd.NaT, "2024-05-01"), "NaT is not a date"),
        (lambda garden: pn.Picked("A1", np.datetime64("2024-08-01"), 5), "is not a date; write it as"),
        (lambda garden: pn.Picked("A1", "2024-08-01", np.True_), "is not a number"),
        (lambda garden: pn.Picked("A1", "2024-08-01", np.array([1.0])), "is not a number"),
        (lambda garden: garden.record(pn.Picked("A1", "2024-08-02", 5), today=5), "today is 5; give a day"),
        (lambda garden: garden.record(pn.Picked("A1", "2024-08-02", 5), today="soon"), "today: 'soon' is not"),
        (lambda garden: garden.correct("ab", reason="misread"), "'ab' is no record id; it has 32 hexadecimal digits"),
        (lambda garden: garden.correct(5, reason="misread"), "5 is no record id"),
        (lambda garden: garden.correct("00" * 16, reason=None), "reason is None, which is no text"),
        (lambda garden: garden.correct("00" * 16, {"grams": 5}, reason="misread"), "is no perennia record; build one"),
        (lambda garden: garden.history(5), "label is 5; give a list of names"),
        (lambda garden: garden.history("A\ud800"), "holds half a character"),
        (lambda garden: pn.Garden.open("x", memory_limit="much"), "memory_limit is 'much'; give a size such as"),
        (lambda garden: pn.Garden.open("x", memory_limit="1MB"), "at least '64MB'"),
        (lambda garden: garden.sql(5), "the query is 5, which is no text"),
        (lambda garden: garden.sql("select 1", as_="polars"), "as_ is 'polars'; choose 'pandas' or 'arrow'"),
        (lambda garden: garden.table("harvest", years=["x"]), "years is 'x'; give a whole number such as 2024"),
        (lambda garden: garden.table("harvest", years=[True]), "years is True; give a whole number"),
        (lambda garden: garden.table("harvest", labels=5), "labels is 5; give a list of names"),
        (lambda garden: pn.season_summary(garden, seasons=[2024.7]), "seasons is 2024.7; give a whole number"),
        (lambda garden: pn.season_summary(garden, seasons=[24]), "seasons is 24; give a year such as 2024"),
        (lambda garden: pn.compare_stock(garden, season="2024"), "season is '2024'; give a whole number"),
        (lambda garden: pn.compare_stock(garden, arms=("fresh", "old")), "two different kinds of stock out of fresh, "),
        (lambda garden: pn.compare_stock(garden, arms=None), "arms is None; give a list of names"),
        (lambda garden: pn.compare_stock(garden, beds_alike=5), "beds_alike is 5; give a list of names"),
        (lambda garden: pn.compare_stock(garden, level="x"), "level 'x' is not between 0 and 1"),
        (lambda garden: pn.compare_stock(garden, measure=["weight"]), "unknown measure"),
        (lambda garden: pn.compare_stock(garden, crop=5), "crop is 5, which is no text"),
        (lambda garden: pn.compare_seasons(garden, plant_season="2"), "plant_season is '2'; give a whole number"),
        (lambda garden: pn.Garden.open(None), "the garden's folder is None, which is no text"),
        (lambda garden: pn.Garden.create("a\ud800"), "holds half a character"),
        (lambda garden: pn.Garden.create("a\0"), "or no plain text"),
        (lambda garden: pn.Garden.open(garden.path, as_of="0001-01-01T00:00:00+05:00"), "which no calendar holds"),
        (lambda garden: read(garden, None, book="b"), "the source is None, which is no text"),
        (lambda garden: garden.table(["life"]), "view is ['life'], which is no text"),
        (lambda garden: garden.table("life", labels=np.array("x")), "give a list of names"),
        (lambda garden: garden.table("life", years=np.array("x")), "give a list of years"),
        (lambda garden: garden.sql("select 1", time_limit_s="x"), "time_limit_s is 'x'; give a number above 0"),
        (lambda garden: garden.sql("select 1", isolated=True, memory_limit_mb="x"), "memory_limit_mb is 'x'; give a"),
        (lambda garden: garden.record_tables(5), "tables is a int; give a dict of Arrow tables"),
        (lambda garden: pn.compare_stock(garden, beds_alike=np.array(["A", "B"])), "beds_alike names A, B; beds on"),
        (lambda garden: pn.Garden.open(garden.path, as_of=2024), "as_of is 2024; give a day or an instant"),
        (lambda garden: pn.Garden.open(garden.path, as_of=pd.NaT), "as_of is NaT; give a day"),
        (lambda garden: pn.Garden.open(garden.path, as_of="May"), "'May' is no instant; write it as"),
        (lambda garden: pn.Garden.create(garden.path.parent / "new", name=5), "the garden's name is 5"),
        (lambda garden: read(garden, garden.path, book=None), "book is None, which is no text"),
    ],
)  # fmt: skip
def test_a_slip_is_answered_in_words(garden: pn.Garden, asked: Asked, message: str) -> None:
    with pytest.raises(PerenniaError) as caught:
        asked(garden)
    assert message in str(caught.value)


def test_a_year_far_ahead_is_a_day_ahead_like_any_other(garden: pn.Garden) -> None:
    with pytest.raises(PerenniaError, match="lies ahead of today"):
        garden.record(pn.Picked("A1", "9999~", 5), today=TODAY)


def test_today_and_as_of_are_taken_in_every_form(garden: pn.Garden) -> None:
    for today in (TODAY, datetime(2025, 6, 1, 12), "2025-06-01"):
        with pytest.raises(PerenniaError, match="lies ahead of today, 2025-06-01"):
            garden.record(pn.Picked("A1", "2025-08-01", 5), today=today)
    now = date.today()
    for as_of in (now, now.isoformat(), datetime.combine(now, datetime.max.time())):
        with pn.Garden.open(garden.path, as_of=as_of) as earlier:
            assert len(earlier.table("harvest")) == 1


def test_a_garden_is_found_wherever_the_process_goes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    garden = pn.Garden.create("plot")
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    garden.record(pn.Site("home"))
    assert garden.table("sites")["site"].tolist() == ["home"]


@pytest.mark.parametrize("name", ["a%20b", "x" * 300])
def test_a_folder_that_cannot_be_is_told(tmp_path: Path, name: str) -> None:
    with pytest.raises(StoreError, match=r"rename the folder|check the folder's path"):
        pn.Garden.create(tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_link_to_a_folder_that_cannot_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "a%20b").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "a%20b")
    with pytest.raises(StoreError, match="rename the folder"):
        pn.Garden.create(tmp_path / "link" / "plot")
    assert {path.name for path in tmp_path.iterdir()} == {"a%20b", "link"}


def test_a_file_cut_short_is_told(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    garden.record(pn.Site("home"), pn.Noted("2024-05-01", bed="b", what="hail"), pn.Bed("b", "home"), today=TODAY)
    (cut,) = (tmp_path / "plot" / "care").rglob("*.parquet")
    cut.write_bytes(cut.read_bytes()[:8])
    for asked in (lambda: garden.table("care"), lambda: garden.sql("select * from care")):
        with pytest.raises(StoreError, match="cannot be read"):
            asked()


def test_threads_ask_one_garden_in_turn(garden: pn.Garden) -> None:
    with ThreadPoolExecutor(4) as pool:
        asked = [pool.submit(garden.sql, "select sum(grams) as g from harvest where grams > ?", [n]) for n in range(8)]
        told = [pool.submit(garden.history, "A1") for _ in range(4)]
        assert [answer.result()["g"][0] for answer in asked] == [90.0] * 8
        assert {len(answer.result()) for answer in told} == {2}


def test_slips_of_a_call_are_type_errors_too() -> None:
    assert issubclass(ArgumentError, TypeError)
