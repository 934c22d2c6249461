"""The descent of one plant: what it came from to its left, what came from it to its right."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any, Literal

import attrs
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from perennia.analysis import Pedigree
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted
from perennia.lifecycle import STATE_WORDS
from perennia.report.drawing import figure_of
from perennia.report.look import BEHIND, BLUE, GREEN, INK, TEXT_PT, VERMILLION, WIDTH_IN, Stroke
from perennia.report.sheet import Entry, head, notes, one_axes
from perennia.report.words import dot_of, line_of, shortened

MOST_STEPS, MOST_RELATIVES = 8, 150
"""Steps either way, and relatives, that are drawn; the nearest are."""
_COLUMN_IN, _ROW_IN, _AROUND_IN = 2.0, 0.42, 1.2
_STUB, _GAP = 0.4, 0.05
"""What a step takes of its column: the line with the kind of descent above it, and the room before a mark."""
_LONGEST, _LETTERS = 14, 26
"""Letters of a name, and of a line of what is said of a plant."""
KINDS = {
    "division": Stroke(BLUE, "-", "o", ""), "cutting": Stroke(GREEN, (0, (5, 2)), "o", ""),
    "seed": Stroke(VERMILLION, (0, (1, 1.2)), "o", ""),
}  # fmt: skip
_Way = Literal["self", "up", "down"]


@attrs.frozen(eq=False)
class _Node:
    """One plant on the sheet: generations to the right of the one asked about, and its row."""

    row: Row
    column: int
    height: float


@figure_of(
    Pedigree, axes="one", is_empty=lambda result: result.n == 0,
    nothing="Neither a mother nor a division, cutting or sowing of this plant is on record.",
)  # fmt: skip
def pedigree(result: Pedigree, ax: Axes | None) -> Figure:
    """Generations from left to right, each line with how the one came from the other: division, cutting or seed."""
    rows = rows_of(result.table)
    shown = _nearest(rows)
    nodes = _placed(shown)
    columns, heights = [node.column for node in nodes.values()], [node.height for node in nodes.values()]
    across = max(columns) - min(columns) + 1
    tall = max(heights) - min(heights)
    figure, own = one_axes(ax, (tall + 1) * _ROW_IN + _AROUND_IN, max(WIDTH_IN, across * _COLUMN_IN))
    own.set_axis_off()
    own.set_xlim(min(columns) - 0.1, max(columns) + 0.85)
    own.set_ylim(max(heights) + 0.8, min(heights) - 0.8)
    for node in nodes.values():
        _draw_node(own, node, rows[0])
        if node.row["way"] != "self":
            _draw_step(own, node, nodes[_next_key(node.row)])
    _draw_other_ways(own, result, nodes)
    head(figure, f"Descent of {result.plant}", _key(shown), ax)
    notes(figure, _said(rows, len(shown)), ax)
    return figure


def _nearest(rows: Sequence[Row]) -> list[Row]:
    """Relatives by the steps to them, as far as they are drawn; the next plant on the way to each is among them."""
    return sorted((row for row in rows if row["steps"] <= MOST_STEPS), key=lambda row: row["steps"])[
        :MOST_RELATIVES + 1
    ]  # fmt: skip


def _key_of(row: Row) -> tuple[_Way, str]:
    return row["way"], row["plant"]


def _next_key(row: Row) -> tuple[_Way, str]:
    """The next plant on the way to the one asked about."""
    return ("self" if row["steps"] == 1 else row["way"]), row["of"]


def _placed(rows: Sequence[Row]) -> dict[tuple[_Way, str], _Node]:
    """Each way a tree from the plant asked about, ends of its branches a row each, forks amid what they bear."""
    own = rows[0]
    placed = {_key_of(own): _Node(own, 0, 0.0)}
    for way, sign in (("up", -1), ("down", 1)):
        heights = _heights(own, [row for row in rows if row["way"] == way])
        middle = heights[_key_of(own)]
        placed |= {
            _key_of(row): _Node(row, sign * int(row["steps"]), heights[_key_of(row)] - middle)
            for row in rows if row["way"] == way
        }  # fmt: skip
    return placed


def _heights(own: Row, rows: Sequence[Row]) -> dict[tuple[_Way, str], float]:
    further: dict[tuple[_Way, str], list[Row]] = {}
    for row in rows:
        further.setdefault(_next_key(row), []).append(row)
    heights: dict[tuple[_Way, str], float] = {}
    ends = 0
    # a stack of its own: along each branch to its end before the next branch
    waiting = [own]
    while waiting:
        row = waiting.pop()
        beyond = further.get(_key_of(row), [])
        if not beyond:
            heights[_key_of(row)] = float(ends)
            ends += 1
        waiting += reversed(beyond)
    for row in [*reversed(rows), own]:
        if _key_of(row) not in heights:
            there = [heights[_key_of(one)] for one in further[_key_of(row)]]
            heights[_key_of(row)] = (min(there) + max(there)) / 2
    return heights


def _draw_node(ax: Axes, node: _Node, own: Row) -> None:
    row = node.row
    standing = row["ended_on"] is None
    ax.plot([node.column], [node.height], "o" if row["way"] != "self" else "D", color=INK, gid="plant", zorder=3,
            markersize=5 if row["way"] != "self" else 7, markerfacecolor=INK if standing else "none",
            clip_on=False)  # fmt: skip
    name = shortened(str(row["plant"]), _LONGEST)
    ax.annotate(name, (node.column, node.height), (6, 2.5), textcoords="offset points", va="bottom",
                fontsize=TEXT_PT, fontweight="bold" if row["way"] == "self" else "normal", parse_math=False,
                annotation_clip=False)  # fmt: skip
    ax.annotate(_life(row, own), (node.column, node.height), (6, -2.5), textcoords="offset points", va="top",
                fontsize=6, parse_math=False, annotation_clip=False)  # fmt: skip


def _life(row: Row, own: Row) -> str:
    end = (
        STATE_WORDS[str(row["state"])] if row["ended_on"] is None
        else f"{row['ended_how'] or 'ended'} {row['ended_on'].year}"
    )  # fmt: skip
    kind = row["cultivar"] or row["crop"]
    if row["way"] != "self" and row["crop"] == own["crop"] and row["cultivar"] in (None, own["cultivar"]):
        kind = None
    stand = f"stand of {row['plants']}" if row["plants"] > 1 else None
    words = [kind and shortened(str(kind), _LETTERS), stand, f"begun {row['began_on'].year}", end]
    return textwrap.fill(", ".join(word for word in words if word), _LETTERS)


def _draw_step(ax: Axes, node: _Node, nearer: _Node) -> None:
    """The line between a plant and the next on the way, drawn from mother to daughter, with its kind above it."""
    mother, daughter = (nearer, node) if node.row["way"] == "down" else (node, nearer)
    stroke = KINDS[str(node.row["by"])]
    fork = daughter.column - (_STUB if node.row["way"] == "down" else _GAP)
    look: dict[str, Any] = {"color": stroke.colour, "linestyle": stroke.line, "linewidth": 1.3, "zorder": 2}
    faint: dict[str, Any] = {"color": INK, "alpha": BEHIND, "linewidth": 0.8, "zorder": 1}
    words = _kind_in_words(node.row)
    if node.row["way"] == "down":
        ax.plot([mother.column, fork, fork], [mother.height, mother.height, daughter.height], **faint)
        ax.plot([fork, daughter.column], [daughter.height] * 2, gid="step", **look)
        ax.annotate(words, (fork, daughter.height), (2, 2), textcoords="offset points", va="bottom", fontsize=6,
                    parse_math=False, annotation_clip=False)  # fmt: skip
    else:
        ax.plot([mother.column, fork], [mother.height] * 2, gid="step", **look)
        ax.plot([fork, fork, daughter.column], [mother.height, daughter.height, daughter.height], **faint)
        ax.annotate(words, (fork, mother.height), (-2, 2), textcoords="offset points", va="bottom", ha="right",
                    fontsize=6, parse_math=False, annotation_clip=False)  # fmt: skip


def _kind_in_words(row: Row) -> str:
    words = f"seed {shortened(str(row['lot']), _LONGEST)}" if row["by"] == "seed" else str(row["by"])
    return words if row["certain"] else f"{words}?"


def _draw_other_ways(ax: Axes, result: Pedigree, nodes: Mapping[tuple[_Way, str], _Node]) -> None:
    """Mothers beside the one on the shortest way, thin and bowed, where both plants are drawn."""
    on_the_way = {
        (node.row["plant"], node.row["of"]) if node.row["way"] == "down" else (node.row["of"], node.row["plant"])
        for node in nodes.values() if node.row["way"] != "self"
    }  # fmt: skip
    at = {plant: node for (_, plant), node in nodes.items()}
    for link in rows_of(result.links):
        plant, mother = str(link["plant"]), str(link["mother"])
        if (plant, mother) in on_the_way or plant not in at or mother not in at:
            continue
        stroke = KINDS[str(link["by"])]
        ax.annotate("", (at[plant].column, at[plant].height), xytext=(at[mother].column, at[mother].height),
                    arrowprops={"arrowstyle": "-", "connectionstyle": "arc3,rad=0.2", "color": stroke.colour,
                                "linestyle": stroke.line, "linewidth": 0.7},
                    annotation_clip=False)  # fmt: skip


def _key(rows: Sequence[Row]) -> list[Entry]:
    """The lines and marks that were used."""
    kinds = {row["by"] for row in rows}
    return [(kind, line_of(stroke)) for kind, stroke in KINDS.items() if kind in kinds] + [
        (words, dot_of(Stroke(INK, "-", "o", ""), hollow=ended))
        for ended, words in ((False, "still there"), (True, "ended"))
        if any((row["ended_on"] is not None) is ended for row in rows)
    ]


def _said(rows: Sequence[Row], shown: int) -> list[str]:
    said = []
    if any(not row["certain"] for row in rows):
        said.append("A question mark: not certain, for the seed may be of another plant or sowing.")
    if len(rows) > shown:
        said.append(f"{counted(len(rows) - shown, 'relative')} further off not drawn; the table has them.")
    return said
