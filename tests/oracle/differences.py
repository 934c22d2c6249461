"""Two tables of rows held against each other: the first differing row and column, named."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isclose
from typing import Any

from tests.oracle.book import Row


def first_difference(view: str, found: Sequence[Row], expected: Sequence[Row], grain: Iterable[str]) -> str | None:
    """Words for the first difference between a view's rows and the oracle's, None when they are equal.

    Rows are matched by the columns of the grain; numbers are equal to 1 in 10^9.
    """
    columns = list(grain)
    ours, theirs = _by_key(found, columns), _by_key(expected, columns)
    if len(ours) != len(found) or len(theirs) != len(expected):
        return f"{view}: rows repeat a {' and '.join(columns)}"
    for key in sorted(set(ours) ^ set(theirs), key=repr):
        where = "the view alone has" if key in ours else "the oracle alone has"
        return f"{view}: {where} the row {dict(zip(columns, key, strict=True))}: {ours.get(key) or theirs.get(key)}"
    for key in sorted(ours, key=repr):
        if set(ours[key]) != set(theirs[key]):
            return f"{view}: columns differ: {sorted(set(ours[key]) ^ set(theirs[key]))}"
        for column, value in ours[key].items():
            if not _same(value, theirs[key][column]):
                return (
                    f"{view}, row {dict(zip(columns, key, strict=True))}, column {column}: "
                    f"the view has {value!r}, the oracle {theirs[key][column]!r}"
                )
    return None


def _by_key(rows: Sequence[Row], columns: list[str]) -> dict[tuple[Any, ...], Row]:
    return {tuple(row[column] for column in columns): row for row in rows}


def _same(value: Any, other: Any) -> bool:
    if isinstance(value, float) and other is not None:
        return isclose(value, float(other), rel_tol=1e-9, abs_tol=1e-9)
    return bool(value == other)
