"""Records said again after they were corrected: under which id they are held against what is stored.

Said as before, a record keeps its id and is left out as known. Said otherwise where nothing stands in its place, it is
a new record, with an id made of the old one and what is said, so that saying it once more is no third one.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Mapping

import attrs
import pyarrow as pa
import pyarrow.compute as pc

from perennia.store.corrected import Fate, Files, PlaceRow, corrected_places, counting_places, fates, place_rows
from perennia.store.identity import uuid7
from perennia.store.schemas import PLACES


@attrs.frozen
class _Known:
    """What the garden knows of the sites or beds of one table: the ids of those that count, by name; what was said and
    corrected, with its id; what became of the ids asked for; and an id for each name whose place is to be new."""

    counting: Mapping[str, bytes]
    said_before: Mapping[tuple[str, bytes], bytes]
    became: Mapping[bytes, Fate]
    minted: Mapping[str, bytes]
    revive: bool


def renewed(
    tables: Mapping[str, pa.Table], files: Files, *, revive: bool, new: Collection[bytes] = ()
) -> dict[str, pa.Table]:
    """The tables with the ids under which their rows are held against what is stored.

    A site or bed takes the id of the one that counts under its name, but for those of new, which take its place.
    revive=True gives a new id also to a place said just as it was before it was taken back: who records it again wants
    it again.
    """
    corrected = bool(files.get("corrections"))
    return {
        name: _renewed(name, table, files, revive, new) if corrected or name in PLACES else table
        for name, table in tables.items()
    }


def _renewed(name: str, table: pa.Table, files: Files, revive: bool, new: Collection[bytes]) -> pa.Table:
    became = fates(name, pc.unique(table["record_id"]), files)
    if name in PLACES:
        corrected = corrected_places(name, files)
        known = _Known(
            counting_places(name, files, {identity for identity, _, _ in corrected}),
            {(place, content): identity for identity, place, content in corrected},
            became, defaultdict(uuid7), revive,
        )  # fmt: skip
        ids = [row[0] if row[0] in new else _place_id(row, known) for row in place_rows(table)]
    elif became:
        rows = zip(table["record_id"].to_pylist(), table["content"].to_pylist(), strict=True)
        ids = [_record_id(identity, content, became.get(identity)) for identity, content in rows]
    else:
        return table
    return table.set_column(table.column_names.index("record_id"), "record_id", pa.array(ids, pa.binary()))


def _record_id(identity: bytes, content: bytes, fate: Fate | None) -> bytes:
    if fate is None or fate.stands or content in fate.contents:
        return identity
    return _new_id(identity, content)


def _new_id(identity: bytes, content: bytes) -> bytes:
    return hashlib.blake2b(identity + content, digest_size=len(identity)).digest()


def _place_id(row: PlaceRow, known: _Known) -> bytes:
    identity, name, content = row
    said = known.said_before.get((name, content))
    if name in known.counting:
        return known.counting[name] if said is None else said
    fate = known.became.get(identity)
    if fate is None or (content in fate.contents and (fate.stands or not known.revive)):
        return identity
    if content in fate.contents:
        return known.minted[name]
    return _new_id(identity, content)
