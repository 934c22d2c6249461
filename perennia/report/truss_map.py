"""A map of trusses: each flower by its day of opening and its place on the truss, marked by how it ended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import attrs
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from perennia.analysis import PodSet
from perennia.analysis.causes.setting.flowers import Flower, FlowerBook
from perennia.analysis.causes.setting.pod_set_tables import gathered
from perennia.analysis.units import rows_of
from perennia.checking.words import counted
from perennia.report.days import day_axis, numbers_of
from perennia.report.look import BEHIND, BLUE, GREEN, INK, OCHRE, PURPLE, SMALL_PT, VERMILLION
from perennia.report.parts import Part, axes_in, sheet_of
from perennia.report.truss_bars import MOST_TRUSSES, counts_part

MOST_PLANTS = 60
"""Plants of one season that are drawn; more would be smaller than an eye can tell apart."""
_ROW_IN, _LEAST_IN = 1.3, 2.4


@attrs.frozen
class _Mark:
    """How one end is drawn: marker, colour, and whether it is filled."""

    marker: str
    colour: str
    filled: bool


# what was carried through is round, what was lost is not; the rest is open or small
ENDS = {
    "picked": _Mark("o", BLUE, True),
    "full size": _Mark("o", BLUE, False),
    "pod growing": _Mark("h", GREEN, False),
    "still open": _Mark("*", GREEN, False),
    "pod dropped": _Mark("v", VERMILLION, True),
    "flower dropped": _Mark("x", VERMILLION, True),
    "damaged": _Mark("s", OCHRE, False),
    "lost to view": _Mark(".", PURPLE, True),
}
"""By the end of a flower, in the order of the key."""


def end_of(flower: Flower) -> str:
    """What became of a flower, one of ENDS."""
    if flower.lost_to_view:
        return "lost to view"
    if flower.end is not None:
        return flower.end
    return "pod growing" if flower.growing else "still open"


def truss_map(result: PodSet) -> Figure:
    """A part a season for the flowers followed one by one, and one for trusses that were only counted."""
    parts = []
    counts = [_counted(result, book) for book in result.books.books]
    # a sheet has so many in all, or it is too long to look at
    most = max(MOST_TRUSSES // max(sum(map(bool, counts)), 1), 1)
    for book, counted_only in zip(result.books.books, counts, strict=True):
        if book.flowers:
            parts.append(_followed(book))
        if counted_only:
            parts.append(counts_part(counted_only, f"{book.crop}, {book.season_name}", most=most))
    return sheet_of(parts)


def _counted(result: PodSet, book: FlowerBook) -> list[dict[str, Any]]:
    own = result.trusses
    own = own[(own["basis"] == "counts") & (own["crop"] == book.crop) & (own["season"] == book.season)]
    return rows_of(own)  # type: ignore[return-value]


def _followed(book: FlowerBook) -> Part:
    """The flowers of one season, axes a plant."""
    of_plant = gathered(book.flowers, lambda flower: flower.plant)
    shown = dict(list(of_plant.items())[:MOST_PLANTS])
    columns = _columns(len(shown))
    return Part(
        head=f"{book.crop}, {book.season_name}: flowers by day of opening and place on the truss",
        body_in=max(-(-len(shown) // columns) * _ROW_IN + 0.4, _LEAST_IN),
        draw=lambda body: _draw_plants(body, shown, columns),
        key=_key([flower for flowers in shown.values() for flower in flowers]),
        words=_said(book, len(of_plant)),
    )


def _columns(plants: int) -> int:
    return 1 if plants == 1 else 2 if plants <= 4 else 3 if plants <= 9 else 4


def _draw_plants(body: SubFigure, plants: Mapping[str, Sequence[Flower]], columns: int) -> None:
    flowers = [flower for own in plants.values() for flower in own]
    axes = axes_in(body, -(-len(plants) // columns), columns, sharex=True, sharey=True)
    dated = numbers_of(flower.opened_on for flower in flowers if flower.opened_on is not None)
    first, last = (min(dated), max(dated)) if dated else (0.0, 0.0)
    undated = first - max(2.0, (last - first) * 0.08)
    lacking = len(dated) < len(flowers)
    for ax, (plant, own) in zip(axes, plants.items(), strict=False):
        _draw_plant(ax, own, undated)
        ax.set_title(plant, fontsize=SMALL_PT, pad=2, parse_math=False)
        if lacking:
            ax.axvline((first + undated) / 2, color=INK, linestyle=(0, (1, 2)), linewidth=0.6)
    for ax in axes[len(plants):]:
        ax.set_visible(False)
    # the last row may end sooner than the columns: the axes above its empty places carry the days
    for ax in axes[max(len(plants) - columns, 0):len(plants)]:
        ax.tick_params(labelbottom=True)
    _one_scale(axes[0], (undated if lacking else first) - 1, last + 1, columns, bool(dated))
    body.supylabel("place on the truss, from its base", fontsize=SMALL_PT)
    body.supxlabel("day of opening", fontsize=SMALL_PT)


def _draw_plant(ax: Axes, flowers: Sequence[Flower], undated: float) -> None:
    trusses = gathered(flowers, lambda flower: flower.truss)
    for number, (truss, own) in enumerate(trusses.items()):
        # trusses of one plant stand a little beside each other, or flowers of one day and place would hide one another
        beside = 0.0 if len(trusses) == 1 else 0.5 * (number / (len(trusses) - 1) - 0.5)
        dated = [flower for flower in own if flower.opened_on is not None]
        days = {id(flower): undated + beside for flower in own}
        days |= dict(zip(map(id, dated), (day + beside for day in numbers_of(one.opened_on for one in dated)),
                         strict=True))  # fmt: skip
        if dated:
            ax.plot([days[id(one)] for one in dated], [one.position for one in dated], color=INK, alpha=BEHIND,
                    linewidth=0.6, zorder=1)  # fmt: skip
        for end, alike in gathered(own, end_of).items():
            ax.plot([days[id(one)] for one in alike], [one.position for one in alike], linestyle="none", gid="flowers",
                    zorder=2, **_as_marker(ENDS[end]))  # fmt: skip
        top = max(own, key=lambda flower: flower.position)
        ax.annotate(truss[1], (days[id(top)], top.position), (3, 1), textcoords="offset points", fontsize=6,
                    parse_math=False, annotation_clip=False)  # fmt: skip


def _as_marker(mark: _Mark) -> dict[str, Any]:
    return {
        "marker": mark.marker, "markersize": 5.5 if mark.marker == "*" else 4.2, "color": mark.colour,
        "markerfacecolor": mark.colour if mark.filled else "none", "markeredgewidth": 0.9,
    }  # fmt: skip


def _one_scale(ax: Axes, first: float, last: float, columns: int, dated: bool) -> None:
    """All axes of the part share their scales with these."""
    if dated:
        day_axis(ax, first, last, most_ticks=12 // columns)
    else:
        ax.set_xticks([])
    ax.yaxis.set_major_locator(MaxNLocator(integer=True, nbins=5, min_n_ticks=1))
    low, high = ax.get_ylim()
    ax.set_ylim(min(low, 0.5), high + 1)


def _key(flowers: Sequence[Flower]) -> list[Line2D]:
    """The marks that were used, with how many flowers bear each."""
    ends = [end_of(flower) for flower in flowers]
    return [
        Line2D([], [], linestyle="none", label=f"{end} ({ends.count(end)})", **_as_marker(mark))
        for end, mark in ENDS.items() if end in ends
    ]  # fmt: skip


def _said(book: FlowerBook, plants: int) -> list[str]:
    said = []
    if lacking := sum(flower.opened_on is None for flower in book.flowers):
        said.append(f"Left of the dotted line: {counted(lacking, 'flower')} whose day of opening is not recorded.")
    if plants > MOST_PLANTS:
        said.append(f"{MOST_PLANTS} of {counted(plants, 'plant')} are drawn; ask pod_set for labels to see others.")
    return said
