"""Rules that span the fields of one record, each an object that judges one record or a whole table.

``holds(record)`` and ``violations(table)`` say the same thing of a record and of its stored row; a
property test holds them equal. A missing field never breaks a rule unless the rule says so.
"""

from __future__ import annotations

from typing import Any, Protocol

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.records.spans import Span


class RecordRule(Protocol):
    """A rule across fields: number in DEVELOPERS.md, what is wrong and the remedy in words."""

    @property
    def number(self) -> str: ...
    @property
    def wrong(self) -> str: ...
    @property
    def remedy(self) -> str: ...
    def holds(self, record: Any) -> bool:
        """Whether the record keeps the rule."""
        ...

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        """True for each row of the table that breaks the rule, never null."""
        ...


def _present(table: pa.Table, field: str) -> pa.BooleanArray:
    for name in (field, f"{field}_to", field.removesuffix("s")):
        if name in table.column_names:
            return _flat(pc.is_valid(table[name]))
    raise KeyError(field)


def _flat(values: Any) -> pa.BooleanArray:
    chunked = pc.fill_null(values, False)
    return chunked.combine_chunks() if isinstance(chunked, pa.ChunkedArray) else chunked


@attrs.frozen
class AtLeastOne:
    """At least one of the fields is given."""

    fields: tuple[str, ...]
    number: str = "R1"

    @property
    def wrong(self) -> str:
        return f"none of {', '.join(self.fields)} is given"

    @property
    def remedy(self) -> str:
        return "give at least one of them"

    def holds(self, record: Any) -> bool:
        return any(getattr(record, field) is not None for field in self.fields)

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        given = _present(table, self.fields[0])
        for field in self.fields[1:]:
            given = pc.or_(given, _present(table, field))
        return pc.invert(given)


@attrs.frozen
class ExactlyOne:
    """Exactly one of two fields is given."""

    first: str
    second: str
    number: str = "R2"

    @property
    def wrong(self) -> str:
        return f"{self.first} and {self.second} are both given or both missing"

    @property
    def remedy(self) -> str:
        return f"give either {self.first} or {self.second}"

    def holds(self, record: Any) -> bool:
        return (getattr(record, self.first) is None) != (getattr(record, self.second) is None)

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        return pc.invert(pc.xor(_present(table, self.first), _present(table, self.second)))


@attrs.frozen
class NotAfter:
    """The earlier span or day does not begin after the later one ends."""

    earlier: str
    later: str
    number: str = "R3"

    @property
    def wrong(self) -> str:
        return f"{self.earlier} lies after {self.later}"

    @property
    def remedy(self) -> str:
        return "check the two dates"

    def holds(self, record: Any) -> bool:
        earlier, later = getattr(record, self.earlier), getattr(record, self.later)
        if earlier is None or later is None:
            return True
        first = earlier.start if isinstance(earlier, Span) else earlier
        last = later.end if isinstance(later, Span) else later
        return first is None or last is None or bool(first <= last)

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        first = f"{self.earlier}_from" if f"{self.earlier}_from" in table.column_names else self.earlier
        last = f"{self.later}_to" if f"{self.later}_to" in table.column_names else self.later
        return _flat(pc.greater(table[first], table[last]))


@attrs.frozen
class NotMoreThan:
    """One number is at most another."""

    part: str
    whole: str
    number: str = "R4"

    @property
    def wrong(self) -> str:
        return f"{self.part} is more than {self.whole}"

    @property
    def remedy(self) -> str:
        return "check the two numbers"

    def holds(self, record: Any) -> bool:
        part, whole = getattr(record, self.part), getattr(record, self.whole)
        return part is None or whole is None or bool(part <= whole)

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        return _flat(pc.greater(table[self.part], table[self.whole]))


@attrs.frozen
class NotOwnDaughter:
    """A plant is neither divided into nor a cutting of itself."""

    number: str = "R5"

    @property
    def wrong(self) -> str:
        return "the plant's own label is among the new ones"

    @property
    def remedy(self) -> str:
        return "give each new plant a label of its own"

    def holds(self, record: Any) -> bool:
        return record.label not in record.into

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        pairs = zip(table["label"].to_pylist(), table["into"].to_pylist(), strict=True)
        return pa.array([label in (into or ()) for label, into in pairs], pa.bool_())


@attrs.frozen
class ZeroTogether:
    """Two measures of one thing are both zero or both not."""

    first: str
    second: str
    number: str = "R6"

    @property
    def wrong(self) -> str:
        return f"one of {self.first} and {self.second} is 0 and the other is not"

    @property
    def remedy(self) -> str:
        return "leave empty what was not measured; 0 says that there was nothing"

    def holds(self, record: Any) -> bool:
        first, second = getattr(record, self.first), getattr(record, self.second)
        return first is None or second is None or (first == 0) == (second == 0)

    def violations(self, table: pa.Table) -> pa.BooleanArray:
        return _flat(pc.not_equal(pc.equal(table[self.first], 0), pc.equal(table[self.second], 0)))
