"""A garden as if its books ended with a day: what happened later is not seen, whatever is asked."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import perennia as pn
from perennia.errors import ArgumentError, ReadOnlyError

BEAN = "Phaseolus coccineus"


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    garden = pn.Garden.create(tmp_path_factory.mktemp("up_to") / "plot")
    garden.record(
        pn.Site("plot", latitude=48.0), pn.Bed("B1", "plot"), pn.Sown("A1", "2022-05-01", crop=BEAN, bed="B1"),
        pn.Picked("A1", "2022-07-20", 100.0), pn.Picked("A1", "2022-08-01/2022-08-09", 50.0),
        pn.BooksKept("B1", "2022-07-01", "2022-09-30"), pn.Neighbour("2022-06-01", bed="B1", crop="Zea mays",
                                                                     until="2022-09-15"),
        pn.FlowerFate("A1", "1", 1, opened_on="2022-07-01", set_on="2022-07-08", ended_on="2022-08-02", end="picked"),
        pn.Died("A1", "2022-11-01", cause="frost"), pn.Sown("A1", "2023-05-01", crop=BEAN, bed="B1"),
        pn.GerminationTest("L1", "2023-03-01", 10, 9),
    )  # fmt: skip
    return garden


def test_only_what_had_happened_is_seen(plot: pn.Garden) -> None:
    early = plot.up_to("2022-08-05")
    assert early.sql("select plant, ended_on is null as lives from plants").values.tolist() == [["A1/2022", True]]
    # a span is seen from its first day on
    assert early.sql('select grams from harvest where event = \'picked\' order by "on"')["grams"].tolist() == [100, 50]
    assert plot.up_to(date(2022, 7, 31)).sql("select * from harvest where event = 'picked'").shape[0] == 1
    assert early.sql("select * from seed").empty
    assert plot.sql("select * from plants").shape[0] == 2


def test_what_goes_on_over_the_day_ends_with_it(plot: pn.Garden) -> None:
    seen = plot.up_to("2022-07-10")
    flower = seen.sql('select set_on, ended_on, "end", on_to from flowering').iloc[0]
    assert (f"{flower['set_on']:%m-%d}", f"{flower['on_to']:%m-%d}") == ("07-08", "07-10")
    assert flower[["ended_on", "end"]].isna().all()
    assert plot.up_to("2022-07-05").sql("select set_on from flowering")["set_on"].isna().all()
    books = seen.sql("select on_to from harvest where event = 'books_kept'")["on_to"]
    assert f"{books.iloc[0]:%Y-%m-%d}" == "2022-07-10"
    assert f"{seen.sql('select until from care')['until'].iloc[0]:%Y-%m-%d}" == "2022-07-10"
    assert f"{plot.up_to('2022-12-01').sql('select until from care')['until'].iloc[0]:%Y-%m-%d}" == "2022-09-15"


def test_it_is_the_same_in_every_way_of_asking(plot: pn.Garden) -> None:
    early = plot.up_to("2022-08-05")
    assert early.sql("select count(*) as n from life", isolated=True)["n"].tolist() == [1]
    assert sorted(early.history("A1")["event"]) == ["flower_fate", "picked", "picked", "sown"]
    assert early.rows("life").num_rows == 1
    assert early.up_to("2030-01-01").rows("life").num_rows == 1
    assert early.up_to("2021-01-01").rows("life").num_rows == 0
    assert "until='2022-08-05'" in repr(early)


def test_nothing_is_written_through_it(plot: pn.Garden) -> None:
    with pytest.raises(ReadOnlyError, match="up to a day"):
        plot.up_to("2022-08-05").record(pn.Picked("A1", "2022-08-04", 10.0))
    with pytest.raises(ArgumentError, match="day is None"):
        plot.up_to(None)  # type: ignore[arg-type]


def test_as_of_and_up_to_go_together(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    garden.record(pn.Site("plot", latitude=48.0), pn.Bed("B1", "plot"))
    garden.record(pn.Sown("A1", "2022-05-01", crop=BEAN, bed="B1"))
    before = pn.Garden.open(tmp_path / "plot", as_of="2001-01-01")
    assert before.up_to("2022-12-31").rows("life").num_rows == 0
    assert garden.up_to("2022-12-31").rows("life").num_rows == 1
