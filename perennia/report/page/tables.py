"""Frames as tables of the page: plain headings, cells in words, a number of rows that a page can bear."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from perennia.analysis.shown import cell_text, is_numeric
from perennia.checking.words import counted
from perennia.report.page.parts import Column, Tabled

ROWS = 200
"""Rows of a table on the page; what is left out is said, with where to find it."""
_HEADINGS = {
    "label": "plant", "plant": "plant", "season_name": "season", "total_g": "crop, g", "count": "pieces",
    "picks": "days picked", "first_pick": "first pick", "last_pick": "last pick", "t50": "half in by",
    "peak_on": "peak", "g_per_m2": "g a m²", "finished": "over", "ended_how": "ended", "ended_on": "ended on",
    "plant_season": "plant season", "raised_from": "raised from", "n_pairs": "pairs",
    "mean_first": "mean, first season",
    "raw_gap": "gap", "shift_low": "shift from", "shift_high": "shift to", "smallest_p": "smallest p possible",
    "mean_later": "mean, later season", "n_fresh_first": "fresh, first season", "n_fresh_later": "fresh, later season",
    "gap_low": "gap from", "gap_high": "gap to", "confounded_with": "shared no", "n_roots": "roots",
    "n_boxes": "boxes or single roots", "interval_censored": "day of death unknown", "open": "not known yet",
    "not_regrown": "did not regrow", "left": "taken out", "low": "from", "high": "to", "level": "level of interval",
    "total_kg": "crop, kg", "set_share": "share set", "full_share": "share full size", "mean_crop": "mean crop",
    "expected_if_alive": "expected if it lives", "chance_alive": "chance to live", "expected": "expected",
    "fresh_expected": "expected of a fresh plant", "censored": "followed no further",
    "predicts": "what it would look like", "cannot_tell": "what that cannot tell", "decides": "what would decide",
    "contrast": "fewer set where it was", "form": "its form in the flowers",
    "root_g": "root, g", "weighed_on": "weighed on", "on": "day", "mean_cumulative": "mean crop so far",
    "low_cumulative": "band from", "high_cumulative": "band to", "mean_per_day": "mean a day", "n": "n",
    "cumulative": "crop so far", "per_day": "a day", "to_date": "to date", "as_of": "as of",
}  # fmt: skip
_SHARES_OF_CHANCE = frozenset({"p", "smallest_p", "p_adjusted"})
_SMALLEST_TOLD = 0.0001
"""Below it a p is only said to be below, as in the sentences."""


def heading(name: str) -> str:
    """What stands over a column on the page."""
    return _HEADINGS.get(name, name.replace("_", " "))


def tabled(
    frame: pd.DataFrame, columns: Sequence[str], caption: str, *, more: str = "", rows: int = ROWS, folded: bool = False
) -> Tabled:
    """The columns of a frame that hold anything, and its first rows. more: the command that shows every row."""
    shown = [name for name in columns if frame[name].notna().any()] or list(columns)
    cells = frame[shown].head(rows)
    return Tabled(
        caption,
        tuple(_column(name, frame[name]) for name in shown),
        tuple(tuple(map(_cell, shown, row)) for row in cells.itertuples(index=False)),
        _left_out(len(frame) - len(cells), more),
        folded,
    )


def texts_tabled(headings: Sequence[str], rows: Sequence[Sequence[str]], caption: str) -> Tabled:
    """A table of texts."""
    return Tabled(caption, tuple(Column(name) for name in headings), tuple(tuple(row) for row in rows))


def _column(name: str, cells: pd.Series) -> Column:
    if is_numeric(cells):
        return Column(heading(name), "number")
    return Column(heading(name), "day" if pd.api.types.is_datetime64_any_dtype(cells) else "text")


def _cell(name: str, value: Any) -> str:
    if name in _SHARES_OF_CHANCE and not pd.isna(value) and value < _SMALLEST_TOLD:
        return f"below {_SMALLEST_TOLD}"
    return cell_text(value)


def _left_out(rows: int, more: str) -> str:
    if rows <= 0:
        return ""
    return f"{counted(rows, 'more row')} left out here" + (f"; {more} shows them." if more else ".")
