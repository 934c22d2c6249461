"""The door of the figures: what has one, what is refused in words, and that nothing heavy is loaded before."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from threading import Event, Thread
from typing import Any

import attrs
import matplotlib
import pandas as pd
import pytest
from matplotlib.figure import Figure

from perennia.analysis.result import Result
from perennia.errors import AnalysisError, ArgumentError
from perennia.report import plot
from perennia.report.drawing import draw, figure_of
from perennia.report.sheet import one_axes


@attrs.frozen(kw_only=True, eq=False)
class Apples(Result):
    """A result of these tests, with a figure of one axes."""


@attrs.frozen(kw_only=True, eq=False)
class Baskets(Result):
    """One with a figure of several axes."""


@attrs.frozen(kw_only=True, eq=False)
class Nuts(Result):
    """One without a figure."""


@attrs.frozen(kw_only=True, eq=False)
class Pears(Result):
    """One with a figure that takes as long as it is told to."""


@figure_of(Pears, axes="several", nothing="No pear is on record.")
def _pears(result: Pears, *, wait: Callable[[], Any]) -> Figure:
    wait()
    return Figure()


@figure_of(Apples, axes="one", nothing="No apple is on record.")
def _apples(result: Apples, ax: Any, *, colour: str = "red") -> Figure:
    figure, ax = one_axes(ax, 2.0)
    ax.plot(result.table["x"], color=colour)
    return figure


@figure_of(Baskets, axes="several", nothing="No basket is on record.")
def _baskets(result: Baskets) -> Figure:
    return Figure()


def made(kind: type[Result], rows: int = 2) -> Any:
    """A result with so many rows."""
    return kind(table=pd.DataFrame({"x": range(rows)}), n=rows, method="none", units="none")


def test_a_figure_is_drawn_outside_pyplot_and_leaves_no_setting_changed() -> None:
    before = dict(matplotlib.rcParams)
    assert isinstance(plot(made(Apples)), Figure)
    assert dict(matplotlib.rcParams) == before
    code = "from perennia.report import plot; import sys; print([m for m in sys.modules if 'matplotlib' in m])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_two_threads_that_draw_leave_no_setting_changed() -> None:
    before = dict(matplotlib.rcParams)
    second_draws, first_is_over = Event(), Event()
    second = Thread(target=lambda: plot(made(Pears), wait=lambda: second_draws.set() or first_is_over.wait(20)))

    def while_the_second_draws_or_waits_for_its_turn() -> None:
        second.start()
        second_draws.wait(0.5)

    plot(made(Pears), wait=while_the_second_draws_or_waits_for_its_turn)
    first_is_over.set()
    second.join()
    assert second_draws.is_set()
    assert dict(matplotlib.rcParams) == before


def test_axes_of_ones_own() -> None:
    figure = Figure()
    left, right = figure.subplots(1, 2)
    assert plot(made(Apples), right, colour="blue") is figure
    assert (len(left.lines), len(right.lines)) == (0, 1)
    assert right.lines[0].get_color() == "blue"
    with pytest.raises(ArgumentError, match="has axes of its own, several; leave ax out"):
        plot(made(Baskets), left)
    with pytest.raises(ArgumentError, match="give the Axes of a matplotlib figure"):
        plot(made(Apples), figure)  # type: ignore[arg-type]


def test_refused_in_words() -> None:
    with pytest.raises(AnalysisError, match="Nuts has no figure"):
        plot(made(Nuts))
    with pytest.raises(ArgumentError, match="DataFrame is no result of a question"):
        plot(pd.DataFrame())  # type: ignore[arg-type]
    with pytest.raises(ArgumentError, match="Apples has no option size; it knows colour"):
        plot(made(Apples), size=3)
    with pytest.raises(ArgumentError, match="Baskets has no option size; it has none"):
        plot(made(Baskets), size=3)


@pytest.mark.parametrize(("kind", "said"), [(Apples, "No apple is on record."), (Baskets, "No basket is on record.")])
def test_nothing_to_draw_is_said_in_a_sentence(kind: type[Result], said: str) -> None:
    figure = plot(made(kind, 0))
    assert figure.axes == []
    assert [text.get_text() for text in figure.texts] == [said]


def test_nothing_to_draw_in_axes_of_ones_own() -> None:
    ax = Figure().add_subplot()
    plot(made(Apples, 0), ax)
    assert [text.get_text() for text in ax.texts] == ["No apple is on record."]
    assert not ax.axison


def test_without_matplotlib_the_extra_is_named() -> None:
    code = (
        "import sys; sys.modules['matplotlib'] = None\n"
        "import pandas as pd\n"
        "from perennia.analysis.result import Result\nfrom perennia.report import plot\n"
        "try:\n    plot(Result(table=pd.DataFrame(), n=0, method='', units=''))\n"
        "except Exception as error:\n    print(type(error).__name__, error)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == (
        "AnalysisError figures need matplotlib; install it with: pip install 'perennia[report]'"
    )


def test_every_file_of_figures_is_registered() -> None:
    plot(made(Apples))
    names = {kind.__name__ for kind in draw.registry}
    assert {"Apples", "Baskets", "object"} <= names
