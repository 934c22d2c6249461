"""Rows in the order in which a table keeps them, some at a time: what was moved last is written while it is at hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pyarrow as pa
import pyarrow.compute as pc

from perennia.store.digests import BYTES
from perennia.store.durable import ROWS_A_GROUP
from perennia.store.schemas import filled_columns, with_missing


def sorted_pieces(rows: pa.Table, schema: pa.Schema, names: Sequence[str]) -> Iterator[pa.Table]:
    """The rows sorted by some columns, a row group at a time, in the types of schema; texts by rank, so that each
    different one is compared once."""
    said = filled_columns(rows)
    columns = {name: _encoded(said[name]) for name in said.column_names}
    keys = pa.table({name: _ranked(columns[name]) if name in columns else rows[name] for name in names})
    order = pc.sort_indices(keys, [(name, "ascending") for name in names])
    for start in range(0, rows.num_rows, ROWS_A_GROUP):
        piece = order.slice(start, ROWS_A_GROUP)
        taken = {name: _taken(column, piece, schema.field(name).type) for name, column in columns.items()}
        yield with_missing(taken, schema, len(piece))


def _encoded(column: pa.ChunkedArray) -> pa.Array:
    """A column of text as numbers of its different texts; of 16 bytes, as values of no other length."""
    whole = column.unify_dictionaries().combine_chunks()
    if pa.types.is_string(whole.type):
        return whole.dictionary_encode()
    # which are moved several times as fast as what can be of any length
    return whole.cast(pa.binary(BYTES)) if pa.types.is_binary(whole.type) else whole


def _ranked(column: pa.Array) -> pa.Array:
    return pc.rank(column.dictionary).take(column.indices) if pa.types.is_dictionary(column.type) else column


def _taken(column: pa.Array, places: pa.Array, kind: pa.DataType) -> pa.Array:
    """Some rows of a column in a type of the schema, which needs no encoding."""
    if pa.types.is_dictionary(column.type):
        column, places = column.dictionary, column.indices.take(places)
    return column.take(places).cast(kind)
