"""Every shown view equals the slow plain-Python oracle, on gardens drawn at random and on the invented demo garden."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings

from perennia.queries import catalogue
from perennia.records.base import Record
from perennia.store.schemas import PARTITIONED, from_rows
from perennia.store.snapshot import read_snapshot, read_table
from tests.demo_gardens import demo_garden
from tests.lives import cropping_gardens, gardens
from tests.oracle.differences import first_difference
from tests.oracle.summary import views
from tests.queries.built_views import built, rows_of, with_ids


def _equal(found: dict[str, list[dict[str, Any]]], expected: dict[str, list[dict[str, Any]]]) -> None:
    for name, query in catalogue.shown().items():
        difference = first_difference(name, found[name], expected[name], query.grain)
        assert difference is None, difference


# few and large gardens: to make the views takes most of the time, however many plants there are
FEWER = settings(
    max_examples=settings.default.max_examples // 2,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@FEWER
@given(gardens(labels=9, bursts=16))
def test_views_of_any_garden(records: list[Record]) -> None:
    _views_equal_oracle(records)


@FEWER
@given(cropping_gardens(labels=7))
def test_views_of_plants_that_crop_for_long(records: list[Record]) -> None:
    _views_equal_oracle(records)


def _views_equal_oracle(records: list[Record]) -> None:
    book = with_ids(records)
    with built(book) as connection:
        found = {name: rows_of(connection, name) for name in catalogue.shown()}
    _equal(found, views(book))


def test_views_of_a_real_garden(tmp_path: Path) -> None:
    garden = demo_garden(tmp_path / "garden")
    found = {name: garden.sql(f"select * from {name}", as_="arrow").to_pylist() for name in catalogue.shown()}
    _equal(found, views(_records_of(tmp_path / "garden")))


def _records_of(root: Path) -> list[tuple[bytes, Record]]:
    snapshot = read_snapshot(root)
    records: list[tuple[bytes, Record]] = []
    for table in ("sites", "beds", *sorted(PARTITIONED)):
        rows: dict[bytes, list[dict[str, Any]]] = defaultdict(list)
        for row in read_table(snapshot, table).to_pylist():
            rows[row["record_id"]].append(row)
        records += [(identity, from_rows(share_rows)) for identity, share_rows in rows.items()]
    return records
