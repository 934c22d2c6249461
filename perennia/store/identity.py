"""Ids of records and hashes of what they say."""

from __future__ import annotations

import hashlib
import secrets
import threading
import time

import pyarrow as pa
import pyarrow.compute as pc

# the record's place in its batch; longer than "position", which is a field of FlowerFate
POSITION = "batch_position"
_ID_BYTES = 16
_NOT_CONTENT = frozenset({"record_id", "content", "batch", "recorded_at", "year", "shared_by", "label", POSITION})
_lock = threading.Lock()
_last_tick = 0


def uuid7() -> bytes:
    """A new id: the 16 bytes of a UUID version 7 (RFC 9562, section 5.7), rising within a process.

    The 12 bits after the millisecond carry its fraction (section 6.2, method 3); an id asked for within
    the same fraction takes the next one.
    """
    global _last_tick
    now_ns = time.time_ns()
    tick = (now_ns // 1_000_000 << 12) | ((now_ns % 1_000_000) * 4096 // 1_000_000)
    with _lock:
        tick = _last_tick = max(tick, _last_tick + 1)
    bits = (tick >> 12) << 80 | 0x7 << 76 | (tick & 0xFFF) << 64 | 0b10 << 62 | secrets.randbits(62)
    return bits.to_bytes(_ID_BYTES, "big")


def content_hash(table: pa.Table) -> pa.Array:
    """A 16-byte hash (BLAKE2b) of what each row's record says, the same in all rows of one record.

    Rows of one record are those of one ``batch_position`` or, in stored tables, of one ``record_id``. The order of
    labels does not count, nor do ids, batches and missing fields, so a column added later changes no hash.
    """
    key = table[POSITION if POSITION in table.column_names else "record_id"]
    said = [_named(name, _as_text(_whole(table[name]))) for name in sorted(set(table.column_names) - _NOT_CONTENT)]
    if "label" in table.column_names:
        said.append(_named("label", _labels_together(_whole(key), _whole(table["label"]))))
    lines = pc.binary_join_element_wise(*said, "\0", null_handling="skip")
    digests = [hashlib.blake2b(line.as_buffer(), digest_size=_ID_BYTES).digest() for line in lines]
    return pa.array(digests, pa.binary())


def _whole(column: pa.ChunkedArray) -> pa.Array:
    return column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column


def _named(name: str, text: pa.Array) -> pa.Array:
    return pc.binary_join_element_wise(name, text, "=")


def _as_text(values: pa.Array) -> pa.Array:
    """Values as text that no later release of a library can write otherwise: numbers by their bits."""
    if pa.types.is_list(values.type):
        lists = [None if item is None else "\x1f".join(sorted(item)) for item in values.to_pylist()]
        return pa.array(lists, pa.string())
    if pa.types.is_floating(values.type):
        values = pc.add(values, 0.0).view(pa.int64())  # adding zero makes -0.0 the same as 0.0
    elif pa.types.is_date32(values.type):
        values = values.view(pa.int32())
    return values.cast(pa.string())


def _labels_together(key: pa.Array, label: pa.Array) -> pa.Array:
    """In each row, the sorted labels of its record joined into one text; null where it names none."""
    pairs = pa.table({"key": key, "label": label}).sort_by([("key", "ascending"), ("label", "ascending")])
    grouped = pairs.group_by("key", use_threads=False).aggregate([("label", "list")])
    together = pc.binary_join(grouped["label_list"], "\x1f")
    return _whole(together.take(pc.index_in(key, value_set=_whole(grouped["key"]))))
