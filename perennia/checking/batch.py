"""The one validator: a batch of one goes through it the same way as a million."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date

import attrs
import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from perennia import crops
from perennia.checking.columns import column_problems
from perennia.checking.histories import history_problems, unsettled_labels
from perennia.checking.own import make_own
from perennia.checking.references import reference_problems
from perennia.checking.shape import share_problems, well_formed
from perennia.checking.words import question
from perennia.crops import CropProfile
from perennia.errors import Problem, RefusedError
from perennia.queries.connection import Rows, build, connect
from perennia.queries.placing import settle
from perennia.store.schemas import Candidates

# labels whose doubts are looked for in one go: of so many, all that is known fits in memory
_TOGETHER = 2000
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
    problems = row_problems(tables, today)
    if problems:
        raise RefusedError(problems)
    return check_against_books(
        tables, files, placed_labels=placed_labels, withdrawn=withdrawn, withdrawn_labels=withdrawn_labels,
        profiles=profiles,
    )  # fmt: skip


def row_problems(tables: Mapping[str, pa.Table], today: date) -> list[Problem]:
    """What is wrong with candidate rows in themselves; each record must be here whole."""
    problems = [*column_problems(tables, today), *share_problems(tables)]
    return sorted(problems, key=lambda problem: problem.position)


def check_against_books(
    tables: Mapping[str, Candidates],
    files: Mapping[str, Sequence[str]],
    *,
    placed_labels: Collection[str],
    withdrawn: Collection[bytes] = (),
    withdrawn_labels: Collection[str] = (),
    profiles: Mapping[str, CropProfile] | None = None,
) -> Checked:
    """Hold candidate rows with which nothing is wrong in themselves against what is stored about the same labels.

    Raises RefusedError with every problem found.
    """
    touched = _touched(tables) | set(withdrawn_labels)
    seen = Rows(
        files=files, added=tables, withdrawn=withdrawn, labels=touched, added_bears=True,
        profiles=crops.profiles() if profiles is None else profiles,
    )  # fmt: skip
    searched = set(placed_labels)
    with _connected(seen) as connection:
        built: set[str] = set()
        settle(connection, searched & _followed(connection), built)
        problems = list(reference_problems(tables, connection))
        more = unsettled_labels(connection, touched, built) - searched if touched else set()
        if not more:
            return _verdict(connection, seen, built, problems, searched)
    with _connected(seen) as connection:
        built = set()
        settle(connection, (searched | more) & _followed(connection), built)
        return _verdict(connection, seen, built, problems, searched | more)


def _connected(seen: Rows) -> duckdb.DuckDBPyConnection:
    connection = connect(seen)
    make_own(connection, seen.added)
    return connection


def _verdict(
    connection: duckdb.DuckDBPyConnection, seen: Rows, built: set[str], problems: list[Problem], searched: set[str]
) -> Checked:
    touched = seen.labels or ()
    if touched:
        problems += history_problems(connection, touched, built)
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    doubts = _doubts(connection, seen, built, searched) if touched else ()
    return Checked(doubts, tuple(sorted(searched)))


def _touched(tables: Mapping[str, Candidates]) -> set[str]:
    labels: set[str] = set()
    for name in _LIFE:
        if name in tables:
            labels.update(label for label in pc.unique(_column(tables[name], "label")).to_pylist() if label is not None)
    if "life" in tables:
        labels.update(pc.unique(pc.list_flatten(_column(tables["life"], "into"))).to_pylist())
    return labels


def _column(rows: Candidates, name: str) -> pa.ChunkedArray:
    return rows[name] if isinstance(rows, pa.Table) else rows.to_table(columns=[name])[name]


def _followed(connection: duckdb.DuckDBPyConnection) -> set[str]:
    """The labels whose whole lives the connection sees: those touched and their mothers."""
    return {label for (label,) in connection.execute("SELECT label FROM inside.touched").fetchall()}


def _doubts(
    connection: duckdb.DuckDBPyConnection, seen: Rows, built: set[str], searched: set[str]
) -> tuple[Doubt, ...]:
    touched = set(seen.labels or ())
    if len(touched) <= _TOGETHER:
        return tuple(_doubts_of(connection, touched, built))
    build(connection, ["doubtful_labels"], built)
    found = connection.execute("SELECT label FROM inside.doubtful_labels ORDER BY label").fetchall()
    labels = [label for (label,) in found if label in touched]
    doubts: list[Doubt] = []
    for start in range(0, len(labels), _TOGETHER):
        some = set(labels[start : start + _TOGETHER])
        with _connected(attrs.evolve(seen, labels=some, added_bears=False)) as narrow:
            built = set()
            settle(narrow, searched & _followed(narrow), built)
            doubts += _doubts_of(narrow, some, built)
    return tuple(doubts)


def _doubts_of(connection: duckdb.DuckDBPyConnection, labels: Collection[str], built: set[str]) -> Iterator[Doubt]:
    build(connection, ["doubts"], built)
    rows = connection.execute(
        "SELECT label, kind, event, on_from, on_to, record_id, grams, likely_grams, crop, near FROM inside.doubts "
        "WHERE label IN (SELECT unnest(?)) AND (unhex(record_id) IN (SELECT record_id FROM inside.own) "
        "OR unhex(previous_id) IN (SELECT record_id FROM inside.own)) ORDER BY ALL",
        [sorted(labels)],
    ).fetchall()
    for label, kind, event, on_from, on_to, record_id, *what in rows:
        text = question(label, kind, event, on_from, on_to, *what)
        yield Doubt(label, kind, event, on_from, on_to, record_id, text)
