"""Ids of records and hashes of what they say."""

from __future__ import annotations

import secrets
import threading
import time

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from perennia.store.digests import hashes, identities, sums_within

# the record's place in its batch; longer than "position", which is a field of FlowerFate
POSITION = "batch_position"
NOT_CONTENT = frozenset({"record_id", "content", "batch", "recorded_at", "year", "shared_by", "label", POSITION})
"""Columns that say nothing of the record: what only the store knows, and its labels, which stand in any order."""
_lock = threading.Lock()
_last_tick = 0


def uuid7() -> bytes:
    """A new id: the 16 bytes of a UUID version 7 (RFC 9562, section 5.7), rising within a process."""
    return bytes(uuid7s(1)[0].as_py())


def uuid7s(count: int) -> pa.Array:
    """New ids, each 16 bytes of a UUID version 7 (RFC 9562, section 5.7), rising within a process.

    The 12 bits after the millisecond carry its fraction (section 6.2, method 3); an id asked for within
    the same fraction takes the next one.
    """
    global _last_tick
    now_ns = time.time_ns()
    tick = (now_ns // 1_000_000 << 12) | ((now_ns % 1_000_000) * 4096 // 1_000_000)
    with _lock:
        first = max(tick, _last_tick + 1)
        _last_tick = first + count - 1
    ticks = np.arange(first, first + count, dtype=np.uint64)
    high = (ticks >> np.uint64(12)) << np.uint64(16) | np.uint64(0x7 << 12) | (ticks & np.uint64(0xFFF))
    chance = np.frombuffer(secrets.token_bytes(8 * count), np.uint64)
    low = (chance & np.uint64(2**62 - 1)) | np.uint64(0b10 << 62)
    return identities(np.array([high, low]))


def content_hash(table: pa.Table) -> pa.Array:
    """A 16-byte hash of what each row's record says, the same in all rows of one record.

    Rows of one record are those of one ``batch_position`` or, in stored tables, of one ``record_id``. The order of
    labels does not count, nor do ids, batches and missing fields, so a column added later changes no hash.
    """
    said = np.zeros((2, table.num_rows), np.uint64)
    for name in table.column_names:
        if table[name].null_count == table.num_rows:
            continue
        if name == "label":
            said += sums_within(record_numbers(table), hashes(name, _whole(table[name])))
        elif name not in NOT_CONTENT:
            said += hashes(name, _whole(table[name]))
    return identities(said)


def record_numbers(table: pa.Table) -> npt.NDArray[np.int64]:
    """A number a row, the same in all rows of one record and in no other."""
    if POSITION in table.column_names:
        return np.asarray(table[POSITION].to_numpy())
    return np.asarray(_whole(table["record_id"]).dictionary_encode().indices.to_numpy(), np.int64)


def _whole(column: pa.ChunkedArray) -> pa.Array:
    return column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column
