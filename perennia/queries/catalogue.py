"""Reads the .sql files and their head comments; the build order follows from the needs they declare."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from functools import cache
from graphlib import TopologicalSorter
from importlib import resources

import attrs

from perennia.errors import StoreError

_KEYS = ("one row is", "grain", "needs", "kept", "worked out by", "beside the books", "shown")


@attrs.frozen
class Query:
    """One relation: its SQL, what one row is, its grain (columns that tell rows apart), the relations it needs,
    whether it is kept as a table, by what its rows are worked out from those of the SQL (if by anything), how it is
    kept beside the books of a large garden (whole, by label or, when empty, not), whether growers see it, and each
    shown column's description."""

    name: str
    sql: str
    row: str
    grain: tuple[str, ...]
    needs: tuple[str, ...]
    kept: bool
    worked_out_by: str
    beside_books: str
    shown: bool
    columns: dict[str, str]

    @property
    def qualified(self) -> str:
        """The name under which the relation is made: shown ones plainly, all others inside."""
        return f'main."{self.name}"' if self.shown else f'inside."{self.name}"'


@cache
def queries() -> dict[str, Query]:
    """Every relation by name."""
    folder = resources.files("perennia.queries")
    files = [entry for entry in folder.iterdir() if entry.name.endswith(".sql")]
    return {query.name: query for query in map(_read, sorted(files, key=lambda entry: entry.name))}


def shown() -> dict[str, Query]:
    """The relations a grower may ask, by name."""
    return {name: query for name, query in queries().items() if query.shown}


def in_order(wanted: Collection[str], built: Collection[str] = ()) -> Iterator[Query]:
    """The wanted relations and all they need, each after its needs, without those built and what only these need. Names
    without a .sql file are base tables."""
    known = {name: query for name, query in queries().items() if name not in built}
    graph: dict[str, tuple[str, ...]] = {}
    pending = [name for name in wanted if name in known]
    while pending:
        name = pending.pop()
        if name not in graph:
            graph[name] = tuple(need for need in known[name].needs if need in known)
            pending.extend(graph[name])
    return (known[name] for name in TopologicalSorter(graph).static_order())


def _read(entry: resources.abc.Traversable) -> Query:
    sql = entry.read_text(encoding="utf-8")
    head = dict.fromkeys(_KEYS, "")
    columns: dict[str, str] = {}
    for line in sql.splitlines():
        if not line.startswith("-- "):
            break
        key, colon, value = line[3:].partition(": ")
        if not colon:
            continue
        if key in head:
            # a long list goes on under the same word
            head[key] = f"{head[key]}, {value.strip()}" if head[key] else value.strip()
        elif head["shown"]:
            columns[key] = value.strip()
    if not head["one row is"] or head["kept"] not in ("table", "view"):
        raise StoreError(f"{entry.name} lacks its head comment; perennia is not whole, install it again")
    return Query(
        name=entry.name.removesuffix(".sql"),
        sql=sql,
        row=head["one row is"],
        grain=_names(head["grain"]),
        needs=_names(head["needs"]),
        kept=head["kept"] == "table",
        worked_out_by=head["worked out by"],
        beside_books=head["beside the books"],
        shown=head["shown"] == "yes",
        columns=columns,
    )


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())
