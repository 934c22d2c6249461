"""Figures of what is due and of what the books ask: a mark a matter, a bar a kind, words where there is none."""

from __future__ import annotations

from datetime import date, timedelta

import attrs
import pandas as pd
import pytest
from matplotlib.figure import Figure

from perennia.analysis import Due
from perennia.analysis.books_check import BooksCheck
from perennia.analysis.causes.due.matters import COLUMNS, KINDS, STANDINGS
from perennia.analysis.result import framed
from perennia.report import as_svg, plot
from perennia.report.figures.due import MOST
from tests.report.contrast import lost_marks

TODAY = date(2024, 4, 20)


def due_with(n: int) -> Due:
    """Matters of every kind and standing, some without days."""
    rows = [
        {**dict.fromkeys(COLUMNS), "urgency": place + 1, "kind": KINDS[place % len(KINDS)], "plants": 1,
         "standing": STANDINGS[place % 3], "labels": f"P{place}", "why": "because", "do": "do it",
         "since": None if place % 4 == 3 else pd.Timestamp(TODAY + timedelta(7 * (place % 9) - 30)),
         "by": None if place % 5 > 2 else pd.Timestamp(TODAY + timedelta(30 * (place % 7) - 90))}
        for place in range(n)
    ]  # fmt: skip
    return Due(table=framed(rows, COLUMNS), n=n, method="by hand", units="a matter", today=TODAY)


def marks(figure: Figure) -> int:
    return sum(line.get_gid() == "matter" for line in figure.axes[0].lines)


def words(figure: Figure) -> str:
    figure.draw_without_rendering()
    ticks = [tick.get_text() for tick in figure.axes[0].get_yticklabels()]
    said = figure.get_supxlabel()
    return "\n".join([*ticks, *(text.get_text() for text in figure.axes[0].texts), said])


@pytest.mark.parametrize("n", [1, 7, MOST])
def test_every_matter_has_a_mark_and_its_name_and_today_a_line(n: int) -> None:
    figure = plot(due_with(n))
    assert marks(figure) == n
    assert lost_marks(figure) == []
    text = words(figure)
    assert f"{KINDS[(n - 1) % len(KINDS)]}, P{n - 1}" in text
    assert "today, 20 Apr" in text


def test_more_matters_than_are_read_are_counted() -> None:
    figure = plot(due_with(MOST + 3))
    assert marks(figure) == MOST
    assert "3 matters less urgent not drawn." in words(figure)
    assert len(as_svg(plot(due_with(5000)), "what is due")) < 300_000


def test_nothing_due_is_a_sentence() -> None:
    assert [text.get_text() for text in plot(due_with(0)).texts] == ["Nothing asks for attention."]


def test_questions_of_the_books_are_counted_by_kind() -> None:
    table = pd.DataFrame({"kind": ["gap", "heavy", "gap", "gap"]}, dtype="string")
    found = BooksCheck(table=table, n=4, method="by hand", units="a question")
    axes = plot(found).axes[0]
    assert [bar.get_width() for bar in axes.patches] == [3, 1]  # type: ignore[attr-defined]
    assert [tick.get_text() for tick in axes.get_yticklabels()] == ["gap", "heavy"]
    nothing = plot(attrs.evolve(found, table=table.iloc[:0], n=0))
    assert [text.get_text() for text in nothing.texts] == ["Nothing in the books asks for a look."]
