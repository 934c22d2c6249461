"""The look of every figure: ink, colours, line styles, markers, and what each kind of stock is drawn with.

Colours have the hues of Okabe and Ito (2008), Color Universal Design, which colour-blind people tell apart, but deeper
on light paper and lighter on dark: theirs are for areas, and three of the six all but vanish as a thin line on white.
Each has a contrast of 4.5 to 1 with its paper (of a mark WCAG 2.2 asks 3, 1.4.11), which no one colour has with
both papers. Each comes with a line style, a marker and a hatch of its own, so that a print in black and white tells
them apart too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from threading import RLock
from typing import Any

import attrs

INK = "#22272b"
"""Text, axes and rules; as_svg writes it as the page's own colour, so nothing else may have this very value."""
BLUE, VERMILLION, GREEN, PURPLE, OCHRE, SKY = "#2a4380", "#ba4d00", "#0c7248", "#9f4f7c", "#664512", "#2474c8"
"""On light paper."""
ON_DARK = {
    BLUE: "#5b97dc", VERMILLION: "#e2742a", GREEN: "#2bcd88", PURPLE: "#c08aa6", OCHRE: "#f0c540", SKY: "#aad4f5",
}  # fmt: skip
"""What each is on a dark page."""
FAINT = 0.3
"""Opacity of what nothing is read from: rules, and areas within an edge that is drawn in full."""
BEHIND = 0.6
"""Opacity of ink that stands behind other marks and is read all the same."""
SMALL_PT, TEXT_PT, TITLE_PT = 7.5, 8.5, 10.0
WIDTH_IN = 7.0
"""Width of a figure, that of the text on an A4 page with usual margins, in inches."""

LOOK: dict[Any, Any] = {
    "figure.facecolor": "white",
    "figure.edgecolor": "none",
    "figure.constrained_layout.use": True,
    "figure.dpi": 120,
    "savefig.dpi": 200,
    "axes.facecolor": "none",
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.labelsize": TEXT_PT,
    "axes.titlesize": TEXT_PT,
    "axes.titlelocation": "left",
    # at the top: matplotlib would look for room above the ticks of every axes, and measure them all for it
    "axes.titley": 1.0,
    "axes.titleweight": "normal",
    "axes.titlecolor": INK,
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "axes.formatter.use_mathtext": False,
    "text.color": INK,
    "text.parse_math": False,
    "text.usetex": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": SMALL_PT,
    "ytick.labelsize": SMALL_PT,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.major.size": 3.0,
    "ytick.major.size": 3.0,
    "font.family": ["sans-serif"],
    "font.size": TEXT_PT,
    "figure.titlesize": TITLE_PT,
    "grid.color": INK,
    "grid.alpha": 0.15,
    "grid.linewidth": 0.5,
    "hatch.color": INK,
    "hatch.linewidth": 0.5,
    "legend.frameon": False,
    "legend.fontsize": SMALL_PT,
    "legend.labelcolor": INK,
    "lines.linewidth": 1.4,
    "lines.markersize": 5.0,
    "lines.solid_capstyle": "butt",
}


_ONE_AT_A_TIME = RLock()


@contextmanager
def in_our_look(more: Mapping[Any, Any] | None = None) -> Iterator[None]:
    """The settings of matplotlib ours, with more of them where given, and afterwards as they were.

    They are the whole program's: of two threads that set them and put them back by turns, the last would put back ours.
    So one draws at a time.
    """
    import matplotlib  # loaded when a figure is drawn, never before

    with _ONE_AT_A_TIME, matplotlib.rc_context({**LOOK, **(more or {})}):
        yield


@attrs.frozen
class Stroke:
    """How one kind of thing is drawn wherever it appears: colour, line style, marker, hatch."""

    colour: str
    line: Any
    marker: str
    hatch: str


OVERWINTERED = Stroke(BLUE, "-", "o", "")
FRESH = Stroke(VERMILLION, (0, (5, 2)), "^", "//")
OTHER = Stroke(GREEN, (0, (1, 1.5)), "s", "..")
SERIES = (
    OVERWINTERED, FRESH, OTHER, Stroke(PURPLE, (0, (6, 2, 1, 2)), "D", "xx"),
    Stroke(OCHRE, (0, (3, 1, 1, 1, 1, 1)), "v", "--"), Stroke(SKY, (0, (8, 3)), "P", "++"),
)  # fmt: skip
"""For groups that are no stock, in this order; past the last, begin again."""


def of_stock(stock: object) -> Stroke:
    """How a kind of stock is drawn; all but fresh and overwintered alike, for there are words beside them."""
    match stock:
        case "overwintered":
            return OVERWINTERED
        case "fresh":
            return FRESH
        case _:
            return OTHER


def of_place(place: int) -> Stroke:
    """How the group at that place in an order is drawn."""
    return SERIES[place % len(SERIES)]


def area(colour: str, opacity: float = FAINT) -> dict[str, Any]:
    """How an area is drawn behind other marks: pale, its edge in full, for a pale area alone is lost on the page."""
    return {"facecolor": (colour, opacity), "edgecolor": colour, "linewidth": 0.6}
