"""The figure of candidates for a shortfall: a mark for each thing that is known, its word beside it, the strength."""

from __future__ import annotations

from typing import Any, get_args

import attrs
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from perennia.analysis.causes.shortfall.candidates import NAMES
from perennia.analysis.causes.shortfall.evidence import Seen, Set
from perennia.analysis.causes.shortfall.explain import COLUMNS, FORM_COLUMNS, SHAPE_COLUMNS, Explanation
from perennia.analysis.causes.shortfall.weighing import STRENGTHS, Fit
from perennia.analysis.result import framed
from perennia.errors import ArgumentError
from perennia.report import as_svg, plot
from perennia.report.figures import explanation as drawn
from tests.report.contrast import lost_marks
from tests.report.drawn_results import HOSTILE, marked, words_of

WORDS = {"recorded": get_args(Seen), "contrast": get_args(Set), "form": get_args(Fit)}


def explained(n: int = len(NAMES), **given: Any) -> Explanation:
    """So many candidates, with every word of every column in turn."""
    rows = [
        {**dict.fromkeys(COLUMNS), "candidate": NAMES[place], "strength": STRENGTHS[place % len(STRENGTHS)],
         **{name: words[place % len(words)] for name, words in WORDS.items()}}
        for place in range(n)
    ]  # fmt: skip
    left = tuple(str(row["candidate"]) for row in rows if row["strength"] != "against")
    filled: dict[str, Any] = {
        "table": framed(rows, COLUMNS), "n": 5, "method": "", "units": "", "cause": None, "left": left, "form": None,
        "enough": True, "forms": framed([], FORM_COLUMNS), "shapes": framed([], SHAPE_COLUMNS),
        "crop": "Phaseolus coccineus", "season": 2023, "season_name": "2023/24",
        "cautions": ("One bed's weather is one series.",),
    }  # fmt: skip
    return Explanation(**(filled | given))


def look(figure: Figure) -> list[tuple[float, float, str]]:
    """Column, row and kind of every mark, by how it is drawn."""
    kinds = {(style["marker"], style.get("fillstyle", "full"), style.get("markerfacecolor") == "none"): name
             for name, style in drawn.MARKS.items()}  # fmt: skip
    return [
        (float(line.get_xdata()[0]), float(line.get_ydata()[0]),
         kinds[line.get_marker(), line.get_fillstyle(), line.get_markerfacecolor() == "none"])
        for line in marked(figure, "mark")
    ]  # fmt: skip


@pytest.mark.parametrize("n", [1, 4, len(NAMES)])
def test_every_candidate_has_its_three_marks_their_words_and_its_strength(n: int) -> None:
    result = explained(n)
    figure = plot(result)
    figure.draw_without_rendering()
    assert lost_marks(figure) == []
    expected = [
        (float(column), float(place), drawn.MARK_OF[row[name]])
        for place, row in enumerate(result.table.to_dict("records")) for column, name in enumerate(WORDS)
    ]  # fmt: skip
    assert sorted(look(figure)) == sorted(expected)
    texts = [text.get_text() for text in figure.findobj(Text)]
    for name in ("strength", *WORDS):
        for word in set(result.table[name]):
            assert texts.count(word) >= list(result.table[name]).count(word)
    assert [label.get_text() for label in figure.axes[0].get_yticklabels()] == list(NAMES[:n])


def test_every_word_has_a_mark_and_no_two_marks_look_alike_without_colour() -> None:
    assert set(drawn.MARK_OF) == {word for words in WORDS.values() for word in words}
    shapes = {(style["marker"], style.get("fillstyle"), style.get("markerfacecolor") == "none")
              for style in drawn.MARKS.values()}  # fmt: skip
    assert len(shapes) == len(drawn.MARKS)
    said = words_of(plot(explained())).splitlines()
    assert set(drawn.MARKS) <= set(said)


def test_it_says_what_is_named_or_that_nothing_can_be() -> None:
    def said(**given: Any) -> str:
        return " ".join(words_of(plot(explained(**given))).split())

    open_ones = said()
    assert "No single cause can be named. Not ruled out: too few visits" in open_ones
    assert "Phaseolus coccineus, 2023/24: what may have kept flowers from setting (n = 5 plants)" in open_ones
    assert "are one series" in open_ones
    # on the page the cautions stand below it
    assert "are one series" not in said(cautions=())
    assert "speak for cold nights, and against every other" in said(cause="cold nights", left=("cold nights",))
    assert "speak against every candidate." in said(left=())
    assert "(n = 1 plant)" in words_of(plot(attrs.evolve(explained(), n=1)))


def test_names_stay_text_axes_may_be_given_and_the_same_figure_is_the_same_svg() -> None:
    result = explained(crop=HOSTILE)
    assert HOSTILE in " ".join(words_of(plot(result)).split())
    svg = as_svg(plot(result), "candidates")
    assert "<b>" not in svg
    assert svg == as_svg(plot(result), "candidates")
    ax = Figure().add_subplot()
    assert plot(result, ax) is ax.figure
    assert len(marked(ax.figure, "mark")) == 3 * len(NAMES)
    with pytest.raises(ArgumentError, match="no option season"):
        plot(result, season=2023)
    assert "No candidate was weighed." in words_of(plot(attrs.evolve(result, table=result.table.iloc[:0])))
