"""Which days a table of daily weather leaves out, in words; nothing is filled in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.words import counted
from perennia.errors import IntakeError
from perennia.records.catalogue import rules_of
from perennia.records.weather import Weather

_DAY_0 = date(1970, 1, 1)
_PLACES = ("site", "bed")
# every number of a day's weather but what any record may carry
MEASURES = [
    name for name, rule in rules_of(Weather).items() if rule.kind == "number" and name not in ("minutes", "cost")
]

_Days = npt.NDArray[np.int64]


def weather_gaps(table: pa.Table) -> tuple[str, ...]:
    """What is missing from each place's weather, from its first to its last day; nothing where nothing is missing.

    table: one row a day at a site or in a bed; columns on (date32), site and bed as text (either may be absent or
    missing), and any of t_min_c, t_max_c, rain_mm, rh_pct, wind_m_s, solar_mj_m2. One sentence a place with days that
    have no row, then one for the measures that some of its days have and the same others, which have a row, have not;
    each with the number of days and the longest gap, so that no gap is told twice. Raises IntakeError for a table
    without days, or with a row that has no day or no place.
    """
    sentences: list[str] = []
    for place, rows in _places(table):
        on = rows["on"].cast(pa.int32()).to_numpy().astype(np.int64)
        first, last = int(on.min()), int(on.max())
        none = np.setdiff1d(np.arange(first, last + 1), on)
        sentences += _sentence(place, f"of the {_span(first, last)}", "have no row", none)
        lacking: dict[bytes, list[str]] = {}
        for measure in MEASURES:
            if measure in rows.column_names:
                given = pc.invert(pc.is_null(rows[measure], nan_is_null=True)).to_numpy()
                if given.any():
                    lacking.setdefault(np.setdiff1d(on, on[given]).tobytes(), []).append(measure)
        for days, measures in lacking.items():
            of = f"of the {counted(np.unique(on).size, 'day')} with a row"
            sentences += _sentence(place, of, f"have no {_and(measures)}", np.frombuffer(days, np.int64))
    return tuple(sentences)


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _sentence(place: str, of: str, what: str, missing: _Days) -> Iterator[str]:
    """One sentence on the days that are missing, in order, if there are any."""
    if not missing.size:
        return
    runs = np.split(missing, np.flatnonzero(np.diff(missing) > 1) + 1)
    longest = max(runs, key=len)
    gap = _span(int(longest[0]), int(longest[-1]))
    yield f"{place}: {missing.size} {of} {what}; the longest gap is {gap}"


def _span(first: int, last: int) -> str:
    start, end = _DAY_0 + timedelta(days=first), _DAY_0 + timedelta(days=last)
    return f"1 day, {start}" if first == last else f"{last - first + 1} days from {start} to {end}"


def _places(table: pa.Table) -> Iterator[tuple[str, pa.Table]]:
    """The rows of each place, sites before beds, by name."""
    if "on" not in table.column_names or table["on"].type != pa.date32():
        raise IntakeError("the weather has no column on of days (date32); name the column that holds the day")
    if table["on"].null_count:
        raise IntakeError(f"the weather has {counted(table['on'].null_count, 'row')} without a day; give each its day")
    names = [name for name in _PLACES if name in table.column_names]
    nowhere = np.ones(table.num_rows, bool)
    for name in names:
        nowhere &= table[name].is_null().to_numpy()
    if nowhere.any():
        raise IntakeError(f"the weather has {counted(int(nowhere.sum()), 'row')} without a site or bed; give each one")
    for name in names:
        rows = table.filter(pc.is_valid(table[name])).sort_by(name)
        ends = pc.run_end_encode(rows[name].combine_chunks())
        start = 0
        for place, end in zip(ends.values.to_pylist(), ends.run_ends.to_pylist(), strict=True):
            yield f"{name} {place}", rows.slice(start, end - start)
            start = end
