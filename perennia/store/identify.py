"""Which candidate rows are new: ids given, looked up, and held against what is stored under them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from perennia.errors import Problem, RefusedError, UnknownLabelError
from perennia.store.corrected import CONTENTS, Fate, Files, fates, stored_contents
from perennia.store.identity import POSITION, content_hash, record_numbers, uuid7, uuid7s
from perennia.store.reading import reading, stored_rows
from perennia.store.schemas import PARTITIONED, PLACES, TABLES


def identified(tables: Mapping[str, pa.Table], *, by_name: bool = True) -> dict[str, pa.Table]:
    """Candidate rows with record_id and content filled in.

    A record without an id gets a UUIDv7; a site or bed the hash of its name, so that naming it twice is no second one.
    by_name=False gives these a UUIDv7 too: one that replaces another of its name must not have the id taken back.
    """
    return {name: _identified(name, table, by_name) for name, table in tables.items() if table.num_rows}


def _identified(name: str, table: pa.Table, by_name: bool) -> pa.Table:
    if table["record_id"].null_count:
        named = by_name and name in PLACES
        ids = _named_ids(name, table["name"]) if named else _new_ids(table)
        table = _with(table, "record_id", pc.coalesce(table["record_id"], ids))
    return _with(table, "content", content_hash(table))


def _named_ids(table: str, names: pa.ChunkedArray) -> pa.Array:
    """The hash of the name of each site or bed; a new id where it has none, which checking will say."""
    ids = [_of_name(table, name) if name else uuid7() for name in names.to_pylist()]
    return pa.array(ids, pa.binary())


def _new_ids(table: pa.Table) -> pa.Array:
    """A new id for each record, in the order of the batch."""
    _, places = np.unique(record_numbers(table), return_inverse=True)
    return uuid7s(int(places.max()) + 1).take(pa.array(places))


def _of_name(table: str, name: str) -> bytes:
    return hashlib.blake2b(f"{PLACES[table]}\0{name}".encode(), digest_size=16).digest()


def _with(table: pa.Table, column: str, values: pa.Array) -> pa.Table:
    return table.set_column(table.column_names.index(column), column, values)


def unknown_rows(tables: Mapping[str, pa.Table], files: Files, *, everywhere: bool = False) -> dict[str, pa.Table]:
    """The rows that are not stored yet. everywhere: their ids are looked for in all years, not only in their own.

    Same id and content: left out. Same id, other content: refused as a conflict. An id that was corrected away stays
    known: what says the same as it or as what took its place is left out, so that taking a book in again never brings
    a corrected row back (store.renewal gives another id to what was taken back and is said otherwise).
    """
    fresh: dict[str, pa.Table] = {}
    problems: list[Problem] = []
    for name, table in tables.items():
        table, twice = _once(name, table)
        known = _known_contents(name, table, files, everywhere)
        if known.num_rows:
            said_before = pc.is_in(table["record_id"], _whole(known["record_id"]))
            otherwise = pc.and_(said_before, pc.invert(pc.is_in(_id_and_content(table), _id_and_content(known))))
            problems += [_conflict(name, row) for row in table.filter(otherwise).to_pylist()]
            table = table.filter(pc.invert(said_before))
        problems += twice
        if table.num_rows:
            fresh[name] = table
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    return fresh


def _id_and_content(table: pa.Table) -> pa.Array:
    return _whole(pc.binary_join_element_wise(table["record_id"], table["content"], pa.scalar(b"", pa.binary())))


def _whole(column: pa.ChunkedArray) -> pa.Array:
    return column.combine_chunks()


def _once(name: str, table: pa.Table) -> tuple[pa.Table, list[Problem]]:
    """The table with a site or bed named twice alike in one batch kept once; named twice differently is a conflict."""
    if name not in PLACES:
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
    what = f"{PLACES.get(table, row['event'])} {row.get('name') or row.get('label') or row.get('lot') or ''}".strip()
    return Problem(
        int(str(row[POSITION])), f"record {int(str(row[POSITION])) + 1}: {what}", "",
        "is already stored with other content", "correct the stored record instead of recording it again", "B4",
    )  # fmt: skip


def _known_contents(name: str, table: pa.Table, files: Files, everywhere: bool) -> pa.Table:
    """For the ids of the table that are known: record_id, and content of what was said under it or took its place."""
    paths = list(files.get(name, ())) if everywhere else _paths(name, table, files)
    if not paths and not files.get("corrections"):
        return CONTENTS.empty_table()
    ids = pc.unique(table["record_id"])
    became = [(identity, said) for identity, fate in fates(name, ids, files).items() for said in fate.contents]
    told_of = pa.Table.from_pylist([{"record_id": identity, "content": said} for identity, said in became], CONTENTS)
    return pa.concat_tables([stored_contents(ids, paths), told_of])


def _paths(name: str, table: pa.Table, files: Files) -> list[str]:
    """The stored files that can hold the ids: those of the years of the rows."""
    paths = list(files.get(name, ()))
    if name not in PARTITIONED:
        return paths
    years = {f"year={year}" for year in pc.unique(pc.year(table["on_to"])).to_pylist()}
    return [path for path in paths if path.split("/")[-2] in years]


def what_became(name: str, ids: pa.Array, files: Files) -> dict[bytes, Fate]:
    """What was said under each of the ids that is known in a table and in its place, and which id stands for it now."""
    stored = stored_contents(ids, files[name]).to_pylist()
    known = {row["record_id"]: Fate(frozenset({row["content"]}), row["record_id"], row["content"]) for row in stored}
    return known | fates(name, ids, files)


def stored_record(files: Files, identity: bytes) -> tuple[str, pa.Table]:
    """The table and the stored rows of a record that counts. Raises UnknownLabelError when there is none."""
    return stored_records(files, [identity])[0]


def stored_records(files: Files, ids: Sequence[bytes]) -> list[tuple[str, pa.Table]]:
    """The table and the stored rows of each of the records, all of which count. Raises UnknownLabelError otherwise."""
    found: dict[bytes, tuple[str, pa.Table]] = {}
    with reading() as connection:
        connection.register("wanted", pa.table({"record_id": pa.array(ids, pa.binary())}))
        if files.get("corrections"):
            gone = connection.execute(
                f"SELECT record_id, reason, replacement_id FROM ({stored_rows('corrections', '?')}) "
                "WHERE record_id IN (SELECT record_id FROM wanted)",
                [list(files["corrections"])],
            ).fetchall()
            if gone:
                identity, why, replacement = gone[0]
                now = f"correct what replaced it, {replacement.hex()}" if replacement else "nothing is in its place"
                raise UnknownLabelError(f"record {identity.hex()} was corrected before ({why}); {now}")
        for name in TABLES:
            if name in ("batches", "corrections") or not files.get(name):
                continue
            rows = connection.sql(
                f"{stored_rows(name, '$paths')} WHERE record_id IN (SELECT record_id FROM wanted)",
                params={"paths": list(files[name])},
            ).to_arrow_table()
            found |= _each_record(name, _typed(rows, TABLES[name]))
    for identity in ids:
        if identity not in found:
            raise UnknownLabelError(f"no record {identity.hex()} in this garden; history() and table() show the ids")
    return [found[identity] for identity in ids]


def _each_record(name: str, rows: pa.Table) -> dict[bytes, tuple[str, pa.Table]]:
    places: dict[bytes, list[int]] = {}
    for place, identity in enumerate(rows["record_id"].to_pylist()):
        places.setdefault(identity, []).append(place)
    return {identity: (name, rows.take(pa.array(own, pa.int64()))) for identity, own in places.items()}


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
