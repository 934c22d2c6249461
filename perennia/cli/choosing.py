"""Which seasons a command is asked for, and what a garden has when nothing matches."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from perennia.garden import Garden


def growing_years(_: click.Context, __: click.Parameter, value: str | Sequence[str] | None) -> Any:
    """Growing years as their first calendar years, from what the tables write: 2023 or 2023/24."""
    if value is None:
        return None
    if not isinstance(value, str):
        return tuple(_first_year(text) for text in value)
    return _first_year(value)


def _first_year(text: str) -> int:
    match = re.fullmatch(r"(\d{4})(?:/(\d{2}))?", text)
    if match is None or (match[2] is not None and (int(match[1]) + 1) % 100 != int(match[2])):
        raise click.BadParameter(f"{text!r} is no growing year; write 2023 or 2023/24")
    return int(match[1])


def what_there_is(source: Garden) -> str:
    """The crops and seasons of a garden, for someone who asked for others."""
    frame = source.sql("select distinct crop, season_name from season_summary order by all")
    if frame.empty:
        return "The garden has no plant yet."
    crops_here, seasons = (", ".join(sorted(frame[name].dropna().unique())) for name in ("crop", "season_name"))
    return f"The crops here are {crops_here}; seasons {seasons}; labels are as in the book."
