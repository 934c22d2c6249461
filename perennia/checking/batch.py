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
from perennia.checking.histories import Refused, history_problems, refused_entries, unsettled_labels
from perennia.checking.own import make_own
from perennia.checking.references import reference_problems
from perennia.checking.shape import share_problems, well_formed
from perennia.checking.words import question
from perennia.crops import CropProfile
from perennia.errors import Problem, RefusedError
from perennia.queries.connection import Rows, build, connect
from perennia.queries.placing import followed, settle
from perennia.store.schemas import Candidates

# labels looked at closely in one go: of so many, all that is known fits in memory
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


def row_problems(tables: Mapping[str, pa.Table], today: date, *, alone: bool = False) -> list[Problem]:
    """What is wrong with candidate rows in themselves; each record must be here whole. alone: whether it is known that
    no two rows share a place in the batch or an id."""
    problems = [*column_problems(tables, today), *share_problems(tables, alone=alone)]
    return sorted(problems, key=lambda problem: problem.position)


def check_against_books(
    tables: Mapping[str, Candidates],
    files: Mapping[str, Sequence[str]],
    *,
    placed_labels: Collection[str],
    withdrawn: Collection[bytes] = (),
    withdrawn_labels: Collection[str] = (),
    profiles: Mapping[str, CropProfile] | None = None,
    closely: int = _TOGETHER,
) -> Checked:
    """Hold candidate rows with which nothing is wrong in themselves against what is stored about the same labels.

    closely: labels looked at entry by entry in one go. Where there are more, those with which nothing can be wrong are
    told by their first, last, lightest and heaviest entry; the verdict does not depend on it.
    Raises RefusedError with every problem found.
    """
    touched = _touched(tables) | set(withdrawn_labels)
    seen = Rows(
        files=files, added=tables, withdrawn=withdrawn, labels=touched, added_bears=True,
        profiles=crops.profiles() if profiles is None else profiles,
    )  # fmt: skip
    found = _Found(searched=set(placed_labels))
    with connect(seen) as connection:
        make_own(connection, tables)
        problems = list(reference_problems(tables, connection))
        if len(touched) <= closely:
            _look_closely(connection, seen, found)
        else:
            labels = _doubtful(connection, touched, found.searched)
            for start in range(0, len(labels), closely):
                some = attrs.evolve(seen, labels=labels[start : start + closely], added_bears=False)
                with connect(some) as narrow:
                    _look_closely(narrow, some, found)
        problems += history_problems(connection, found.refused)
    if problems:
        raise RefusedError(sorted(problems, key=lambda problem: problem.position))
    return Checked(tuple(found.doubts), tuple(sorted(found.searched)))


@attrs.define
class _Found:
    """What has been found so far; searched are the labels whose acts had to be put in order by search."""

    searched: set[str]
    refused: list[Refused] = attrs.Factory(list)
    doubts: list[Doubt] = attrs.Factory(list)


def _doubtful(connection: duckdb.DuckDBPyConnection, touched: Collection[str], searched: Collection[str]) -> list[str]:
    """Of the labels of a large batch, those to be looked at closely."""
    # rows in Arrow files are taken for a single one, and a join would be turned round to keep all of them in memory
    connection.execute("SET disabled_optimizers = 'build_side_probe_side'")
    built: set[str] = set()
    settle(connection, followed(connection, searched), built)
    build(connection, ["doubtful_labels", "unbegun_entries"], built)
    rows = connection.execute(
        "SELECT label FROM inside.doubtful_labels UNION SELECT label FROM inside.unbegun_entries ORDER BY label"
    ).fetchall()
    return [label for (label,) in rows if label in touched]


def _look_closely(connection: duckdb.DuckDBPyConnection, seen: Rows, found: _Found) -> None:
    """Find what contradicts the lives of the labels seen, and what asks for a look when nothing is refused."""
    if not seen.labels:
        return
    built: set[str] = set()
    settle(connection, followed(connection, found.searched), built)
    more = unsettled_labels(connection, seen.labels, built) - found.searched
    if not more:
        _judge(connection, seen, built, found)
        return
    found.searched |= more
    with connect(seen) as searching:
        built = set()
        settle(searching, followed(searching, found.searched), built)
        _judge(searching, seen, built, found)


def _judge(connection: duckdb.DuckDBPyConnection, seen: Rows, built: set[str], found: _Found) -> None:
    found.refused += refused_entries(connection, seen.labels or (), built)
    if not found.refused:
        found.doubts += _doubts(connection, seen, built)


def _touched(tables: Mapping[str, Candidates]) -> set[str]:
    labels: set[str] = set()
    for name in _LIFE:
        if name in tables:
            labels.update(label for label in pc.unique(_column(tables[name], "label")).to_pylist() if label is not None)
    if "life" in tables:
        labels.update(pc.unique(pc.list_flatten(_column(tables["life"], "into"))).to_pylist())
    return labels


def _column(rows: Candidates, name: str) -> pa.ChunkedArray:
    return rows[name] if isinstance(rows, pa.Table) else rows.to_table(columns=[name])[name].unify_dictionaries()


def _doubts(connection: duckdb.DuckDBPyConnection, seen: Rows, built: set[str]) -> Iterator[Doubt]:
    make_own(connection, seen.added)
    build(connection, ["doubts"], built)
    rows = connection.execute(
        "SELECT label, kind, event, on_from, on_to, record_id, grams, likely_grams, crop, near FROM inside.doubts "
        "WHERE label IN (SELECT unnest(?)) AND (unhex(record_id) IN (SELECT record_id FROM inside.own) "
        "OR unhex(previous_id) IN (SELECT record_id FROM inside.own)) ORDER BY ALL",
        [sorted(seen.labels or ())],
    ).fetchall()
    for label, kind, event, on_from, on_to, record_id, *what in rows:
        text = question(label, kind, event, on_from, on_to, *what)
        yield Doubt(label, kind, event, on_from, on_to, record_id, text)
