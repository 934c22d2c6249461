"""Ids of rows taken from a book: the same row of the same book always has the same id."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import attrs
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from perennia.records.catalogue import RECORDS, rules_of
from perennia.store.digests import Halves, halves_of, hash_of, hashes, identities, rise, sums_within
from perennia.store.schemas import PARTITIONED, PLACES, POSITION

# what tells rows of one event and day apart before their order among equals does
_OF_SEVERAL_DAYS = [event for event, cls in RECORDS.items() if cls.table in PARTITIONED and "on" not in rules_of(cls)]
_KEYS = ("event", "bed", "site", "lot", "truss", "position", "on_from", "on_to")


def book_ids(book: str, tables: Mapping[str, pa.Table]) -> dict[str, pa.Table]:
    """The candidate rows with record_id = hash of (book, event, labels or place, day, ordinal among equals).

    A row that brings an id of its own keeps it. Sites and beds keep their own ids, which come from their names.
    """
    return next(book_ids_of_parts(book, [tables]))


def book_ids_of_parts(book: str, parts: Iterable[Mapping[str, pa.Table]]) -> Iterator[dict[str, pa.Table]]:
    """What book_ids gives of a whole book, a part at a time; each record lies in one part, in the order of the book."""
    told = _Told()
    for tables in parts:
        yield {name: table if name in PLACES else _with_ids(book, table, told) for name, table in tables.items()}


@attrs.define
class _Told:
    """The records of a book so far: once has half the hash of each, rising, times how often those told again were."""

    once: npt.NDArray[np.uint64] = attrs.field(factory=lambda: np.empty(0, np.uint64))
    times: dict[int, int] = attrs.Factory(dict)


def _with_ids(book: str, table: pa.Table, told: _Told) -> pa.Table:
    keys = hash_of("book", book.casefold()) + _keys(table)
    places = table[POSITION].to_numpy()
    if rise(places):
        ordinals = _ordinals(keys[1], told)
    else:
        _, first, record = np.unique(places, return_index=True, return_inverse=True)
        ordinals = _ordinals(keys[1][first], told)[record]
    ids = identities(keys + hashes("ordinal", pa.array(ordinals)))
    own = ids if table["record_id"].null_count == len(ids) else pc.coalesce(table["record_id"], ids)
    return table.set_column(table.column_names.index("record_id"), "record_id", own)


def keys_of(table: pa.Table) -> list[bytes]:
    """What a record is told apart by from others of its book, all but their order, of each row as 16 bytes."""
    return list(identities(_keys(table)).to_pylist())


def further_ids(book: str, key: bytes, first: int, count: int) -> list[bytes]:
    """The ids of records of one key (of keys_of) that stand at the places from first on among those alike."""
    keys = np.repeat(hash_of("book", book.casefold()) + halves_of(pa.array([key])), count, axis=1)
    ordinals = pa.array(np.arange(first, first + count))
    return list(identities(keys + hashes("ordinal", ordinals)).to_pylist())


def _keys(table: pa.Table) -> Halves:
    keys = np.zeros((2, table.num_rows), np.uint64)
    for name in _KEYS:
        if name in table.column_names and table[name].null_count < table.num_rows:
            keys += hashes(name, _told_apart(name, table))
    if "label" in table.column_names:
        # a picking off several labels is one record, whatever the order in which they are named
        keys += sums_within(table[POSITION].to_numpy(), hashes("label", table["label"].combine_chunks()))
    return keys


def _told_apart(name: str, table: pa.Table) -> pa.Array:
    """A column as it tells records apart: of one of several days, only the first, for others are filled in later."""
    values = table[name].combine_chunks()
    if name != "on_to":
        return values
    several = pc.is_in(table["event"].combine_chunks(), value_set=pa.array(_OF_SEVERAL_DAYS))
    return pc.if_else(several, None, values)


def _ordinals(keys: npt.NDArray[np.uint64], told: _Told) -> npt.NDArray[np.int64]:
    """The place of each record among all of its key so far, from 1."""
    rising = np.sort(keys)
    if rise(rising) and not _are_in(told.once, rising).any():
        told.once = _merged(told.once, rising)
        return np.ones(len(keys), np.int64)
    order = np.argsort(keys, kind="stable")
    starts = np.flatnonzero(np.r_[True, rising[1:] != rising[:-1]]) if len(rising) else np.empty(0, np.int64)
    different = rising[starts]
    sizes = np.diff(np.r_[starts, len(rising)])
    before = np.zeros(len(starts), np.int64)
    again = _are_in(told.once, different)
    before[again] = [told.times.get(key, 1) for key in different[again].tolist()]
    counts = before + sizes
    told.times.update(zip(different[counts > 1].tolist(), counts[counts > 1].tolist(), strict=True))
    told.once = _merged(told.once, different[~again])
    ordinals = np.empty(len(keys), np.int64)
    ordinals[order] = np.arange(len(keys)) - np.repeat(starts - before, sizes) + 1
    return ordinals


def _are_in(rising: npt.NDArray[np.uint64], keys: npt.NDArray[np.uint64]) -> npt.NDArray[np.bool_]:
    if not len(rising):
        return np.zeros(len(keys), np.bool_)
    return np.equal(rising.take(np.searchsorted(rising, keys), mode="clip"), keys)


def _merged(first: npt.NDArray[np.uint64], second: npt.NDArray[np.uint64]) -> npt.NDArray[np.uint64]:
    both = np.concatenate([first, second])
    # two rising runs are only merged by this kind of sorting
    both.sort(kind="stable")
    return both
