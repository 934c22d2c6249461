"""When the crop of each curve came in: its shares, and its 7 days of the largest rate, many curves at a time.

In SQL every window of 7 days is a row of its own, which took ten times as long and many times the memory; and adding up
and sorting the pickings of a day there took three times as long as here, where they come in some runs that are sorted
(measured on 10 million pickings). Plants are taken in buckets, so that a large garden is never in memory whole, and
one bucket is read while another is worked out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import attrs
import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa

from perennia.store.threads import two_at_a_time

Numbers = npt.NDArray[np.int64]
Amounts = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
# a season has 14 bits and a day 22, which every date from the year 1 to 9999 fits in; a plant's number has the other 27
_SEASON_BITS, _DAY_BITS, _DAYS_BEFORE = 14, 22, 1 << 20
_ADDED = {
    "opens_on": np.minimum, "cropped": np.logical_or, "picked": np.logical_or, "amount": np.add, "steady": np.add,
}  # fmt: skip
SHARES = {"t10_days": 0.1, "t50_days": 0.5, "t90_days": 0.9}
SCHEMA = pa.schema([
    ("number", pa.int32()), ("season", pa.int32()), ("picks", pa.int64()), ("steady_picks", pa.int64()),
    ("first_pick", pa.date32()), ("last_pick", pa.date32()), ("first_knot", pa.date32()),
    *((name, pa.float64()) for name in SHARES), ("t50_days_without_clearance", pa.float64()),
    ("peak_on", pa.date32()), ("peak_from", pa.date32()), ("peak_to", pa.date32()), ("peak_per_day", pa.float64()),
    ("widest_gap_days", pa.int64()),
])  # fmt: skip
_WEEK = 7
_LEAD = _WEEK + 1
# sums of weights differ in their last bits: a share reached but for so little is reached, and windows so close tie
_TIE = 1 - 1e-9
# so many entries are read in one go, and so many of them looked at in one go, which fit in a processor's own memory
_BUCKET, _TOGETHER = 2_000_000, 20_000
_BUCKETS = (
    "SELECT min(number), max(number) FROM ("
    "SELECT number, sum(entries) OVER (ORDER BY number) // ? AS bucket "
    "FROM (SELECT number, sum(pickings + looks) AS entries FROM inside.picked_seasons GROUP BY number)) "
    "GROUP BY bucket ORDER BY bucket"
)


def curve_dates(connection: duckdb.DuckDBPyConnection, sql: str) -> pa.Table:
    """One row is one plant, by its number, and season that has a dated picking or look.

    sql: number, season, on, opens_on, cropped, picked, amount and steady of measured_pickings, in any order, of the
    numbers between the variables first_number and last_number; those of one day are one entry. A curve runs straight
    from entry to entry.
    picks: days with a crop, steady_picks those with one but for clearance; first_pick and last_pick: the first and
    last of picks. t10_days and so on: when these shares of the crop were in, as days after first_knot, the day on
    whose end the curve begins; missing without a crop; t50_days_without_clearance leaves out what was stripped.
    peak_on: the middle of the 7 days (peak_from to peak_to) of the largest mean rate, peak_per_day; where
    neighbouring windows tie, of the first such plateau. widest_gap_days: the longest time between pickings or looks
    that touches them.
    """
    buckets = connection.execute(_BUCKETS, [_BUCKET]).fetchall()
    return pa.concat_tables([SCHEMA.empty_table(), *two_at_a_time(_dates_of, _read(connection, sql, buckets))])


def _read(
    connection: duckdb.DuckDBPyConnection, sql: str, buckets: Iterable[tuple[int, int]]
) -> Iterator[pa.Table]:
    for first, last in buckets:
        connection.execute("SET VARIABLE first_number = ?", [first])
        connection.execute("SET VARIABLE last_number = ?", [last])
        yield connection.sql(sql).to_arrow_table()


def _dates_of(pickings: pa.Table) -> pa.Table:
    columns = {name: _plain(pickings[name]) for name in pickings.column_names}
    curve = columns.pop("number").astype(np.int64) << _SEASON_BITS | columns.pop("season")
    key = curve << _DAY_BITS | (columns.pop("on") + _DAYS_BEFORE)
    # numpy's stable sort is quick where what it sorts is runs that are sorted, as the files of a table are
    order = np.argsort(key, kind="stable")
    key = key[order]
    firsts = np.flatnonzero(_changes(key >> _DAY_BITS))
    ends = np.append(firsts[1:], len(key))
    found = [SCHEMA.empty_table()]
    start = 0
    while start < len(firsts):
        stop = max(start + 1, int(np.searchsorted(ends, firsts[start] + _TOGETHER, side="right")))
        some = slice(firsts[start], ends[stop - 1])
        found.append(_dates(_Curves.of(_by_day(key[some], {name: own[order[some]] for name, own in columns.items()}))))
        start = stop
    return pa.concat_tables(found)


def _changes(keys: Numbers) -> Flags:
    """Where a key is another than the one before it."""
    return np.concatenate([np.ones(min(1, len(keys)), bool), keys[1:] != keys[:-1]])


@attrs.frozen
class _Entries:
    """Days on which plants were picked or looked at, in order: the curve, as its plant's number and season in one
    number, the day, the day on whose end the curve would begin with it, whether there was a crop, and one but for
    clearance, and the crop, all and without clearance; not a number where it has no measure."""

    curve: Numbers
    on: Numbers
    opens_on: Numbers
    cropped: Flags
    picked: Flags
    amount: Amounts
    steady: Amounts


def _by_day(key: Numbers, columns: dict[str, npt.NDArray[Any]]) -> _Entries:
    """Pickings in order, those of a curve and day, which have one key, as one."""
    new = _changes(key)
    # mostly a plant is picked once a day
    if not new.all():
        days = np.flatnonzero(new)
        key, columns = key[days], {name: _ADDED[name].reduceat(column, days) for name, column in columns.items()}
    on = (key & ((1 << _DAY_BITS) - 1)) - _DAYS_BEFORE
    return _Entries(curve=key >> _DAY_BITS, on=on, **columns)


def _plain(column: pa.ChunkedArray) -> npt.NDArray[Any]:
    """A column as numbers or flags; days as numbers of days, missing amounts as not a number."""
    return np.asarray(column.cast(pa.int32()) if pa.types.is_date(column.type) else column)


@attrs.frozen
class _Curves:
    """Some curves in segments, from entry to entry: the number of each, the place of its first and last segment, and of
    each segment its curve, days, whether it ends in a crop, and in one but for clearance, and the crop at both ends,
    all and without clearance; not a number where it has no measure."""

    name: Numbers
    firsts: Numbers
    lasts: Numbers
    curve: Numbers
    from_day: Numbers
    to_day: Numbers
    cropped: Flags
    picked: Flags
    cumulative_from: Amounts
    cumulative_to: Amounts
    steady_from: Amounts
    steady_to: Amounts

    @classmethod
    def of(cls, entries: _Entries) -> _Curves:
        """The curves of some entries."""
        firsts = np.flatnonzero(_changes(entries.curve))
        lengths = np.diff(firsts, append=len(entries.curve))
        from_day = np.concatenate([entries.on[:1], entries.on[:-1]])
        from_day[firsts] = entries.opens_on[firsts]
        sums = _added(entries.amount, firsts, lengths)
        # mostly nothing was stripped
        steady = sums if np.array_equal(entries.steady, entries.amount) else _added(entries.steady, firsts, lengths)
        return cls(
            entries.curve[firsts], firsts, firsts + lengths - 1, np.repeat(np.arange(len(firsts)), lengths), from_day,
            entries.on, entries.cropped, entries.picked, *sums, *steady,
        )  # fmt: skip


def _added(amounts: Amounts, firsts: Numbers, lengths: Numbers) -> tuple[Amounts, Amounts]:
    """The sum of each curve before and after each of its entries, one after another; those of one length at once."""
    before, after = np.zeros(len(amounts)), np.empty(len(amounts))
    for length in np.unique(lengths):
        places = firsts[lengths == length, None] + np.arange(length)
        sums = np.cumsum(amounts[places], axis=1)
        after[places], before[places[:, 1:]] = sums, sums[:, :-1]
    before[np.isnan(after)] = np.nan
    return before, after


def _dates(curves: _Curves) -> pa.Table:
    crop, first_middle, last_middle = _plateaus(curves)
    none = ~(crop > 0)
    shares = {
        name: _reached(curves, share, curves.cumulative_from, curves.cumulative_to) for name, share in SHARES.items()
    }
    stripped = curves.steady_to is not curves.cumulative_to
    without_clearance = _reached(curves, 0.5, curves.steady_from, curves.steady_to) if stripped else shares["t50_days"]
    columns = [
        (curves.name >> _SEASON_BITS).astype(np.int32), (curves.name & ((1 << _SEASON_BITS) - 1)).astype(np.int32),
        *(np.add.reduceat(days, curves.firsts, dtype=np.int64) for days in (curves.cropped, curves.picked)),
        *_ends_of_picking(curves), _days(curves.from_day[curves.firsts]),
        *shares.values(), without_clearance,
        *(_days(day, none) for day in (
            first_middle + (last_middle - first_middle) // 2, first_middle - 3, last_middle + 3)),
        pa.array(crop / _WEEK, mask=none), pa.array(_widest_gaps(curves, first_middle, last_middle), mask=none),
    ]  # fmt: skip
    return pa.table(columns, schema=SCHEMA)


def _days(days: Numbers, none: Flags | None = None) -> pa.Array:
    return pa.array(days.astype(np.int32), mask=none).cast(pa.date32())


def _ends_of_picking(curves: _Curves) -> Iterator[pa.Array]:
    """The first and the last day of each curve on which there was a crop."""
    none = ~np.logical_or.reduceat(curves.cropped, curves.firsts)
    yield _days(np.minimum.reduceat(np.where(curves.cropped, curves.to_day, curves.to_day[-1] + 2**20), curves.firsts),
                none)  # fmt: skip
    yield _days(np.maximum.reduceat(np.where(curves.cropped, curves.to_day, -(2**30)), curves.firsts), none)


def _reached(curves: _Curves, share: float, before: Amounts, after: Amounts) -> pa.Array:
    """Of each curve the days after its begin until a share of its crop was in, within the segment that reached it.

    before, after: the crop at both ends of each segment.
    """
    wanted, rise = share * after[curves.lasts], after - before
    reaching = np.flatnonzero((rise > 0) & (after >= _TIE * wanted[curves.curve]))
    place = np.searchsorted(reaching, curves.firsts)
    segment = np.append(reaching, len(rise) - 1)[place]
    none = (place == len(reaching)) | (segment > curves.lasts)
    into = np.maximum(0, wanted - before[segment]) / np.where(none, 1, rise[segment])
    length = curves.to_day[segment] - curves.from_day[segment]
    return pa.array(curves.from_day[segment] - curves.from_day[curves.firsts] + into * length, mask=none)


def _plateaus(curves: _Curves) -> tuple[Amounts, Numbers, Numbers]:
    """Of each curve the crop of its best 7 days, and the first and last middle of the first windows that have it."""
    to_day = _by_the_day(curves)
    windows = to_day[:, _WEEK:] - to_day[:, :-_WEEK]
    crop = windows.max(axis=1)
    best = windows >= _TIE * crop[:, None]
    # the first window begins a week before the curve does
    middle = curves.from_day[curves.firsts] - _WEEK + 4
    first, ended = best.argmax(axis=1), best[:, :-1] & ~best[:, 1:]
    # a run that nothing ends is of a curve without a crop
    return crop, middle + first, middle + ended.argmax(axis=1)


def _by_the_day(curves: _Curves) -> Amounts:
    """A row a curve: its crop but for clearance at the end of each day, from a week before it begins to a week after
    the last day of the longest; all rows are of one length, so that they are worked out together."""
    lengths = curves.to_day - curves.from_day
    spans = curves.to_day[curves.lasts] - curves.from_day[curves.firsts]
    # before its segments a curve has one of no crop, and one after them
    numbers = np.arange(len(spans))
    rates, days = np.zeros(len(lengths) + 2 * len(spans)), np.empty(len(lengths) + 2 * len(spans), np.int64)
    places = np.arange(len(lengths)) + 2 * curves.curve + 1
    rates[places], days[places] = np.nan_to_num(curves.steady_to - curves.steady_from) / lengths, lengths
    days[curves.firsts + 2 * numbers] = _LEAD
    days[curves.lasts + 2 * numbers + 2] = spans.max() - spans + _WEEK
    daily = np.repeat(rates, days).reshape(len(spans), -1)
    return np.asarray(np.cumsum(daily, axis=1, out=daily))


def _widest_gaps(curves: _Curves, first_middle: Numbers, last_middle: Numbers) -> Numbers:
    """Of each curve the longest segment that touches the windows of its plateau."""
    touching = (curves.to_day > first_middle[curves.curve] - 4) & (curves.from_day < last_middle[curves.curve] + 3)
    gaps = np.where(touching, curves.to_day - curves.from_day, 0)
    return np.asarray(np.maximum.reduceat(gaps, curves.firsts))
