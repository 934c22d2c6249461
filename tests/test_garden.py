"""The door: what is recorded is read back, nothing is overwritten, and refusals say what would be right."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pandas as pd
import pyarrow.compute as pc
import pytest

import perennia as pn
from perennia.errors import (
    QueryLimitError,
    QueryRefusedError,
    ReadOnlyError,
    RefusedError,
    StoreError,
    UnknownLabelError,
)
from perennia.queries.catalogue import shown
from perennia.source import Source
from perennia.store.schemas import TABLES, to_tables
from perennia.store.snapshot import read_snapshot
from tests.copies import copied
from tests.store.stored import kinds, put_in

BEAN = "Phaseolus coccineus"
TODAY = date(2025, 6, 1)


def recorded(folder: Path) -> pn.Garden:
    made = pn.Garden.create(folder)
    made.record(
        pn.Site("home", latitude=51.5),
        pn.Bed("long bed", "home", area_m2=6),
        pn.Sown("B1", "2023-05-10", crop=BEAN, bed="long bed"),
        pn.Sown("B2", "2023-05-10", crop=BEAN, bed="long bed"),
        pn.Picked("B1", "2023-08-01", 180, 9),
        pn.Picked(["B1", "B2"], "2023-08-05", 240),
        today=TODAY,
    )
    return made


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    return pn.Garden.open(copied(recorded, tmp_path / "plot"))


def test_a_garden_is_a_source(garden: pn.Garden) -> None:
    assert isinstance(garden, Source)


def test_shares_of_a_picking_add_up_and_name_its_record(garden: pn.Garden) -> None:
    rows = garden.table("harvest", labels=["B1", "B2"])
    shared = rows[rows["shared_by"] == 2]
    assert list(shared["label"]) == ["B1", "B2"]
    assert list(shared["grams"]) == [120.0, 120.0]
    assert shared["record_id"].nunique() == 1


def test_the_same_bed_recorded_twice_is_one(garden: pn.Garden) -> None:
    receipt = garden.record(pn.Bed("long bed", "home", area_m2=6))
    assert (receipt.stored, receipt.already_known) == (0, 1)
    assert len(receipt.record_ids) == 1


def test_another_bed_of_the_same_name_is_a_conflict(garden: pn.Garden) -> None:
    with pytest.raises(RefusedError, match=r"bed long bed.*is already stored with other content; correct.*\[B4\]"):
        garden.record(pn.Bed("long bed", "home", area_m2=7))


def test_a_batch_with_one_wrong_record_stores_none(garden: pn.Garden) -> None:
    before = garden.table("harvest")
    with pytest.raises(RefusedError, match="no plant labelled B9 had begun") as refused:
        garden.record(pn.Picked("B1", "2023-08-09", 5), pn.Picked("B9", "2023-08-09", 5), today=TODAY)
    assert [problem.position for problem in refused.value.problems] == [1]
    garden.refresh()
    pd.testing.assert_frame_equal(garden.table("harvest"), before)


def test_a_correction_keeps_the_old_record_and_as_of_shows_it(garden: pn.Garden) -> None:
    rows = garden.table("harvest", labels=["B1"])
    wrong = rows.loc[rows["on"] == pd.Timestamp("2023-08-01"), "record_id"].iloc[0]
    before = datetime.now(UTC)
    receipt = garden.correct(wrong, pn.Picked("B1", "2023-08-01", 18, 9), reason="one nought too many", today=TODAY)
    assert len(receipt.record_ids) == 1
    now = garden.sql("select sum(grams) as g from harvest where label = 'B1'")["g"].iloc[0]
    assert now == 18 + 120
    for compacted in (False, True):
        if compacted:
            garden.compact()
        with pn.Garden.open(garden.path, as_of=before) as earlier:
            assert earlier.sql("select sum(grams) as g from harvest where label = 'B1'")["g"].iloc[0] == 180 + 120
            with pytest.raises(ReadOnlyError, match="open it without as_of"):
                earlier.record(pn.Picked("B1", "2023-08-09", 5))
    with pytest.raises(UnknownLabelError, match="was corrected before"):
        garden.correct(wrong, reason="again")


def test_a_record_taken_back_without_replacement_is_gone(garden: pn.Garden) -> None:
    rows = garden.table("harvest", labels=["B2"])
    garden.correct(rows["record_id"].iloc[0], reason="was the neighbour's row", today=TODAY)
    assert garden.table("harvest", labels=["B1", "B2"])["grams"].tolist() == [180.0]


def test_a_correction_that_leaves_a_contradiction_is_refused(garden: pn.Garden) -> None:
    life = garden.table("life", labels=["B1"])
    with pytest.raises(RefusedError, match="not begun"):
        garden.correct(life["record_id"].iloc[0], reason="never sown", today=TODAY)
    assert len(garden.table("life", labels=["B1"])) == 1


def test_as_of_before_anything_shows_an_empty_garden(garden: pn.Garden) -> None:
    with pn.Garden.open(garden.path, as_of="2001-01-01") as earlier:
        for view in shown():
            assert earlier.table(view).empty


def test_read_only_refuses_to_write(garden: pn.Garden) -> None:
    with (
        pn.Garden.open(garden.path, read_only=True) as reading,
        pytest.raises(ReadOnlyError, match="without read_only"),
    ):
        reading.compact()


def test_two_open_gardens_see_each_other_after_refresh(garden: pn.Garden) -> None:
    with pn.Garden.open(garden.path) as other:
        other.record(pn.Picked("B1", "2023-08-09", 5), today=TODAY)
        assert len(garden.table("harvest")) == 3
        garden.refresh()
        assert len(garden.table("harvest")) == 4


def test_many_small_batches_are_compacted_and_nothing_changes(garden: pn.Garden) -> None:
    # most go by the store alone, for each is a batch of its own either way; the garden comes to what is compacted
    for day in range(1, 25):
        put_in(garden.path, pn.Picked("B1", date(2024, 7, day), day))
    garden.refresh()
    for day in range(25, 32):
        garden.record(pn.Picked("B1", date(2024, 7, day), day), today=TODAY)
    assert kinds(garden.path).count("compact") == 1
    garden.record(pn.Picked("B2", "2024-07-31", 7), pn.Picked("B2", "2024-08-01", 7), today=TODAY)
    files = list(garden.path.glob("harvest/year=2024/*.parquet"))
    assert len(garden.table("harvest", years=[2024])) == 33
    assert len(files) >= 1
    assert garden.sql("select sum(grams) as g from harvest where label = 'B1' and season = 2024")["g"].iloc[0] == sum(
        range(1, 32)
    )


def test_when_asked_two_files_of_a_year_are_made_one(garden: pn.Garden) -> None:
    garden.record(pn.Picked("B1", "2023-08-09", 90), today=TODAY)
    assert len(list(garden.path.glob("harvest/year=2023/*.parquet"))) == 2
    garden.compact()
    assert len(read_snapshot(garden.path).files["harvest"]) == 1


def test_rows_are_what_was_recorded(garden: pn.Garden) -> None:
    rows = garden.rows("harvest")
    assert rows.schema == TABLES["harvest"]
    together = rows.filter(pc.equal(rows["shared_by"], 2))
    assert together["label"].to_pylist() == ["B1", "B2"]
    assert together["grams"].to_pylist() == [240.0, 240.0], "amounts are whole in every row of a record"
    assert pc.count_distinct(together["record_id"]).as_py() == 1
    assert rows.equals(rows.sort_by([("record_id", "ascending"), ("label", "ascending")]))
    assert garden.rows("beds")["name"].to_pylist() == ["long bed"]
    assert garden.rows("seed").num_rows == 0
    for name in ("batches", "corrections", "plants", "harvest_rows"):
        with pytest.raises(UnknownLabelError, match=f"there is no table called '{name}'; there are sites, beds, life"):
            garden.rows(name)


def test_rows_leave_out_what_does_not_count(garden: pn.Garden) -> None:
    before = datetime.now(UTC)
    wrong = garden.table("harvest", labels=["B2"])["record_id"].iloc[0]
    garden.correct(wrong, reason="was the neighbour's row", today=TODAY)
    assert garden.rows("harvest")["grams"].to_pylist() == [180.0]
    garden.compact()
    with pn.Garden.open(garden.path, as_of=before) as earlier:
        assert sorted(earlier.rows("harvest")["grams"].to_pylist()) == [180.0, 240.0, 240.0]
        assert bytes.fromhex(wrong) in earlier.rows("harvest")["record_id"].to_pylist()
    with pn.Garden.open(garden.path, as_of="2001-01-01") as nothing:
        assert nothing.rows("harvest").equals(TABLES["harvest"].empty_table())


def test_history_is_one_row_an_entry_in_order(garden: pn.Garden) -> None:
    history = garden.history("B1")
    assert history["event"].tolist() == ["sown", "picked", "picked"]
    assert history["on"].is_monotonic_increasing
    assert garden.history("B1/2023")["plant"].unique().tolist() == ["B1/2023"]
    with pytest.raises(UnknownLabelError, match="no plant labelled 'B11' in this garden; near it: B1"):
        garden.history("B11")


def test_entries_of_a_day_stand_by_their_tables_whichever_was_written_first(garden: pn.Garden) -> None:
    for record in (
        pn.SeedSaved("B1", "2023-09-20", lot="L1", grams=5), pn.Picked("B1", "2023-09-20", 40),
        pn.TrussCount("B1", "t1", "2023-09-20", opened=4), pn.Watered("2023-09-20", litres=3, labels=["B1"]),
    ):  # fmt: skip
        garden.record(record, today=TODAY)
    history = garden.history("B1")
    day = history[history["on"] == "2023-09-20"]
    assert day["event"].tolist() == ["watered", "truss_count", "picked", "seed_saved"]


def test_table_picks_labels_and_years(garden: pn.Garden) -> None:
    assert garden.table("season_summary", labels=["B1/2023"], years=[2023])["label"].tolist() == ["B1"]
    assert garden.table("season_summary", years=[1999]).empty
    assert garden.table("life", years=[2023], as_="arrow").num_rows == 2
    with pytest.raises(UnknownLabelError, match="there is no view called 'crops'"):
        garden.table("crops")
    with pytest.raises(UnknownLabelError, match="weather has no labels"):
        garden.table("weather", labels=["B1"])


def test_views_describe_every_column(garden: pn.Garden) -> None:
    views = garden.views()
    assert set(views["view"]) == set(shown())
    assert not (views["description"].str.len() == 0).any()


def test_sql_is_closed_and_bound(garden: pn.Garden) -> None:
    assert garden.sql("select label from plants where label = ?", ["B1"])["label"].tolist() == ["B1"]
    assert garden.sql("select label from plants where label = $l", {"l": "B2"})["label"].tolist() == ["B2"]
    with pytest.raises(QueryRefusedError):
        garden.sql("copy (select 1) to 'out.csv'")
    assert garden.sql("select count(*) as n from life", isolated=True)["n"].iloc[0] == 2


def test_an_isolated_query_may_take_the_memory_it_was_given(garden: pn.Garden) -> None:
    # a list is never spilled to the disk: this one takes more than queries usually may
    asked = "select len(list(i)) as n from range(60000000) as numbers(i)"
    with pytest.raises(QueryLimitError, match="more memory"):
        garden.sql(asked)
    assert garden.sql(asked, isolated=True, memory_limit_mb=4096)["n"].tolist() == [60_000_000]


def test_an_isolated_query_spills_what_does_not_fit_the_memory_it_was_given(garden: pn.Garden) -> None:
    numbered = "select row_number() over (order by hash(i)) as place from range(25000000) as numbers(i)"
    asked = f"select max(place) as n from ({numbered})"
    assert garden.sql(asked, isolated=True, memory_limit_mb=1024)["n"].tolist() == [25_000_000]


def test_columns_have_one_set_of_types(garden: pn.Garden) -> None:
    frame = garden.table("season_summary")
    types = {name: str(frame[name].dtype) for name in ("label", "season", "total_g", "moved", "first_pick")}
    assert types == {
        "label": "string", "season": "Int64", "total_g": "Float64", "moved": "boolean", "first_pick": "datetime64[s]",
    }  # fmt: skip
    assert isinstance(frame.index, pd.RangeIndex)


@pytest.mark.parametrize("view", ["season_summary", "harvest", "plants"])
def test_every_cell_of_a_frame_can_be_written_over_and_the_garden_stays_as_it_was(
    garden: pn.Garden, view: str
) -> None:
    before, frame = garden.table(view), garden.table(view)
    for name in frame:
        frame.loc[0, name] = pd.NaT if "datetime" in str(frame[name].dtype) else pd.NA
    assert frame.iloc[0].isna().all()
    pd.testing.assert_frame_equal(garden.table(view), before)


def test_opening_what_is_no_garden_says_so(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="is no garden"):
        pn.Garden.open(tmp_path)
    (tmp_path / "letter.txt").write_text("dear ...")
    with pytest.raises(StoreError, match="is not empty"):
        pn.Garden.create(tmp_path)


def test_a_folder_with_quotes_in_its_name_is_a_folder(tmp_path: Path) -> None:
    with pn.Garden.create(tmp_path / "the 'old' \"plot\"; drop") as made:
        made.record(pn.Site("home", latitude=-40), pn.Sown("B1", "2023-11-10", crop=BEAN), today=TODAY)
        assert made.table("plants")["plant"].tolist() == ["B1/2023"]


@pytest.mark.parametrize("name", ["label=A9", "name=south bed", "year=1999", "record_id=7"])
def test_what_the_folders_it_lies_in_are_called_is_no_record(tmp_path: Path, name: str) -> None:
    plain, within = (pn.Garden.open(copied(recorded, tmp_path / part / "plot")) for part in ("a", name))
    with plain, within:
        for view in shown():
            assert within.table(view, as_="arrow").equals(plain.table(view, as_="arrow"))
        picked = plain.table("harvest")["record_id"][0]
        assert within.recorded(picked) == plain.recorded(picked)
        within.correct(picked, reason="the wrong bed", today=TODAY)
        with pytest.raises(UnknownLabelError, match="the wrong bed"):
            within.recorded(picked)
        # the bed is known as it is
        assert within.record(pn.Bed("long bed", "home", area_m2=6), today=TODAY).already_known == 1


def test_rows_of_a_span_over_the_new_year_are_of_the_year_that_they_lie_in(garden: pn.Garden) -> None:
    garden.record(pn.Picked("B1", "2023-12-30/2024-01-02", 90), pn.LeftForSeed("B2", "../2024-01-20", 4), today=TODAY)
    rows = garden.rows("harvest")
    lying = {int(folder.name.removeprefix("year=")) for folder in garden.path.glob("harvest/year=*")}
    assert lying == set(rows["year"].to_pylist()) == {2023, 2024}
    assert rows["year"].to_pylist().count(2024) == 2
    assert {day.year for day in rows.filter(pc.equal(rows["year"], 2024))["on_to"].to_pylist()} == {2024}


def test_a_picking_of_which_only_the_last_day_is_known_is_of_the_plant_that_had_ended_by_then(
    garden: pn.Garden,
) -> None:
    garden.record(pn.Died("B1", "2023-09-01", cause="frost"), today=TODAY)
    assert garden.record(pn.Picked("B1", "../2023-10-20", 70), today=TODAY).stored == 1
    (found,) = garden.table("season_summary", labels=["B1"], years=[2023])["total_g"]
    assert found == 180 + 120 + 70


def test_only_records_are_recorded(garden: pn.Garden) -> None:
    with pytest.raises(TypeError, match="is no perennia record"):
        garden.record({"event": "picked"})  # type: ignore[arg-type]


def test_a_batch_in_parts_is_stored_as_one_or_refused_as_one(garden: pn.Garden) -> None:
    """What a reader of large books hands over a part at a time is one batch, with a record's id at its own place."""
    sown = [pn.Sown(f"P{n}", "2023-05-10", "Oca", bed="long bed") for n in range(4)]
    picked = [pn.Picked([f"P{n}", "P0"], f"2023-08-{day:02d}", 5) for n in range(1, 4) for day in (1, 2)]
    rows = to_tables([*sown, *picked])
    parts = [{"harvest": rows["harvest"].slice(0, 6)}, {"harvest": rows["harvest"].slice(6)}, {"life": rows["life"]}]
    before = sorted(garden.path.rglob("*"))
    late = to_tables([*sown, *picked, pn.Picked("P9", "2023-08-01", 5)])["harvest"].slice(12)
    with pytest.raises(RefusedError, match=r"record 11: picked P9 on 2023-08-01.*\[L1\]"):
        garden.record_tables(iter([*parts, {"harvest": late}]), today=TODAY)
    with pytest.raises(RefusedError, match=r"record 1, .*: its place in the batch is that of another record.*\[B7\]"):
        garden.record_tables([*parts, to_tables([pn.Sown("P9", "2023-05-10", "Oca")])], today=TODAY)
    assert sorted(garden.path.rglob("*")) == before
    receipt = garden.record_tables(iter(parts), today=TODAY)
    assert (receipt.batch, receipt.stored, len(set(receipt.record_ids))) == (2, 10, 10)
    found = garden.sql("select record_id from harvest where label = 'P1' order by on_to")
    assert list(found["record_id"]) == list(receipt.record_ids[4:6])


