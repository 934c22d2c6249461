"""A batch cut into parts that fit in memory several times over, and the ids of its records put together again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import overload

import attrs
import numpy as np
import numpy.typing as npt
import pyarrow as pa

from perennia.store.digests import BYTES, rise, whole_ids
from perennia.store.schemas import PLACES, POSITION

ROWS_A_PART = 500_000


class RecordIds(Sequence[str]):
    """Record ids, 32 hexadecimal digits each, as a tuple of them would be, in a fifth of the memory."""

    def __init__(self, *parts: bytes | memoryview) -> None:
        self._parts: Sequence[bytes | memoryview] = parts

    @property
    def _ids(self) -> bytes | memoryview:
        """All ids one after another, put together when the first is asked for."""
        if len(self._parts) != 1:
            self._parts = [b"".join(self._parts)]
        return self._parts[0]

    def __reduce__(self) -> tuple[type[RecordIds], tuple[bytes]]:
        return RecordIds, (bytes(self._ids),)

    def __len__(self) -> int:
        return sum(map(len, self._parts)) // BYTES

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[str, ...]: ...
    def __getitem__(self, index: int | slice) -> str | tuple[str, ...]:
        places = range(len(self))[index]
        if isinstance(places, int):
            return self._ids[places * BYTES : (places + 1) * BYTES].hex()
        return tuple(self[place] for place in places)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, RecordIds):
            return self._ids == other._ids
        return tuple(self) == other

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return repr(tuple(self))


@attrs.frozen
class Records:
    """The records of a batch or a part: the place and the id (16 bytes) of each, in the order of their places."""

    places: npt.NDArray[np.int64]
    ids: npt.NDArray[np.void]



def ids_of(parts: Sequence[Records]) -> RecordIds:
    """The ids, as text, of the records of several parts in the order of their places."""
    inorder = parts if follow(parts) else [together(parts)]
    return RecordIds(*(part.ids.view("u1").data for part in inorder if len(part.ids)))


def follow(parts: Sequence[Records]) -> bool:
    """Whether the places of the records rise through all of the parts, so that all differ."""
    several = [part.places for part in parts if len(part.places)]
    return all(map(rise, several)) and all(one[-1] < next_one[0] for one, next_one in pairwise(several))


def records_of(tables: Mapping[str, pa.Table]) -> Records:
    """The records that candidate rows belong to."""
    return together(_records(table) for table in tables.values())


def count_records(table: pa.Table) -> int:
    """How many records the rows of a table belong to."""
    places = table[POSITION].to_numpy()
    return len(places if rise(places) else np.unique(places))


def _records(table: pa.Table) -> Records:
    places, ids = table[POSITION].to_numpy(), whole_ids(table["record_id"])
    if not rise(places):
        places, first = np.unique(places, return_index=True)
        ids = ids[first]
    return Records(places, ids)


def together(parts: Iterable[Records]) -> Records:
    """The records of several parts or tables."""
    nothing = Records(np.empty(0, np.int64), np.empty(0, f"V{BYTES}"))
    several = [part for part in parts if len(part.places)]
    if len(several) < 2:
        return several[0] if several else nothing
    places = np.concatenate([part.places for part in several])
    ids = np.concatenate([part.ids for part in several])
    if rise(places):
        return Records(places, ids)
    order = np.argsort(places, kind="stable")
    return Records(places[order], ids[order])


def in_parts(given: Iterable[Mapping[str, pa.Table]]) -> Iterator[dict[str, pa.Table]]:
    """Candidate tables of one batch in parts of some rows, each record whole in one; sites and beds, which are few and
    may be named twice, all in the last."""
    places: dict[str, list[pa.Table]] = {}
    last: dict[str, pa.Table] = {}
    for tables in given:
        for name in PLACES:
            if name in tables:
                places.setdefault(name, []).append(tables[name])
        for part in _cut({name: table for name, table in tables.items() if name not in PLACES}):
            if last:
                yield last
            last = part
    yield {**{name: pa.concat_tables(several) for name, several in places.items()}, **last}


def _cut(tables: Mapping[str, pa.Table]) -> Iterator[dict[str, pa.Table]]:
    if sum(table.num_rows for table in tables.values()) <= ROWS_A_PART:
        yield dict(tables)
        return
    rising = {name: _in_order(table) for name, table in tables.items()}
    places = np.sort(np.concatenate([table[POSITION].to_numpy() for table in rising.values()]))
    ends = [*np.unique(places[ROWS_A_PART::ROWS_A_PART]).tolist(), None]
    start = dict.fromkeys(rising, 0)
    for end in ends:
        stop = {
            name: table.num_rows if end is None else int(np.searchsorted(table[POSITION].to_numpy(), end))
            for name, table in rising.items()
        }
        yield {
            name: table.slice(start[name], stop[name] - start[name])
            for name, table in rising.items() if stop[name] > start[name]
        }  # fmt: skip
        start = stop


def _in_order(table: pa.Table) -> pa.Table:
    places = table[POSITION].to_numpy()
    return table if (places[1:] >= places[:-1]).all() else table.take(np.argsort(places, kind="stable"))
