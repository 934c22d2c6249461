"""What a batch says of a plant is held against all that is recorded of the same label, before and after."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import attrs
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings

from perennia.checking import check
from perennia.errors import RefusedError
from perennia.records import (
    Acquired,
    AlreadyHere,
    Bed,
    BooksKept,
    Counted,
    CuttingTaken,
    Died,
    DiedBack,
    Divided,
    Emerged,
    Flowered,
    FlowerFate,
    LeftForSeed,
    Lifted,
    Moved,
    Noted,
    Picked,
    Planted,
    Record,
    Regrew,
    Removed,
    Replanted,
    SeedSaved,
    Site,
    Sown,
    Stored,
    TrussCount,
    Watered,
)  # fmt: skip
from tests.checking.batches import BEAN, PLACES, TODAY, candidates, checked, refusals, stored
from tests.lives import gardens

SOWN = Sown("A1", "2023-05-10", crop=BEAN)
LIFTED = (Lifted("A1", "2023-11", root_g=310), Stored("A1", "2023-11", "bare root", "frost-free"))


def refused(*records: Record, **context: object) -> str:
    with pytest.raises(RefusedError) as caught:
        checked(*records, **context)  # type: ignore[arg-type]
    return str(caught.value)


# ---------------------------------------------------------------------- B2, B3: beds and sites


def test_a_bed_nobody_recorded_is_told_with_those_near_it() -> None:
    with pytest.raises(RefusedError, match=r"record 3: moved A1 on 2023-06-01, bed: no bed called 'bb' is known; "
                       r"record it first, or correct the name; near it: b \[B2\]"):  # fmt: skip
        checked(PLACES[0], PLACES[1], Moved("A1", "2023-06-01", "bb"), SOWN)


def test_a_bed_may_come_with_the_batch_or_before(tmp_path: Path) -> None:
    moved = Moved("A1", "2023-06-01", "b")
    checked(moved, SOWN, *PLACES)
    checked(moved, SOWN, files=stored(tmp_path, *PLACES))


def test_a_site_nobody_recorded_is_told() -> None:
    told = refused(PLACES[0], Bed("c", "hone"))
    assert "no site called 'hone' is known; record it first, or correct the name" in told
    assert "; near it: home [B3]" in told


def test_a_bed_or_site_taken_back_is_told_while_records_name_it(tmp_path: Path) -> None:
    sown = Sown("A1", "2023-05-10", crop=BEAN, bed="b")
    files = stored(tmp_path, *PLACES, Bed("c", "home"), sown, BooksKept("b", "2023-06-01", "2023-06-30"))
    places = pq.read_table(files["beds"][0]).to_pylist() + pq.read_table(files["sites"][0]).to_pylist()
    rows = {row["name"]: row["record_id"] for row in places}

    def taken_back(name: str, *instead: Record) -> None:
        check(candidates(*instead), files, placed_labels=(), today=TODAY, withdrawn=[rows[name]])

    with pytest.raises(RefusedError, match=r"without the corrected record, bed: 2 records name the bed .b.; correct "
                       r"them first, or put another bed 'b' in its place \[B2\]"):  # fmt: skip
        taken_back("b")
    with pytest.raises(RefusedError, match=r"2 records name the site 'home'; correct them first.*\[B3\]"):
        taken_back("home")
    taken_back("c")
    taken_back("b", Bed("b", "home", area_m2=9))


# ---------------------------------------------------------------------- L1 to L5: lives


@pytest.mark.parametrize(
    "entry",
    [
        Picked("A2", "2023-08-01", 5), Regrew("A2", "2023-08-01"), LeftForSeed("A2", "2023-08-01", 3),
        TrussCount("A2", "t1", "2023-08-01", opened=4), FlowerFate("A2", "t1", 1, opened_on="2023-08-01"),
        Watered("2023-08-01", labels="A2", litres=3), Noted("2023-08-01", labels="A2", what="slug"),
        SeedSaved("A2", "2023-08-01", "L1"), Divided("A2", "2023-08-01", into=["A3"]),
    ],
    ids=lambda entry: type(entry).__name__,
)  # fmt: skip
def test_an_entry_of_a_plant_that_never_began_is_told(entry: Record) -> None:
    told = refused(SOWN, entry)
    assert "no plant labelled A2 had begun by then; record first how the plant began" in told
    assert "near it: A1 [L1]" in told or "correct the label" in told


def test_an_entry_before_the_plant_began_is_told() -> None:
    assert "no plant labelled A1 had begun by then" in refused(SOWN, Picked("A1", "2023-05-09", 5))
    assert "no plant labelled A1 had begun by then" in refused(SOWN, Watered("2023-05-09", labels="A1", litres=3))
    checked(SOWN, Watered("2023-05-01/2023-05-10", labels="A1", litres=3))


def test_a_label_still_in_use_is_told() -> None:
    again = Sown("A1", "2024-05-01", crop=BEAN)
    assert (
        "record 2: sown A1 on 2024-05-01, label: A1 was a sowing from 2023-05-10 on and is still there; "
        "record first how that plant ended (died, removed), or give the new one another label [L2]"
    ) in refused(SOWN, again)
    checked(SOWN, again, Died("A1", "2023-11"))
    pickings = (Picked("A1", day, 90) for day in ("2024-08-01", "2024-08-09"))
    told = refused(SOWN, again, Emerged("A1", "2024-05-20"), *pickings)
    assert "1 record is wrong" in told, "what befalls the plant that is there is no fault"
    mother = AlreadyHere("R1", "2023-03-01", "Rheum x hybridum")
    divided = Divided("R1", "2024-03", into="A1")
    assert "A1 was a sowing from 2023-05-10 on and is still there" in refused(SOWN, mother, divided)


def test_an_entry_after_the_end_is_told() -> None:
    dead = (SOWN, Died("A1", "2023-09-01"))
    assert (
        "A1 was dead or removed from 2023-09-01 on; correct the date or the label, or the record of its end [L3]"
    ) in refused(*dead, Picked("A1", "2023-09-02", 5))
    assert "A1 was dead or removed from 2023-09-01 on; if it lives after all, correct the record of its death [L3]" in (
        refused(*dead, Regrew("A1", "2024-05-01"))
    )
    checked(*dead, Picked("A1", "2023-09-01", 5))
    # what was watered is watered: the bed may hold more than the dead plant
    checked(*dead, Watered("2024-09-01", labels="A1", litres=3))


def test_a_picking_off_a_root_in_store_is_told() -> None:
    told = refused(SOWN, *LIFTED, Picked("A1", "2024-01-15", 50))
    assert "A1 was in store as a bare root from 2023-11-30 on; record first that it was replanted or regrew" in told
    assert "[L4]" in told
    put_away = (Lifted("A1", "2023-11-04"), Stored("A1", "2023-11-10", "bare root"))
    assert "in store as a bare root from 2023-11-10 on" in refused(SOWN, *put_away, Picked("A1", "2023-11-10", 5))
    told = refused(SOWN, LIFTED[0], Picked("A1", "2024-01-15", 5))
    assert "A1 was lifted and not yet put away from 2023-11-30 on" in told
    checked(SOWN, *LIFTED, Replanted("A1", "2024-04/2024-05"), Picked("A1", "2024-04-02", 5))


def test_a_picking_is_told_when_none_of_its_days_will_do() -> None:
    assert "[L4]" in refused(SOWN, *LIFTED, Picked("A1", "2023-12", 50))
    checked(SOWN, *LIFTED, Picked("A1", "2023-11-30/2023-12-31", 50))


def test_a_shared_picking_is_told_for_the_label_that_could_not_bear() -> None:
    other = Sown("A2", "2023-05-10", crop=BEAN)
    told = refused(SOWN, other, Died("A2", "2023-07-01"), Picked(["A1", "A2"], "2023-08-01", 9))
    assert told.count("record 4: ") == 1
    assert "record 4: picked A2 on 2023-08-01, label: A2 was dead" in told


def test_a_late_entry_is_held_against_what_follows_it(tmp_path: Path) -> None:
    files = stored(tmp_path, SOWN, Picked("A1", "2023-08-01", 5), Picked("A1", "2023-08-05", 5))
    told = refused(Died("A1", "2023-07-15"), files=files)
    assert (
        "record 1: what is recorded now of A1, label: with it, the entry picked on 2023-08-01 and 1 more entry "
        "recorded before would be of a plant that was dead or removed from 2023-07-15 on; check the dates; "
        "correct the older records if they are wrong [L5]"
    ) in told
    checked(Died("A1", "2023-08-05"), files=files)
    checked(Died("A1", "2023-07/2023-08"), files=files)


def test_late_entries_that_fit_are_taken(tmp_path: Path) -> None:
    files = stored(tmp_path, *PLACES, SOWN, *LIFTED, Regrew("A1", "2024-05-02", shoots=3))
    assert checked(Replanted("A1", "2024-04", bed="b"), files=files).doubts == ()
    assert "[L5]" in refused(Removed("A1", "2023-12-01"), files=files)
    assert "A1 was in store" in refused(Picked("A1", "2024-01-01", 5), files=files)


def test_a_daughter_begins_with_her_mothers_record(tmp_path: Path) -> None:
    here = AlreadyHere("R1", "2021-03-01", "Rheum x hybridum", since="../2018")
    divided = Divided("R1", "2022-03-20", into=["R2"], mother_continues=True, bed="b")
    again = Divided("R2", "2024-03-20", into=["R3"], bed="b")
    grand = Picked("R3", "2024-06-01", 300)
    checked(*PLACES, grand, again, divided, here)
    files = stored(tmp_path, *PLACES, here, divided, again)
    checked(grand, CuttingTaken("R3", "2024-07-01", into="R4"), files=files)
    assert "R2 was dead or removed from 2024-03-20 on" in refused(Picked("R2", "2024-06-01", 300), files=files)
    assert "no plant labelled R3 had begun" in refused(Picked("R3", "2024-03-19", 300), files=files)


def test_sisters_and_mothers_are_not_judged_again(tmp_path: Path) -> None:
    """A batch about one daughter hangs on nothing that is known of her mother's order or her sister's later lives."""
    mother = (
        AlreadyHere("R1", "2021-03-01", "Oca"), Divided("R1", "2022-03-20", ["R2"], mother_continues=True, bed="b"),
        Died("R2", "2023-01-10"), Divided("R1", "2023-03-20", ["R2", "R3"], bed="b"),
        Acquired("R1", "2023-01/2023-06", "Oca", "root"),
    )  # fmt: skip
    placed = checked(*PLACES, *mother).placed_labels
    assert placed == ("R1",)
    files = stored(tmp_path, *PLACES, *mother)
    assert checked(Picked("R3", "2023-08-01", 30), files=files, placed=placed).placed_labels == placed
    told = refused(Died("R3", "2023-07-01"), Picked("R3", "2023-08-01", 30), files=files, placed=placed)
    assert "R3 was dead" in told
    assert "R1" not in told
    assert "R2" not in told


def test_a_record_taken_back_leaves_what_followed_it_without_ground(tmp_path: Path) -> None:
    here, divided = AlreadyHere("R1", "2021-03-01", "Oca"), Divided("R1", "2022-03-20", into=["R2"], bed="b")
    files = stored(tmp_path, *PLACES, here, divided, Picked("R2", "2022-08-01", 30))
    identity = id_of(files, "divided")
    with pytest.raises(RefusedError, match=r"without the corrected record.* of R2.*picked on 2022-08-01.*not begun"):
        check({}, files, placed_labels=(), today=TODAY, withdrawn=[identity], withdrawn_labels=["R1", "R2"])
    later = candidates(attrs.evolve(divided, on="2022-09-01"))
    with pytest.raises(RefusedError, match=r"record 1: what is recorded now of R2.*L5"):
        check(later, files, placed_labels=(), today=TODAY, withdrawn=[identity], withdrawn_labels=["R1", "R2"])
    earlier = candidates(attrs.evolve(divided, on="2022-03-01"))
    check(earlier, files, placed_labels=(), today=TODAY, withdrawn=[identity], withdrawn_labels=["R1", "R2"])


def id_of(files: dict[str, list[str]], event: str) -> bytes:
    rows = [row for path in files["life"] for row in pq.read_table(path).to_pylist()]
    return next(row["record_id"] for row in rows if row["event"] == event)


# ---------------------------------------------------------------------- days half remembered


def test_acts_of_one_day_are_put_in_the_order_that_makes_sense() -> None:
    day = "2023-11-01"
    checked(SOWN, Died("A1", day), Sown("A1", day, crop=BEAN), Picked("A1", day, 5), Picked("A1", "2024-07-01", 5))
    checked(SOWN, Stored("A1", day, "bare root"), Lifted("A1", day), Picked("A1", day, 5))
    assert "A1 was in store as a bare root from 2023-11-01 on" in (
        refused(SOWN, Stored("A1", day, "bare root"), Lifted("A1", day), Picked("A1", "2023-11-02", 5))
    )


def test_spans_half_remembered_on_both_sides_find_an_order() -> None:
    found = checked(
        Sown("A1", "2022", crop=BEAN), Died("A1", "2022-09/2023-03"), Acquired("A1", "2022-10/2023-05", BEAN, "root"),
        Picked("A1", "2022-12-01", 5), Planted("A1", "2023-04", "b"), *PLACES,
    )  # fmt: skip
    assert found.placed_labels == ("A1",)
    told = refused(
        Sown("A1", "2022-05", crop=BEAN), Died("A1", "2022-09/2022-11"), Picked("A1", "2022-12-01", 5),
        Acquired("A1", "2022-10/2023-05", BEAN, "root"),
    )  # fmt: skip
    assert "[L" in told


def test_a_growth_half_remembered_lies_before_the_picking_it_explains() -> None:
    """The acts do not overlap one another, but the flowering must be taken before the picking within its span."""
    away = (Lifted("A1", "2023-11-04"), Stored("A1", "2023-11-10", "bare root"))
    life = (SOWN, *away, Flowered("A1", "2024-06/2024-08"))
    found = checked(*life, Picked("A1", "2024-07-15", 5))
    assert found.placed_labels == ("A1",)
    assert "in store" in refused(*life, Picked("A1", "2024-05-15", 5))


def test_an_open_start_lies_before_everything() -> None:
    checked(AlreadyHere("R1", "../2018", "Oca"), Picked("R1", "2001-01-01", 3))
    checked(AlreadyHere("R1", "2024-01-01", "Oca", since="../2018"), Died("R1", "../2024"))


# ---------------------------------------------------------------------- labels and sizes


@pytest.mark.parametrize("label", ["Å 1", "赤-7", "Ñandú (2)", "it's", "a\"b", "β_2", "'; drop table life; --"])
def test_a_label_is_any_name_on_a_stick(label: str) -> None:
    told = refused(Sown(label, "2023-05-10", crop=BEAN), Died(label, "2023-06-01"), Picked(label, "2023-07-01", 3))
    assert f"picked {label} on 2023-07-01, label: {label} was dead" in told


def test_a_very_long_life_is_walked_whole() -> None:
    acts: list[Record] = [SOWN]
    for number in range(300):
        day = date(2023, 6, 1) + timedelta(2 * number)
        acts.append([Emerged("A1", day), DiedBack("A1", day), Counted("A1", day, 1)][number % 3])
    checked(*acts)
    assert "picked A1 on 2025-02-02, label: A1 was dead" in (
        refused(*acts, Removed("A1", "2025-02-01"), Picked("A1", "2025-02-02", 3))
    )


@settings(max_examples=4)
@given(gardens(labels=3, acts=7, bursts=3))
def test_a_life_that_was_lived_is_taken_in_any_order(records: list[Record]) -> None:
    checked(*records)


def test_many_records_are_judged_as_one_by_one() -> None:
    """The verdict on each record of a batch of many is that on a batch of its own plant's records."""
    lives: list[list[Record]] = []
    for number in range(6):
        label = f"P{number}"
        life: list[Record] = [Sown(label, "2023-05-10", crop=BEAN), Died(label, f"2023-0{number + 4}-15")]
        life += [Picked(label, "2023-06-20", 5), Picked(label, "2023-08-01", 7), Regrew(label, "2023-07-01")]
        lives.append(life)
    together = {
        (problem.where.partition(": ")[2], problem.wrong, problem.rule)
        for problem in refusals(candidates(*(record for life in lives for record in life)))
    }
    apart = {
        (problem.where.partition(": ")[2], problem.wrong, problem.rule)
        for life in lives
        for problem in refusals(candidates(*life))
    }
    assert together == apart
    assert len(apart) > 6


