"""From cells of text to columns as they are stored, judged by the fields' own rules; each bad cell is named."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.errors import Problem, RecordError
from perennia.records.base import Record
from perennia.records.catalogue import rules_of
from perennia.records.fields import FieldRule, fault
from perennia.records.spans import to_day_or_none, to_span
from perennia.store.schemas import PARTITIONED

_FLAGS = {"true": True, "false": False, "yes": True, "no": False}


@attrs.define
class Cells:
    """The bad cells found so far, as problems."""

    problems: list[Problem] = attrs.Factory(list)

    def wrong(self, row: int, field: str, wrong: str, remedy: str, rule: str) -> None:
        """Note one bad cell."""
        self.problems.append(Problem(row, "", field, wrong, remedy, rule))


def cell_columns(
    cls: type[Record], rows: pa.Table, cells: Cells
) -> tuple[dict[str, pa.Array], list[tuple[str, ...] | None] | None]:
    """The stored columns of one event's rows, and their labels where the event has several.

    rows: text columns and ``row``. A cell that cannot be read is noted in cells and becomes missing.
    """
    columns: dict[str, pa.Array] = {}
    labels: list[tuple[str, ...] | None] | None = None
    days: list[pa.Array] = []
    for name, rule in rules_of(cls).items():
        if name not in rows.column_names:
            texts = pa.nulls(rows.num_rows, pa.string())
        else:
            texts = rows[name].combine_chunks()
        read = _Reader(name, rule, rows["row"].combine_chunks(), cells)
        if name == "labels":
            labels = read.labels(texts)
        elif rule.kind == "span":
            starts, ends = read.spans(texts)
            columns |= {f"{name}_from": starts, f"{name}_to": ends}
        elif rule.kind == "day":
            columns[name] = read.values(texts, to_day_or_none, pa.date32())
            days.append(columns[name])
        elif rule.kind == "labels":
            columns[name] = read.values(texts, lambda text: list(_split(text)), pa.list_(pa.string()))
        else:
            columns[name] = read.plain(texts, _default(cls, name))
    if cls.table in PARTITIONED and "on_to" not in columns:
        columns |= _own_days(columns, days)
    return columns, labels


def _own_days(columns: dict[str, pa.Array], days: list[pa.Array]) -> dict[str, pa.Array]:
    """on_from and on_to of an event without an ``on`` span: from the first to the last of its days."""
    columns.pop("on", None)
    return {"on_from": pc.min_element_wise(*days), "on_to": pc.max_element_wise(*days)}


def _split(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(","))


def _default(cls: type[Record], name: str) -> Any:
    default = getattr(attrs.fields(cls), name).default
    return None if default is attrs.NOTHING else default


@attrs.frozen
class _Reader:
    """Reads the cells of one column."""

    name: str
    rule: FieldRule
    rows: pa.Array
    cells: Cells

    def missing(self, texts: pa.Array) -> None:
        """Note every empty cell of a field that must be given."""
        if self.rule.required and texts.null_count:
            for row in self.rows.filter(pc.is_null(texts)).to_pylist():
                self.cells.wrong(row, self.name, "is missing", f"it must be {self.rule.allowed()}", "F1")

    def values(self, texts: pa.Array, convert: Callable[[str], Any], kind: pa.DataType) -> pa.Array:
        """Each different text converted once; texts that cannot be are noted."""
        self.missing(texts)
        encoded = texts.dictionary_encode()
        known: list[Any] = []
        for text in encoded.dictionary.to_pylist():
            try:
                known.append(convert(text))
            except (RecordError, ValueError) as error:
                known.append(None)
                self._note(texts, text, str(error))
        return pa.array(known, kind).take(encoded.indices)

    def labels(self, texts: pa.Array) -> list[tuple[str, ...] | None]:
        """The labels of each row."""
        self.missing(texts)
        split = [None if text is None else _split(text) for text in texts.to_pylist()]
        for row, names in zip(self.rows.to_pylist(), split, strict=True):
            wrong = None if names is None else fault(self.rule, names)
            if wrong is not None:
                self.cells.wrong(row, self.name, wrong, f"it must be {self.rule.allowed()}", "F9")
        return split

    def spans(self, texts: pa.Array) -> tuple[pa.Array, pa.Array]:
        """First and last days."""
        both = self.values(texts, _ends, pa.struct([("start", pa.date32()), ("end", pa.date32())]))
        return pc.struct_field(both, "start"), pc.struct_field(both, "end")

    def plain(self, texts: pa.Array, default: Any) -> pa.Array:
        """Text, labels, numbers and flags, with the class's own default where a cell is empty."""
        if default is None:
            self.missing(texts)
        if self.rule.kind in ("text", "label"):
            return texts if default is None else pc.fill_null(texts, default)
        kind = {"number": pa.float64(), "whole": pa.int64(), "flag": pa.bool_()}[self.rule.kind]
        optional = attrs.evolve(self, rule=attrs.evolve(self.rule, required=False))
        values = optional.values(texts, self._read_one, kind)
        return values if default is None else pc.fill_null(values, pa.scalar(default, kind))

    def _read_one(self, text: str) -> Any:
        if self.rule.kind == "flag":
            if text.lower() not in _FLAGS:
                raise RecordError(f"{text!r} is neither true nor false")
            return _FLAGS[text.lower()]
        try:
            number = float(text)
        except ValueError as error:
            raise RecordError(f"{text!r} is not a number") from error
        if self.rule.kind == "whole":
            if number != number or number in (float("inf"), float("-inf")) or number != int(number):
                raise RecordError(f"{text!r} is not a whole number")
            if abs(number) >= 2**53:
                raise RecordError(f"{text!r} is too large")
            return int(number)
        return number

    def _note(self, texts: pa.Array, text: str, wrong: str) -> None:
        for row in self.rows.filter(pc.fill_null(pc.equal(texts, text), False)).to_pylist():
            self.cells.wrong(row, self.name, wrong, f"it must be {self.rule.allowed()}", "F9")


def _ends(text: str) -> dict[str, Any]:
    span = to_span(text)
    return {"start": span.start, "end": span.end}
