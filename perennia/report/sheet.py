"""What every figure is made on: a sheet of one axes or several, its title, and the words under it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure

from perennia.report.look import INK, SMALL_PT, TEXT_PT, TITLE_PT, WIDTH_IN

Entry = tuple[str, Any]
"""A name in a key, and the artist that shows how it is drawn."""
_LETTERS_AN_INCH = 16
"""Of small text, in the width that letters have on average."""


def one_axes(ax: Axes | None, height_in: float, width_in: float = WIDTH_IN) -> tuple[Figure, Axes]:
    """The axes given, dressed, with the figure they belong to; or a new sheet with one axes of that height."""
    if ax is None:
        figure = Figure(figsize=(width_in, height_in))
        return figure, dressed(figure.add_subplot())
    return _root(ax), dressed(ax)


def grid(
    rows: int, columns: int, height_in: float, width_in: float = WIDTH_IN, **given: Any
) -> tuple[Figure, list[list[Axes]]]:  # fmt: skip
    """A new sheet of rows and columns of axes; height_in: of all axes together, which head and notes add to.

    given: what Figure.subplots takes, as sharex or width_ratios.
    """
    figure = Figure(figsize=(width_in, height_in))
    made = figure.subplots(rows, columns, squeeze=False, **given)
    return figure, [[dressed(ax) for ax in row] for row in np.asarray(made)]


def dressed(ax: Axes) -> Axes:
    """Axes in our look, also for the ticks that matplotlib makes only when it draws."""
    ax.tick_params(colors=INK, labelsize=SMALL_PT, width=0.6, length=3.0)
    ax.spines[["top", "right"]].set_visible(False)
    ax.spines[["left", "bottom"]].set(color=INK, linewidth=0.6)
    return ax


def sentence(text: str, ax: Axes | None = None) -> Figure:
    """A sheet with one sentence in place of axes; in axes that were given, they are emptied of all else."""
    if ax is None:
        figure = Figure(figsize=(WIDTH_IN, 1.2))
        figure.text(0.02, 0.5, _wrapped(text, WIDTH_IN * 0.9), ha="left", va="center", parse_math=False)
        return figure
    ax.set_axis_off()
    width_in = ax.get_position().width * _root(ax).get_figwidth()
    ax.text(0.0, 0.5, _wrapped(text, width_in), transform=ax.transAxes, color=INK, parse_math=False)
    return _root(ax)


def title(figure: Figure, text: str, ax: Axes | None = None) -> None:
    """The title of a sheet, or of axes that were given."""
    head(figure, text, (), ax)


def head(figure: Figure, text: str, key: Sequence[Entry] = (), ax: Axes | None = None) -> None:
    """The title of a sheet with the key of what is drawn how under it; or both in axes that were given."""
    wide = int(figure.get_figwidth() * _LETTERS_AN_INCH * SMALL_PT / TITLE_PT)
    labels, handles = [name for name, _ in key], [handle for _, handle in key]
    if ax is not None:
        with matplotlib.rc_context({"axes.titley": None}):  # above whatever ticks there are
            ax.set_title(_wrapped(text, WIDTH_IN), loc="left", parse_math=False)
        legend = ax.legend(handles, labels, handlelength=2.2) if key else None
    elif not key:
        _grow(figure, 1, TITLE_PT)
        figure.suptitle(textwrap.fill(text, wide), x=0.01, ha="left", fontsize=TITLE_PT, parse_math=False)
        return
    else:
        columns = min(max(1, int(wide * 1.25 / (max(map(len, labels)) + 8))), len(key))
        _grow(figure, 1 - len(key) // -columns, TITLE_PT)
        legend = figure.legend(
            handles, labels, loc="outside upper left", ncols=columns, handlelength=2.2, alignment="left",
            title=textwrap.fill(text, wide), title_fontsize=TITLE_PT, borderpad=0.1,
        )  # fmt: skip
    if legend is not None:
        for written in [legend.get_title(), *legend.get_texts()]:
            written.set_parse_math(False)
            written.set_color(INK)


def notes(figure: Figure, lines: Sequence[str], ax: Axes | None = None) -> None:
    """Words under a sheet, one paragraph a line; in axes that were given, under the name of their x axis."""
    if not lines:
        return
    if ax is not None:
        width_in = max(ax.get_position().width * figure.get_figwidth(), 2.0)
        text = "\n".join(_wrapped(line, width_in) for line in lines)
        ax.set_xlabel(f"{ax.get_xlabel()}\n\n{text}", parse_math=False)
        return
    text = "\n".join(_wrapped(line, figure.get_figwidth()) for line in lines)
    _grow(figure, text.count("\n") + 2, SMALL_PT)
    figure.supxlabel(text, x=0.01, ha="left", fontsize=SMALL_PT, parse_math=False)


def _grow(figure: Figure, lines: int, size_pt: float) -> None:
    """More height for lines of text beside the axes, which keep theirs."""
    figure.set_figheight(figure.get_figheight() + lines * size_pt * 1.4 / 72)


def nothing_in(ax: Axes, text: str) -> None:
    """A sentence in one axes of several that has nothing to show."""
    ax.set_axis_off()
    ax.text(0.0, 0.5, textwrap.fill(text, 40), transform=ax.transAxes, fontsize=TEXT_PT, parse_math=False)


def _wrapped(text: str, width_in: float) -> str:
    return textwrap.fill(text, max(int(width_in * _LETTERS_AN_INCH), 20))


def _root(ax: Axes) -> Figure:
    figure = ax.figure
    while isinstance(figure, SubFigure):
        figure = figure.figure
    return figure
