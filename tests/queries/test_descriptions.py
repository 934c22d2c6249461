"""What the head comments say of the relations is so: columns in order, what tells rows apart, what each reads."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import duckdb
import pytest
from hypothesis import HealthCheck, given, settings

from perennia.garden import Garden
from perennia.queries import catalogue
from perennia.records.base import Record
from perennia.records.care import Allotted
from tests.demo_gardens import demo_garden
from tests.lives import gardens
from tests.queries.built_views import built, with_ids

SHOWN = catalogue.shown()
# of all garden views a grower may ask
EXPECTED = {
    "plants", "life", "harvest", "flowering", "care", "weather", "seed", "plant_seasons", "season_totals",
    "season_summary", "season_curves", "season_efforts", "degree_days", "sites", "beds", "open_questions",
    "parentage", "root_winters", "standing", "trial_arms",
}  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garden]:
    """The invented garden, read from its CSVs, and a plant of it allotted in a trial, of which it has none."""
    with demo_garden(tmp_path_factory.mktemp("demo") / "garden") as garden:
        garden.record(Allotted("R1", "2023-05-01", trial="spacing", arm="wide", block="1", by_lot=True))
        yield garden


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garden]:
    """A garden in which nothing is recorded."""
    with Garden.create(tmp_path_factory.mktemp("empty") / "garden") as garden:
        yield garden


def test_views_shown() -> None:
    assert set(SHOWN) == EXPECTED


@pytest.mark.parametrize("view", SHOWN)
def test_described_columns_are_the_columns(view: str, demo: Garden, empty: Garden) -> None:
    full, none = (garden.sql(f"select * from {view}", as_="arrow") for garden in (demo, empty))
    assert list(SHOWN[view].columns) == full.column_names == none.column_names
    assert all(SHOWN[view].columns.values()), "a column's description is empty"
    assert full.num_rows > 0
    assert none.num_rows == 0
    assert none.schema == full.schema, "an empty view has other types"


@pytest.mark.parametrize("view", SHOWN)
def test_grain_tells_the_demo_rows_apart(view: str, demo: Garden) -> None:
    columns = ", ".join(f'"{column}"' for column in SHOWN[view].grain)
    assert columns
    repeated = demo.sql(f"select {columns}, count(*) as rows from {view} group by all having count(*) > 1")
    assert repeated.empty, repeated


@settings(max_examples=10, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(gardens())
def test_grain_tells_any_rows_apart(records: list[Record]) -> None:
    with built(with_ids(records)) as connection:
        for view, query in SHOWN.items():
            columns = ", ".join(f'"{column}"' for column in query.grain)
            repeated = f"SELECT {columns}, count(*) FROM {view} GROUP BY ALL HAVING count(*) > 1"
            assert connection.execute(repeated).fetchall() == [], view


@pytest.mark.parametrize("name", catalogue.queries())
def test_declared_needs_are_the_relations_named(name: str) -> None:
    query = catalogue.queries()[name]
    tree = json.loads(duckdb.execute("SELECT json_serialize_sql(?)", [query.sql]).fetchall()[0][0])
    assert not tree["error"], tree
    named = set(_relations(tree, frozenset()))
    assert sorted(named) == sorted(query.needs)
    assert len(query.needs) == len(set(query.needs))


def _relations(node: Any, ctes: frozenset[str]) -> Iterator[str]:
    """Relations a parsed query reads that are none of its own CTEs; shown ones are named plainly, others inside."""
    if isinstance(node, list):
        for item in node:
            yield from _relations(item, ctes)
    elif isinstance(node, dict):
        own = [entry["key"] for entry in node.get("cte_map", {}).get("map", [])]
        ctes = ctes | frozenset(own) | ({node["cte_name"]} if "cte_name" in node else frozenset())
        if node.get("type") == "BASE_TABLE" and node["schema_name"] != "recurring":
            name = node["table_name"]
            if node["schema_name"] == "inside":
                assert name not in SHOWN, f"{name} is a shown view and made outside the schema inside"
                yield name
            elif name not in ctes:
                assert name in SHOWN, f"{name} is no view"
                yield name
        for value in node.values():
            yield from _relations(value, ctes)
