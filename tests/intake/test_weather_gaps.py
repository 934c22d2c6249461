"""The gaps of a table of daily weather: counted and named, against a plain loop over every day."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from itertools import groupby

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.errors import IntakeError
from perennia.intake.weather_gaps import weather_gaps

FIRST = date(2023, 1, 1)
MEASURES = ("t_min_c", "t_max_c", "rain_mm", "rh_pct", "wind_m_s", "solar_mj_m2")


def day(n: int) -> date:
    return FIRST + timedelta(days=n)


def table(days: list[int], **columns: list[object]) -> pa.Table:
    kinds = {name: pa.string() if name in ("site", "bed") else pa.float64() for name in columns}
    return pa.table(
        {
            "on": pa.array([day(n) for n in days], pa.date32()),
            **{name: pa.array(values, kinds[name]) for name, values in columns.items()},
        }
    )


def test_days_without_a_row_and_without_a_measure_are_counted() -> None:
    weather = table([9, 0, 4], site=["Hill"] * 3, rain_mm=[None, 1.0, 0.0], t_max_c=[20.0, 21.0, 22.0])
    assert weather_gaps(weather) == (
        "site Hill: 7 of the 10 days from 2023-01-01 to 2023-01-10 have no row; "
        "the longest gap is 4 days from 2023-01-06 to 2023-01-09",
        "site Hill: 1 of the 3 days with a row have no rain_mm; the longest gap is 1 day, 2023-01-10",
    )


def test_a_gap_is_told_once_for_all_that_it_lacks() -> None:
    weather = table(
        [0, 1, 2, 5], site=["Hill"] * 4, t_min_c=[1.0, None, None, 2.0], t_max_c=[9.0, None, None, 8.0],
        rain_mm=[0.0] * 4, rh_pct=[None, 80.0, 70.0, 70.0],
    )  # fmt: skip
    assert weather_gaps(weather) == (
        "site Hill: 2 of the 6 days from 2023-01-01 to 2023-01-06 have no row; "
        "the longest gap is 2 days from 2023-01-04 to 2023-01-05",
        "site Hill: 2 of the 4 days with a row have no t_min_c and t_max_c; "
        "the longest gap is 2 days from 2023-01-02 to 2023-01-03",
        "site Hill: 1 of the 4 days with a row have no rh_pct; the longest gap is 1 day, 2023-01-01",
    )


def test_nothing_is_said_where_nothing_is_missing() -> None:
    assert weather_gaps(table([0, 1, 2], site=["Hill"] * 3, rain_mm=[0.0, 1.0, 2.0])) == ()
    assert weather_gaps(table([5], site=["Hill"], rain_mm=[0.0], rh_pct=[None])) == ()
    assert weather_gaps(table([], site=[], rain_mm=[])) == ()


def test_a_measure_that_no_day_has_is_no_gap() -> None:
    weather = table([0, 1], site=["Hill", "Hill"], rain_mm=[0.0, 1.0], wind_m_s=[None, None])
    assert weather_gaps(weather) == ()


def test_the_first_days_without_a_measure_are_a_gap_and_one_day_is_said_as_one() -> None:
    weather = table([0, 1, 2], site=["Hill"] * 3, rh_pct=[None, 80.0, 70.0])
    (sentence,) = weather_gaps(weather)
    assert sentence.endswith(
        "1 of the 3 days with a row have no rh_pct; the longest gap is 1 day, 2023-01-01"
    )


def test_a_day_twice_counts_once_and_has_what_either_row_has() -> None:
    weather = table([0, 1, 1, 2], site=["Hill"] * 4, rain_mm=[0.0, None, 1.0, 2.0])
    assert weather_gaps(weather) == ()


def test_every_place_has_its_own_days_sites_before_beds() -> None:
    weather = table([0, 2, 5, 6, 9, 8], site=[None, None, "B", "A", "B", "A"], bed=["T", "T", None, None, None, None])
    assert [sentence.split(" have")[0] for sentence in weather_gaps(weather)] == [
        "site A: 1 of the 3 days from 2023-01-07 to 2023-01-09",
        "site B: 3 of the 5 days from 2023-01-06 to 2023-01-10",
        "bed T: 1 of the 3 days from 2023-01-01 to 2023-01-03",
    ]


@pytest.mark.parametrize(
    ("weather", "message"),
    [
        (pa.table({"site": ["Hill"]}), "has no column on of days"),
        (pa.table({"site": ["Hill"], "on": ["2023-01-01"]}), "has no column on of days"),
        (table([0, 1], site=["Hill", None]), "has 1 row without a site or bed"),
        (table([0, 1], site=["Hill", None], bed=[None, None]), "has 1 row without a site or bed"),
        (table([0, 1]), "has 2 rows without a site or bed"),
        (pa.table({"site": ["Hill"], "on": pa.array([None], pa.date32())}), "has 1 row without a day"),
    ],
)
def test_a_row_without_day_or_place_is_told(weather: pa.Table, message: str) -> None:
    with pytest.raises(IntakeError, match=message):
        weather_gaps(weather)


ROW = st.tuples(
    st.sampled_from(["A", "B"]),
    st.integers(0, 25),
    st.fixed_dictionaries({name: st.one_of(st.none(), st.just(1.0), st.just(float("nan"))) for name in MEASURES}),
)


@given(rows=st.lists(ROW, min_size=1, max_size=20), chunks=st.integers(1, 3))
def test_the_sentences_are_those_of_a_plain_loop(
    rows: list[tuple[str, int, dict[str, float | None]]], chunks: int
) -> None:
    measures: dict[str, list[object]] = {name: [row[2][name] for row in rows] for name in MEASURES}
    whole = table([row[1] for row in rows], site=[row[0] for row in rows], **measures)
    size = -(-len(rows) // chunks)
    weather = pa.concat_tables([whole.slice(start, size) for start in range(0, len(rows), size)])
    wanted: list[str] = []
    for site in sorted({row[0] for row in rows}):
        mine = [row for row in rows if row[0] == site]
        span = range(min(row[1] for row in mine), max(row[1] for row in mine) + 1)
        days = {row[1] for row in mine}
        wanted += said(site, set(span) - days, f"{len(span)} days from {day(span[0])} to {day(span[-1])}", "row")
        alike: dict[frozenset[int], list[str]] = {}
        for name in MEASURES:
            # a NaN is unlike itself
            have = {row[1] for row in mine if row[2][name] is not None and row[2][name] == row[2][name]}
            if have:
                alike.setdefault(frozenset(days - have), []).append(name)
        for without, names in alike.items():
            of = "1 day with a row" if len(days) == 1 else f"{len(days)} days with a row"
            wanted += said(site, without, of, " and ".join([", ".join(names[:-1])] * (len(names) > 1) + names[-1:]))
    assert weather_gaps(weather) == tuple(wanted)


def said(site: str, missing: Collection[int], of: str, what: str) -> list[str]:
    if not missing:
        return []
    runs = [[n for _, n in run] for _, run in groupby(enumerate(sorted(missing)), key=lambda one: one[1] - one[0])]
    longest = max(runs, key=len)
    gap = (
        f"1 day, {day(longest[0])}"
        if len(longest) == 1
        else f"{len(longest)} days from {day(longest[0])} to {day(longest[-1])}"
    )
    return [f"site {site}: {len(missing)} of the {of} have no {what}; the longest gap is {gap}"]
