"""What became of corrected records: what was said under an id and in its place, and whether anything still is."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import attrs
import pyarrow as pa

from perennia.store.old_rows import from_json
from perennia.store.reading import reading, stored_rows

Files = Mapping[str, Sequence[str]]
PlaceRow = tuple[bytes, str, bytes]
"""Id, name and content hash of a site or bed."""


CONTENTS = pa.schema([("record_id", pa.binary()), ("content", pa.binary())])


@attrs.frozen
class Fate:
    """contents: hashes of all that was said under a corrected id and by what took its place, one after the other.
    standing: the id of what in its place still counts, if anything does, and now what that says."""

    contents: frozenset[bytes]
    standing: bytes | None
    now: bytes | None = None

    @property
    def stands(self) -> bool:
        """Whether something in its place still counts."""
        return self.standing is not None


def fates(table: str, ids: pa.Array, files: Files) -> dict[bytes, Fate]:
    """What became of those of the ids that were corrected, by id."""
    said: dict[bytes, list[bytes]] = {}
    replaced: dict[bytes, bytes | None] = {}
    asked, wanted = set(ids.to_pylist()) if files.get("corrections") else set(), ids
    while len(wanted) and asked:
        found = _corrections(wanted, files)
        for gone, gone_table, old, replacement in found:
            said[gone] = from_json(gone_table, old)["content"].to_pylist()
            replaced[gone] = replacement
        # from one to what took its place, until what counts or nothing
        wanted = pa.array({new for *_, new in found if new is not None} - replaced.keys(), pa.binary())
    chains = {first: _chain(first, replaced) for first in asked & replaced.keys()}
    ends = {chain[-1] for chain in chains.values() if chain[-1] not in replaced}
    now = {row["record_id"]: row["content"] for row in
           stored_contents(pa.array(ends, pa.binary()), files.get(table, ())).to_pylist()}  # fmt: skip
    return {first: _fate(chain, said, replaced, now) for first, chain in chains.items()}


def _chain(first: bytes, replaced: Mapping[bytes, bytes | None]) -> list[bytes]:
    """An id and those that took its place, one after the other."""
    chain = [first]
    while (following := replaced.get(chain[-1])) is not None and following not in chain:
        chain.append(following)
    return chain


def _fate(
    chain: Sequence[bytes], said: Mapping[bytes, list[bytes]], replaced: Mapping[bytes, bytes | None],
    now: Mapping[bytes, bytes],
) -> Fate:  # fmt: skip
    contents = {content for identity in chain for content in said.get(identity, ())}
    standing = None if chain[-1] in replaced else chain[-1]
    last = now.get(chain[-1])
    return Fate(frozenset(contents | ({last} if last is not None else set())), standing, last)


def stored_contents(ids: pa.Array, paths: Sequence[str]) -> pa.Table:
    """Id and content hash of the rows stored under these ids."""
    if not paths or not len(ids):
        return CONTENTS.empty_table()
    with reading() as connection:
        connection.register("wanted", pa.table({"record_id": ids}))
        found = connection.sql(
            "SELECT record_id, content FROM read_parquet($paths, hive_partitioning = false) "
            "WHERE record_id IN (SELECT record_id FROM wanted)",
            params={"paths": list(paths)},
        ).to_arrow_table()
    return found.cast(CONTENTS)


def corrected_places(table: str, files: Files) -> list[PlaceRow]:
    """The sites or beds that were corrected, as they were."""
    if not files.get("corrections"):
        return []
    with reading() as connection:
        olds = connection.execute(
            f"SELECT old FROM ({stored_rows('corrections', '?')}) WHERE table_name = ?",
            [list(files["corrections"]), table],
        ).fetchall()
    return [row for (old,) in olds for row in place_rows(from_json(table, old))]


def counting_places(table: str, files: Files, gone: Collection[bytes]) -> dict[str, bytes]:
    """The id of each site or bed that counts, by name; gone are the ids of those corrected."""
    if not files.get(table):
        return {}
    with reading() as connection:
        rows = connection.execute(
            f"SELECT name, record_id FROM ({stored_rows(table, '?')})", [list(files[table])]
        ).fetchall()
    return {name: identity for name, identity in rows if identity not in gone}


def place_rows(table: pa.Table) -> list[PlaceRow]:
    """Id, name and content of rows of sites or beds."""
    return list(zip(*(table[column].to_pylist() for column in ("record_id", "name", "content")), strict=True))


def _corrections(ids: pa.Array, files: Files) -> list[tuple[bytes, str, str, bytes | None]]:
    """Id, table, old rows and replacement of the corrections of these records."""
    with reading() as connection:
        connection.register("wanted", pa.table({"record_id": ids}))
        return connection.execute(
            f"SELECT record_id, table_name, old, replacement_id FROM ({stored_rows('corrections', '?')}) "
            "WHERE record_id IN (SELECT record_id FROM wanted)",
            [list(files["corrections"])],
        ).fetchall()
