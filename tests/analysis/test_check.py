"""What in the books asks for a look, through the door: each kind once, nothing in books in order."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import perennia as pn
from tests.copies import copied

BEAN = "Phaseolus coccineus"
TODAY = date(2025, 6, 1)
PLACES = (pn.Site("home", latitude=51.0), pn.Bed("b", "home"))
IN_ORDER = (
    pn.Sown("A1", "2023-05-10", crop=BEAN, bed="b"), pn.Picked("A1", "2023-08-01", 180), pn.Lifted("A1", "2023-11-05"),
    pn.Stored("A1", "2023-11-10", "bare root", "frost-free"), pn.StoreChecked("A1", "2024-01-05", "sound"),
    pn.StoreChecked("A1", "2024-03-01", "sound"), pn.Replanted("A1", "2024-04-20", bed="b"),
    pn.Regrew("A1", "2024-05-02", shoots=2), pn.Picked("A1", "2024-07-20", 200),
)  # fmt: skip


def recorded(folder: Path) -> None:
    with pn.Garden.create(folder) as garden:
        garden.record(*PLACES, *IN_ORDER, today=TODAY)


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(recorded, tmp_path / "plot"))


def test_books_in_order_ask_for_nothing(garden: pn.Garden) -> None:
    found = pn.check(garden)
    assert (found.n, len(found.table)) == (0, 0)
    assert found.findings == ("Nothing in the books asks for a look.",)
    assert found.table["text"].dtype == "string"


@pytest.mark.parametrize(
    ("records", "kind", "says"),
    [
        ([pn.Lifted("A1", "2024-11-01"), pn.Regrew("A1", "2025-04-28")], "gap",
         "A1: replanted is not recorded but must have happened between 2024-11-01 and 2025-04-28; record it with its"),
        ([pn.Picked("A1", "2024-07-28", 9000)], "heavy", "A1: 9000 g picked on 2024-07-28 is more than the"),
        ([pn.Picked("A1", "2024-07-28", 0.4)], "light", "A1: 0.4 g picked on 2024-07-28 would be likely in kilograms"),
        ([pn.Picked("A1", "2024-07-28", 90), pn.Picked("A1", "2024-07-28", 90)], "twin",
         "A1: the same crop is written twice on 2024-07-28; take one back if it is one picking"),
        ([pn.Lifted("A1", "2024-11-01"), pn.Stored("A1", "2024-11-02", "bare root"),
          pn.Noted("2025-01-03", bed="b", what="frost")], "unchecked",
         "A1: no look at the root in store between 2024-11-02 and 2025-01-03; record store_checked"),
        ([pn.Allotted("A1", "2024-05-01", trial="t", arm="fresh", by_lot=True),
          pn.Allotted("A1", "2024-05-03", trial="t", arm="overwintered", by_lot=True)], "allotted",
         "A1: allotted to more than one arm or block of one trial, last on 2024-05-03, which counts; take back"),
        ([pn.Mulched("A1", "2024-11-20"), pn.Noted("2026-01-05", bed="b", what="frost")], "silent",
         "A1: nothing is recorded in 2025; record that it regrew, or how it ended"),
        ([pn.Stored("A1", "2024-11-02", "pot", "frost-free"), pn.Regrew("A1", "2025-04-02")], "unplaced",
         "A1: where it stood in 2025, after its winter in a pot, is not recorded; record"),
        ([pn.Sown("B1", "2025-05-10", crop="Phaseolus coccinius", bed="b")], "crop",
         "B1: crop 'Phaseolus coccinius' has no profile; near it: Phaseolus coccineus; correct the record if it is"),
    ],
    ids=lambda value: value if isinstance(value, str) and " " not in value else "",
)  # fmt: skip
def test_each_kind_is_told_with_what_to_do(garden: pn.Garden, records: list[pn.Record], kind: str, says: str) -> None:
    garden.record(*records, today=date(2026, 2, 1))
    found = pn.check(garden)
    assert found.table["kind"].tolist() == [kind]
    assert found.table["text"][0].startswith(says)
    assert found.findings[0].startswith("1 ")
    assert (kind in ("silent", "unplaced")) == bool(found.table["record_id"].isna()[0])


def test_what_was_mended_is_asked_no_more(garden: pn.Garden) -> None:
    garden.record(pn.Picked("A1", "2024-07-28", 0.4), today=TODAY)
    record_id = pn.check(garden).table["record_id"][0]
    garden.correct(record_id, pn.Picked("A1", "2024-07-28", 400), reason="kilograms", today=TODAY)
    assert pn.check(garden).n == 0
