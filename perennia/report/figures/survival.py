"""Which roots came through the winter, as shares with intervals, and whole lives as steps with numbers at risk."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from perennia.analysis import Survival
from perennia.analysis.decisions.surviving.survival_lives import GROWTH
from perennia.report.columns import Floats, numbers
from perennia.report.drawing import figure_of
from perennia.report.look import FAINT, INK, SERIES, SMALL_PT, Stroke, area, of_place
from perennia.report.rows import MOST_ROWS, ROW_IN, name_rows
from perennia.report.sheet import grid, head, notes
from perennia.report.words import first_cautions, line_of, shortened

_STEPS_IN = 2.4
_CAUTIONS = 4


def _is_empty(result: Survival) -> bool:
    return result.table.empty and result.lives.empty


@figure_of(
    Survival, axes="several", nothing="No root that entered a winter is on record for what was asked.",
    is_empty=_is_empty,
)  # fmt: skip
def survival(result: Survival) -> Figure:
    """Above the winters, below the lives; each only where there is any on record."""
    cohorts = _cohorts(result.lives)
    winters = min(len(result.table), MOST_ROWS)
    heights = [*([(winters + 1.5) * ROW_IN + 0.3] if winters else []), *([_STEPS_IN] if cohorts else [])]
    if cohorts:
        heights.append(len(cohorts) * ROW_IN + 0.1)
    figure, axes = grid(len(heights), 1, height_in=sum(heights) + 0.3 * len(heights), height_ratios=heights)
    flat = [row[0] for row in axes]
    said = []
    if winters:
        said += _shares(flat[0], result.table, result.by)
    if cohorts:
        _steps(flat[-2], cohorts)
        _at_risk(flat[-1], cohorts, flat[-2].get_xlim())
        if len(cohorts) > len(SERIES):
            said.append(f"{len(cohorts)} kinds of plants, whose lines repeat after {len(SERIES)}; ask for one crop.")
    strokes = [(name, line_of(stroke)) for name, stroke, _ in cohorts]
    head(figure, "Coming through the winter, and living on", strokes)
    notes(figure, [*said, *_confounded(result.differences), *first_cautions(result, _CAUTIONS)])
    return figure


def _confounded(differences: pd.DataFrame) -> list[str]:
    """What pairs of groups share no level of, pairs alike in that together."""
    mixed = differences[differences["confounded_with"].notna()]
    said = []
    for _, own in mixed.groupby(["crop", "confounded_with"], sort=True, dropna=False):
        row = own.iloc[0]
        pairs = f"{row['group']} and {row['against']}" if len(own) == 1 else f"{len(own)} pairs of groups"
        crop = "" if pd.isna(row["crop"]) else f"{row['crop']}: "
        said.append(f"{crop}{pairs} share no {row['confounded_with']}, which may as well be why they differ.")
    return said


def _shares(ax: Axes, table: pd.DataFrame, by: Sequence[str]) -> list[str]:
    rows = table.to_dict("records")[:MOST_ROWS]
    names = []
    for y, row in enumerate(rows):
        named = ", ".join(str(row[name]) for name in by if name in row and not pd.isna(row[name]))
        names.append(shortened(f"{row['crop']}, {named}" if named else str(row["crop"]), 55))
        if not pd.isna(row["low"]):
            ax.plot([row["low"], row["high"]], [y, y], color=INK, linewidth=1.2, gid="interval")
        if not pd.isna(row["share"]):
            ax.plot([row["share"]], [y], marker="o", color=INK, linestyle="none", gid="share", clip_on=False)
        counts = f"{row['alive']} of {row['n_roots']}" if row["n_roots"] else "none decided"
        ax.annotate(
            counts, (1.03, y), va="center", fontsize=SMALL_PT - 0.5, annotation_clip=False, gid="counts",
        )  # fmt: skip
    name_rows(ax, names)
    ax.set_xlim(0, 1)
    ax.grid(axis="x")
    ax.set_xlabel("share of the roots that entered the winter that came through it")
    said = []
    if table["low"].notna().any():
        said.append(f"Intervals of {100 * float(table['level'].iloc[0]):.4g} %, per root kept.")
    if (table["n_roots"].gt(0) & table["low"].isna()).any():
        said.append("A share without a line has no interval: the table tells why in withheld.")
    if len(table) > MOST_ROWS:
        said.append(f"{len(table) - MOST_ROWS} more groups are in the table.")
    return said


def _cohorts(lives: pd.DataFrame) -> list[tuple[str, Stroke, pd.DataFrame]]:
    if lives.empty:
        return []
    keys = [str(name) for name in lives.columns[: lives.columns.get_loc("plant_season")]]
    return [
        (", ".join(str(own[name].iloc[0]) for name in keys), of_place(place), own)
        for place, (_, own) in enumerate(lives.groupby(keys, sort=True, dropna=False))
    ]


def _times(own: pd.DataFrame) -> Floats:
    """Plant seasons lived: whole at the end of growth, a half more at the end of the winter after."""
    return numbers(own, "plant_season") + np.where(own["part"].eq(GROWTH), 0.0, 0.5)


def _steps(ax: Axes, cohorts: Sequence[tuple[str, Stroke, pd.DataFrame]]) -> None:
    last = 0.0
    for _, stroke, own in cohorts:
        times, share = _times(own), numbers(own, "share")
        last = max(last, float(times[-1]))
        ax.step(
            [0.0, *times], [1.0, *share], where="post", color=stroke.colour, linestyle=stroke.line, gid="steps",
            clip_on=False,
        )  # fmt: skip
        low, high = numbers(own, "low"), numbers(own, "high")
        if np.isfinite(low).any():
            ax.fill_between(times, low, high, step="post", **area(stroke.colour, FAINT / 2))
    ax.set_ylim(0, 1.02)
    ax.set_xlim(0, last + 0.5)
    ax.set_ylabel("share of plants alive")
    ax.set_xlabel("plant seasons lived (n.5: through the winter after season n)")


def _at_risk(ax: Axes, cohorts: Sequence[tuple[str, Stroke, pd.DataFrame]], ends: tuple[float, float]) -> None:
    """How many plants each step stands on, under the steps."""
    ax.set_xlim(*ends)
    for y, (_, stroke, own) in enumerate(cohorts):
        for time, at_risk in zip(_times(own), own["at_risk"], strict=True):
            ax.text(
                time, y, str(at_risk), ha="center", va="center", fontsize=SMALL_PT - 0.5, color=stroke.colour,
                gid="risk",
            )  # fmt: skip
    name_rows(ax, [shortened(name, 55) for name, _, _ in cohorts])
    ax.set_xticks([])
    ax.spines[["left", "bottom"]].set_visible(False)
    ax.set_title("plants at risk", fontsize=SMALL_PT, color=INK)
