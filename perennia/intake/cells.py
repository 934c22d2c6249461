"""From cells as written to columns as they are stored, judged by the fields' own rules; each bad cell is named."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import attrs
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from perennia.errors import Problem, RecordError
from perennia.intake.dates import Dates, span_reader
from perennia.intake.sheets import as_texts, text_array
from perennia.intake.units import Unit, kept_unit, unit_of
from perennia.records.base import Record
from perennia.records.catalogue import rules_of
from perennia.records.fields import FieldRule
from perennia.store.schemas import PARTITIONED

_FLAGS = {"true": True, "false": False, "yes": True, "no": False}
_DITTO = ('"', "''", "“", "”", "″", "〃", '-"-', "-''-", "ditto", "Ditto", "DITTO", "do.", "Do.", "DO.")
_LONGEST_DITTO = max(len(mark.encode()) for mark in _DITTO)
_NO_DITTO = "write out what it stands for in every row: rows get sorted and mended"
# longer than any day, number or flag: what is read digit by digit would take for ever
_LONGEST = 1000
_LONGEST_TEXT = 100_000
_NO_NUMBER = "; write 0 for nothing found, and leave the cell empty where nothing was measured"
_NUMBER = re.compile(
    r"([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*(|[^\W\d_].*|[°º%].*)", re.DOTALL
)


@attrs.frozen
class Field:
    """The cells of one field in some rows, the heading they stand under, and the unit they are written in."""

    cells: pa.Array
    heading: str
    unit: str | None = None


@attrs.frozen
class Manner:
    """How a sheet is written: its dates, its decimal mark; exact keeps free text to the letter."""

    dates: Dates
    decimal: str = "."
    exact: bool = False


@attrs.define
class Cells:
    """The bad cells found so far, as problems."""

    problems: list[Problem] = attrs.Factory(list)

    def wrong(self, positions: pa.Array, field: str, wrong: str, remedy: str, rule: str) -> None:
        """Note a bad cell in each of the positions."""
        self.problems += [Problem(place, "", field, wrong, remedy, rule) for place in positions.to_pylist()]


def cell_columns(
    cls: type[Record], fields: Mapping[str, Field], positions: pa.Array, manner: Manner, cells: Cells
) -> tuple[dict[str, pa.Array], pa.Array | None]:
    """The stored columns of one event's rows, and their labels (a list a row) where the event has several.

    A cell that cannot be read is noted in cells and becomes missing. Most fields have no column in a book, and get
    none here.
    """
    columns: dict[str, pa.Array] = {}
    labels: pa.Array | None = None
    days: list[pa.Array] = []
    for name, rule in rules_of(cls).items():
        given = fields.get(name, Field(pa.nulls(len(positions), pa.string()), name))
        read = _Reader(name, rule, given, positions, manner, cells)
        if name == "labels":
            labels = read.labels()
        elif rule.kind == "span":
            columns[f"{name}_from"], columns[f"{name}_to"] = read.spans()
        elif rule.kind == "day":
            columns[name] = read.days()
            days.append(columns[name])
        elif rule.kind == "labels":
            columns[name] = read.labels()
        elif name in fields or rule.required or _default(cls, name) is not None:
            columns[name] = read.plain(_default(cls, name))
    if cls.table in PARTITIONED and "on_to" not in columns:
        columns |= _own_days(columns, days)
    return columns, labels


def _own_days(columns: dict[str, pa.Array], days: list[pa.Array]) -> dict[str, pa.Array]:
    """on_from and on_to of an event without an ``on`` span: from the first to the last of its days."""
    columns.pop("on", None)
    return {"on_from": pc.min_element_wise(*days), "on_to": pc.max_element_wise(*days)}


def _default(cls: type[Record], name: str) -> Any:
    default = getattr(attrs.fields(cls), name).default
    return None if default is attrs.NOTHING else default


@attrs.frozen
class _Reader:
    """Reads the cells of one field."""

    name: str
    rule: FieldRule
    field: Field
    positions: pa.Array
    manner: Manner
    cells: Cells

    def _note(self, where: pa.Array, wrong: str, remedy: str, rule: str = "F9") -> None:
        self.cells.wrong(self.positions.filter(where), self.name, wrong, remedy, rule)

    def _missing(self, given: pa.Array) -> None:
        """Note every empty cell of a field that must be given."""
        if self.rule.required and given.null_count:
            self._note(pc.is_null(given), "is missing", f"it must be {self.rule.allowed()}", "F1")

    def _texts(self) -> pa.Array:
        """The cells as text without white space around it, ditto marks noted and gone."""
        texts = as_texts(self.field.cells)
        if (pc.max(pc.binary_length(texts)).as_py() or 0) > _LONGEST_TEXT:
            long = pc.fill_null(pc.greater(pc.binary_length(texts), _LONGEST_TEXT), False)
            if self.rule.kind == "labels":
                # one cell may name all plants of a large bed
                long = pc.and_(long, pc.invert(pc.fill_null(pc.match_substring(texts, ","), False)))
            self._note(long, f"has over {_LONGEST_TEXT} letters", f"it must be {self.rule.allowed()}")
            texts = pc.if_else(long, pa.scalar(None, pa.string()), texts)
        if self.manner.exact:
            return texts
        texts = pc.utf8_trim_whitespace(texts)
        shortest = pc.min(pc.binary_length(texts)).as_py()
        if shortest is None or shortest > _LONGEST_DITTO:
            return texts
        ditto = pc.is_in(texts, value_set=pa.array(_DITTO))
        if pc.any(ditto).as_py():
            self._note(ditto, "is a ditto mark", _NO_DITTO)
            # neither read nor missed: it is told already
            return pc.if_else(ditto, pa.scalar(None, pa.string()), texts)
        return texts

    def _each(self, texts: pa.Array, convert: Callable[[str], Any], kind: pa.DataType) -> pa.Array:
        """Each different text converted once; texts that cannot be are noted."""
        encoded = texts.dictionary_encode()
        known: list[Any] = []
        for place, text in enumerate(encoded.dictionary.to_pylist()):
            try:
                if len(text) > _LONGEST:
                    raise RecordError(f"{text[:40]!r}... has {len(text)} letters")
                known.append(convert(text))
            except (RecordError, ValueError) as error:
                known.append(None)
                bad = pc.fill_null(pc.equal(encoded.indices, place), False)
                self._note(bad, str(error), f"it must be {self.rule.allowed()}")
        return pa.array(known, kind).take(encoded.indices)

    def labels(self) -> pa.Array:
        """The labels of each row, as a list."""
        self._missing(self.field.cells)
        texts = self._texts()
        if not _has_comma(texts):
            one = pc.is_valid(texts).to_numpy(zero_copy_only=False)
            offsets = pa.array(np.concatenate([[0], np.cumsum(one)]), pa.int32())
            return pa.ListArray.from_arrays(offsets, texts.drop_null(), mask=pc.is_null(texts))
        parts = pc.split_pattern(texts, ",")
        trimmed = pc.utf8_trim_whitespace(pc.list_flatten(parts))
        return pa.ListArray.from_arrays(_whole_offsets(parts), trimmed, mask=pc.is_null(parts))

    def spans(self) -> tuple[pa.Array, pa.Array]:
        """First and last days."""
        cells = self.field.cells
        self._missing(cells)
        if pa.types.is_date32(cells.type):
            return cells, cells
        read = span_reader(self.manner.dates)

        def ends(text: str) -> dict[str, Any]:
            span = read(text)
            return {"start": span.start, "end": span.end}

        both = self._each(self._texts(), ends, pa.struct([("start", pa.date32()), ("end", pa.date32())]))
        return pc.struct_field(both, "start"), pc.struct_field(both, "end")

    def days(self) -> pa.Array:
        """Single days."""
        cells = self.field.cells
        self._missing(cells)
        if pa.types.is_date32(cells.type):
            return cells
        read = span_reader(self.manner.dates)

        def day(text: str) -> Any:
            span = read(text)
            if span.start != span.end:
                raise RecordError(f"{text!r} is more than one day")
            return span.end

        return self._each(self._texts(), day, pa.date32())

    def plain(self, default: Any) -> pa.Array:
        """Text, labels, numbers and flags, with the class's own default where a cell is empty."""
        if default is None:
            self._missing(self.field.cells)
        if self.rule.kind in ("text", "label"):
            texts = self._texts()
            if self.rule.choices:
                texts = pc.if_else(pc.is_in(texts, value_set=pa.array(self.rule.choices)), texts, _as_choice(texts))
            return texts if default is None else pc.fill_null(texts, default)
        if self.rule.kind == "flag":
            values = self._flags()
        else:
            values = self._numbers()
        return values if default is None else pc.fill_null(values, pa.scalar(default, values.type))

    def _flags(self) -> pa.Array:
        cells = self.field.cells
        return cells if pa.types.is_boolean(cells.type) else self._each(self._texts(), _flag, pa.bool_())

    def _numbers(self) -> pa.Array:
        kind = pa.int64() if self.rule.kind == "whole" else pa.float64()
        cells, unit = self.field.cells, kept_unit(self.rule)
        if self.field.unit is not None:
            unit = unit_of(self.field.unit, self.rule)
        typed = not pa.types.is_string(cells.type)
        if typed and unit.is_kept and (numbers := _typed_numbers(cells, kind)) is not None:
            return numbers
        texts = text_array(cells.to_pylist()) if typed else self._texts()
        if unit.is_kept and self.manner.decimal == "." and (numbers := _plain_numbers(texts, kind)) is not None:
            return numbers
        decimal = "." if typed else self.manner.decimal
        return self._each(texts, lambda text: _number(text, self.rule, unit, decimal), kind)


