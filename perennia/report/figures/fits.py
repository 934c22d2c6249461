"""The fitted curves of finished seasons, a picture a crop."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from perennia.analysis import CurveFits
from perennia.analysis.seasons.least_squares import MODELS
from perennia.checking.words import counted
from perennia.report.bundles import Curve, bundle, corners, how_bundled
from perennia.report.columns import numbers
from perennia.report.drawing import figure_of
from perennia.report.look import INK, SMALL_PT, of_place
from perennia.report.sheet import grid, head, notes, nothing_in
from perennia.report.words import Named, crop_axis, end_names, line_of

_FEW = 12
"""Curves that can be named one by one."""


@figure_of(CurveFits, axes="several", nothing="No finished season has a dated crop to fit.")
def fits(result: CurveFits) -> Figure:
    """The curve of every sound fit along the days of the season, a dot where half of what it runs up to was in."""
    groups = [own for _, own in result.table.groupby(["crop", "measure"], sort=True)]
    columns = min(len(groups), 2)
    rows = -(-len(groups) // columns)
    figure, axes = grid(rows, columns, height_in=2.6 * rows)
    flat = [ax for row in axes for ax in row]
    most = 0
    names = sorted(result.table["season_name"].unique())
    for ax, own in zip(flat, groups, strict=False):
        sound = own[own["note"].isna()]
        most = max(most, len(sound))
        _picture(ax, sound, result.form, names)
        ax.set_title(f"{own['crop'].iloc[0]}, n = {len(sound)} of {len(own)}", fontsize=SMALL_PT, parse_math=False)
    for ax in flat[len(groups):]:
        ax.set_axis_off()
    form = "Gompertz" if result.form == "gompertz" else result.form
    strokes = [(str(name), line_of(of_place(place))) for place, name in enumerate(names)]
    dot = ("half of what it runs up to", Line2D([], [], color=INK, marker="o", markersize=3.5, linestyle="none"))
    head(figure, f"A {form} curve through each finished season", [*strokes, dot])
    said = ["Curves are fitted, not recorded; between pickings nobody looked."]
    if most > _FEW:
        said.append(how_bundled(most))
    for note, count in result.table["note"].value_counts().sort_index().items():
        said.append(f"{counted(int(count), 'season')} not drawn: {note}.")
    notes(figure, said)
    return figure


def _picture(ax: Axes, sound: pd.DataFrame, form: str, seasons: list[str]) -> None:
    if sound.empty:
        nothing_in(ax, "No season of this crop has a sound fit.")
        return
    middle, scale = (numbers(sound, name) for name in ("midpoint", "scale"))
    x = np.linspace(float((middle - 5 * scale).min()), float((middle + 6 * scale).max()), 48)
    x = x[x >= 1] if (x >= 1).sum() > 1 else x
    named = []
    for place, season in enumerate(seasons):
        own, stroke = sound[sound["season_name"] == season], of_place(place)
        curves = [
            Curve(x, np.asarray(MODELS[form](x, row["asymptote"], row["midpoint"], row["scale"])))
            for row in own.to_dict("records")
        ]
        if len(sound) > _FEW and curves:
            bundle(ax, curves, stroke)
            continue
        for row, curve in zip(own.to_dict("records"), curves, strict=True):
            ax.plot(*corners(curve.x, curve.y), color=stroke.colour, linestyle=stroke.line, linewidth=1.1)
            ax.plot([row["midpoint"]], [row["asymptote"] / 2], marker="o", color=stroke.colour, markersize=3.5)
            named.append(Named(float(x[-1]), float(curve.y[-1]), str(row["label"]), stroke.colour))
    ax.set_ylim(0, None)
    low, high = ax.get_xlim()
    ax.set_xlim(low, high + 0.12 * (high - low))
    end_names(ax, named, 1.9, SMALL_PT - 1)
    ax.set_ylabel(crop_axis(str(sound["measure"].iloc[0])))
    ax.set_xlabel("day of the growing year")
