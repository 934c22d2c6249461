"""Which candidate rows are new: ids given, looked up, and held against what is stored under them."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from perennia.errors import Problem, RefusedError, UnknownLabelError
from perennia.store.identity import POSITION, content_hash, uuid7
from perennia.store.old_rows import from_json
from perennia.store.schemas import PARTITIONED, TABLES

_NAMED = {"sites": "site", "beds": "bed"}
Files = Mapping[str, Sequence[str]]


def identified(tables: Mapping[str, pa.Table], *, by_name: bool = True) -> dict[str, pa.Table]:
    """Candidate rows with record_id and content filled in.

    A record without an id gets a UUIDv7; a site or bed the hash of its name, so that naming it twice is no second one.
    by_name=False gives these a UUIDv7 too: one that replaces another of its name must not have the id taken back.
    """
    return {name: _identified(name, table, by_name) for name, table in tables.items() if table.num_rows}


def _identified(name: str, table: pa.Table, by_name: bool) -> pa.Table:
    if table["record_id"].null_count:
        given: dict[int, bytes] = {}
        ids = []
        for position, place_name, known in zip(
            table[POSITION].to_pylist(),
            table["name"].to_pylist() if by_name and name in _NAMED else [None] * table.num_rows,
            table["record_id"].to_pylist(), strict=True,
        ):  # fmt: skip
            identity = known or (given.get(position) or (_of_name(name, place_name) if place_name else uuid7()))
            ids.append(given.setdefault(position, identity))
        table = _with(table, "record_id", pa.array(ids, pa.binary()))
    return _with(table, "content", content_hash(table))


def _of_name(table: str, name: str) -> bytes:
    return hashlib.blake2b(f"{_NAMED[table]}\0{name}".encode(), digest_size=16).digest()


def _with(table: pa.Table, column: str, values: pa.Array) -> pa.Table:
    return table.set_column(table.column_names.index(column), column, values)


def renewed(tables: Mapping[str, pa.Table], files: Files, *, revive: bool) -> dict[str, pa.Table]:
    """The tables with sites and beds whose id was taken back under an id that counts.

    Said as it was before it was taken back, a place keeps the old id, and is left out as known; else it takes the id
    of the place that counts under its name, and is held against that, or a new id where none does. revive=True gives a
    new id also to one said as before of whose name none counts: who records it again wants it again.
    """
    changed = dict(tables)
    for name in _NAMED.keys() & tables.keys():
        table = tables[name]
        taken_back = _taken_back(name, files)
        if taken_back:
            counting = _counting(name, files, {identity for identity, _, _ in taken_back})
            # a place named twice in a batch is one
            minted: defaultdict[str, bytes] = defaultdict(uuid7)
            ids = [
                _renewed(row, taken_back, counting.get(row[1]), revive) or minted[row[1]]
                for row in _named_rows(table)
            ]
            changed[name] = _with(table, "record_id", pa.array(ids, pa.binary()))
    return changed


NamedRow = tuple[bytes, str, bytes]
"""Id, name and content hash of a site or bed."""


def _renewed(row: NamedRow, taken_back: set[NamedRow], counting: bytes | None, revive: bool) -> bytes | None:
    """The id a site or bed is held against what is stored under, None for a new one."""
    identity, name, content = row
    if all(identity != other for other, _, _ in taken_back):
        return identity
    said_before = any((name, content) == (other_name, other) for _, other_name, other in taken_back)
    if counting is not None:
        return identity if said_before else counting
    return identity if said_before and not revive else None


def _named_rows(table: pa.Table) -> list[NamedRow]:
    return list(zip(*(table[column].to_pylist() for column in ("record_id", "name", "content")), strict=True))


def _taken_back(name: str, files: Files) -> set[NamedRow]:
    """The sites or beds that were corrected away."""
    if not files.get("corrections"):
        return set()
    with duckdb.connect(":memory:", config={"python_enable_replacements": False}) as connection:
        olds = connection.execute(
            "SELECT old FROM read_parquet(?) WHERE table_name = ?", [list(files["corrections"]), name]
        ).fetchall()
    return {row for (old,) in olds for row in _named_rows(from_json(name, old))}


def _counting(name: str, files: Files, gone: set[bytes]) -> dict[str, bytes]:
    """The id of each site or bed that counts, by name."""
    if not files.get(name):
        return {}
    with duckdb.connect(":memory:", config={"python_enable_replacements": False}) as connection:
        rows = connection.execute("SELECT name, record_id FROM read_parquet(?)", [list(files[name])]).fetchall()
    return {place_name: identity for place_name, identity in rows if identity not in gone}


def unknown_rows(tables: Mapping[str, pa.Table], files: Files) -> dict[str, pa.Table]:
    """The rows that are not stored yet.

    Same id and content: left out. Same id, other content: refused as a conflict. An id that was corrected away stays
    known: what says the same as it or as what took its place is left out, so that taking a book in again never brings
    a corrected row back.
    """
    fresh: dict[str, pa.Table] = {}
    problems: list[Problem] = []
    for name, table in tables.items():
        table, twice = _once(name, table)
        known = _known_contents(name, table, files)
        rows = []
        for index, (identity, content) in enumerate(
            zip(table["record_id"].to_pylist(), table["content"].to_pylist(), strict=True)
        ):
            said = known.get(identity)
            if said is not None and content in said:
                continue
            if said is not None:
                problems.append(_conflict(name, table.slice(index, 1).to_pylist()[0]))
            rows.append(index)
        problems += twice
        kept = table if len(rows) == table.num_rows else table.take(pa.array(rows, pa.int64()))
        if kept.num_rows:
            fresh[name] = kept
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    return fresh


def _once(name: str, table: pa.Table) -> tuple[pa.Table, list[Problem]]:
    """The table with a site or bed named twice alike in one batch kept once; named twice differently is a conflict."""
    if name not in _NAMED:
        return table, []
    first: dict[bytes, bytes] = {}
    rows, problems = [], []
    for index, (identity, content) in enumerate(
        zip(table["record_id"].to_pylist(), table["content"].to_pylist(), strict=True)
    ):
        if identity not in first:
            first[identity] = content
            rows.append(index)
        elif first[identity] != content:
            problems.append(_conflict(name, table.slice(index, 1).to_pylist()[0]))
    return table.take(pa.array(rows, pa.int64())), problems


def _conflict(table: str, row: dict[str, object]) -> Problem:
    what = f"{_NAMED.get(table, row['event'])} {row.get('name') or row.get('label') or row.get('lot') or ''}".strip()
    return Problem(
        int(str(row[POSITION])), f"record {int(str(row[POSITION])) + 1}: {what}", "",
        "is already stored with other content", "correct the stored record instead of recording it again", "B4",
    )  # fmt: skip


def _known_contents(name: str, table: pa.Table, files: Files) -> dict[bytes, set[bytes]]:
    """By id, what was stored under it, and under what took its place, for the ids of the table that are known."""
    ids = pc.unique(table["record_id"])
    known: dict[bytes, set[bytes]] = {}
    for identity, content in _contents(ids, _paths(name, table, files)):
        known.setdefault(identity, set()).add(content)
    first = {identity: identity for identity in ids.to_pylist()}
    while first and files.get("corrections"):
        replaced: dict[bytes, bytes] = {}
        for gone, table_name, old, replacement in _corrections(first, files):
            known.setdefault(first[gone], set()).update(from_json(table_name, old)["content"].to_pylist())
            if replacement is not None:
                replaced[replacement] = first[gone]
        for identity, content in _contents(pa.array(replaced, pa.binary()), files.get(name, ())):
            known[replaced[identity]].add(content)
        first = replaced
    return known


def _contents(ids: pa.Array, paths: Sequence[str]) -> list[tuple[bytes, bytes]]:
    if not paths or not len(ids):
        return []
    with duckdb.connect(":memory:", config={"python_enable_replacements": False}) as connection:
        connection.register("wanted", pa.table({"record_id": ids}))
        return connection.execute(
            "SELECT record_id, content FROM read_parquet(?, hive_partitioning = false) "
            "WHERE record_id IN (SELECT record_id FROM wanted)",
            [list(paths)],
        ).fetchall()


def _corrections(ids: Collection[bytes], files: Files) -> list[tuple[bytes, str, str, bytes | None]]:
    """Id, table, old rows and replacement of the corrections of these records."""
    with duckdb.connect(":memory:", config={"python_enable_replacements": False}) as connection:
        connection.register("wanted", pa.table({"record_id": pa.array(ids, pa.binary())}))
        return connection.execute(
            "SELECT record_id, table_name, old, replacement_id FROM read_parquet(?) "
            "WHERE record_id IN (SELECT record_id FROM wanted)",
            [list(files["corrections"])],
        ).fetchall()


def _paths(name: str, table: pa.Table, files: Files) -> list[str]:
    """The stored files that can hold the ids: those of the years of the rows."""
    paths = list(files.get(name, ()))
    if name not in PARTITIONED:
        return paths
    years = {f"year={year}" for year in pc.unique(pc.year(table["on_to"])).to_pylist()}
    return [path for path in paths if path.split("/")[-2] in years]


def stored_record(files: Files, identity: bytes) -> tuple[str, pa.Table]:
    """The table and the stored rows of a record that counts. Raises UnknownLabelError when there is none."""
    with duckdb.connect(":memory:", config={"python_enable_replacements": False}) as connection:
        if files.get("corrections"):
            gone = connection.execute(
                "SELECT reason FROM read_parquet(?) WHERE record_id = ?", [list(files["corrections"]), identity]
            ).fetchall()
            if gone:
                raise UnknownLabelError(
                    f"record {identity.hex()} was corrected before ({gone[0][0]}); correct what replaced it"
                )
        for name in TABLES:
            if name in ("batches", "corrections") or not files.get(name):
                continue
            partitioned = name in PARTITIONED
            rows = connection.sql(
                "SELECT * FROM read_parquet($paths, union_by_name = true, hive_partitioning = $hive) "
                "WHERE record_id = $identity",
                params={"paths": list(files[name]), "identity": identity, "hive": partitioned},
            ).to_arrow_table()
            if rows.num_rows:
                return name, _typed(rows, TABLES[name])
    raise UnknownLabelError(f"no record {identity.hex()} in this garden; history() and table() show the ids")


def _typed(rows: pa.Table, schema: pa.Schema) -> pa.Table:
    return pa.table(
        [
            rows[field.name].cast(field.type)
            if field.name in rows.column_names
            else pa.nulls(rows.num_rows, field.type)
            for field in schema
        ],
        schema=schema,
    )