def _has_comma(texts: pa.Array) -> bool:
    """Whether any text has a comma: no byte of another sign looks like one, so that bytes need no reading as text."""
    said = texts.buffers()[2]
    return said is not None and bool((np.frombuffer(said, np.uint8) == ord(",")).any())


def _whole_offsets(lists: pa.Array) -> pa.Array:
    """Offsets of lists whose values were flattened: missing lists take no values."""
    lengths = pc.fill_null(pc.list_value_length(lists), 0).to_numpy(zero_copy_only=False)
    return pa.array(np.concatenate([[0], np.cumsum(lengths)]), pa.int32())


def _as_choice(texts: pa.Array) -> pa.Array:
    """Choices written with capitals or underscores, as they are known."""
    return pc.utf8_lower(pc.replace_substring(texts, "_", " "))


def _plain_numbers(texts: pa.Array, kind: pa.DataType) -> pa.Array | None:
    """Numbers written with digits and a point alone; None when some are written otherwise or do not fit."""
    whole = pa.types.is_integer(kind)
    if whole and pc.all(pc.ascii_is_decimal(texts)).as_py() is False:
        return None
    try:
        numbers = texts.cast(kind)
    except pa.ArrowInvalid:
        return None
    # inf and nan are words, not numbers
    return numbers if whole or pc.all(pc.is_finite(numbers)).as_py() is not False else None


