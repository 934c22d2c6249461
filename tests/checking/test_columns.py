"""Field and record rules on columns: each told under its number, and the same verdict as the record class gives."""

from __future__ import annotations

from datetime import date
from typing import Any

import attrs
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from perennia.checking.columns import column_problems
from perennia.checking.shape import share_problems, well_formed
from perennia.errors import Problem, RecordError, RefusedError
from perennia.records import (
    BooksKept,
    Died,
    Divided,
    FlowerFate,
    Lifted,
    Noted,
    Picked,
    Record,
    Sown,
    TrussCount,
    Watered,
    Weather,
)  # fmt: skip
from perennia.records.catalogue import RECORDS, rules_of
from perennia.store.schemas import to_tables
from tests.checking.batches import TODAY, candidates, having, refusals
from tests.records.field_values import bad_values, plain_record, unruled, values_of

SOWN = Sown("A1", "2024-05-01", crop="Rheum x hybridum")
PICKED = Picked("A1", "2024-07-15", 120.0, 5)
WATERED = Watered("2024-07-15", labels=["A1"], litres=9)
FLOWER = FlowerFate("A1", "t1", 1, opened_on="2024-07-01")
WEATHER = Weather("2024-07-15", site="home", t_min_c=9)


@pytest.mark.parametrize(
    ("record", "column", "value", "rule", "wrong"),
    [
        (PICKED, "bed", "b", "F0", "'b' is given, but picked has no field bed"),
        (SOWN, "crop", None, "F1", "is missing"),
        (PICKED, "label", None, "F1", "is missing"),
        (PICKED, "on_to", None, "F8", "has no end"),
        (SOWN, "crop", "  ", "F2", "is empty, too long or not plain text"),
        (WATERED, "note", "x" * 2001, "F2", "is empty, too long or not plain text"),
        (Lifted("A1", "2024-11-01", condition="soft"), "condition", "mushy", "F2", "'mushy' is not known"),
        (SOWN, "label", "A/1", "F3", "'A/1' is not a name"),
        (PICKED, "label", "A,1", "F3", "'A,1' is not a name"),
        (SOWN, "lot", " 7", "F3", "' 7' is not a name"),
        (PICKED, "grams", -0.5, "F4", "-0.5 is below 0"),
        (PICKED, "grams", float("nan"), "F4", "nan is not a number"),
        (PICKED, "grams", float("inf"), "F4", "is too large"),
        (PICKED, "grams", 1e300, "F4", "is too large"),
        (PICKED, "count", 2**60, "F5", "is too large"),
        (WEATHER, "t_min_c", -91.0, "F4", "-91 is below -90"),
        (PICKED, "count", -1, "F5", "-1 is below 0"),
        (SOWN, "plants", 0, "F5", "0 is below 1"),
        (PICKED, "clearance", None, "F1", "is missing"),
        (FLOWER, "opened_on", date(1850, 7, 1), "F7", "1850-07-01 is before 1900-01-01; check the year"),
        (FLOWER, "opened_on", date(1, 1, 1), "F7", "0001-01-01 is before 1900-01-01; check the year"),
        (PICKED, "on_from", date(2024, 7, 16), "F8", "starts on 2024-07-16 after it ends on 2024-07-15"),
        (PICKED, "on_from", date(1, 1, 1), "F8", "0001-01-01 is before 1900-01-01; check the year"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_told_where_it_is(record: Record, column: str, value: object, rule: str, wrong: str) -> None:
    ((name, table),) = candidates(record).items()
    problem, *more = refusals({name: having(table, column, [value])})
    assert problem.rule == rule
    assert {other.rule for other in more} <= {"B7"}  # a picking of no label is shared by none
    assert wrong in problem.wrong
    assert problem.where.startswith("record 1: ")
    assert problem.remedy


def test_a_flag_that_is_no_flag_is_told() -> None:
    """A column of flags holds nothing else, so a flag there can only be missing or of another type (F1, B6)."""
    with pytest.raises(RecordError, match="clearance: 'yes' is neither true nor false; it must be true or false"):
        Picked("A1", "2024-07-15", 120.0, clearance="yes")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("record", "changes", "rule", "wrong"),
    [
        (PICKED, {"grams": None, "count": None}, "R1", "none of grams, count is given"),
        (WATERED, {"mm": 3.0}, "R2", "litres and mm are both given or both missing"),
        (WATERED, {"bed": "b"}, "R2", "bed and labels are both given"),
        (Noted("2024-07-15", bed="b", what="slug"), {"bed": None}, "R2", "are both given or both missing"),
        (BooksKept("b", "2024-07-01", "2024-07-31"), {"since": date(2024, 8, 1)}, "R3", "since lies after until"),
        (WEATHER, {"t_max_c": 8.0}, "R4", "t_min_c is more than t_max_c"),
    ],
)  # fmt: skip
def test_a_rule_across_fields_is_told(record: Record, changes: dict[str, Any], rule: str, wrong: str) -> None:
    ((name, table),) = candidates(record).items()
    for column, value in changes.items():
        table = having(table, column, [value])
    (problem,) = refusals({name: table})
    assert (problem.rule, problem.field) == (rule, "")
    assert wrong in problem.wrong


def test_a_plant_that_is_its_own_daughter_is_told() -> None:
    ((name, table),) = candidates(Divided("A1", "2024-04-01", into=["A2"])).items()
    (problem,) = refusals({name: having(table, "into", [["A2", "A1"]])})
    assert (problem.rule, problem.wrong) == ("R5", "the plant's own label is among the new ones")


@pytest.mark.parametrize(
    ("record", "named"),
    [
        (Picked("A1", "2025-06-03", 5), "2025-06-03 lies ahead of today, 2025-06-01"),
        (Picked(["A1", "A2"], "2025-06-03/2025-06-10", 5), "2025-06-03 lies ahead"),
        (Weather("2026-06-01", site="home", rain_mm=3), "2026-06-01 lies ahead"),
        (BooksKept("b", "2025-01-01", "2025-12-31"), "2025-12-31 lies ahead"),
        (FlowerFate("A1", "t1", 1, opened_on="2025-05-30", ended_on="2025-06-30"), "2025-06-30 lies ahead"),
        # open or long spans count by their last day when it is further off than anybody writes down
        (Died("A1", "../2099"), "2099-12-31 lies ahead"),
        (Died("A1", "2024/9999"), "9999-12-31 lies ahead"),
    ],
)
def test_a_day_ahead_of_today_is_told_once(record: Record, named: str) -> None:
    (problem,) = refusals(candidates(record))
    assert problem.rule == "B1"
    assert named in problem.wrong


@pytest.mark.parametrize("on", ["2025-06-02", "2025-06", "2025", "2025~", "../2025", "2025-06-02/2025-06-30"])
def test_a_span_that_may_have_been_is_not_ahead(on: str) -> None:
    """One day's grace for time zones; and of this month or this year some days have been."""
    assert not list(column_problems(candidates(Died("A1", on)), TODAY))


def test_no_day_of_the_calendar_is_too_late_to_be_today() -> None:
    assert not list(column_problems(candidates(SOWN), date(9999, 12, 30)))


def test_every_problem_of_a_batch_is_told_in_its_order() -> None:
    tables = candidates(PICKED, SOWN, PICKED, WATERED)
    tables["harvest"] = having(tables["harvest"], "grams", [-1.0, float("nan")])
    tables["life"] = having(tables["life"], "crop", [None])
    problems = refusals(tables)
    assert [(problem.position, problem.rule) for problem in problems] == [(0, "F4"), (1, "F1"), (2, "F4")]


def test_a_problem_of_a_shared_picking_is_told_once_a_record() -> None:
    tables = candidates(Picked(["A1", "A2", "A3"], "2024-07-15", 120.0))
    tables["harvest"] = having(tables["harvest"], "grams", [-1.0] * 3)
    (problem,) = refusals(tables)
    assert problem.rule == "F4"


# ---------------------------------------------------------------------- one verdict


_MADE_OTHERS: dict[str, tuple[type, ...]] = {"number": (bool,), "whole": (bool, float)}


def verdict_of_columns(cls: type[Record], values: dict[str, Any]) -> list[Problem] | None:
    """What the columns say of values that no class has looked at; None where no column can hold them."""
    # a column of numbers makes 1 of True, and of whole numbers 1 of 1.5
    if any(isinstance(values[name], _MADE_OTHERS.get(rule.kind, ())) for name, rule in rules_of(cls).items()):
        return None
    try:
        tables = well_formed(to_tables([unruled(cls, values)]))
    except RefusedError as error:
        return list(error.problems)
    except (RecordError, TypeError, ValueError, AttributeError):
        return None
    return [*column_problems(tables, date(2200, 1, 1)), *share_problems(tables)]


def verdict_of_class(cls: type[Record], values: dict[str, Any]) -> str | None:
    try:
        cls(**values)
    except RecordError as error:
        return str(error)
    return None


@pytest.mark.parametrize("cls", RECORDS.values(), ids=lambda cls: cls.__name__)
@settings(max_examples=settings.default.max_examples // 2)
@given(data=st.data())
def test_columns_and_class_say_the_same(cls: type[Record], data: st.DataObject) -> None:
    values = data.draw(values_of(cls))
    if data.draw(st.booleans()):
        name = data.draw(st.sampled_from(sorted(values)))
        values[name] = data.draw(st.sampled_from(bad_values(rules_of(cls)[name])) | st.just(values[name]))
    found = verdict_of_columns(cls, values)
    assume(found is not None)
    said = verdict_of_class(cls, values)
    assert bool(found) == (said is not None), (said, found)
    if found and said is not None and "is not a date" not in said and found[0].rule != "B6":
        assert any(problem.wrong in said for problem in found)


def test_the_property_reaches_values_that_break_each_kind_of_rule() -> None:
    """Enough bad values fit into a column for the property above to mean something."""
    reached = set()
    for cls in (Picked, Sown, Weather, TrussCount):
        good = attrs.asdict(plain_record(cls), recurse=False)
        for name, rule in rules_of(cls).items():
            for value in bad_values(rule):
                for problem in verdict_of_columns(cls, {**good, name: value}) or ():
                    reached.add(problem.rule)
    assert reached >= {"F1", "F2", "F3", "F4", "F5"}


