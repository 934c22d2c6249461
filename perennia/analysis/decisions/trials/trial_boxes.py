"""Where the beds, blocks and places of a trial stand on a page: rows of ten boxes, a block framed, a bed after another.

Measures are in units of the page, from its upper left corner; every drawing of a plan goes by them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import attrs

from perennia.analysis.decisions.trials.trial_layout import Arms, Place

ACROSS = 10
"""Places in one row of the drawing."""
WIDTH, HEIGHT, MARGIN = 88, 64, 24
"""Of a place, and of the page."""
HEAD, GAP = 34, 14
"""What a bed's name takes, and what parts blocks."""
NAME = 18
"""What a block's name takes above its places."""
LETTERS = ("A", "B")
"""Of the arms, in their order; the second is hatched as well, so that letter and pattern say the same."""
SPARE = "left over"
SCALE = "A box is one place, counted from the bed's first end; not to scale."
_LONGEST = 12
"""Letters of a label that fit into a place."""


@attrs.frozen
class Box:
    """One place: its upper left corner, and the number of its arm, None where it is left over."""

    place: Place
    arm: int | None
    left: int
    top: int

    @property
    def label(self) -> str | None:
        """The label as far as it fits into the box."""
        label = self.place.label
        return label if label is None or len(label) <= _LONGEST else label[: _LONGEST - 1] + "…"

    @property
    def said(self) -> str:
        """The place in words, its label whole."""
        label = f", {self.place.label}" if self.place.label else ""
        return f"bed {self.place.bed}, place {self.place.place}, {self.place.arm or SPARE}{label}"


@attrs.frozen
class BlockFrame:
    """The places of one block, or those left over, and the frame around a block's; top is that of its places."""

    name: str
    spare: bool
    left: int
    top: int
    width: int
    height: int
    boxes: tuple[Box, ...]


@attrs.frozen
class BedHead:
    """One bed: the line its name stands on, and its blocks."""

    name: str
    base: int
    blocks: tuple[BlockFrame, ...]


def page_width() -> int:
    """The width of the page."""
    return 2 * MARGIN + ACROSS * WIDTH


def beds_from(top: int, places: Sequence[Place], arms: Arms) -> tuple[list[BedHead], int]:
    """The beds from that line of the page downwards, and where the page ends."""
    beds = []
    for bed, of_bed in groupby(places, key=lambda place: place.bed):
        base = top
        top += GAP
        blocks = []
        for block, of_block in groupby(of_bed, key=lambda place: place.block):
            blocks.append(_block(block, list(of_block), arms, top + NAME))
            top += NAME + blocks[-1].height + GAP
        beds.append(BedHead(bed, base, tuple(blocks)))
        top += HEAD
    return beds, top


def _block(name: str | None, places: Sequence[Place], arms: Arms, top: int) -> BlockFrame:
    boxes = tuple(
        Box(place, None if place.arm is None else arms.index(place.arm), MARGIN + (number % ACROSS) * WIDTH,
            top + (number // ACROSS) * HEIGHT)
        for number, place in enumerate(places)
    )  # fmt: skip
    return BlockFrame(
        name=SPARE if name is None else f"Block {name}", spare=name is None, left=MARGIN, top=top,
        width=min(len(places), ACROSS) * WIDTH, height=-(-len(places) // ACROSS) * HEIGHT, boxes=boxes,
    )  # fmt: skip
