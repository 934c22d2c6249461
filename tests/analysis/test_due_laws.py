"""Laws of what is due: any garden on any day is answered, the dead are left in peace, and the future is not seen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from perennia.analysis import due
from perennia.analysis.causes.due.matters import KINDS, STANDINGS, Matter, ordered
from perennia.records.base import Record
from perennia.records.flowering import FlowerFate
from perennia.records.harvest import BooksKept
from perennia.records.life import Died, Removed, Sown
from perennia.records.places import Bed, Site
from perennia.records.spans import Span
from tests.analysis.built_source import source_over
from tests.lives import FIRST, LAST, gardens
from tests.oracle.book import read
from tests.oracle.lives import plants
from tests.queries.built_views import with_ids

DAYS = st.dates(FIRST - timedelta(days=30), LAST + timedelta(days=400))


def test_beds_stand_in_the_order_in_which_they_are_numbered() -> None:
    beds = ("bed 10", "bed 2", "bed 1")
    matters = [Matter(kind="watering", why="dry", do="water", site="home", place=bed) for bed in beds]
    assert [matter.place for matter in ordered(matters, LAST)] == ["bed 1", "bed 2", "bed 10"]


@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(gardens(labels=3, acts=7, bursts=4), DAYS)
def test_any_garden_on_any_day(records: list[Record], day: date) -> None:
    with source_over(records) as source:
        found = due(source, day)
    seen = [record for record in records if _seen(record, day)]
    table = found.table
    assert list(table["urgency"]) == list(range(1, found.n + 1))
    standings = [STANDINGS.index(name) for name in table["standing"]]
    assert standings == sorted(standings)
    assert set(table["kind"]) <= set(KINDS)
    assert len(found.findings) == max(found.n, 1)
    living = {life.label for life in plants(read(with_ids(seen))) if life.ended is None}
    named = {label for text in table["labels"].dropna() for label in text.split(", ")}
    assert named <= living
    assert not named & _dead_for_good(records, day)
    with source_over(seen) as source:
        again = due(source, day)
    assert again.table.equals(table)
    assert (again.findings, again.cautions) == (found.findings, found.cautions)


def _first_day(record: Record) -> date | None:
    """The first day a record can speak of, None for a place."""
    spoken: Any = record
    if isinstance(record, Site | Bed):
        return None
    if isinstance(record, FlowerFate):
        return min(day for day in (record.opened_on, record.set_on, record.ended_on) if day is not None)
    if isinstance(record, BooksKept):
        return record.since
    on = spoken.on
    return (on.start or date.min) if isinstance(on, Span) else on  # type: ignore[no-any-return]


def _seen(record: Record, day: date) -> bool:
    first = _first_day(record)
    return first is None or first <= day


def _dead_for_good(records: Sequence[Record], day: date) -> set[str]:
    """Labels under which something ended by the day, and nothing of their life is recorded after that."""
    ends: dict[str, date] = {}
    last: dict[str, date] = {}
    for record in records:
        spoken: Any = record
        label = getattr(record, "label", None)
        if label is None or record.table != "life":
            continue
        last[label] = max(last.get(label, date.min), spoken.on.end)
        if isinstance(record, Died | Removed) and spoken.on.end <= day:
            ends[label] = max(ends.get(label, date.min), spoken.on.end)
    daughters = {name for record in records for name in getattr(record, "into", None) or ()}
    return {label for label, end in ends.items() if end == last[label]} - daughters


def test_a_flower_ends_only_when_its_end_was_seen() -> None:
    """A record that goes on over the day is seen as far as it had come."""
    bed = [Site("plot", latitude=48.0), Bed("B1", "plot")]
    life = [Sown("A1", date(2023, 5, 1), crop="Phaseolus coccineus", bed="B1")]
    seen = {"opened_on": date(2023, 7, 10), "ended_on": date(2023, 8, 20)}
    fate = FlowerFate("A1", truss="1", position=1, **seen, end="picked")
    with source_over([*bed, *life, fate]) as source:
        during, after = due(source, "2023-07-20"), due(source, "2023-08-25")
    assert "1 flower without an end" in during.findings[0]
    assert "trusses" not in set(after.table["kind"])

