"""The one validator: a batch of one goes through it the same way as a million."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date

import attrs
import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from perennia import crops
from perennia.checking.columns import column_problems
from perennia.checking.histories import history_problems, unsettled_labels
from perennia.checking.references import reference_problems
from perennia.checking.shape import share_problems, well_formed
from perennia.checking.words import question
from perennia.crops import CropProfile
from perennia.errors import Problem, RefusedError
from perennia.queries.connection import Rows, build, connect
from perennia.queries.placing import settle

_LIFE = ("life", "harvest", "flowering", "care", "seed")


@attrs.frozen
class Doubt:
    """Something accepted that the grower should look at.

    kind is ``gap`` (a thing that must have happened unrecorded, between on_from and on_to), ``heavy`` (a picking
    beyond what the crop's profile holds likely), ``light`` (one that would be likely in kilograms) or ``crop`` (a plant
    begun of a crop that has no profile while one of a name like it has). record_id is the record that shows it, 32
    hexadecimal digits.
    """

    label: str
    kind: str
    event: str
    on_from: date | None
    on_to: date
    record_id: str
    text: str


@attrs.frozen
class Checked:
    """What checking a batch found: doubts, and the labels whose acts had to be put in order by search."""

    doubts: tuple[Doubt, ...]
    placed_labels: tuple[str, ...]


def check(
    tables: Mapping[str, pa.Table],
    files: Mapping[str, Sequence[str]],
    *,
    placed_labels: Collection[str],
    today: date,
    withdrawn: Collection[bytes] = (),
    withdrawn_labels: Collection[str] = (),
    profiles: Mapping[str, CropProfile] | None = None,
) -> Checked:
    """Hold candidate rows against every rule and against what is stored about the same labels.

    tables: candidate rows with record_id and batch_position. files: the stored Parquet files of each table.
    withdrawn: records to be taken back in the same batch, withdrawn_labels the labels they spoke of. profiles: the crop
    profiles to go by, the shipped ones when not given.
    Raises RefusedError with every problem found.
    """
    tables = well_formed(tables)
    problems = [*column_problems(tables, today), *share_problems(tables)]
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    touched = _touched(tables) | set(withdrawn_labels)
    seen = Rows(
        files=files, added=tables, withdrawn=withdrawn, labels=touched,
        profiles=crops.profiles() if profiles is None else profiles,
    )  # fmt: skip
    searched = set(placed_labels)
    with connect(seen) as connection:
        built: set[str] = set()
        settle(connection, searched & _followed(connection), built)
        problems = list(reference_problems(tables, connection))
        more = unsettled_labels(connection, touched, built) - searched if touched else set()
        if not more:
            return _verdict(connection, tables, built, problems, touched, searched)
    with connect(seen) as connection:
        built = set()
        settle(connection, (searched | more) & _followed(connection), built)
        return _verdict(connection, tables, built, problems, touched, searched | more)


def _verdict(
    connection: duckdb.DuckDBPyConnection,
    tables: Mapping[str, pa.Table],
    built: set[str],
    problems: list[Problem],
    touched: Collection[str],
    searched: set[str],
) -> Checked:
    if touched:
        problems += history_problems(connection, tables, touched, built)
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    doubts = _doubts(connection, tables, built) if touched else ()
    return Checked(doubts, tuple(sorted(searched)))


def _touched(tables: Mapping[str, pa.Table]) -> set[str]:
    labels: set[str] = set()
    for name in _LIFE:
        if name in tables:
            labels.update(label for label in pc.unique(tables[name]["label"]).to_pylist() if label is not None)
    if "life" in tables:
        labels.update(pc.unique(pc.list_flatten(tables["life"]["into"])).to_pylist())
    return labels


def _followed(connection: duckdb.DuckDBPyConnection) -> set[str]:
    """The labels whose whole lives the connection sees: those touched and their mothers."""
    return {label for (label,) in connection.execute("SELECT label FROM inside.touched").fetchall()}


def _doubts(
    connection: duckdb.DuckDBPyConnection, tables: Mapping[str, pa.Table], built: set[str]
) -> tuple[Doubt, ...]:
    build(connection, ["doubts"], built)
    own = [identity.hex() for table in tables.values() for identity in pc.unique(table["record_id"]).to_pylist()]
    rows = connection.execute(
        "SELECT label, kind, event, on_from, on_to, record_id, grams, likely_grams, crop, near FROM inside.doubts "
        "WHERE record_id IN (SELECT unnest($own)) OR previous_id IN (SELECT unnest($own)) ORDER BY ALL",
        {"own": own},
    ).fetchall()
    return tuple(
        Doubt(label, kind, event, on_from, on_to, record_id, question(label, kind, event, on_from, on_to, *what))
        for label, kind, event, on_from, on_to, record_id, *what in rows
    )
