"""Contrast of what is drawn with the paper it is drawn on, as WCAG 2.2 defines it, and what colour-blind people see."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from importlib import resources
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import Collection
from matplotlib.colors import to_hex, to_rgba
from matplotlib.figure import Figure, FigureBase
from matplotlib.legend import Legend
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from perennia.report.look import INK, ON_DARK

_DECLARED = re.compile(r"--(\w+): (#[0-9a-f]{3,6})\b")
_RGB = (0.2126, 0.7152, 0.0722)
_TO_XYZ = np.reshape([
    0.4124564, 0.3575761, 0.1804375, 0.2126729, 0.7151522, 0.0721750, 0.0193339, 0.1191920, 0.9503041,
], (3, 3))  # fmt: skip
_WHITE = np.array([0.95047, 1.0, 1.08883])
SEEN_BY = {
    "all": np.eye(3),
    "protanopes": np.reshape([
        0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998,
    ], (3, 3)),
    "deuteranopes": np.reshape([
        0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881,
    ], (3, 3)),
    "tritanopes": np.reshape([
        1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900,
    ], (3, 3)),
}  # fmt: skip
"""Machado, Oliveira and Fernandes 2009, IEEE Trans. Visualization and Computer Graphics 15: 1291; severity 1."""


def schemes() -> dict[str, dict[str, str]]:
    """The colours that the page declares, by what it is looked at on."""
    style = (resources.files("perennia.report.page") / "season_report.css").read_text(encoding="utf-8")
    light, dark, paper = (dict(_DECLARED.findall(one)) for one in re.findall(r":root \{(.*?)\}", style, re.DOTALL))
    return {"light": light, "dark": dark, "print": paper}


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two opaque colours, 1 to 21 (WCAG 2.2, contrast ratio and relative luminance)."""
    dark, light = sorted(float(_linear(colour) @ _RGB) for colour in (one, other))
    return (light + 0.05) / (dark + 0.05)


def difference(one: str, other: str, seen_by: str) -> float:
    """How far two colours lie apart in CIELAB (CIE 1976) for those who see them so."""
    return float(np.linalg.norm(_lab(one, seen_by) - _lab(other, seen_by)))


def on(colour: Any, paper: str, *, dark: bool, ink: str) -> str:
    """A colour of matplotlib's, with its opacity, as the page shows it on paper."""
    *_, alpha = to_rgba(colour)
    solid = to_hex(colour)
    shown = ink if solid == INK else ON_DARK.get(solid, solid) if dark else solid
    mixed = alpha * np.array(to_rgba(shown)[:3]) + (1 - alpha) * np.array(to_rgba(paper)[:3])
    return to_hex(mixed)


def lost_marks(figure: Figure, least: float = 3.0) -> list[str]:
    """Marks of a figure neither line, fill nor edge of which stands out from light paper or from dark."""
    found = []
    for scheme in ("light", "dark"):
        page = schemes()[scheme]
        for name, colours in _marks(figure):
            shown = [on(one, page["paper"], dark=scheme == "dark", ink=page["ink"]) for one in colours]
            best = max((contrast(one, page["paper"]) for one in shown), default=least)
            if best < least:
                found.append(f"{scheme}: {name} of {shown}, {best:.2f} to 1")
    return found


def _marks(figure: Figure) -> Iterator[tuple[str, list[Any]]]:
    """Whatever something is read from, with its colours; no ground, and no rule or grid, from which nothing is read."""
    grounds = {id(one.patch) for one in figure.findobj(lambda one: isinstance(one, Axes | FigureBase))}
    grounds |= {id(one.get_frame()) for one in figure.findobj(Legend)}
    grids = {id(line) for ax in figure.findobj(Axes) for line in (*ax.get_xgridlines(), *ax.get_ygridlines())}
    for line in figure.findobj(Line2D):
        if line.get_visible() and id(line) not in grids and line.get_gid() != "rule" and len(line.get_xdata()):
            yield f"line {line.get_gid()}", _of_line(line)
    for patch in figure.findobj(Patch):
        if patch.get_visible() and id(patch) not in grounds:
            edges = [patch.get_edgecolor()] if patch.get_linewidth() or patch.get_hatch() else []
            yield f"{type(patch).__name__} {patch.get_gid()}", _seen([patch.get_facecolor(), *edges])
    for collection in figure.findobj(Collection):
        edges = list(collection.get_edgecolor()) if np.any(collection.get_linewidth()) else []
        yield f"{type(collection).__name__} {collection.get_gid()}", _seen([*collection.get_facecolor(), *edges])


def _of_line(line: Line2D) -> list[Any]:
    drawn = [line.get_color()] if line.get_linestyle() != "None" else []
    if line.get_marker() not in ("", "None", None):
        drawn += [line.get_markerfacecolor(), line.get_markeredgecolor()]
    alpha = line.get_alpha()
    return _seen([one if alpha is None else to_rgba(one, alpha * to_rgba(one)[3]) for one in drawn])


def _seen(colours: Sequence[Any]) -> list[Any]:
    return [one for one in colours if to_rgba(one)[3] > 0]


def _linear(colour: str) -> np.ndarray[Any, Any]:
    channels = np.array(to_rgba(colour)[:3])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def _lab(colour: str, seen_by: str) -> np.ndarray[Any, Any]:
    xyz = _TO_XYZ @ np.clip(SEEN_BY[seen_by] @ _linear(colour), 0, 1) / _WHITE
    x, y, z = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])
