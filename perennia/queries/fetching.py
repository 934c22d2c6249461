"""What a garden hands out as it is: the rows of one view, and the entries of some plants' lives."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import duckdb
import pyarrow as pa

from perennia.errors import UnknownLabelError
from perennia.queries.catalogue import Query

_LIVES_OF = (
    "select label, plant from plants where label in (select unnest($names)) or plant in (select unnest($names)) "
    "order by life"
)
_ENTRIES_OF = (
    'select "on", on_from, on_to, season, season_name, "table", event, what, state, inferred, plant, record_id '
    "from inside.entries "
    "join (select unnest($plants) as plant, generate_subscripts($plants, 1) as place) as wanted using (plant) "
    # a condition reaches the rows of every kind of entry, which a join does not
    "where list_contains($plants, plant) "
    'order by wanted.place, "on", tie, "table", record_id'
)


def view_rows(view: Query, labels: Sequence[str] | None, years: Sequence[int] | None) -> tuple[str, list[Any]]:
    """A query for the rows of a view, all or those of some labels or plants and years, and its parameters.

    Raises UnknownLabelError for a choice that the view has no column for.
    """
    conditions: list[str] = []
    params: list[Any] = []
    if labels is not None:
        named = [column for column in ("label", "plant") if column in view.columns]
        if not named:
            raise UnknownLabelError(f"{view.name} has no labels; leave labels out")
        conditions.append("(" + " or ".join(f"{column} in (select unnest(?))" for column in named) + ")")
        params += [labels] * len(named)
    if years is not None:
        column = next((name for name in ("season", "on_to", '"on"') if name.strip('"') in view.columns), None)
        if column is None:
            raise UnknownLabelError(f"{view.name} has no dates; leave years out")
        conditions.append(f"{column if column == 'season' else f'year({column})'} in (select unnest(?))")
        params.append(years)
    where = f" where {' and '.join(conditions)}" if conditions else ""
    return f"select * from {view.name}{where} order by all", params


def lives_of(connection: duckdb.DuckDBPyConnection, names: Sequence[str]) -> dict[str, str]:
    """The plant meant by each of the names that is known: the latest of a label, or the one that has it as address."""
    found = connection.execute(_LIVES_OF, {"names": names}).fetchall()
    return {plant: plant for _, plant in found} | dict(found)


def entries_of(connection: duckdb.DuckDBPyConnection, plants: Sequence[str]) -> pa.Table:
    """The entries of some plants, one after the other, oldest first; once of a plant that is named twice."""
    return connection.sql(_ENTRIES_OF, params={"plants": list(dict.fromkeys(plants))}).to_arrow_table()
