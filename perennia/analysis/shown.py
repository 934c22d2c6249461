"""How a result shows itself: a cell in words, a piece of HTML for a notebook, and what rich prints in a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from perennia.checking.words import counted

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

    from perennia.analysis.result import Result

FIRST_ROWS = 20
"""Rows of a table that a result shows of itself; .table holds them all."""
NOTHING_FOUND = "Nothing was found to answer this with."
_RIGHT = '<td style="text-align: right">'
MISSING = "·"
MISSING_MEANS = "· stands for what is not recorded or cannot be known."


def cell_text(value: Any) -> str:
    """A value of a table as a grower reads it: a day in ISO 8601, yes or no, about three figures."""
    if not isinstance(value, tuple) and pd.isna(value):
        return MISSING
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
    return str(value)


def is_numeric(column: pd.Series) -> bool:
    """Whether the cells of a column stand to the right."""
    return pd.api.types.is_numeric_dtype(column) and not pd.api.types.is_bool_dtype(column)


def as_html(result: Result) -> str:
    """Findings, the first rows of the table, cautions, method and units, every text escaped."""
    shown, told = _first(result)
    said = "".join(f"<p>{escape(text)}</p>" for text in result.findings or (NOTHING_FOUND,))
    table = "" if shown.empty else f'<div style="overflow-x: auto">{_table(shown)}</div>'
    rest = "".join(f"<p>{escape(text)}</p>" for text in told)
    cautions = "".join(f"<li>{escape(text)}</li>" for text in result.cautions)
    return (
        f"<div>{said}{table}{rest}"
        + (f"<p>Cautions:</p><ul>{cautions}</ul>" if cautions else "<p>Cautions: none.</p>")
        + f"<p>n: {result.n}. Units: {escape(result.units)}</p><p>Method: {escape(result.method)}</p></div>"
    )


def as_renderables(result: Result) -> Iterator[RenderableType]:
    """The same for a terminal. Texts are Text, so that nothing of the grower's is taken for markup."""
    from rich.text import Text  # only a terminal that shows a result needs it

    shown, told = _first(result)
    if not shown.empty:
        yield rich_table(shown, [str(name) for name in shown.columns])
    for text in (*told, *(result.findings or (NOTHING_FOUND,)), *(f"- {caution}" for caution in result.cautions)):
        yield Text(text)


def rich_table(frame: pd.DataFrame, headings: Sequence[str]) -> Table:
    """A table for a terminal, its texts as they are."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for name, heading in zip(frame.columns, headings, strict=True):
        table.add_column(Text(heading), justify="right" if is_numeric(frame[name]) else "left", overflow="fold")
    for row in frame.itertuples(index=False):
        table.add_row(*(Text(cell_text(value)) for value in row))
    return table


def _first(result: Result) -> tuple[pd.DataFrame, list[str]]:
    """The first rows without the columns that are empty in all rows, and what was left out, in sentences."""
    told = []
    frame, shown = result.table, result.shown_rows.head(FIRST_ROWS)
    if others := len(frame) - len(shown):
        told.append(f"{counted(others, 'more row')} in .table.")
    known = [name for name in frame.columns if frame[name].notna().any()]
    if not shown.empty and len(known) < len(frame.columns):
        left = ", ".join(str(name) for name in frame.columns if name not in known)
        told.append(f"Nothing is known in these columns, which are left out: {left}.")
    if not shown.empty and known:
        told.append(MISSING_MEANS)
    return shown[known], told


def _table(frame: pd.DataFrame) -> str:
    numeric = [is_numeric(frame[name]) for name in frame.columns]
    heads = "".join(f'<th scope="col">{escape(str(name))}</th>' for name in frame.columns)
    rows = "".join(
        "<tr>" + "".join(
            f"{_RIGHT if right else '<td>'}{escape(cell_text(value))}</td>"
            for value, right in zip(row, numeric, strict=True)
        ) + "</tr>"
        for row in frame.itertuples(index=False)
    )  # fmt: skip
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"
