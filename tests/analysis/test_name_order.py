"""Names come in the order in which a person would write them: R2 before R10, in every table and figure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.text import Text

from perennia.analysis import fit_curves, flushes, group_curves, plant_lives, season_curves, season_summary
from perennia.analysis.name_order import in_order, ordered
from perennia.records.harvest import BooksKept
from perennia.report import plot
from tests.analysis.built_source import BuiltSource, day, picked, source_of, sown

NUMBERS = (1, 2, 9, 10, 11, 100)
QUESTIONS: list[Callable[[Any], Any]] = [season_summary, season_curves, plant_lives, flushes, fit_curves]


@pytest.fixture(scope="module")
def source() -> Iterator[BuiltSource]:
    """Six plants, picked often enough for every question."""
    records = [
        record for number in reversed(NUMBERS)
        for record in (
            sown(f"R{number}"),
            *(picked(f"R{number}", 60 + 4 * turn, float(20 + 30 * min(turn, 9 - turn))) for turn in range(10)),
            picked(f"R{number}", 101, 0.0),
        )
    ]  # fmt: skip
    with source_of(*records, BooksKept("B1", day(0), day(300))) as made:
        yield made


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.__name__)
def test_tables_and_figures_have_plants_in_order(question: Callable[[Any], Any], source: BuiltSource) -> None:
    result = question(source)
    wanted = [f"R{number}" for number in NUMBERS]
    assert result.table["label"].drop_duplicates().tolist() == wanted
    # of a table in another order as well
    shown = result.table.sort_values("label", kind="stable").reset_index(drop=True)
    if question is not plant_lives:
        result = type(result)(**{**vars_of(result), "table": shown})
    figure = plot(result)
    figure.draw_without_rendering()
    if question is not fit_curves:
        assert names(figure) == wanted


def test_groups_of_mean_curves_are_in_order(source: BuiltSource) -> None:
    by_label = group_curves(source, "bed")
    parts = [by_label.table.assign(bed=f"R{number}") for number in (10, 2, 1)]
    units = [by_label.unit_curves.assign(bed=f"R{number}") for number in (10, 2, 1)]
    figure = plot(type(by_label)(**{**vars_of(by_label), "table": pd.concat(parts, ignore_index=True),
                                    "unit_curves": pd.concat(units, ignore_index=True)}))  # fmt: skip
    assert names(figure) == ["R1", "R2", "R10"]


def vars_of(result: Any) -> dict[str, Any]:
    return {field.name: getattr(result, field.name) for field in type(result).__attrs_attrs__}


def names(figure: Any) -> list[str]:
    """Labels in a figure in the order in which they stand there."""
    texts = [text.get_text() for text in figure.findobj(Text)]
    found = [match[0] for text in texts if (match := re.match(r"R\d+(?=$| |,)", text))]
    return list(dict.fromkeys(found))


@given(st.lists(st.tuples(st.sampled_from(["R1", "R2", "R10", "r3", None]), st.sampled_from([1, 2, None])), max_size=9))
def test_rows_are_ordered_by_several_columns_and_stay_as_they_were_where_alike(
    rows: list[tuple[str | None, int | None]],
) -> None:
    frame = pd.DataFrame(rows, columns=["name", "season"]).astype({"name": "string", "season": "Int64"})
    frame["at"] = range(len(frame))
    found = ordered(frame, ["name", "season"])
    wanted = sorted(enumerate(rows), key=lambda row: (in_order(row[1][0]), row[1][1] is None, row[1][1] or 0))
    assert found["at"].tolist() == [place for place, _ in wanted]


def test_numbers_come_by_their_size_before_letters_and_a_missing_name_last() -> None:
    wanted = ["", "2", "10", "100", "A", "A1", "a2", "A02b", "A9", "A٣٠", "A100", "A 1", "Ab", "zz", "Ω", None]
    turned_round = wanted[::-1]
    assert sorted(turned_round, key=in_order) == wanted
    assert in_order("A2") == in_order("a002")


def test_a_number_of_very_many_digits_is_ordered_too() -> None:
    few, many = "9" * 60, "1" + "0" * 60
    assert in_order(few) < in_order(many) < in_order("A")
