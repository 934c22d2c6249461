"""A batch in parts: every row once, records whole, and the ids of its records in the order of the batch."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pytest

from perennia.records import Bed, Picked, Site, Sown
from perennia.store import parts
from perennia.store.identify import identified
from perennia.store.parts import RecordIds, ids_of, in_parts, records_of, together
from perennia.store.schemas import PLACES, POSITION, to_tables
from perennia.store.staging import FOLDER, Staged, in_memory, staging

RECORDS = [
    Picked(["A1", "A2"], "2024-07-01", 9.0),
    Site("Home"),
    Sown("A1", "2023-04-01", "Oca"),
    Picked("A1", "2023-07-01", 4.0),
    Bed("b", "Home"),
    Picked(["A1", "A2", "A3"], "2024-07-08", 9.0),
    Picked("A3", "2024-08-08", 9.0),
]


def positions(tables: dict[str, pa.Table]) -> dict[str, list[int]]:
    """The places in the batch of the rows of each table."""
    return {name: table[POSITION].to_pylist() for name, table in tables.items()}


def test_a_batch_is_cut_between_records(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parts, "ROWS_A_PART", 3)
    tables = to_tables(RECORDS)
    shuffled = {**tables, "harvest": tables["harvest"].take([6, 0, 4, 1, 2, 5, 3])}
    cut = [positions(part) for part in in_parts([shuffled])]
    assert cut == [
        {"harvest": [0, 0], "life": [2]},
        {"harvest": [3]},
        {"sites": [1], "beds": [4], "harvest": [5, 5, 5, 6]},
    ]  # fmt: skip


def test_a_small_batch_is_one_part_and_places_of_several_parts_come_together() -> None:
    assert [positions(part) for part in in_parts([to_tables(RECORDS)])] == [positions(to_tables(RECORDS))]
    given = [to_tables([Site("Home"), RECORDS[0]]), to_tables([Site("Away"), RECORDS[2]])]
    first, last = in_parts(given)
    assert (set(first), set(last)) == ({"harvest"}, {"life", "sites"})
    assert last["sites"]["name"].to_pylist() == ["Home", "Away"]


def test_the_ids_of_parts_are_those_of_the_whole_in_order() -> None:
    own = identified(to_tables(RECORDS))
    whole = records_of(own)
    apart = together(records_of({name: table}) for name, table in reversed(own.items()))
    assert whole.places.tolist() == apart.places.tolist() == list(range(len(RECORDS)))
    assert ids_of([whole]) == ids_of([apart])


def test_record_ids_are_as_a_tuple_of_text() -> None:
    plain = tuple(bytes([number] * 16).hex() for number in range(3))
    ids = RecordIds(b"".join(bytes.fromhex(one) for one in plain))
    assert (len(ids), tuple(ids), ids, hash(ids), repr(ids)) == (3, plain, plain, hash(plain), repr(plain))
    assert (ids[0], ids[-1], ids[1:], list(reversed(ids))) == (plain[0], plain[-1], plain[1:], list(reversed(plain)))
    assert plain[1] in ids
    assert ids.index(plain[2]) == 2
    assert ids != plain[:2]
    with pytest.raises(IndexError):
        ids[3]


def test_rows_put_aside_come_back_whole_and_leave_nothing_behind(tmp_path: Path) -> None:
    own = identified(to_tables(RECORDS))
    (tmp_path / FOLDER).mkdir()
    (tmp_path / FOLDER / "left by a crash").touch()
    with staging(tmp_path) as staged:
        half = {name: table.slice(0, 1) for name, table in own.items()}
        rest = {name: table.slice(1) for name, table in own.items() if table.num_rows > 1}
        for part in ({}, half, {}, rest):
            staged.add(part)
        assert (tmp_path / FOLDER).exists()
        for name, rows in staged.candidates().items():
            back = [table.cast(own[name].schema) for table in in_memory(rows)]
            assert name in PLACES or all(len(pc.unique(pc.year(table["on_to"]))) == 1 for table in back)
            joined = pa.concat_tables(back).sort_by([(POSITION, "ascending")])
            assert joined.to_pylist() == own[name].sort_by([(POSITION, "ascending")]).to_pylist()
    assert not (tmp_path / FOLDER).exists()


def test_rows_of_one_part_stay_in_memory(tmp_path: Path) -> None:
    staged = Staged(tmp_path / FOLDER)
    assert staged.candidates() == {}
    own = identified(to_tables(RECORDS))
    staged.add(own)
    assert staged.candidates() == own
    assert not (tmp_path / FOLDER).exists()
