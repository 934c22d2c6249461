"""What became of corrected records: what was said under an id and in its place, and whether anything still is."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import attrs
import pyarrow as pa

from perennia.store.old_rows import from_json
from perennia.store.reading import reading

Files = Mapping[str, Sequence[str]]
PlaceRow = tuple[bytes, str, bytes]
"""Id, name and content hash of a site or bed."""


CONTENTS = pa.schema([("record_id", pa.binary()), ("content", pa.binary())])


@attrs.frozen
class Fate:
    """contents: hashes of all that was said under a corrected id and by what took its place, one after the other.
    standing: the id of what in its place still counts, if anything does."""

    contents: frozenset[bytes]
    standing: bytes | None

    @property
    def stands(self) -> bool:
        """Whether something in its place still counts."""
        return self.standing is not None


def fates(table: str, ids: pa.Array, files: Files) -> dict[bytes, Fate]:
    """What became of those of the ids that were corrected, by id."""
    contents: dict[bytes, set[bytes]] = {}
    last: dict[bytes, bytes | None] = {}
    # from an id that took the place of another to the id of the question
    first_of: dict[bytes, bytes] = {}
    while len(ids) and files.get("corrections"):
        placed: dict[bytes, bytes] = {}
        for gone, gone_table, old, replacement in _corrections(ids, files):
            first = first_of.get(gone, gone)
            contents.setdefault(first, set()).update(from_json(gone_table, old)["content"].to_pylist())
            last[first] = replacement
            if replacement is not None:
                placed[replacement] = first
        first_of, ids = placed, pa.array(placed, pa.binary())
    standing = {place: first for first, place in last.items() if place is not None}
    for row in stored_contents(pa.array(standing, pa.binary()), files.get(table, ())).to_pylist():
        contents[standing[row["record_id"]]].add(row["content"])
    return {first: Fate(frozenset(said), last[first]) for first, said in contents.items()}


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
            "SELECT old FROM read_parquet(?) WHERE table_name = ?", [list(files["corrections"]), table]
        ).fetchall()
    return [row for (old,) in olds for row in place_rows(from_json(table, old))]


def counting_places(table: str, files: Files, gone: Collection[bytes]) -> dict[str, bytes]:
    """The id of each site or bed that counts, by name; gone are the ids of those corrected."""
    if not files.get(table):
        return {}
    with reading() as connection:
        rows = connection.execute("SELECT name, record_id FROM read_parquet(?)", [list(files[table])]).fetchall()
    return {name: identity for name, identity in rows if identity not in gone}


def place_rows(table: pa.Table) -> list[PlaceRow]:
    """Id, name and content of rows of sites or beds."""
    return list(zip(*(table[column].to_pylist() for column in ("record_id", "name", "content")), strict=True))


def _corrections(ids: pa.Array, files: Files) -> list[tuple[bytes, str, str, bytes | None]]:
    """Id, table, old rows and replacement of the corrections of these records."""
    with reading() as connection:
        connection.register("wanted", pa.table({"record_id": ids}))
        return connection.execute(
            "SELECT record_id, table_name, old, replacement_id FROM read_parquet(?) "
            "WHERE record_id IN (SELECT record_id FROM wanted)",
            [list(files["corrections"])],
        ).fetchall()
