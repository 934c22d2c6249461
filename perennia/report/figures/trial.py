"""The plan of a trial: beds, blocks and places, each with its arm by letter and by pattern."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from perennia.analysis import TrialPlan
from perennia.analysis.decisions.trials.trial_boxes import (
    GAP,
    HEIGHT,
    LETTERS,
    MARGIN,
    SCALE,
    SPARE,
    WIDTH,
    BlockFrame,
    Box,
    beds_from,
    page_width,
)
from perennia.analysis.decisions.trials.trial_paper import drawn_by_lot
from perennia.report.drawing import figure_of
from perennia.report.look import BEHIND, INK, SMALL_PT, WIDTH_IN
from perennia.report.sheet import notes, one_axes, title

_AROUND_IN = 1.1
_HATCH = "////"


@figure_of(TrialPlan, axes="one", nothing="The plan has no place.")
def trial(result: TrialPlan, ax: Axes | None) -> Figure:
    """Boxes as in the plan's own drawing: number, letter of the arm and label; the second arm hatched, places left over
    dashed, blocks framed."""
    beds, bottom = beds_from(MARGIN, result.places, result.arms)
    scale = WIDTH_IN / page_width()
    figure, own = one_axes(ax, bottom * scale + _AROUND_IN)
    own.set_axis_off()
    own.set_xlim(0, page_width())
    own.set_ylim(bottom, 0)
    for bed in beds:
        own.text(MARGIN, bed.base, f"Bed {bed.name}", fontweight="bold", parse_math=False)
        for block in bed.blocks:
            _draw_block(own, block)
    title(figure, f"Trial {result.name}", ax)
    arms = [f"{letter}: {arm}" for letter, arm in zip(LETTERS, result.arms, strict=True)]
    if any(place.arm is None for place in result.places):
        arms.append(f"dashed: {SPARE}")
    notes(figure, ["; ".join([arms[0], f"{arms[1]} (hatched)", *arms[2:]]) + ".",
                   f"{drawn_by_lot(result.places, result.arms, result.crop, result.seed)}. {SCALE}"], ax)  # fmt: skip
    return figure


def _draw_block(ax: Axes, block: BlockFrame) -> None:
    ax.text(block.left, block.top - GAP / 3, block.name, fontsize=SMALL_PT, parse_math=False)
    for box in block.boxes:
        _draw_box(ax, box)
    if not block.spare:
        ax.add_patch(_rectangle(block.left, block.top, block.width, block.height, linewidth=1.8))


def _draw_box(ax: Axes, box: Box) -> None:
    if box.arm == 1:
        ax.add_patch(_rectangle(box.left, box.top, WIDTH, HEIGHT, hatch=_HATCH, alpha=BEHIND, linewidth=0))
    style = (0, (3, 3)) if box.arm is None else "-"
    outline = _rectangle(box.left, box.top, WIDTH, HEIGHT, linewidth=0.7, linestyle=style)
    outline.set_gid("place")
    ax.add_patch(outline)
    ax.text(box.left + 6, box.top + 16, str(box.place.place), fontsize=6.5)
    if box.arm is not None:
        ax.text(box.left + WIDTH / 2, box.top + 36, LETTERS[box.arm], ha="center", fontsize=11, fontweight="bold")
    if box.label:
        ax.text(box.left + WIDTH / 2, box.top + HEIGHT - 7, box.label, ha="center", fontsize=6.5, parse_math=False)


def _rectangle(left: float, top: float, width: float, height: float, **look: Any) -> Rectangle:
    return Rectangle((left, top), width, height, facecolor="none", edgecolor=INK, clip_on=False, **look)
