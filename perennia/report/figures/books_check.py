"""What in the books to confirm, complete or mend: how many things of each kind, year by year."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from perennia.analysis import BooksCheck
from perennia.checking.words import counted
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, SMALL_PT
from perennia.report.rows import name_rows
from perennia.report.sheet import head, notes, one_axes

_ROW_IN, _AROUND_IN = 0.26, 0.7


@figure_of(BooksCheck, axes="one", nothing="Nothing in the books asks for a look.")
def questions(result: BooksCheck, ax: Axes | None) -> Figure:
    """A bar a kind of question, the most frequent on top, with its number at its end."""
    numbers = result.table["kind"].value_counts(sort=True)
    figure, axes = one_axes(ax, _AROUND_IN + _ROW_IN * len(numbers))
    axes.barh(range(len(numbers)), numbers.to_list(), height=0.6, facecolor="none", edgecolor=BLUE, hatch="///")
    for place, number in enumerate(numbers):
        axes.text(number, place, f" {number}", va="center", fontsize=SMALL_PT)
    name_rows(axes, [str(kind) for kind in numbers.index])
    axes.set_xlim(0, float(numbers.max()) * 1.1)
    axes.set_xlabel("questions")
    head(figure, f"What the books ask: {counted(result.n, 'question')}", (), ax)
    notes(figure, ["Gaps are acts that must have happened and were not written down; perennia check says each in a "
                   "sentence."], ax)  # fmt: skip
    return figure
