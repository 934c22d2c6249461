"""Hashes of 128 bits of many rows at once: the sum of the hashes of their fields, so their order does not count.

A field is mixed, with its name and 8 bytes at a time, by the finaliser of SplitMix64 (Steele, Lea and Flood 2014, Fast
splittable pseudorandom number generators, OOPSLA), twice from other starts. Such hashes tell rows apart; they keep no
secrets.
"""

from __future__ import annotations

import hashlib
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

BYTES = 16
Halves = npt.NDArray[np.uint64]
"""The first 8 bytes of values of 16 as numbers, then their last 8."""
_WORD = 8
_LOOKED_AT = 1000
# so few words that what is worked out on the way stays near the processor
_AT_ONCE = 16_384
# of the last word of a text, only so many of its 8 bytes belong to it
_KEPT = np.array([2 ** (8 * count) - 1 for count in range(_WORD + 1)], np.uint64)


def hashes(name: str, values: pa.Array) -> Halves:
    """One hash a row of the field ``name`` having its value; 0 where it is missing. Lists are hashed in any order."""
    if values.null_count == len(values):
        return np.zeros((2, len(values)), np.uint64)
    if pa.types.is_list(values.type):
        items = [None if item is None else "\x1f".join(sorted(item)) for item in values.to_pylist()]
        values = pa.array(items, pa.string())
    if pa.types.is_string(values.type):
        mixed = _of_texts(name, values) if _mostly_differ(values) else _of_few_texts(name, values)
    else:
        mixed = _mixed(hash_of(name) + _bits(values))
    if values.null_count:
        mixed[:, pc.is_null(values).to_numpy(zero_copy_only=False)] = 0
    return mixed


def hash_of(*texts: str) -> Halves:
    """The hash of one text in several parts."""
    return _split(hashlib.md5("\0".join(texts).encode(), usedforsecurity=False).digest())


def _split(values: bytes | npt.NDArray[np.void]) -> Halves:
    both = np.frombuffer(values, ">u8").reshape(-1, 2)
    return np.array([both[:, 0], both[:, 1]], np.uint64)


def _mostly_differ(texts: pa.Array) -> bool:
    """Whether texts are told by their beginning to repeat so little that to look for the same ones would not pay."""
    some = texts.slice(0, _LOOKED_AT)
    return bool(pc.count_distinct(some).as_py() > len(some) // 2)


def _of_few_texts(name: str, texts: pa.Array) -> Halves:
    encoded = texts.dictionary_encode()
    return np.asarray(_of_texts(name, encoded.dictionary).take(encoded.indices.fill_null(0).to_numpy(), axis=1))


def _of_texts(name: str, values: pa.Array) -> Halves:
    _, offsets, content = values.buffers()
    bounds = np.frombuffer(offsets, np.int32)[values.offset :][: len(values) + 1].astype(np.int64)
    said = np.frombuffer(content or b"", np.uint8)[bounds[0] : bounds[-1]]
    padded = np.concatenate([said, np.zeros(_WORD, np.uint8)])
    # the word that begins at each byte
    words: npt.NDArray[np.uint64] = np.ndarray((len(padded) - _WORD + 1,), "<u8", padded, strides=(1,))
    start, of_name = bounds - bounds[0], hash_of(name)
    mixed = np.empty((2, len(values)), np.uint64)
    for first in range(0, len(values), _AT_ONCE):
        some = start[first : first + _AT_ONCE + 1]
        mixed[:, first : first + _AT_ONCE] = _of_some_texts(of_name, words, some[:-1], np.diff(some))
    return mixed


def _of_some_texts(
    of_name: Halves, words: npt.NDArray[np.uint64], starts: npt.NDArray[np.int64], left: npt.NDArray[np.int64]
) -> Halves:
    """The hashes of texts that start at words, so many bytes of each left."""
    mixed = _mixed(of_name + left.astype(np.uint64))
    rows = np.flatnonzero(left)
    while len(rows):
        known = words[starts[rows]] & _KEPT[np.minimum(left[rows], _WORD)]
        # a slice is many times as fast as the numbers of all rows
        these: slice | npt.NDArray[np.int64] = slice(None) if len(rows) == len(left) else rows
        mixed[:, these] = _mixed(mixed[:, these] ^ known)
        starts, left = starts + _WORD, left - _WORD
        rows = rows[left[rows] > 0]
    return mixed


def _bits(values: pa.Array) -> npt.NDArray[np.uint64]:
    """Numbers, days and flags as 64 bits that no later release of a library can write otherwise; missing ones as 0."""
    if pa.types.is_floating(values.type):
        # adding zero makes -0.0 the same as 0.0
        return np.asarray(values.fill_null(0.0).to_numpy() + 0.0).view(np.uint64)
    plain = values.cast(pa.int32()) if pa.types.is_date32(values.type) else values
    return np.asarray(plain.cast(pa.int64()).fill_null(0).to_numpy()).view(np.uint64)


def _mixed(halves: Halves) -> Halves:
    """The halves, mixed where they are."""
    for half in halves:
        for start in range(0, half.size, _AT_ONCE):
            _mix(half[start : start + _AT_ONCE])
    return halves


def _mix(words: npt.NDArray[np.uint64]) -> None:
    words ^= words >> np.uint64(30)
    words *= np.uint64(0xBF58476D1CE4E5B9)
    words ^= words >> np.uint64(27)
    words *= np.uint64(0x94D049BB133111EB)
    words ^= words >> np.uint64(31)


def sums_within(groups: npt.NDArray[np.int64], parts: Halves) -> Halves:
    """In each row, the sum of the parts of all rows of its group; groups are numbers."""
    if rise(groups):
        return parts
    _, place, sizes = np.unique(groups, return_inverse=True, return_counts=True)
    sums = np.zeros((2, len(sizes)), np.uint64)
    for half in range(2):
        np.add.at(sums[half], place, parts[half])
    return np.asarray(sums.take(place, axis=1))


def rise(numbers: npt.NDArray[Any]) -> bool:
    """Whether each is more than the one before, so that all differ."""
    return bool((numbers[1:] > numbers[:-1]).all())


def identities(halves: Halves) -> pa.Array:
    """Values of 16 bytes from their halves."""
    rows = halves.shape[1]
    offsets = np.arange(0, BYTES * (rows + 1), BYTES, dtype=np.int32)
    values = np.empty((rows, 2), ">u8")
    values[:, 0], values[:, 1] = halves
    return pa.Array.from_buffers(pa.binary(), rows, [None, pa.py_buffer(offsets), pa.py_buffer(values)])


def halves_of(values: pa.Array | pa.ChunkedArray) -> Halves:
    """The halves of values of 16 bytes; missing ones are 0."""
    return _split(whole_ids(values))


def whole_ids(values: pa.Array | pa.ChunkedArray) -> npt.NDArray[np.void]:
    """Values of 16 bytes, each as one; missing ones are 0."""
    whole = values.combine_chunks() if isinstance(values, pa.ChunkedArray) else values
    if not whole.null_count and pa.types.is_binary(whole.type):
        _, offsets, said = whole.buffers()
        bounds = np.frombuffer(offsets, np.int32)[whole.offset :][: len(whole) + 1]
        if (np.diff(bounds) == BYTES).all():
            return np.frombuffer(said or b"", f"V{BYTES}", len(whole), bounds[0] if len(whole) else 0)
    fixed = whole.fill_null(bytes(BYTES)).cast(pa.binary(BYTES))
    return np.frombuffer(fixed.buffers()[1] or b"", f"V{BYTES}")[fixed.offset :][: len(fixed)]
