"""Ids of rows taken from a book: the same row of the same book always has the same id."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from functools import partial

import attrs
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from perennia.records.catalogue import RECORDS, rules_of
from perennia.store.digests import Halves, halves_of, hash_of, hashes, identities, rise, sums_within
from perennia.store.schemas import PARTITIONED, PLACES, POSITION
from perennia.store.threads import two_at_a_time

# what tells rows of one event and day apart before their order among equals does
_OF_SEVERAL_DAYS = [event for event, cls in RECORDS.items() if cls.table in PARTITIONED and "on" not in rules_of(cls)]
_KEYS = ("event", "bed", "site", "lot", "truss", "position", "on_from", "on_to")
# so many runs of records of the same days are kept apart
_MANY_RUNS = 8
_LONG_AGO = -(2**31)


def book_ids(book: str, tables: Mapping[str, pa.Table]) -> dict[str, pa.Table]:
    """The candidate rows with record_id = hash of (book, event, labels or place, day, ordinal among equals).

    A row that brings an id of its own keeps it. Sites and beds keep their own ids, which come from their names.
    """
    return next(book_ids_of_parts(book, [tables]))


def book_ids_of_parts(book: str, parts: Iterable[Mapping[str, pa.Table]]) -> Iterator[dict[str, pa.Table]]:
    """What book_ids gives of a whole book, a part at a time; each record lies in one part, in the order of the book."""
    told: dict[str, _Told] = defaultdict(_Told)
    for keyed in two_at_a_time(partial(_keyed, book), parts):
        yield {name: table if keys is None else _with_ids(table, keys, told[name])
               for name, (table, keys) in keyed.items()}  # fmt: skip


def _keyed(book: str, tables: Mapping[str, pa.Table]) -> dict[str, tuple[pa.Table, Halves | None]]:
    """Each table and what a row's record is told apart by, its order aside; None for sites and beds."""
    named = hash_of("book", book.casefold())
    return {name: (table, None if name in PLACES else named + _keys(table)) for name, table in tables.items()}


@attrs.frozen
class _Run:
    """Records of a book: half the hash of each, rising, and the first and last of the days on which they began."""

    keys: npt.NDArray[np.uint64]
    first: int
    last: int


@attrs.define
class _Told:
    """The records of a book so far: each once, in one of the runs; times is how often those told again were told.

    A book is mostly written by day, so that what comes is looked for in the few runs of the same days.
    """

    runs: list[_Run] = attrs.Factory(list)
    times: dict[int, int] = attrs.Factory(dict)

    def add(self, run: _Run, near: list[_Run]) -> None:
        """One more run, those of the same days put together with it when there are many."""
        if len(near) >= _MANY_RUNS:
            self.runs = [other for other in self.runs if not any(other is one for one in near)]
            keys = np.concatenate([*(one.keys for one in near), run.keys])
            # rising runs are only merged by this kind of sorting
            keys.sort(kind="stable")
            run = _Run(keys, min(one.first for one in (*near, run)), max(one.last for one in (*near, run)))
        self.runs.append(run)


def _with_ids(table: pa.Table, keys: Halves, told: _Told) -> pa.Table:
    places, days = table[POSITION].to_numpy(), _reach(table["on_from"])
    if rise(places):
        ordinals = _ordinals(keys[1], days, told)
    else:
        _, first, record = np.unique(places, return_index=True, return_inverse=True)
        ordinals = _ordinals(keys[1][first], days, told)[record]
    ids = identities(keys + hashes("ordinal", pa.array(ordinals)))
    own = ids if table["record_id"].null_count == len(ids) else pc.coalesce(table["record_id"], ids)
    return table.set_column(table.column_names.index("record_id"), "record_id", own)


def _reach(days: pa.ChunkedArray) -> tuple[int, int]:
    """The first and the last of some days, as days since 1970; one that is missing may be any before."""
    reach = pc.min_max(days.cast(pa.int32())).as_py()
    return (_LONG_AGO if days.null_count else reach["min"] or 0), (_LONG_AGO if reach["max"] is None else reach["max"])


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


def _ordinals(keys: npt.NDArray[np.uint64], days: tuple[int, int], told: _Told) -> npt.NDArray[np.int64]:
    """The place of each record among all of its key so far, from 1; days are the first and last of the records."""
    rising = np.sort(keys)
    near = [run for run in told.runs if run.first <= days[1] and days[0] <= run.last]
    if rise(rising) and not any(_are_in(run.keys, rising).any() for run in near):
        told.add(_Run(rising, *days), near)
        return np.ones(len(keys), np.int64)
    order = np.argsort(keys, kind="stable")
    starts = np.flatnonzero(np.r_[True, rising[1:] != rising[:-1]]) if len(rising) else np.empty(0, np.int64)
    different = rising[starts]
    sizes = np.diff(np.r_[starts, len(rising)])
    before = np.zeros(len(starts), np.int64)
    again = np.zeros(len(starts), np.bool_)
    for run in near:
        again |= _are_in(run.keys, different)
    before[again] = [told.times.get(key, 1) for key in different[again].tolist()]
    counts = before + sizes
    told.times.update(zip(different[counts > 1].tolist(), counts[counts > 1].tolist(), strict=True))
    told.add(_Run(different[~again], *days), near)
    ordinals = np.empty(len(keys), np.int64)
    ordinals[order] = np.arange(len(keys)) - np.repeat(starts - before, sizes) + 1
    return ordinals


def _are_in(rising: npt.NDArray[np.uint64], keys: npt.NDArray[np.uint64]) -> npt.NDArray[np.bool_]:
    if not len(rising):
        return np.zeros(len(keys), np.bool_)
    return np.equal(rising.take(np.searchsorted(rising, keys), mode="clip"), keys)
