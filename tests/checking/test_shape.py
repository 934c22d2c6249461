"""Tables that no to_tables made: what is misshapen is refused in words, and rows that make no one record too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pyarrow as pa
import pytest

from perennia.checking.shape import well_formed
from perennia.errors import RefusedError
from perennia.records import Noted, Picked, Sown, Watered
from perennia.store.identity import uuid7
from perennia.store.schemas import POSITION
from tests.checking.batches import BEAN, candidates, having, refusals

Tables = dict[str, Any]
SOWN = Sown("A1", "2024-05-01", crop=BEAN)
SHARED = Picked(["A1", "A2"], "2024-07-15", 120.0)


def without(column: str) -> Callable[[Tables], Tables]:
    return lambda tables: {name: table.drop_columns([column]) for name, table in tables.items()}


def with_column(column: str, values: pa.Array) -> Callable[[Tables], Tables]:
    def change(tables: Tables) -> Tables:
        changed = {}
        for name, table in tables.items():
            index = table.column_names.index(column) if column in table.column_names else None
            changed[name] = (
                table.append_column(column, values) if index is None else table.set_column(index, column, values)
            )
        return changed

    return change


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        (lambda tables: {"crops": tables["life"]}, r"table crops: no records go to a table of this name; there are"),
        (lambda tables: {"batches": tables["life"]}, r"table batches: no records go to a table of this name"),
        (lambda tables: {"life": tables["life"].to_pandas()}, r"table life: a DataFrame is no Arrow table"),
        (without("label"), r"table life, label: the column is missing"),
        (without("event"), r"table life, event: the column is missing"),
        (without("on_to"), r"table life, on_to: the column is missing"),
        (without(POSITION), r"table life, batch_position: the column is missing"),
        (with_column("vigour", pa.array([3])), r"table life, vigour: the table has no such column"),
        (with_column("on_to", pa.array(["2024-05-01"])), r"on_to: string is not the column's type, date32"),
        (with_column("crop", pa.array([3])), r"crop: int64 is not the column's type, string"),
        (with_column("plants", pa.array(["1"])), r"plants: string is not the column's type, int64"),
        (with_column("plants", pa.array([1.5])), r"plants: double is not the column's type, int64, and a"),
        (with_column("plants", pa.array([float("nan")])), r"plants: double is not the column's type, int64"),
        (with_column("into", pa.array(["A2"])), r"into: string is not the column's type, list"),
        (with_column("into", pa.array([[2]])), r"into: list<.*int64> is not the column's type, list"),
        (with_column("event", pa.array(["picked"])), r"life, event: 'picked' is no event of this table; it"),
        (with_column("event", pa.array([None], pa.string())), r"event: None is no event of this table"),
        (with_column("record_id", pa.array([b"7"])), r"record_id: an id is not of 16 bytes"),
        (with_column("on_from", pa.array([9_999_999], pa.int32()).cast(pa.date32())), r"a day lies outside"),
        (with_column(POSITION, pa.array([None], pa.int64())), r"batch_position: a row has no place in the batch"),
    ],
)  # fmt: skip
def test_a_misshapen_table_is_told(change: Callable[[Tables], Tables], wrong: str) -> None:
    with pytest.raises(RefusedError, match=wrong + r".*\[B6\]"):
        well_formed(change(candidates(SOWN)))


def test_columns_of_kindred_types_and_any_order_are_taken() -> None:
    tables = candidates(SOWN)
    life = tables["life"].select(sorted(tables["life"].column_names))
    life = with_column("label", pa.array(["A1"]).dictionary_encode())({"life": life})["life"]
    life = with_column("crop", pa.array([BEAN], pa.large_string()))({"life": life})["life"]
    life = with_column("plants", pa.array([1.0]))({"life": life})["life"]
    life = with_column("on_to", pa.array([life["on_to"][0].as_py()], pa.date64()))({"life": life})["life"]
    life = with_column("into", pa.nulls(1))({"life": life})["life"]
    assert well_formed({"life": life})["life"].equals(tables["life"])
    assert refusals({"life": life}) == ()


def test_a_label_named_twice_is_refused_in_tables_too() -> None:
    tables = candidates(SOWN, SHARED)
    tables["harvest"] = having(tables["harvest"], "label", ["A1", "A1"])
    (problem,) = refusals(tables)
    assert (problem.rule, problem.position, problem.wrong) == ("F3", 1, "names a label twice")
    assert "picked A1 on 2024-07-15" in problem.where


@pytest.mark.parametrize(
    ("record", "column", "values", "wrong"),
    [
        (SHARED, "shared_by", [2, 3], "is not the number of its labels"),
        (SHARED, "shared_by", [1, 1], "is not the number of its labels"),
        (SHARED, "shared_by", [None, None], "is not the number of its labels"),
        (SHARED, "shared_by", [2, None], "is not the number of its labels"),
        (Noted("2024-07-15", bed="b", what="slug"), "shared_by", [1], "is not the number of its labels"),
        (Watered("2024-07-15", labels="A1", mm=3), "shared_by", [4], "is not the number of its labels"),
        (SHARED, "record_id", [uuid7(), uuid7()], "its rows say different things"),
        (SHARED, "content", [b"1", b"2"], "its rows say different things"),
    ],
)
def test_rows_that_do_not_make_one_record_are_told(
    record: Any, column: str, values: list[object], wrong: str
) -> None:  # fmt: skip
    ((name, table),) = candidates(record).items()
    found = [problem for problem in refusals({name: having(table, column, values)}) if problem.rule == "B7"]
    assert found[0].wrong == wrong
    # two ids in one place are two records in one place too
    assert len(found) == (2 if column == "record_id" else 1)


def test_a_life_event_has_one_row() -> None:
    life = candidates(SOWN)["life"]
    twice = refusals({"life": pa.concat_tables([life, life])})
    assert "it has more than one row" in {problem.wrong for problem in twice}


def test_one_id_for_two_records_is_told() -> None:
    tables = candidates(SOWN, SHARED, Picked("A1", "2024-07-16", 3))
    tables["harvest"] = having(tables["harvest"], "record_id", [tables["life"]["record_id"][0].as_py()] * 3)
    told = {(problem.position, problem.wrong) for problem in refusals(tables) if problem.rule == "B7"}
    assert told == {(place, "its id is that of another record too") for place in (0, 1, 2)}


def test_one_place_for_two_records_is_told() -> None:
    tables = candidates(SOWN, SHARED)
    tables["harvest"] = having(tables["harvest"], POSITION, [0, 0])
    told = [problem for problem in refusals(tables) if problem.rule == "B7"]
    assert {problem.wrong for problem in told} == {"its place in the batch is that of another record too"}