def _typed_numbers(cells: pa.Array, kind: pa.DataType) -> pa.Array | None:
    """Numbers of a numeric column in the type kept; None when some do not fit."""
    if not (pa.types.is_floating(cells.type) or pa.types.is_integer(cells.type) or pa.types.is_null(cells.type)):
        return None
    try:
        return cells.cast(kind)
    except pa.ArrowInvalid:
        return None


def _flag(text: str) -> bool:
    if text.lower() not in _FLAGS:
        raise RecordError(f"{text!r} is neither true nor false")
    return _FLAGS[text.lower()]


def _number(text: str, rule: FieldRule, unit: Unit, decimal: str) -> float | int:
    """The number a cell holds, its own unit taken before that of its column."""
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise RecordError(f"{text!r} is not a number{_NO_NUMBER if text in '-–—?' else ''}")
    digits, own = match.groups()
    strange = "." if decimal == "," else ","
    if strange in digits:
        raise RecordError(
            f"{text!r} has a {'point' if strange == '.' else 'comma'} where numbers here have a "
            f"{'comma' if strange == '.' else 'point'} (decimal={strange!r} or --decimal '{strange}' says otherwise)"
        )
    written = Decimal(digits.replace(",", "."))
    amount = (unit_of(own, rule) if own else unit).amount(written)
    if abs(amount) > 2**53 or (rule.kind == "whole" and abs(written) > 2**53):
        raise RecordError(f"{text!r} is too large")
    if rule.kind == "number":
        return amount
    if written != int(written):
        raise RecordError(f"{text!r} is not a whole number")
    return int(written)
