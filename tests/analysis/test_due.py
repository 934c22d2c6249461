"""What is due in a garden of runner beans round its year: each matter comes when it should and goes when done."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from typing import Any

import pytest

import perennia as pn
from perennia.analysis import Due, due
from tests.analysis.built_source import source_over

BEAN = "Phaseolus coccineus"
ROOTS = ("P1", "P2", "P3", "P4", "P5")
Ask = Callable[[str], Due]


def _records() -> list[pn.Record]:
    made: list[pn.Record] = [pn.Site("plot", latitude=48.0), pn.Bed("B1", "plot", area_m2=10.0)]
    for label in ROOTS:
        weight = {"root_g": 300.0}
        made += [
            pn.Sown(label, "2021-05-02", crop=BEAN, bed="B1"), pn.Picked(label, "2021-07-20", 200.0),
            pn.DiedBack(label, "2021-10-15", cause="frost"), pn.Lifted(label, "2021-10-20", **weight),
            pn.Stored(label, "2021-10-25", place="bare root", protection="frost-free", box="X"),
            pn.Replanted(label, "2022-05-10", bed="B1"), pn.Regrew(label, "2022-05-24"),
            pn.Picked(label, "2022-07-20", 300.0), pn.DiedBack(label, "2022-10-12", cause="frost"),
            pn.Lifted(label, "2022-10-20", **({} if label == "P5" else weight)),
            pn.Stored(label, "2022-10-21", place="bare root", protection="frost-free",
                      box=None if label == "P4" else "X"),
        ]  # fmt: skip
    made += [pn.StoreChecked(label, "2022-12-01", condition="sound") for label in ROOTS[:3]]
    made += [
        pn.SeedSaved("P1", "2021-09-20", lot="Own 2021"), pn.GerminationTest("Own 2021", "2023-03-20", 20, 15),
        pn.StoreChecked("P2", "2023-01-05", condition="soft"), pn.StoreChecked("P3", "2023-01-06", condition="rotten"),
        pn.Died("P3", "2023-01-20", cause="rot"), pn.Sown("N1", "2023-05-04", crop=BEAN, bed="B1", cultivar="White"),
    ]  # fmt: skip
    made += [pn.Replanted(label, "2023-05-12", bed="B1") for label in ("P1", "P2", "P4", "P5")]
    made += [pn.Regrew(label, "2023-05-26") for label in ("P1", "P2", "P4")]
    made += [
        pn.Died("P5", "2023-06-10"), pn.TrussCount("P2", "1", "2023-07-10", opened=5, dropped=1, full_size=0),
        pn.TrussCount("P2", "1", "2023-07-20", opened=6, dropped=2, full_size=4),
        pn.Picked("P1", "2023-07-20", 100.0), pn.Picked("P1", "2023-07-23", 120.0), pn.Picked("P1", "2023-07-27", 0.0),
        pn.Picked("N1", "2023-08-05", 80.0), pn.LeftForSeed("N1", "2023-08-20", count=5),
        pn.Noted("2023-09-25", labels="P1", what="keep"), pn.Mulched("N1", "2023-09-28"),
    ]  # fmt: skip
    made += [pn.Lifted(label, "2023-10-05", root_g=250.0) for label in ("P1", "P2", "P4")]
    return made


@pytest.fixture(scope="module")
def on() -> Iterator[Ask]:
    with source_over(_records()) as source:
        yield cache(lambda day: due(source, day))


def matters(found: Due, kind: str) -> list[dict[str, Any]]:
    """The rows of one kind."""
    return [dict(row) for row in found.table[found.table["kind"] == kind].to_dict("records")]


def labels(found: Due, kind: str) -> list[str]:
    """All labels of one kind, in order."""
    return [label for row in matters(found, kind) for label in str(row["labels"]).split(", ")]


def test_roots_in_store_want_a_look_every_month(on: Ask) -> None:
    assert labels(on("2022-12-20"), "store check") == ["P4", "P5"]
    boxes = {row["labels"]: row["place"] for row in matters(on("2022-12-20"), "store check")}
    assert boxes["P5"] == "X"
    assert "last looked at 60 days ago (2022-10-21)" in matters(on("2022-12-20"), "store check")[0]["why"]


def test_what_rots_comes_first_and_what_died_is_left_in_peace(on: Ask) -> None:
    first = on("2023-01-08").table.iloc[0]
    assert (first["kind"], first["labels"], first["standing"]) == ("store check", "P3", "overdue")
    assert "Take it out at once" in first["do"]
    assert "P2" not in labels(on("2023-01-08"), "store check")
    soft = next(row for row in matters(on("2023-02-01"), "store check") if row["labels"] == "P2")
    assert "found soft" in soft["why"]
    assert "P3" not in labels(on("2023-02-01"), "store check")


def test_roots_without_a_weight_or_a_box(on: Ask) -> None:
    assert labels(on("2022-12-20"), "root weight") == ["P5"]
    assert labels(on("2022-12-20"), "box map") == ["P4"]
    planted = on("2023-05-20")
    assert not matters(planted, "root weight")
    assert not matters(planted, "box map")


def test_seed_is_tested_before_it_is_sown(on: Ask) -> None:
    assert not matters(on("2023-02-01"), "seed lot")
    (lot,) = matters(on("2023-03-10"), "seed lot")
    assert (lot["place"], lot["by"].date()) == ("Own 2021", date(2023, 5, 2))
    assert "never tested" in lot["why"]
    assert not matters(on("2023-04-10"), "seed lot")


def test_a_loss_is_sown_for_until_it_is_covered(on: Ask) -> None:
    assert not matters(on("2023-02-01"), "sowing")
    (loss,) = matters(on("2023-04-10"), "sowing")
    assert (loss["standing"], loss["since"].date(), loss["by"].date()) == ("ahead", date(2023, 5, 2), date(2023, 5, 2))
    assert "of 5 plants that entered the winter before 2023 1 died (P3); none sown for that season" in loss["why"]
    assert "of 5 roots in earlier winters 5 came through" in loss["why"]
    assert "Sow for 1 plant with 2 seeds" in loss["do"]
    assert "lot Own 2021, 15 of 20 came up on 2023-03-20" in loss["do"]
    assert not matters(on("2023-05-06"), "sowing")


def test_a_root_given_up_in_june_is_too_late_to_sow_for_and_counted(on: Ask) -> None:
    found = on("2023-06-02")
    assert not matters(found, "sowing")
    assert any("1 plant lost in the winter and not sown for" in text for text in found.cautions)


def test_roots_are_started_before_they_went_out_in_earlier_years(on: Ask) -> None:
    assert not matters(on("2023-04-10"), "starting")
    (start,) = matters(on("2023-05-06"), "starting")
    assert start["labels"] == "P1, P2, P4, P5"
    assert (start["since"].date(), start["by"].date()) == (date(2023, 4, 12), date(2023, 5, 10))
    assert "In earlier seasons roots of it went out on 10 May (5 records of 1 season)" in start["why"]
    assert not matters(on("2023-05-20"), "starting")


def test_a_silent_root_is_looked_for(on: Ask) -> None:
    assert not matters(on("2023-05-20"), "regrowth")
    (silent,) = matters(on("2023-05-28"), "regrowth")
    assert (silent["labels"], silent["standing"]) == ("P5", "now")
    assert (silent["since"].date(), silent["by"].date()) == (date(2023, 5, 26), date(2023, 5, 31))
    assert "So far half had regrown 14 days after replanting" in silent["why"]
    assert matters(on("2023-06-02"), "regrowth")[0]["standing"] == "overdue"
    assert not matters(on("2023-07-13"), "regrowth")


def test_a_truss_begun_is_watched_until_its_flowers_are_over(on: Ask) -> None:
    (truss,) = matters(on("2023-07-13"), "trusses")
    assert truss["labels"] == "P2"
    assert "truss 1 3 days ago (last counted 5 opened, 1 dropped, 0 grown to full size)" in truss["why"]
    assert not matters(on("2023-07-26"), "trusses")


def test_pickings_wait_for_the_usual_gap_and_a_look_is_one(on: Ask) -> None:
    assert not matters(on("2023-07-13"), "picking")
    (picking,) = matters(on("2023-07-26"), "picking")
    assert (picking["labels"], picking["place"], picking["by"].date()) == ("P1", "B1", date(2023, 7, 26))
    assert "last picked on 2023-07-23, 3 days ago" in picking["why"]
    assert not matters(on("2023-07-28"), "picking")


def test_pods_are_marked_of_a_cultivar_without_young_seed(on: Ask) -> None:
    (pods,) = matters(on("2023-08-10"), "seed pods")
    assert (pods["labels"], pods["cultivar"]) == ("N1", "White")
    assert "no lot saved of it is on record" in pods["why"]
    assert not matters(on("2023-08-21"), "seed pods")


def test_keepers_are_marked_before_the_frost(on: Ask) -> None:
    assert not matters(on("2023-08-21"), "keepers")
    (mark,) = matters(on("2023-09-16"), "keepers")
    assert set(labels(on("2023-09-16"), "keepers")) == {"P1", "P2", "P4", "N1"}
    assert mark["by"].date() == date(2023, 10, 12)
    assert "frost first took tops between 12 October and 15 October" in mark["why"]
    assert set(labels(on("2023-09-30"), "keepers")) == {"P2", "P4"}
    assert not matters(on("2023-10-06"), "keepers")


def test_plants_are_lifted_in_order_before_the_frost(on: Ask) -> None:
    assert not matters(on("2023-09-16"), "lifting")
    (order,) = matters(on("2023-09-30"), "lifting")
    named = labels(on("2023-09-30"), "lifting")
    assert (named[0], set(named)) == ("P1", {"P1", "P2", "P4"})
    assert (order["since"].date(), order["by"].date()) == (date(2023, 9, 28), date(2023, 10, 12))
    assert "wintered above 4 degrees C" in order["why"]
    assert not matters(on("2023-10-06"), "lifting")


def test_every_matter_says_where_its_figures_are_from(on: Ask) -> None:
    for day in ("2022-12-20", "2023-04-10", "2023-05-28", "2023-07-26", "2023-09-30"):
        for row in on(day).table.itertuples(index=False):
            assert row.why.endswith(".")
            assert row.do.endswith(".")
            assert row.kind in on(day).findings[row.urgency - 1]


def test_beds_without_weather_are_counted(on: Ask) -> None:
    assert "Whether 1 bed is dry is not known, B1: no weather is on record of their site." in on("2023-07-26").cautions
