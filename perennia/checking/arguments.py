"""What a call is given, before anything is done with it: of another kind than it can be, it is refused in words."""

from __future__ import annotations

import math
import operator
import os
import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from numbers import Real
from pathlib import Path
from typing import Any

from perennia.errors import ArgumentError, RecordError, StoreError
from perennia.records.spans import EARLIEST, to_day_or_none


def a_name(value: Any, what: str) -> str:
    """Text that can be a name. Raises ArgumentError."""
    if not isinstance(value, str):
        raise ArgumentError(f"{what} is {value!r}, which is no text")
    try:
        value.encode()
    except UnicodeEncodeError as error:
        raise ArgumentError(f"{what} is {value!r}, which holds half a character; write it anew") from error
    return value


def a_memory_size(value: Any, what: str) -> str:
    """A size of memory such as 512MB, at least 64 MB, which the library itself needs. Raises ArgumentError."""
    size = re.fullmatch(r"(\d+(?:\.\d+)?) ?(MB|GB|TB|MiB|GiB|TiB)", a_name(value, what).strip())
    if size is None or float(size[1]) * (1 if size[2][0] == "M" else 1000) < 64:
        raise ArgumentError(f"{what} is {value!r}; give a size such as '512MB' or '2GB', at least '64MB'")
    return size[0]


def names(values: Any, what: str) -> list[str]:
    """One name or several. Raises ArgumentError."""
    if isinstance(values, str):
        return [a_name(values, what)]
    return [a_name(value, what) for value in _several(values, what, "a list of names")]


def a_whole_number(value: Any, what: str, example: int) -> int:
    """A whole number. Raises ArgumentError."""
    try:
        if isinstance(value, bool):
            raise TypeError("a flag is no number")
        return operator.index(value)
    except TypeError as error:
        raise ArgumentError(f"{what} is {value!r}; give a whole number such as {example}") from error


def a_year(value: Any, what: str) -> int:
    """A year from the first that records can be of. Raises ArgumentError."""
    year = a_whole_number(value, what, 2024)
    if not EARLIEST.year <= year <= 9999:
        raise ArgumentError(f"{what} is {value!r}; give a year such as 2024")
    return year


def years(values: Any, what: str) -> list[int]:
    """One year or several. Raises ArgumentError."""
    if isinstance(values, Iterable) and not isinstance(values, str):
        return [a_year(value, what) for value in _several(values, what, "a list of years")]
    return [a_year(values, what)]


def _several(values: Any, what: str, wanted: str) -> list[Any]:
    try:
        return list(values)
    except TypeError as error:
        raise ArgumentError(f"{what} is {values!r}; give {wanted}") from error


def a_path(value: Any, what: str) -> Path:
    """A path. Raises ArgumentError for what is none, or holds half a character."""
    if not isinstance(value, os.PathLike):
        return Path(a_name(value, what))
    a_name(os.fspath(value), what)
    return Path(value)


def a_number(value: Any, what: str, wanted: str) -> float:
    """A finite number. wanted: what would be right, in words. Raises ArgumentError."""
    try:
        number = math.nan if isinstance(value, bool) or not isinstance(value, Real) else float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ArgumentError(f"{what} is {value!r:.40}; give {wanted}")
    return number


def a_number_above_0(value: Any, what: str) -> float:
    """A finite number above 0. Raises ArgumentError."""
    number = a_number(value, what, "a number above 0")
    if number <= 0:
        raise ArgumentError(f"{what} is {value!r}; give a number above 0")
    return number


def a_day(value: Any, what: str) -> date | None:
    """One day, kept None. Raises ArgumentError."""
    if value is not None and not isinstance(value, date | str):
        raise ArgumentError(f"{what} is {value!r}; give a day such as 2024-07-15")
    try:
        return to_day_or_none(value)
    except RecordError as error:
        raise ArgumentError(f"{what}: {error}") from error


def an_instant(as_of: Any) -> datetime | None:
    """An instant in UTC, kept None; a bare day means its end, and one without a zone is UTC.

    Raises StoreError for text that is none, ArgumentError for another kind.
    """
    if as_of is None:
        return None
    if isinstance(as_of, str):
        try:
            as_of = date.fromisoformat(as_of) if len(as_of) <= len("2024-05-01") else datetime.fromisoformat(as_of)
        except ValueError as error:
            raise StoreError(f"{as_of!r} is no instant; write it as 2024-05-01T12:00") from error
    if not isinstance(as_of, date) or as_of != as_of:
        raise ArgumentError(f"as_of is {as_of!r}; give a day or an instant such as 2024-05-01T12:00")
    instant = as_of if isinstance(as_of, datetime) else datetime.combine(as_of, time.max)
    try:
        return instant.astimezone(UTC) if instant.tzinfo else instant.replace(tzinfo=UTC)
    except OverflowError as error:
        raise ArgumentError(f"as_of is {as_of!r}, which no calendar holds in UTC; give another instant") from error


def record_identity(record_id: Any) -> bytes:
    """The 16 bytes of a record id. Raises ArgumentError for anything but 32 hexadecimal digits."""
    try:
        identity = bytes.fromhex(record_id)
    except (ValueError, TypeError) as error:
        raise ArgumentError(f"{record_id!r} is no record id; it has 32 hexadecimal digits") from error
    if len(identity) != 16:
        raise ArgumentError(f"{record_id!r} is no record id; it has 32 hexadecimal digits")
    return identity