def test_one_plant_of_a_large_garden_has_the_history_it_has_among_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pn.Garden.create(tmp_path / "plot") as garden:
        garden.record(
            pn.Site("home"), pn.Bed("b", "home"), pn.Sown("M", "2021-04-01", "Oca", bed="b"),
            pn.Sown("S", "2021-04-01", "Oca", bed="b"), pn.Picked(["M", "S"], "2021-09-01", 90),
            pn.Divided("M", "2022-03-01", into=("M1", "M2"), mother_continues=False),
            pn.Planted("M1", "2022-04-01", "b"),
            pn.Picked("M1", "2022-09-01", 40), pn.Watered("2022-07-01", litres=3, labels=("M1", "S")),
            pn.Died("S", "2022-10-01", cause="rot"), pn.Sown("S", "2023-04-01", "Oca", bed="b"),
            pn.Picked("S", "2023-09-01", 7), today=TODAY,
        )  # fmt: skip
        among_all = {plant: garden.history(plant) for plant in ("M", "M1", "M2", "S", "S/2021", "S/2023")}
    assert [set(among_all[name]["plant"]) for name in ("S", "S/2021")] == [{"S/2023"}, {"S/2021"}]
    monkeypatch.setattr("perennia.queries.connection._MANY_BYTES", 0)
    with pn.Garden.open(tmp_path / "plot", read_only=True) as garden:
        for plant, whole in among_all.items():
            pd.testing.assert_frame_equal(garden.history(plant), whole)
        several = pd.concat([among_all["S"], among_all["M1"]], ignore_index=True)
        pd.testing.assert_frame_equal(garden.history(["S", "M1", "S"]), several)
        with pytest.raises(UnknownLabelError, match="no plant labelled 'M3' in this garden; near it: M"):
            garden.history("M3")
