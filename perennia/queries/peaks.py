"""The 7 days of the largest mean rate of each curve, found by trying every window, many curves in one go.

In SQL every window is a row of its own, which took thirty times as long and a hundred times the memory (measured on 10
million pickings).
"""

from __future__ import annotations

from collections.abc import Iterator

import attrs
import numpy as np
import numpy.typing as npt
import pyarrow as pa

Numbers = npt.NDArray[np.int64]
Amounts = npt.NDArray[np.float64]
SCHEMA = pa.schema([
    ("number", pa.int32()), ("season", pa.int32()), ("peak_on", pa.date32()), ("peak_from", pa.date32()),
    ("peak_to", pa.date32()), ("peak_per_day", pa.float64()), ("widest_gap_days", pa.int64()),
])  # fmt: skip
_WEEK = 7
# sums of weights differ in their last bits: windows so close to the largest are as large
_TIE = 1 - 1e-9
# so many stretches of curves are looked at in one go: their days fit in some 50 MB
_TOGETHER = 50_000


def peaks(segments: pa.RecordBatchReader) -> pa.Table:
    """One row is one plant, by its number, and season with a crop: the middle of its 7 days of the largest mean rate, these days, the
    rate, and the widest gap between pickings or looks that touches them.

    segments: number, season, from_day, to_day, steady_from, steady_to of curve_segments, by number, season and day. Where
    several neighbouring windows tie, the middle of the first such plateau is taken.
    """
    return pa.concat_tables([SCHEMA.empty_table(), *map(_peaks, _whole_curves(segments))])


def _whole_curves(segments: pa.RecordBatchReader) -> Iterator[pa.Table]:
    """The segments some at a time, those of a curve together."""
    waiting = segments.schema.empty_table()
    for batch in segments:
        waiting = pa.concat_tables([waiting, pa.Table.from_batches([batch])])
        if waiting.num_rows >= _TOGETHER:
            last = int(_firsts(waiting)[-1])
            yield waiting.slice(0, last)
            waiting = waiting.slice(last)
    yield waiting


def _firsts(segments: pa.Table) -> Numbers:
    """The place of the first segment of each curve."""
    numbers, seasons = segments["number"].to_numpy(), segments["season"].to_numpy()
    changes = (numbers[1:] != numbers[:-1]) | (seasons[1:] != seasons[:-1])
    return np.flatnonzero(np.concatenate([[len(numbers) > 0], changes]))


@attrs.frozen
class _Curves:
    """Some curves: the place of the first segment of each, and of each segment its curve, days and rising crop."""

    firsts: Numbers
    curve: Numbers
    from_day: Numbers
    to_day: Numbers
    steady_from: Amounts
    steady_to: Amounts

    @classmethod
    def of(cls, segments: pa.Table) -> _Curves:
        """The curves of a table of segments."""
        firsts = _firsts(segments)
        curve = np.repeat(np.arange(len(firsts)), np.diff(np.append(firsts, segments.num_rows)))
        begins, ends = (segments[name].cast(pa.int32()).to_numpy().astype(np.int64) for name in ("from_day", "to_day"))
        return cls(firsts, curve, begins, ends, segments["steady_from"].to_numpy(), segments["steady_to"].to_numpy())


def _peaks(segments: pa.Table) -> pa.Table:
    if not segments.num_rows:
        return SCHEMA.empty_table()
    curves = _Curves.of(segments)
    crop, first_middle, last_middle = _plateaus(curves)
    shown = np.flatnonzero(crop > 0)
    days = {
        "peak_on": first_middle + (last_middle - first_middle) // 2,
        "peak_from": first_middle - 3,
        "peak_to": last_middle + 3,
    }
    named = segments.select(["number", "season"]).take(curves.firsts[shown])
    columns = [
        named["number"], named["season"], *(pa.array(day[shown].astype(np.int32)).cast(pa.date32()) for day in
                                           days.values()),
        pa.array(crop[shown] / _WEEK), pa.array(_widest_gaps(curves, first_middle, last_middle)[shown]),
    ]  # fmt: skip
    return pa.table(columns, schema=SCHEMA)


def _plateaus(curves: _Curves) -> tuple[Amounts, Numbers, Numbers]:
    """Of each curve the crop of its best 7 days, and the first and last middle of the first windows that have it."""
    begins = curves.from_day[curves.firsts]
    lasts = np.append(curves.firsts[1:], len(curves.curve)) - 1
    # the crop at the end of every day, from a week before the curve begins to a week after it ends
    sizes = curves.to_day[lasts] - begins + 1 + 2 * _WEEK
    starts = np.cumsum(sizes) - sizes
    steady = np.repeat(curves.steady_to[lasts], sizes)
    steady[_runs(starts, np.full(len(starts), _WEEK + 1))] = np.repeat(curves.steady_from[curves.firsts], _WEEK + 1)
    lengths = curves.to_day - curves.from_day
    into = _runs(np.ones(len(lengths), np.int64), lengths)
    at = np.repeat(starts[curves.curve] + _WEEK + curves.from_day - begins[curves.curve], lengths) + into
    rise = np.repeat(curves.steady_to - curves.steady_from, lengths)
    steady[at] = np.repeat(curves.steady_from, lengths) + rise * into / np.repeat(lengths, lengths)
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
    return np.arange(ends[-1] if len(ends) else 0) + np.repeat(starts - (ends - lengths), lengths)


def _first_runs(best: npt.NDArray[np.bool_], starts: Numbers) -> tuple[Numbers, Numbers]:
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
