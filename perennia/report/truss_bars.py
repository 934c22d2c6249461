"""Trusses that were only counted: flowers opened, set, at full size and dropped, a row of bars each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import SubFigure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from perennia.analysis.causes.setting.pod_set_wording import trusses_counted
from perennia.report.look import BLUE, INK, SKY, SMALL_PT, VERMILLION
from perennia.report.parts import Part, axes_in

MOST_TRUSSES = 120
_ONE_COLUMN = 20
_ROW_IN, _AROUND_IN = 0.46, 0.5
_BARS: Mapping[str, dict[str, Any]] = {
    "opened": {"facecolor": "none", "edgecolor": INK, "linewidth": 0.7},
    "set": {"facecolor": SKY, "edgecolor": INK, "linewidth": 0.4},
    "full_size": {"facecolor": BLUE, "edgecolor": INK, "linewidth": 0.4},
    "dropped": {"facecolor": "none", "edgecolor": VERMILLION, "hatch": "//////", "linewidth": 0.7},
}


def _columns(trusses: int) -> int:
    return 1 if trusses <= _ONE_COLUMN else 2 if trusses <= 2 * _ONE_COLUMN else 3


def counts_part(trusses: Sequence[Mapping[str, Any]], of: str, *, most: int = MOST_TRUSSES) -> Part:
    """Rows of PodSet.trusses that rest on counts, so many of them at most."""
    shown = trusses[:most]
    columns = _columns(len(shown))
    rows = -(-len(shown) // columns)
    words = []
    if len(trusses) > len(shown):
        words.append(
            f"{len(shown)} of {trusses_counted(len(trusses))} are drawn; ask pod_set for labels to see others."
        )
    return Part(
        head=f"{of}: trusses that were only counted, at their last count",
        body_in=_AROUND_IN + rows * _ROW_IN,
        draw=lambda body: _draw(body, shown, columns, rows),
        key=[Patch(label=name.replace("_", " "), **bar) for name, bar in _BARS.items()],
        words=words,
    )


def _draw(body: SubFigure, trusses: Sequence[Mapping[str, Any]], columns: int, rows: int) -> None:
    for number, ax in enumerate(axes_in(body, 1, columns, sharex=True)):
        _draw_column(ax, trusses[number * rows:(number + 1) * rows], rows)
    body.supxlabel("flowers and pods", fontsize=SMALL_PT)


def _draw_column(ax: Axes, trusses: Sequence[Mapping[str, Any]], rows: int) -> None:
    for row, truss in enumerate(trusses):
        for place, (name, bar) in enumerate(_BARS.items()):
            height = row - 0.3 + 0.2 * place
            known = truss[name] is not None
            if known:
                ax.barh(height, int(truss[name]), 0.18, gid="bar", **bar)
            ax.annotate(f"{truss[name]}" if known else f"{name.replace('_', ' ')} not counted",
                        (int(truss[name]) if known else 0, height), (2, 0), textcoords="offset points", va="center",
                        fontsize=5.5)  # fmt: skip
    names = [f"{truss['plant']}\ntruss {truss['truss']}, {truss['counted_on']:%Y-%m-%d}" for truss in trusses]
    ax.set_yticks(range(len(trusses)), labels=names, fontsize=6.5, parse_math=False)
    ax.set_ylim(rows - 0.5, -0.5)
    ax.tick_params(axis="y", length=0)
    ax.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=5, min_n_ticks=1))
    ax.margins(x=0.08)
