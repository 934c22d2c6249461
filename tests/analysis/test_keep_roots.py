"""What a keep list reads of roots in the books: weight, condition, vetoes by fields, words that are only quoted."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pandas as pd
import pytest

from perennia.analysis.decisions.keeping.keep_list import KeepList, keep_list
from perennia.records.base import Record
from perennia.records.care import Damage, Noted
from perennia.records.harvest import Picked
from perennia.records.life import CuttingTaken, Died, Lifted, Regrew, Replanted, Sown, StoreChecked, Stored
from perennia.records.seed import GerminationTest, SeedSaved
from tests.analysis.built_source import BEAN, source_of

LABELS = ("A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8")
AUTUMN = date(2023, 10, 20)


def garden() -> Iterator[Record]:
    """Eight beans sown in 2022 and kept; what is found on their roots in the autumn of 2023."""
    for label in LABELS:
        yield Sown(label, date(2022, 5, 1), crop=BEAN, bed="B1", lot="first")
        yield Picked(label, date(2022, 8, 1), grams=400)
        yield Lifted(label, date(2022, 10, 20), root_g=100, condition="rotten" if label == "A7" else "sound")
        yield Stored(label, date(2022, 11, 1), place="bare root", protection="frost-free")
    yield Died("A8", date(2023, 1, 10), cause="mice in the box")
    for label in LABELS[:-1]:
        yield Replanted(label, date(2023, 5, 1), bed="B2" if label == "A6" else "B1")
        yield Regrew(label, date(2023, 5, 15))
        yield Picked(label, date(2023, 8, 1), grams=500, note="the sweetest of all" if label == "A5" else None)
    yield Damage(date(2023, 7, 1), labels="A1", cause="virus", extent=0.3)
    yield Damage(date(2023, 7, 2), labels="A2", cause="fungus")
    yield Damage(date(2023, 7, 3), bed="B2", cause="virus")
    yield Noted(date(2023, 7, 4), labels="A3", what="leaves like mosaic, or only thirst?")
    for label in LABELS[:-2]:
        yield Lifted(label, AUTUMN, root_g=250 if label == "A5" else None, roots_broken=label == "A3",
                     condition="sound", kept_because="early" if label == "A5" else None)  # fmt: skip
    yield Lifted("A7", AUTUMN)
    yield Stored("A5", date(2023, 11, 1), place="bare root", protection="frost-free", box="crate 2")
    yield StoreChecked("A4", date(2024, 1, 15), condition="rotten")
    yield SeedSaved("A5", date(2023, 9, 20), lot="own", grams=60)
    yield GerminationTest("own", date(2024, 1, 20), sown=20, germinated=17)
    yield GerminationTest("of something else", date(2024, 1, 20), sown=20, germinated=17)


@pytest.fixture(scope="module")
def result() -> KeepList:
    with source_of(*garden()) as source:
        return keep_list(source, 2023)


def of(result: KeepList, label: str) -> pd.Series:
    (found,) = (entry for _, entry in result.table.iterrows() if entry["label"] == label)
    return found


def test_living_plants_are_listed_with_their_roots(result: KeepList) -> None:
    assert set(result.table["label"]) == set(LABELS) - {"A8"}
    best = of(result, "A5")
    assert (best["root_g"], best["weighed_on"]) == (250, pd.Timestamp("2023-10-20"))
    assert (best["condition"], best["roots_broken"], best["box"]) == ("sound", False, "crate 2")
    # a weight of another autumn stays, with its day; a condition of another autumn says nothing of this one
    old = of(result, "A7")
    assert (old["root_g"], old["weighed_on"]) == (100, pd.Timestamp("2022-10-20"))
    assert pd.isna(old["condition"])
    assert old["look_at"] == "its root was found rotten on 2022-10-20"


def test_a_weight_of_an_earlier_winter_is_called_old(result: KeepList) -> None:
    assert "its root was last weighed on 2022-10-20, in an earlier winter" in of(result, "A2")["missing"]
    assert "earlier winter" not in str(of(result, "A5")["missing"])


def test_virus_on_the_plant_and_rot_are_vetoes(result: KeepList) -> None:
    vetoed = result.table[result.table["keep"] == "veto"].set_index("label")["reason"]
    assert set(vetoed.index) == {"A1", "A4"}
    assert "virus was recorded on this plant on 2023-07-01" in vetoed["A1"]
    assert "its root was found rotten on 2024-01-15" in vetoed["A4"]


def test_words_and_lesser_diseases_are_to_look_at_and_no_veto(result: KeepList) -> None:
    assert of(result, "A2")["look_at"] == "fungus was recorded on this plant on 2023-07-02"
    assert of(result, "A3")["look_at"] == '"leaves like mosaic, or only thirst?" (2023-07-04)'
    assert of(result, "A6")["look_at"] == "virus was recorded on its bed on 2023-07-03"
    assert "to look at:" in of(result, "A3")["reason"]
    assert not {"A2", "A3", "A6"} & set(result.table[result.table["keep"] == "veto"]["label"])


def test_what_to_look_at_is_said_plant_by_plant(result: KeepList) -> None:
    text = result.summary()
    assert "look at these first (what is in quotes was written so): " in text
    assert 'A3: "leaves like mosaic, or only thirst?" (2023-07-04)' in text
    assert "A2: fungus was recorded on this plant on 2023-07-02" in text
    # a plant with something to look at is not among those of which nothing is on record
    (nothing,) = (said for said in result.findings if "nothing on record decides for or against" in said)
    assert "A2" not in nothing
    assert "A3" not in nothing


def test_divisions_of_a_plant_with_virus_are_to_look_at() -> None:
    with source_of(*garden(), CuttingTaken("A1", date(2023, 6, 1), into=("C1",), bed="B1")) as source:
        result = keep_list(source, 2023)
    assert of(result, "C1")["look_at"] == "virus was recorded on its mother A1/2022 on 2023-07-01"


def test_flavour_and_why_it_was_kept_are_quoted(result: KeepList) -> None:
    assert of(result, "A5")["words"] == 'kept because "early" (2023-10-20); "the sweetest of all" (2023-08-01)'


def test_without_evidence_broken_roots_come_after_whole_ones(result: KeepList) -> None:
    ranks = result.table.set_index("label")["rank"]
    assert ranks["A5"] == ranks["A2"] == ranks["A6"] == 1
    assert ranks["A3"] > 1


def test_the_winter_comes_from_the_books(result: KeepList) -> None:
    known = result.winters.iloc[0]
    assert (known["wintering"], known["roots"], known["alive"]) == ("bare root, frost-free", 8, 7)
    assert known["chance"] == pytest.approx(7.5 / 9)


def test_seed_lots_are_those_of_the_crop(result: KeepList) -> None:
    assert result.seeds["lot"].tolist() == ["own"]
    seed = result.seeds.iloc[0]
    assert (seed["tested"], seed["germinated"], seed["saved_on"]) == (20, 17, pd.Timestamp("2023-09-20"))


def test_what_came_after_the_next_growth_says_nothing_of_the_choice() -> None:
    later = (
        Replanted("A3", date(2024, 5, 1), bed="B1"), Regrew("A3", date(2024, 5, 10)),
        Damage(date(2024, 7, 1), labels="A3", cause="virus"), Lifted("A3", date(2024, 10, 20), root_g=999),
    )  # fmt: skip
    with source_of(*garden(), *later) as source:
        before, after = of(keep_list(source, 2023), "A3"), of(keep_list(source, 2024), "A3")
    assert before["keep"] != "veto"
    assert before["root_g"] == 100
    assert (after["keep"], after["root_g"]) == ("veto", 999)


def test_plants_that_have_ended_since_are_named_and_not_listed() -> None:
    with source_of(*garden(), Died("A2", date(2024, 2, 1), cause="rot")) as source:
        result = keep_list(source, 2023)
    assert "A2" not in set(result.table["label"])
    assert any('not listed, as they have ended: A2/2022 died on 2024-02-01 ("rot")' in text for text in result.cautions)
