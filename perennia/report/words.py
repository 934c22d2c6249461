"""Words inside axes: names at the ends of lines, kept apart, and what stands in a key."""

from __future__ import annotations

from collections.abc import Sequence

import attrs
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from perennia.analysis.result import Result
from perennia.checking.words import counted
from perennia.report.look import SMALL_PT, Stroke

SPREAD = "from 10 % to 90 % of the crop in"
"""What t10 to t90 is to a reader."""
_LINE_PT = 1.15


def crop_axis(measure: str, of: str = "crop") -> str:
    """Name of an axis along a crop measured in g or by count."""
    return f"{of}, {'pieces counted' if measure == 'count' else 'g'}"


@attrs.frozen
class Named:
    """A text beside a point."""

    x: float
    y: float
    text: str
    colour: str


def end_names(ax: Axes, names: Sequence[Named], height_in: float, size_pt: float = SMALL_PT) -> None:
    """Texts right of their points, pushed apart upwards where they would lie on each other; height_in: of the axes."""
    low, high = ax.get_ylim()
    line = (high - low) * size_pt * _LINE_PT / (height_in * 72)
    room = low
    for name in sorted(names, key=lambda one: one.y):
        y = max(name.y, room)
        room = y + line
        ax.annotate(
            name.text, (name.x, y), xytext=(3, 0), textcoords="offset points", va="center", color=name.colour,
            fontsize=size_pt, annotation_clip=False, parse_math=False,
        )  # fmt: skip
    ax.set_ylim(low, max(high, room - line / 2))


def line_of(stroke: Stroke) -> Line2D:
    """A stroke's line as it stands in a key."""
    return Line2D([], [], color=stroke.colour, linestyle=stroke.line, linewidth=1.6)


def dot_of(stroke: Stroke, *, hollow: bool = False) -> Line2D:
    """A stroke's marker as it stands in a key."""
    fill = "none" if hollow else stroke.colour
    return Line2D([], [], color=stroke.colour, marker=stroke.marker, linestyle="none", markerfacecolor=fill)


def first_cautions(result: Result, most: int) -> list[str]:
    """The first cautions of an answer, and how many more its summary has."""
    more = len(result.cautions) - most
    said = [f"{counted(more, 'more caution')}: summary() tells."] if more > 0 else []
    return [*result.cautions[:most], *said]


def shortened(text: str, most: int) -> str:
    """A text cut at a word, with an ellipsis where something is left out."""
    if len(text) <= most:
        return text
    cut = text[: most - 1]
    return f"{cut[: cut.rfind(' ')] if ' ' in cut[most // 2 :] else cut}…"
