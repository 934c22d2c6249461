"""Patterns of failures to set, side by side: how rare each is by chance, and what it says."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

from perennia.analysis import SettingPatterns
from perennia.analysis.causes.setting.patterns_wording import seen
from perennia.analysis.measures import probability
from perennia.analysis.units import rows_of
from perennia.report.drawing import figure_of
from perennia.report.look import BLUE, FAINT, INK
from perennia.report.parts import Part, axes_in, sheet_of

_ROW_IN, _AROUND_IN, _NO_AXES_IN = 0.5, 0.55, 0.05
_LETTERS = 66
_NO_CAUSE = "A pattern is no cause, and one that does not stand out is not ruled out; see the cautions."


@figure_of(SettingPatterns, axes="several", nothing="No flowering is on record for what was asked.")
def patterns(result: SettingPatterns) -> Figure:
    """A row a pattern and a part a season: p adjusted for the number of patterns, p by itself, the smallest that these
    flowers could give, and what was seen; of a pattern that cannot be told, why."""
    seasons: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in rows_of(result.table):
        seasons.setdefault((row["crop"], row["season_name"]), []).append(_dated(row))
    return sheet_of([_part(f"{crop}, {season}", rows, result.stage) for (crop, season), rows in seasons.items()])


def _part(of: str, rows: Sequence[Mapping[str, Any]], stage: str) -> Part:
    """The rows of one season; where none can be told, words alone."""
    head = f"{of}: patterns of failures to {'set' if stage == 'set' else 'come to full size'}"
    if all(row["p"] is None for row in rows):
        why: dict[str, list[str]] = {}
        for row in rows:
            why.setdefault(row["reason"], []).append(row["pattern"])
        said = [f"{'; '.join(names)}: cannot be told, {reason}." for reason, names in why.items()]
        return Part(head=head, body_in=_NO_AXES_IN, draw=lambda body: None, words=said)
    return Part(head=head, body_in=_AROUND_IN + _ROW_IN * len(rows), draw=lambda body: _draw(body, rows), key=_KEY,
                words=[_NO_CAUSE])  # fmt: skip


def _dated(row: Mapping[str, Any]) -> dict[str, Any]:
    """The row with plain dates."""
    return {**row, **{name: row[name] and row[name].date() for name in ("on_from", "on_to")}}


def _draw(body: SubFigure, rows: Sequence[Mapping[str, Any]]) -> None:
    chances, words = axes_in(body, 1, 2, sharey=True, width_ratios=[1, 2.1])
    _draw_chances(chances, rows)
    words.set_axis_off()
    for place, row in enumerate(rows):
        words.text(0.0, place, textwrap.fill(_words(row), _LETTERS), va="center", fontsize=6.8, parse_math=False,
                   transform=words.get_yaxis_transform(), alpha=1.0 if row["p"] is not None else 0.75)  # fmt: skip


def _draw_chances(ax: Axes, rows: Sequence[Mapping[str, Any]]) -> None:
    told = [(place, row) for place, row in enumerate(rows) if row["p"] is not None]
    smallest = [row["smallest_p"] for _, row in told if row["smallest_p"]]
    least = min([0.02, *smallest, *(row["p"] for _, row in told if row["p"] > 0)])
    ax.set_xscale("log")
    ax.set_xlim(least / 1.6, 1.6)
    for place, row in enumerate(rows):
        if row["p"] is None:
            ax.text(0.97, place, "cannot be told", va="center", ha="right", fontsize=6.5, parse_math=False,
                    transform=ax.get_yaxis_transform())  # fmt: skip
            continue
        ax.axhline(place, color=INK, alpha=FAINT / 2, linewidth=0.5, gid="rule")
        adjusted = row["p"] if row["p_adjusted"] is None else row["p_adjusted"]
        ax.plot([max(row["p"], least), max(adjusted, least)], [place, place], color=BLUE, linewidth=0.8)
        ax.plot([max(row["p"], least)], [place], **_P)
        ax.plot([max(adjusted, least)], [place], gid="adjusted", **_ADJUSTED)
        if row["smallest_p"]:
            ax.plot([row["smallest_p"]], [place], **_SMALLEST)
    ax.set_yticks(range(len(rows)), labels=[textwrap.fill(row["pattern"], 18) for row in rows], fontsize=6.8,
                  parse_math=False)  # fmt: skip
    ax.set_ylim(len(rows) - 0.5, -0.5)
    ax.tick_params(axis="y", length=0)
    ax.xaxis.set_major_locator(LogLocator(numticks=6))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.set_xlabel("p (log scale)")


_P: dict[str, Any] = {"marker": "o", "linestyle": "none", "color": BLUE, "markerfacecolor": "none", "markersize": 5}
_ADJUSTED: dict[str, Any] = {"marker": "o", "linestyle": "none", "color": BLUE, "markersize": 5}
_SMALLEST: dict[str, Any] = {"marker": "|", "linestyle": "none", "color": INK, "markersize": 9}
_KEY = [
    Line2D([], [], label="p adjusted for the number of patterns", **_ADJUSTED), Line2D([], [], label="p", **_P),
    Line2D([], [], label="the smallest that p could be here", **_SMALLEST),
]  # fmt: skip


def _words(row: Mapping[str, Any]) -> str:
    if row["p"] is None:
        return f"Cannot be told: {row['reason']}."
    text = seen(row)
    adjusted = "" if row["p_adjusted"] is None else f", adjusted {probability(row['p_adjusted'])}"
    return f"{text[0].upper()}{text[1:]}. p {probability(row['p'])}{adjusted}; n = {row['n_flowers']} flowers."
