"""When the crop of each curve came in: its shares, and its 7 days of the largest rate, many curves at a time.

In SQL every window of 7 days is a row of its own, which took ten times as long and many times the memory (measured on
10 million pickings). Plants are taken in buckets, so that the days of a large garden are never in memory together.
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs
import duckdb
import numpy as np
import numpy.typing as npt
import pyarrow as pa

Numbers = npt.NDArray[np.int64]
Amounts = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
SHARES = {"t10_days": 0.1, "t50_days": 0.5, "t90_days": 0.9}
SCHEMA = pa.schema([
    ("number", pa.int32()), ("season", pa.int32()), ("picks", pa.int64()), ("steady_picks", pa.int64()),
    ("first_pick", pa.date32()), ("last_pick", pa.date32()), ("first_knot", pa.date32()),
    *((name, pa.float64()) for name in SHARES), ("t50_days_without_clearance", pa.float64()),
    ("peak_on", pa.date32()), ("peak_from", pa.date32()), ("peak_to", pa.date32()), ("peak_per_day", pa.float64()),
    ("widest_gap_days", pa.int64()),
])  # fmt: skip
_WEEK = 7
# sums of weights differ in their last bits: a share reached but for so little is reached, and windows so close tie
_TIE = 1 - 1e-9
# so many stretches of curves are looked at in one go, of so many read in one go: their days fit in some 50 MB
_TOGETHER, _BUCKET = 50_000, 1_000_000
_BUCKETS = (
    "SELECT min(number), max(number) FROM ("
    "SELECT number, sum(entries) OVER (ORDER BY number) // ? AS bucket "
    "FROM (SELECT number, sum(pickings + looks) AS entries FROM inside.picked_seasons GROUP BY number)) "
    "GROUP BY bucket ORDER BY bucket"
)


def curve_dates(connection: duckdb.DuckDBPyConnection, sql: str) -> pa.Table:
    """One row is one plant, by its number, and season that has a dated picking or look.

    sql: number, season, on, opens_on, cropped, picked, amount and steady of measured_days, by number, season and day,
    of the numbers between the variables first_number and last_number. A curve runs straight from entry to entry.
    picks: days with a crop, steady_picks those with one but for clearance; first_pick and last_pick: the first and
    last of picks. t10_days and so on: when these shares of the crop were in, as days after first_knot, the day on
    whose end the curve begins; missing without a crop; t50_days_without_clearance leaves out what was stripped.
    peak_on: the middle of the 7 days (peak_from to peak_to) of the largest mean rate, peak_per_day; where
    neighbouring windows tie, of the first such plateau. widest_gap_days: the longest time between pickings or looks
    that touches them.
    """
    found = [SCHEMA.empty_table()]
    for first, last in connection.execute(_BUCKETS, [_BUCKET]).fetchall():
        connection.execute("SET VARIABLE first_number = ?", [first])
        connection.execute("SET VARIABLE last_number = ?", [last])
        found += map(_dates, _whole_curves(connection.sql(sql).to_arrow_reader()))
    return pa.concat_tables(found)


def _whole_curves(entries: pa.RecordBatchReader) -> Iterator[pa.Table]:
    """The entries some at a time, those of a curve together."""
    waiting = entries.schema.empty_table()
    for batch in entries:
        waiting = pa.concat_tables([waiting, pa.Table.from_batches([batch])])
        if waiting.num_rows >= _TOGETHER:
            last = int(_firsts(waiting)[-1])
            yield waiting.slice(0, last)
            waiting = waiting.slice(last)
    yield waiting


def _firsts(entries: pa.Table) -> Numbers:
    """The place of the first entry of each curve."""
    numbers, seasons = entries["number"].to_numpy(), entries["season"].to_numpy()
    changes = (numbers[1:] != numbers[:-1]) | (seasons[1:] != seasons[:-1])
    return np.flatnonzero(np.concatenate([[len(numbers) > 0], changes]))


@attrs.frozen
class _Curves:
    """Some curves in segments, from entry to entry: the place of the first and last of each, and of each segment its
    curve, days, whether it ends in a crop, and in one but for clearance, and the crop at both ends, all and without
    clearance; not a number where it has no measure."""

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
    def of(cls, entries: pa.Table) -> _Curves:
        """The curves of some entries."""
        firsts = _firsts(entries)
        ends = np.append(firsts[1:], entries.num_rows)
        curve = np.repeat(np.arange(len(firsts)), ends - firsts)
        on, opens_on = (entries[name].cast(pa.int32()).to_numpy().astype(np.int64) for name in ("on", "opens_on"))
        from_day = np.concatenate([on[:1], on[:-1]])
        from_day[firsts] = opens_on[firsts]
        cropped, picked = (entries[name].to_numpy(zero_copy_only=False) for name in ("cropped", "picked"))
        amount, steady = (entries[name].to_numpy(zero_copy_only=False) for name in ("amount", "steady"))
        sums = (*_added(amount, firsts, curve), *_added(steady, firsts, curve))
        return cls(firsts, ends - 1, curve, from_day, on, cropped, picked, *sums)


def _added(amounts: Amounts, firsts: Numbers, curve: Numbers) -> tuple[Amounts, Amounts]:
    """The sum of each curve before and after each of its entries, added one after another in all curves at once."""
    before, after = np.zeros(len(amounts)), amounts.copy()
    place = np.arange(len(amounts)) - firsts[curve]
    in_turn = np.argsort(place, kind="stable")
    for entries in np.split(in_turn, np.cumsum(np.bincount(place)))[1:-1]:
        before[entries] = after[entries - 1]
        after[entries] += before[entries]
    before[np.isnan(after)] = np.nan
    return before, after


def _dates(entries: pa.Table) -> pa.Table:
    if not entries.num_rows:
        return SCHEMA.empty_table()
    curves = _Curves.of(entries)
    named = entries.select(["number", "season"]).take(curves.firsts)
    crop, first_middle, last_middle = _plateaus(curves)
    none = ~(crop > 0)
    columns = [
        named["number"], named["season"],
        *(pa.array(np.add.reduceat(days.astype(np.int64), curves.firsts)) for days in (curves.cropped, curves.picked)),
        *_ends_of_picking(curves), _days(curves.from_day[curves.firsts]),
        *(_reached(curves, share, curves.cumulative_from, curves.cumulative_to) for share in SHARES.values()),
        _reached(curves, 0.5, curves.steady_from, curves.steady_to),
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
    begins = curves.from_day[curves.firsts]
    before, after = (np.nan_to_num(steady) for steady in (curves.steady_from, curves.steady_to))
    # the crop at the end of every day, from a week before the curve begins to a week after it ends
    sizes = curves.to_day[curves.lasts] - begins + 1 + 2 * _WEEK
    starts = np.cumsum(sizes) - sizes
    steady = np.repeat(after[curves.lasts], sizes)
    steady[_runs(starts, np.full(len(starts), _WEEK + 1))] = np.repeat(before[curves.firsts], _WEEK + 1)
    lengths = curves.to_day - curves.from_day
    into = _runs(np.ones(len(lengths), np.int64), lengths)
    at = np.repeat(starts[curves.curve] + _WEEK + curves.from_day - begins[curves.curve], lengths) + into
    steady[at] = np.repeat(before, lengths) + np.repeat(after - before, lengths) * into / np.repeat(lengths, lengths)
    windows = np.full(len(steady), -1.0)
    windows[:-_WEEK] = steady[_WEEK:] - steady[:-_WEEK]
    # a window must not reach into the next curve
    windows[_runs(starts + sizes - _WEEK, np.full(len(starts), _WEEK))] = -1.0
    crop = np.maximum.reduceat(windows, starts)
    first, last = _first_runs(windows >= _TIE * np.repeat(crop, sizes), starts)
    middles = begins - starts - _WEEK + 4
    return crop, middles + first, middles + last


def _runs(starts: Numbers, lengths: Numbers) -> Numbers:
    """The numbers from each start on, as many as its length, one run after another."""
    ends = np.cumsum(lengths)
    return np.asarray(np.arange(ends[-1] if len(ends) else 0) + np.repeat(starts - (ends - lengths), lengths))


def _first_runs(best: Flags, starts: Numbers) -> tuple[Numbers, Numbers]:
    """The first and last place of the first run of best places in each stretch; every stretch has one."""
    places = np.flatnonzero(best)
    breaks = np.flatnonzero(np.diff(places) > 1)
    first = np.searchsorted(places, starts)
    last = np.append(breaks, len(places) - 1)[np.searchsorted(breaks, first)]
    return np.asarray(places[first]), np.asarray(places[last])


def _widest_gaps(curves: _Curves, first_middle: Numbers, last_middle: Numbers) -> Numbers:
    """Of each curve the longest segment that touches the windows of its plateau."""
    touching = (curves.to_day > first_middle[curves.curve] - 4) & (curves.from_day < last_middle[curves.curve] + 3)
    gaps = np.where(touching, curves.to_day - curves.from_day, 0)
    return np.asarray(np.maximum.reduceat(gaps, curves.firsts))
