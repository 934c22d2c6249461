"""A sheet of several parts, one below the other: each a head, a key, axes of its own, and words under them."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from typing import Any

import attrs
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure

from perennia.report.look import SMALL_PT, TEXT_PT, WIDTH_IN
from perennia.report.sheet import dressed

_LETTERS_AN_INCH = 15
_LINE_IN, _PAD_IN = 0.155, 0.1
_LEFT = 0.012
_MOST_IN = 120.0
"""Height of all axes of a sheet at most: a picture cannot be of any length."""


@attrs.frozen(kw_only=True)
class Part:
    """One part of a sheet.

    head: its title. body_in: height of its axes, in inches. draw: what draws them, in the part of the figure that it is
    handed. key: what its marks mean, in columns. words: paragraphs under it.
    """

    head: str
    body_in: float
    draw: Callable[[SubFigure], None]
    key: Sequence[Artist] = ()
    columns: int = 4
    words: Sequence[str] = ()


def sheet_of(parts: Sequence[Part]) -> Figure:
    """A new sheet with these parts."""
    scale = min(1.0, _MOST_IN / sum(part.body_in for part in parts))
    heads = [textwrap.wrap(part.head, int(WIDTH_IN * _LETTERS_AN_INCH * 0.8)) for part in parts]
    words = [
        [line for said in part.words for line in textwrap.wrap(said, int(WIDTH_IN * _LETTERS_AN_INCH))]
        for part in parts
    ]  # fmt: skip
    heights = []
    for part, lines, under in zip(parts, heads, words, strict=True):
        key_lines = -(-len(part.key) // part.columns)
        heights += [
            _PAD_IN + _LINE_IN * 1.25 * len(lines) + _LINE_IN * 1.2 * key_lines, part.body_in * scale,
            _PAD_IN + _LINE_IN * len(under),
        ]  # fmt: skip
    figure = Figure(figsize=(WIDTH_IN, sum(heights)))
    places: list[SubFigure] = list(np.asarray(figure.subfigures(len(heights), 1, height_ratios=heights)))
    for number, (part, lines, under) in enumerate(zip(parts, heads, words, strict=True)):
        head, body, foot = places[3 * number:3 * number + 3]
        head.text(_LEFT, 1 - _PAD_IN / heights[3 * number], "\n".join(lines), va="top", fontsize=TEXT_PT,
                  fontweight="bold", parse_math=False)  # fmt: skip
        if part.key:
            head.legend(handles=list(part.key), loc="lower left", bbox_to_anchor=(_LEFT, 0.0), ncols=part.columns,
                        borderaxespad=0.0, borderpad=0.0, labelspacing=0.25, handletextpad=0.4, handlelength=1.4,
                        columnspacing=1.4)  # fmt: skip
        part.draw(body)
        foot.text(_LEFT, 1.0, "\n".join(under), va="top", fontsize=SMALL_PT, parse_math=False)
    return figure


def axes_in(body: SubFigure, rows: int, columns: int, **given: Any) -> list[Axes]:
    """Axes in rows and columns, row after row; given: what subplots takes."""
    made = body.subplots(rows, columns, squeeze=False, **given)
    return [dressed(ax) for ax in np.asarray(made).flat]