def test_twenty_thousand_pickings_go_the_same_way_as_one() -> None:
    records: list[Record] = [*PLACES]
    for number in range(250):
        label = f"P{number}"
        records += [Sown(label, "2023-05-10", crop=BEAN, bed="b"), *(attrs.evolve(act, label=label) for act in LIFTED)]
        records += [Picked(label, date(2023, 7, 1) + timedelta(day), 10.0) for day in range(80)]
    checked(*records)
    (problem,) = refusals(candidates(*records, Picked("P7", "2023-12-24", 1)))
    assert (problem.position, problem.rule) == (len(records), "L4")


def test_thousands_of_unknown_labels_are_told_with_hints_at_the_first() -> None:
    """Looking for names like each of them would take minutes, and only the first few are shown."""
    records: list[Record] = [Sown(f"P{number}", "2023-05-10", crop=BEAN) for number in range(1000)]
    problems = refusals(candidates(*records, *(Picked(f"X{number}", "2023-08-01", 5) for number in range(2000))))
    assert {problem.rule for problem in problems} == {"L1"}
    assert len(problems) == 2000
    assert problems[10].remedy.endswith("or correct the label; near it: P10")
    assert problems[-1].remedy.endswith("or correct the label")


def test_a_garden_on_two_sites_is_one_garden() -> None:
    checked(Site("south", latitude=-38), Bed("s", "south"), *PLACES, Sown("A1", "2023-11-10", crop=BEAN, bed="s"))
