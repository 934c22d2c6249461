"""The stored rows of a table as one row a record, in the fields and the words in which a grower's book gives them."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from perennia.records.catalogue import RECORDS, rules_of
from perennia.records.fields import FieldRule

OWN = ("record_id", "event")
"""The columns that every sheet has, before the fields of its records."""
_IN_HEX = np.array([f"{octet:02x}".encode() for octet in range(256)])


def fields_of(table: str) -> dict[str, dict[str, FieldRule]]:
    """Each field of a table's records with its rule by event, in the order of the records; time, cost and note last."""
    found: dict[str, dict[str, FieldRule]] = {}
    last: dict[str, dict[str, FieldRule]] = {}
    for event, cls in RECORDS.items():
        if cls.table == table:
            for name, rule in rules_of(cls).items():
                into = last if name in ("minutes", "cost", "note") else found
                into.setdefault(name, {})[event] = rule
    return {**found, **last}


def sheet_of(table: str, rows: pa.Table) -> pa.Table:
    """The stored rows of a table, ordered as Garden.rows gives them, as one row a record, by day, event and record id.

    Columns: record_id (32 hexadecimal digits), event, then the fields that some record fills. Several labels are one
    text parted by commas, spans are ISO 8601 text, days date32, numbers float64 or int64, flags bool.
    """
    records = _one_row_a_record(rows)
    order = [name for name in ("on_to", "on_from", "event", "record_id") if name in records.column_names]
    records = records.take(pc.sort_indices(records, [(name, "ascending") for name in order])).combine_chunks()
    columns = {"record_id": _in_hex(records["record_id"]), "event": records["event"]}
    for name, rules in fields_of(table).items():
        own = pc.is_in(records["event"], pa.array(list(rules), pa.string()))
        cells = _cells(name, next(iter(rules.values())), records)
        cells = pc.if_else(own, cells, pa.scalar(None, cells.type))
        if cells.null_count < len(cells):
            columns[name] = cells
    return pa.table(columns)


def _one_row_a_record(rows: pa.Table) -> pa.Table:
    """The first row of each record, with all its labels as ``labels`` where the table has them."""
    rows = rows.combine_chunks()
    ids = rows["record_id"].combine_chunks()
    begins = np.ones(len(ids), dtype=bool)
    begins[1:] = pc.not_equal(ids[1:], ids[:-1]).to_numpy(zero_copy_only=False)
    first = np.flatnonzero(begins)
    records = rows.take(pa.array(first))
    if "label" in rows.column_names:
        bounds = pa.array(np.append(first, len(ids)), pa.int32())
        together = pa.ListArray.from_arrays(bounds, rows["label"].combine_chunks())
        # a record of a bed names no label; its one missing label makes the text missing
        records = records.append_column("labels", pc.binary_join(together, ","))
    return records


def _in_hex(ids: pa.ChunkedArray) -> pa.Array:
    fixed = ids.combine_chunks().cast(pa.binary(16))
    octets = np.frombuffer(fixed.buffers()[1], np.uint8, 16 * len(fixed), 16 * fixed.offset)
    text = pa.py_buffer(_IN_HEX[octets].tobytes())
    return pa.Array.from_buffers(pa.binary(32), len(fixed), [None, text]).cast(pa.binary()).cast(pa.string())


def _cells(name: str, rule: FieldRule, records: pa.Table) -> pa.ChunkedArray:
    if rule.kind == "span":
        return _as_spans(records[f"{name}_from"], records[f"{name}_to"])
    if name == "on":
        return records["on_to"]
    if rule.kind == "labels" and name != "labels":
        return pc.binary_join(records[name], ",")
    return records[name]


def _as_spans(first: pa.ChunkedArray, last: pa.ChunkedArray) -> pa.ChunkedArray:
    """Each span as to_span reads it: a day, ``first/last``, or ``../last`` where the first is not known."""
    single = pc.fill_null(pc.equal(first, last), False)
    end = last.cast(pa.string())
    return pc.if_else(single, end, pc.binary_join_element_wise(pc.fill_null(first.cast(pa.string()), ".."), end, "/"))
