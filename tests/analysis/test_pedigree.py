"""A pedigree by hand in a garden of our own invention; what holds of any; and what the words must own up to."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.analysis.decisions.descent.descent import Link, relatives
from perennia.analysis.decisions.descent.pedigree import COLUMNS, LINKS, Pedigree, pedigree, pedigree_of
from perennia.analysis.decisions.descent.pedigree_lots import LOTS
from perennia.analysis.units import rows_of
from perennia.errors import ArgumentError, UnknownLabelError
from perennia.records.base import Record
from tests.analysis.built_source import BuiltSource
from tests.queries.built_views import built, with_ids

BEAN, RHUBARB = "Phaseolus coccineus", "Rheum x hybridum"
# a label used twice, a line of divisions and cuttings, a lot of two mothers, a lot of a year with two crops in it, a
# lot saved again after it was sown, one whose saving may be later than the sowing, and lots without a saving
RECORDS: tuple[Record, ...] = (
    pn.Site("home", latitude=51.0),
    pn.Bed("b", "home"),
    pn.Acquired("R", "2018-03-01", crop=RHUBARB, kind="root", cultivar="Red Stalk", bed="b"),
    pn.Divided("R", "2020-03-10", into=("R1", "R2"), mother_continues=True, bed="b"),
    pn.Divided("R1", "2022-03-10", into=("R1a", "R1b"), bed="b"),
    pn.SeedSaved("R2", "2021-08-01", lot="2021"),
    pn.AlreadyHere("A", "2019-04-20", crop=BEAN, cultivar="White", since="../2018", bed="b"),
    pn.Died("A", "2020-12-01"),
    pn.Sown("A", "2021-05-01", crop=BEAN, cultivar="White", bed="b", lot="bought"),
    pn.CuttingTaken("A", "2022-06-01", into=("C",), bed="b"),
    pn.CuttingTaken("C", "2023-06-01", into=("D",), bed="b"),
    pn.Sown("B", "2021-05-02", crop=BEAN, cultivar="Scarlet", bed="b"),
    pn.Picked("B", "2021-08-10", grams=300),
    pn.Picked("B", "2022-08-10", grams=200, count=40),
    pn.SeedSaved("A", "2021-10-01", lot="2021", grams=20, count=18),
    pn.SeedSaved("B", "2021-10-05", lot="2021"),
    pn.SeedSaved("D", "2023-10-05", lot="from D", count=12),
    pn.GerminationTest("from D", "2024-02-01", sown=10, germinated=9),
    pn.SeedSaved("C", "2023-09", lot="late"),
    pn.Sown("X", "2022-05-01", crop=BEAN, bed="b", lot="2021"),
    pn.SeedSaved("X", "2022-10-01", lot="2021"),
    pn.Sown("Y", "2023-05-01", crop=BEAN, bed="b", plants=5, lot="2021"),
    pn.Sown("Z", "2023-09-10", crop=BEAN, bed="b", lot="late"),
    pn.Sown("N", "2021-05-01", crop=BEAN, cultivar="Dwarf", bed="b"),
    pn.Died("N", "2021-08-01"),
    pn.Sown("O", "2014-05-01", crop=BEAN, cultivar="Gone", bed="b"),
    pn.Died("O", "2015-11-01"),
    pn.Sown("S", "2021-05-01", crop=BEAN, bed="b", plants=4),
    pn.HandPollinated("2022-07-10", labels=("S",)),
    pn.SeedSaved("S", "2022-10-01", lot="of the row"),
    pn.Sown("S1", "2023-05-01", crop=BEAN, bed="b", lot="of the row"),
    pn.Sown("W", "2021-09-01", crop=BEAN, bed="b", lot="2021"),
)
TODAY = date(2024, 3, 1)


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Iterator[pn.Garden]:
    with pn.Garden.create(tmp_path_factory.mktemp("pedigree") / "plot") as made:
        made.record(*RECORDS, today=TODAY)
        yield made


def kin(found: Pedigree, *columns: str) -> dict[str, Any]:
    """Some columns of the table by plant."""
    return {row["plant"]: tuple(row[column] for column in columns) for row in rows_of(found.table)}


def test_divisions_and_cuttings_are_one_genotype_over_generations(garden: pn.Garden) -> None:
    found = pedigree(garden, "R1a")
    columns = ("relation", "way", "steps", "vegetative_generations", "seed_generations", "clone", "of", "by")
    assert kin(found, *columns) == {
        "R1a/2022": ("self", "self", 0, 0, 0, True, None, None),
        "R1/2020": ("mother", "up", 1, 1, 0, True, "R1a/2022", "division"),
        "R/2018": ("grandmother", "up", 2, 2, 0, True, "R1/2020", "division"),
    }
    assert kin(found, "ended_how", "certain", "origin")["R1/2020"] == ("divided", True, "division")
    assert found.n == 2
    assert "It is a division of R1/2020, made on 2022-03-10: the same genotype." in found.findings
    assert "the line ends with R/2018, which was bought as a root; its mother is not on record" in found.summary()


def test_downwards_from_the_first_root(garden: pn.Garden) -> None:
    found = pedigree(garden, "R")
    assert kin(found, "relation", "steps", "of") == {
        "R/2018": ("self", 0, None),
        "R1/2020": ("daughter", 1, "R/2018"), "R2/2020": ("daughter", 1, "R/2018"),
        "R1a/2022": ("granddaughter", 2, "R1/2020"), "R1b/2022": ("granddaughter", 2, "R1/2020"),
    }  # fmt: skip
    assert "4 descendants (4 divisions), 3 of them still there, over 2 steps" in found.findings[-1]
    assert found.tree().splitlines()[1:3] == ["came from", "  bought as a root; its mother is not on record"]
    assert [line.split(":")[0] for line in found.tree().splitlines()[3:]] == [
        "gave",
        "  R1/2020 (its division on 2020-03-10)",
        "    R1a/2022 (its division on 2022-03-10)",
        "    R1b/2022 (its division on 2022-03-10)",
        "  R2/2020 (its division on 2020-03-10)",
    ]


def test_a_reused_label_names_the_plant_that_stood_then(garden: pn.Garden) -> None:
    assert pedigree(garden, "A").plant == "A/2021"
    first = pedigree(garden, "A/2019")
    assert list(first.table["plant"]) == ["A/2019"]
    assert first.findings[1] == "It stood here before the books began; its mother is not on record."
    assert kin(pedigree(garden, "C"), "relation")["A/2021"] == ("mother",)


def test_the_mothers_of_a_lot_are_all_named_and_none_is_certain(garden: pn.Garden) -> None:
    found = pedigree(garden, "X")
    assert kin(found, "relation", "mothers", "certain", "seed_generations", "clone", "lot") == {
        "X/2022": ("self", None, True, 0, True, None),
        "A/2021": ("possible mother", 2, False, 1, False, "2021"),
        "B/2021": ("possible mother", 2, False, 1, False, "2021"),
        # a lot whose name is used again holds seed of three plants for those who sow it later
        "Y/2023": ("possible daughter", 3, False, 1, False, "2021"),
    }
    assert "its mother is one of A/2021, B/2021" in found.findings[1]
    assert "perhaps, by seed of lot 2021, saved on 2021-10-01, one of 2 mothers" in found.tree()
    assert any(text.startswith("3 relatives not certain") for text in found.cautions)


def test_a_plant_two_ways_lead_to_is_followed_once(garden: pn.Garden) -> None:
    found = pedigree(garden, "Y")
    # its mother may be X, or one of the two that X may come from: the shortest way counts
    assert kin(found, "relation", "steps", "of")["A/2021"] == ("possible mother", 1, "Y/2023")
    lines = [line.split(" (")[0] + line[-8:] for line in found.tree().splitlines() if line.startswith("    A/")]
    assert lines == ["    A/2021as above"]
    assert len(found.links) == 5


def test_seed_of_another_crop_or_saved_after_the_sowing_is_no_mother(garden: pn.Garden) -> None:
    # R2 is rhubarb in the lot of that year; X bore its seed after X was sown; all bean seed came after W was sown
    assert "R2/2020" not in kin(pedigree(garden, "Y"), "relation")
    found = pedigree(garden, "W")
    assert found.n == 0
    assert "into which no seed of the crop was saved by then" in found.findings[1]
    assert any("only with seed of another crop or saved after W/2021 was sown" in text for text in found.cautions)


def test_a_saving_that_may_be_later_than_the_sowing_is_not_certain(garden: pn.Garden) -> None:
    found = pedigree(garden, "Z")
    assert kin(found, "relation", "mothers", "certain")["C/2022"] == ("possible mother", 1, False)
    # what lies behind an uncertain mother is no more certain: her own mother, of whom she is a cutting
    assert kin(found, "relation", "certain", "seed_generations", "vegetative_generations")["A/2021"] == (
        "possible grandmother", False, 1, 1,
    )  # fmt: skip
    assert "which may be after the sowing" in found.tree()
    assert "of which no saving is on record; where the seed came from is not on record" in found.tree()


def test_where_a_line_ends_is_said(garden: pn.Garden) -> None:
    assert "was sown from seed of no named lot; its mother is not on record" in pedigree(garden, "B").findings[1]
    assert "lot bought, of which no saving is on record" in pedigree(garden, "A").findings[1]


def test_the_father_is_never_claimed(garden: pn.Garden) -> None:
    (text,) = [text for text in pedigree(garden, "X").cautions if "father" in text]
    assert text.startswith(f"{BEAN}: the father of seed is not on record (3 savings); where nothing else is recorded")
    assert "Cultivars of it that stood here then: Dwarf, Scarlet, White; seed may be a cross of them." in text
    assert "800 m to the next of its kind (Heritage Seed Library" in text
    # no seed, no father
    assert not [text for text in pedigree(garden, "R").cautions if "father" in text]


def test_crop_so_far_is_of_known_seasons_only(garden: pn.Garden) -> None:
    found = pedigree(garden, "B")
    row = kin(found, "total_g", "seasons_weighed", "count", "seasons_counted", "seasons")["B/2021"]
    assert row[:4] == (500.0, 2, 40.0, 1)
    assert row[4] > 2
    assert any("without a known crop, in none of the sums" in text for text in found.cautions)


def test_lots_and_what_became_of_the_seed(garden: pn.Garden) -> None:
    found = pedigree(garden, "D")
    (lot,) = [row for row in found.lots.astype(object).to_dict("records") if row["lot"] == "from D"]
    assert (lot["mothers"], lot["count"], lot["raised"], lot["tested"], lot["germinated"]) == ("D/2023", 12, 0, 10, 9)
    assert found.findings[-1] == "Of its seed nothing is sown yet from lot from D (9 of 10 tested germinated)."
    assert list(found.lots.columns) == list(LOTS)
    # those its ancestors were sown from, the last without a saving; not those of their other seed
    assert list(pedigree(garden, "Z").lots["lot"]) == ["late", "bought"]


def test_a_stand_and_pollination_by_hand_are_owned_up_to(garden: pn.Garden) -> None:
    found = pedigree(garden, "S1")
    assert "stand of 4" in found.tree()
    assert "S/2021: stands of several plants; which of them was the mother is not on record." in found.cautions
    assert any("(1 saving, 1 off plants with flowers pollinated by hand that year" in text for text in found.cautions)


def test_tables_are_as_described(garden: pn.Garden) -> None:
    for label in ("A", "R", "X"):
        found = pedigree(garden, label)
        assert {name: str(kind) for name, kind in found.table.dtypes.items()} == COLUMNS
        assert {name: str(kind) for name, kind in found.links.dtypes.items()} == LINKS


def test_a_label_that_is_not_there(garden: pn.Garden) -> None:
    with pytest.raises(UnknownLabelError, match=r"no plant labelled 'r1'.*near it: R1"):
        pedigree(garden, "r1")
    with pytest.raises(ArgumentError):
        pedigree(garden, 7)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def in_order() -> dict[str, Pedigree]:
    """What the records say in the order in which they are written here."""
    with built(with_ids(RECORDS)) as connection:
        return {plant: pedigree_of(BuiltSource(connection), plant) for plant in ("A/2021", "R/2018", "Z/2023")}


@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.permutations(RECORDS[2:]))
def test_the_order_of_records_does_not_matter(in_order: dict[str, Pedigree], records: list[Record]) -> None:
    with built(with_ids([*RECORDS[:2], *records])) as connection:
        for plant, one in in_order.items():
            other = pedigree_of(BuiltSource(connection), plant)
            assert one.table.equals(other.table)
            assert one.tree() == other.tree()
            assert one.summary() == other.summary()


NAMES = "abcdefg"
LINK = st.builds(
    Link, plant=st.sampled_from(NAMES), mother=st.sampled_from(NAMES),
    by=st.sampled_from(["division", "cutting", "seed"]), lot=st.just("L"), on_from=st.none(),
    on_to=st.dates(date(2019, 1, 1), date(2019, 1, 5)), mothers=st.just(1), certain=st.booleans(),
)  # fmt: skip
LINKED = st.lists(LINK, unique_by=lambda link: (link.plant, link.mother), max_size=14)


@given(LINKED)
def test_an_ancestor_is_one_whose_descendant_one_is(links: list[Link]) -> None:
    """Even where a book has a circle in it, the walk ends."""
    up = {(x, found.plant): found.steps for x in NAMES for found in relatives(x, links, "up")}
    down = {(found.plant, y): found.steps for y in NAMES for found in relatives(y, links, "down")}
    assert up == down


@given(LINKED, st.randoms(use_true_random=False))
def test_the_order_of_links_does_not_matter(links: list[Link], random: Any) -> None:
    shuffled = random.sample(links, len(links))
    for way in ("up", "down"):
        assert relatives("a", links, way) == relatives("a", shuffled, way)


@given(LINKED)
def test_the_way_taken_is_the_shortest_then_certain_then_with_least_seed(links: list[Link]) -> None:
    best: dict[str, tuple[int, bool, int]] = {}
    ways: list[tuple[Link, ...]] = [(link,) for link in links if link.plant == "a"]
    while ways:
        way = ways.pop()
        passed = ["a", *(link.mother for link in way)]
        if len(set(passed)) == len(passed):
            rank = (len(way), not all(link.certain for link in way), sum(link.by == "seed" for link in way))
            best[passed[-1]] = min(rank, best.get(passed[-1], rank))
            ways += [(*way, link) for link in links if link.plant == passed[-1]]
    found = relatives("a", links, "up")
    assert {one.plant: (one.steps, not one.certain, one.by_seed) for one in found} == best
