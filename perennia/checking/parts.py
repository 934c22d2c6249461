"""A batch taken in part by part: what is new in it and right in itself is put aside for the check against the books."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial

import attrs
import numpy as np
import numpy.typing as npt
import pyarrow as pa

from perennia.checking.batch import row_problems
from perennia.checking.shape import doubled, repeated
from perennia.errors import Problem, RefusedError
from perennia.store.digests import rise
from perennia.store.identify import identified, unknown_rows
from perennia.store.parts import RecordIds, Records, count_records, follow, ids_of, in_parts, records_of, together
from perennia.store.renewal import renewed
from perennia.store.staging import Staged
from perennia.store.threads import two_at_a_time

HalfIds = npt.NDArray[np.uint64]


@attrs.frozen
class TakenIn:
    """The id of each record of a batch, in their order, and how many of them are new."""

    record_ids: RecordIds
    new: int


def take_in(
    given: Iterable[Mapping[str, pa.Table]],
    staged: Staged,
    files: Mapping[str, Sequence[str]],
    *,
    today: date,
    revive: bool,
    new: Collection[bytes] = (),
) -> TakenIn:
    """Give the records of a batch their ids, and put those aside that are not stored in files yet.

    revive: see store.renewal. new: ids of rows that take another's place and keep them. Raises RefusedError with every
    record that is stored otherwise or breaks a rule in itself.
    """
    problems: list[Problem] = []
    parts: list[Records] = []
    half_ids: list[HalfIds] = []
    fresh_records = 0
    judged = partial(_judged, files=files, today=today, revive=revive, new=new)
    for part in two_at_a_time(judged, in_parts(given)):
        parts.append(part.records)
        half_ids.append(part.half_ids)
        problems += part.problems
        if not problems:
            staged.add(part.fresh)
            fresh_records += part.new
    problems += _doubled(parts, half_ids) if len(parts) > 1 else ()
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    return TakenIn(ids_of(parts), fresh_records)


@attrs.frozen
class _Part:
    """One part of a batch: its records, half the id of each, rising, the rows of those that are new and how many these
    are, and what is wrong."""

    records: Records
    half_ids: HalfIds
    fresh: Mapping[str, pa.Table]
    new: int
    problems: Sequence[Problem]


def _judged(
    tables: Mapping[str, pa.Table],
    files: Mapping[str, Sequence[str]],
    today: date,
    revive: bool,
    new: Collection[bytes],
) -> _Part:
    # an id that was given may be known of another year; one that is made now is known of none
    given = any(table["record_id"].null_count < table.num_rows for table in tables.values())
    own = renewed(identified(tables), files, revive=revive, new=new)
    records = records_of(own)
    half_ids = np.sort(_halves(records))
    try:
        fresh = unknown_rows(own, files, everywhere=given)
    except RefusedError as error:
        return _Part(records, half_ids, {}, 0, error.problems)
    rows = sum(table.num_rows for table in own.values())
    alone = rows == len(records.places) and rise(records.places) and rise(half_ids)
    problems = row_problems(fresh, today, alone=alone)
    return _Part(records, half_ids, fresh, sum(map(count_records, fresh.values())), problems)


def _halves(records: Records) -> HalfIds:
    return records.ids.view(np.uint64).reshape(-1, 2)[:, 1]


def _doubled(parts: Sequence[Records], half_ids: Sequence[HalfIds]) -> Iterator[Problem]:
    """Records of several parts that share a place in the batch or an id; half_ids are those of the parts, rising."""
    ids = repeated(np.concatenate(half_ids))
    if not len(ids) and follow(parts):
        return
    records = together(parts)
    places = repeated(records.places)
    suspects = np.flatnonzero(np.isin(_halves(records), ids) | np.isin(records.places, places))
    for column, values in (("batch_position", records.places), ("record_id", records.ids)):
        said = Counter(values[suspects].tolist())
        for place, value in zip(records.places[suspects].tolist(), values[suspects].tolist(), strict=True):
            if said[value] > 1:
                yield doubled(place, f"record {place + 1}", column)
