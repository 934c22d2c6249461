"""The figure of a result on the page, with the table behind it."""

from __future__ import annotations

import re
from typing import Any

from perennia.analysis.result import Result
from perennia.errors import AnalysisError
from perennia.report.page.asking import sentence
from perennia.report.page.parts import Drawn, Part, Said, Tabled
from perennia.report.plotting import plot
from perennia.report.svg import as_svg

_TAG = re.compile(r"<[^>]*>")
_GROUP_ID = re.compile(r'<g id="[^"]*"')
_DECIMALS = re.compile(r"(\d\.\d\d)\d+")
_BETWEEN_TAGS = re.compile(r">\s+<")


def drawn(result: Result, caption: str, table: Tabled, *, name: str = "", **options: Any) -> tuple[Part, ...]:
    """A figure over its table; where it cannot be drawn, the reason and the table alone.

    caption: what it shows, which is its text for those who cannot see it too. name: tells it from a figure that is
    alike. options are those of plot.
    """
    try:
        figure = plot(result, **options)
    except AnalysisError as error:
        return Said(f"There is no figure of this. {sentence(str(error))}"), table
    return (Drawn(_lean(as_svg(figure, caption, name=name)), caption, table),)


def _lean(svg: str) -> str:
    """The same drawing in half the letters, as a page holds a hundred: hundredths of a point are as fine as a printer
    goes, groups need no id, as nothing refers to them and several may be alike, and there is nothing between tags."""
    plain = _TAG.sub(lambda tag: _DECIMALS.sub(r"\1", _GROUP_ID.sub("<g", tag[0])), svg)
    return _BETWEEN_TAGS.sub("><", plain)
