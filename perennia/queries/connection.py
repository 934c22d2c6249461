"""The one place where a DuckDB connection gets its relations: base tables over pinned files, then the .sql files."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cache
from pathlib import Path

import attrs
import duckdb
import pyarrow as pa

from perennia import crops, lifecycle
from perennia.crops import CropProfile
from perennia.errors import StoreError
from perennia.queries import catalogue
from perennia.queries.curve_dates import curve_dates
from perennia.queries.cut_off import cut_off
from perennia.store.old_rows import from_json
from perennia.store.reading import reading, stored_rows
from perennia.store.schemas import TABLES, Candidates

_FEW_LABELS, _FEW_ROWS, _FEW_BYTES = 2_000, 20_000, 2**22
_MANY_BYTES = 2**24
RECORD_TABLES = tuple(table for table in TABLES if table not in ("batches", "corrections"))
_MACROS = (
    # a growing year is named by the calendar year of its first day; starts is that day as month * 100 + day
    # (most begin with the calendar year, and taking days apart is what costs most in millions of rows)
    "CREATE MACRO growing_year(day, starts) AS CASE WHEN starts = 101 THEN year(day) "
    "ELSE year(day) - CAST(month(day) * 100 + day(day) < starts AS INTEGER) END",
    # the same with it as month-day text
    "CREATE MACRO season_year(day, starts) AS "
    "growing_year(day, CAST(replace(starts, '-', '') AS INTEGER))",
    # so early in a growing year that a run of picking may still be of the season before: our own rule, 60 days
    "CREATE MACRO is_early(day, starts) AS CASE WHEN starts = 101 THEN dayofyear(day) - 1 "
    "ELSE day - growing_year_begins(growing_year(day, starts), starts) END < 60",
    "CREATE MACRO growing_year_begins(season, starts) AS make_date(season, starts // 100, starts % 100)",
    "CREATE MACRO season_first_day(season, starts) AS "
    "growing_year_begins(season, CAST(replace(starts, '-', '') AS INTEGER))",
    # the day taken for a span: its middle, its last where nobody knows the first (most are of one day, which is quick)
    "CREATE MACRO middle_day(from_day, to_day) AS "
    "CASE WHEN from_day = to_day THEN to_day "
    "ELSE coalesce(from_day + CAST(floor((to_day - from_day) / 2) AS INTEGER), to_day) END",
    # an entry without a first day can be of any day up to its last
    "CREATE MACRO can_lie_within(on_from, on_to, from_day, to_day) AS "
    "from_day <= on_to AND to_day >= coalesce(on_from, DATE '0001-01-01')",
    # shown as 2024 where the growing year is the calendar year, else as 2024/25
    "CREATE MACRO season_name(season, starts) AS CAST(season AS VARCHAR) "
    "|| CASE WHEN starts = '01-01' THEN '' ELSE '/' || lpad(CAST((season + 1) % 100 AS VARCHAR), 2, '0') END",
    # a picking of nothing is a look; a weight and a number of one picking are both nothing or neither (rule R6)
    "CREATE MACRO took_crop(grams, number) AS coalesce(grams, number) > 0",
    # the sign of a hybrid is written x or ×, and a profile is kept under x
    "CREATE MACRO profile_name(crop) AS replace(crop, '×', 'x')",
    # how a winter was spent: as the acts of the rest say, else where the root stood if it stood; else nobody knows
    "CREATE MACRO wintered(potted, lifted, mulched, protection, stood, container) AS CASE "
    "WHEN potted THEN concat_ws(', ', 'pot', protection) WHEN lifted THEN concat_ws(', ', 'bare root', protection) "
    "WHEN mulched OR stood THEN CASE WHEN container IS NULL THEN 'ground' ELSE 'pot' END "
    "|| CASE WHEN mulched THEN ', mulch' ELSE '' END ELSE 'unknown' END",
    # our own rule: a run of picking is unbroken while gaps stay within three usual ones, at the least 21 days,
    # and until an act ends it
    "CREATE MACRO unbroken_days(usual_gap_days) AS greatest(21, 3 * coalesce(usual_gap_days, 7))",
    "CREATE MACRO ends_run(act) AS act IN ('died_back_whole', 'cut_back', 'lifted')",
    # known closely enough for dates and rates: to 14 days; missing when the first day is not known
    "CREATE MACRO is_dated(on_from, on_to) AS on_to - on_from <= 13",
    # a figure to a tenth as a grower writes it, whole ones without a point; and a number with its noun
    "CREATE MACRO in_tenths(figure) AS regexp_replace(CAST(round(figure, 1) AS VARCHAR), '[.]0$', '')",
    "CREATE MACRO numbered(number, noun) AS CAST(number AS VARCHAR) || ' ' || noun "
    "|| CASE WHEN number = 1 THEN '' ELSE 's' END",
    # shares of a picking: above what the crop makes likely a day; so little that it may be in kilograms (small fruits
    # that were counted may weigh half a gram each)
    "CREATE MACRO is_heavy(grams, likely_g) AS grams > likely_g",
    "CREATE MACRO is_light(grams, number, shared_by, least_g) AS "
    "grams > 0 AND grams * shared_by <= least_g AND NOT coalesce(grams >= 0.5 * number, false)",
)
_WORKED_OUT = {"curve_dates": curve_dates}
_TRANSITIONS = pa.schema([
    ("act", pa.string()), ("state_before", pa.string()), ("state_after", pa.string()),
    ("inferred", pa.list_(pa.string())), ("doubt", pa.bool_()),
])  # fmt: skip
_ACT_RANKS = pa.schema([
    ("act", pa.string()), ("rank", pa.int64()), ("opening", pa.bool_()), ("beginning", pa.bool_()),
    ("growth", pa.bool_()),
])  # fmt: skip
_DUCKDB_TYPES = {
    "string": "VARCHAR", "double": "DOUBLE", "int64": "BIGINT", "int32": "INTEGER", "bool": "BOOLEAN",
    "date32[day]": "DATE", "binary": "BLOB", "timestamp[us, tz=UTC]": "TIMESTAMPTZ",
    str(pa.list_(pa.string())): "VARCHAR[]",
}  # fmt: skip
PLACEMENTS = pa.schema([
    ("label", pa.string()), ("record_id", pa.binary()), ("act", pa.string()),
    ("placed_on", pa.date32()), ("placed_order", pa.int64()),
])  # fmt: skip


@attrs.frozen
class Rows:
    """The rows a connection is to see.

    files: absolute paths of each table's Parquet files. as_of: the instant whose knowledge is asked, or None for all.
    added: candidate rows (all columns of the schema), in memory or in files, seen as if stored. withdrawn: record ids
    seen as if corrected away. until: the last day of which anything is seen, None for all days. labels: when given,
    only life, harvest and flowering rows that bear on these labels are seen. added_bears: whether it is known that all
    of added does. profiles: those to go by, the shipped ones when not given.
    """

    files: Mapping[str, Sequence[str]]
    as_of: datetime | None = None
    added: Mapping[str, Candidates] = attrs.Factory(dict)
    withdrawn: Collection[bytes] = ()
    until: date | None = None
    labels: Collection[str] | None = None
    added_bears: bool = False
    profiles: Mapping[str, CropProfile] = attrs.Factory(crops.profiles)

    @property
    def are_few(self) -> bool:
        """Whether few rows are seen: those of some plants, or of a small garden; and few in memory with them."""
        added = list(self.added.values())
        if not all(isinstance(table, pa.Table) for table in added) or sum(map(len, added)) > _FEW_ROWS:
            return False
        return self._stored_bytes() <= _FEW_BYTES if self.labels is None else len(self.labels) <= _FEW_LABELS

    @property
    def are_many(self) -> bool:
        """Whether so many are stored that it is faster to look at one plant alone."""
        return self._stored_bytes() >= _MANY_BYTES

    def _stored_bytes(self) -> int:
        return sum(Path(file).stat().st_size for files in self.files.values() for file in files)


def connect(rows: Rows) -> duckdb.DuckDBPyConnection:
    """An in-memory connection with the base relations (``inside.<table>_rows`` and the small fixed tables)."""
    connection = reading()
    connection.execute(_fixed_relations())
    for name, table in _lifecycle_tables().items():
        _keep(connection, name, table)
    _keep(connection, "crop_profiles", crops.as_table(rows.profiles))
    _keep(connection, "crop_names", crops.names_table(rows.profiles))
    corrected = _make_corrected(connection, rows)
    for table in RECORD_TABLES:
        _make_stored(connection, table, rows.files.get(table, ()))
        if table in rows.added:
            # read where they lie: a large batch is kept once
            connection.register(f"{table}_arriving", rows.added[table])
            connection.execute(f"CREATE VIEW inside.{table}_added AS SELECT * FROM {table}_arriving")
    if rows.labels is not None:
        _make_touched(connection, rows)
    # few rows are held, so that every relation over them is planned without the files
    held = rows.are_few
    for table in RECORD_TABLES:
        _make_rows(connection, table, rows, corrected, held=held)
    return connection


def build(connection: duckdb.DuckDBPyConnection, wanted: Collection[str], built: set[str]) -> None:
    """Make the wanted relations and what they need, once; built names those already made and is added to."""
    for query in catalogue.in_order(wanted, built):
        try:
            if query.worked_out_by:
                _keep(connection, query.name, _WORKED_OUT[query.worked_out_by](connection, query.sql))
            else:
                what = "TABLE" if query.kept else "VIEW"
                connection.execute(f"CREATE {what} {query.qualified} AS {query.sql}")
        except duckdb.Error as error:
            raise StoreError(f"the view {query.name} cannot be made over this garden ({error})") from error
        built.add(query.name)


def counting_rows(connection: duckdb.DuckDBPyConnection, table: str) -> pa.Table:
    """The rows of a record table that count, with the columns of its schema, by record_id and label."""
    found = connection.sql(f"SELECT * FROM inside.{table}_rows").to_arrow_table().cast(TABLES[table])
    return found.sort_by([(name, "ascending") for name in ("record_id", "label") if name in found.column_names])


def counting_corrections(connection: duckdb.DuckDBPyConnection) -> pa.Table:
    """The corrections known at the instant asked, in their order, with ids as text."""
    return connection.sql(
        "SELECT lower(hex(record_id)) AS record_id, lower(hex(replacement_id)) AS replacement_id, "
        "corrected_at AT TIME ZONE 'UTC' AS corrected_at, table_name AS \"table\", reason, old "
        "FROM inside.corrections_stored, inside.instant WHERE as_of IS NULL OR corrected_at <= as_of "
        "ORDER BY corrected_at, record_id"
    ).to_arrow_table()


def stored_sizes(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """The number of stored rows of each record table."""
    counts = ", ".join(f"(SELECT count(*) FROM inside.{table}_stored)" for table in RECORD_TABLES)
    found = connection.execute(f"SELECT {counts}").fetchall()
    return dict(zip(RECORD_TABLES, found[0], strict=True))


@cache
def _fixed_relations() -> str:
    """One script, run in one go, of everything that is the same for every garden. Nothing in it comes from a grower."""
    script = ["SET TimeZone = 'UTC'", "CREATE SCHEMA inside", *_MACROS]
    script += [_empty(f"{table}_empty", TABLES[table]) for table in (*RECORD_TABLES, "corrections")]
    script += [_empty("placements", PLACEMENTS)]
    script += [_empty("withdrawn", pa.schema([("record_id", pa.binary())]))]
    return "; ".join(script)


@cache
def _lifecycle_tables() -> dict[str, pa.Table]:
    """Every step a plant can take, and what kind of act each act is."""
    tables = (("transitions", _TRANSITIONS, _transitions()), ("act_ranks", _ACT_RANKS, _act_ranks()))
    return {
        name: pa.Table.from_pylist([dict(zip(schema.names, row, strict=True)) for row in rows], schema=schema)
        for name, schema, rows in tables
    }


def _empty(name: str, schema: pa.Schema) -> str:
    columns = ", ".join(f'"{field.name}" {_DUCKDB_TYPES[str(field.type)]}' for field in schema)
    return f"CREATE TABLE inside.{name} ({columns})"


def _transitions() -> Iterator[tuple[object, ...]]:
    for (act, before), step in lifecycle.TRANSITIONS.items():
        yield act, before, step.after, step.inferred, step.doubt


def _act_ranks() -> Iterator[tuple[object, ...]]:
    for act in lifecycle.ACTS:
        yield (
            act, lifecycle.rank(act), act in lifecycle.OPENING, act in lifecycle.BEGINNINGS, act in lifecycle.GROWTH
        )  # fmt: skip


def _keep(connection: duckdb.DuckDBPyConnection, name: str, table: pa.Table) -> None:
    connection.register("arriving", table)
    connection.execute(f"CREATE TABLE inside.{name} AS SELECT * FROM arriving")
    connection.unregister("arriving")


def _make_stored(connection: duckdb.DuckDBPyConnection, table: str, files: Sequence[str]) -> None:
    """inside.<table>_stored: all stored rows, with every column of the schema even from files older than it."""
    columns = ", ".join(f'"{name}"' for name in TABLES[table].names)
    source = f"SELECT {columns} FROM inside.{table}_empty"
    if files:
        connection.execute(f"SET VARIABLE {table}_files = ?", [list(files)])
        source += " UNION ALL BY NAME " + stored_rows(table, f"getvariable('{table}_files')")
    connection.execute(f"CREATE VIEW inside.{table}_stored AS SELECT {columns} FROM ({source})")


def _make_corrected(connection: duckdb.DuckDBPyConnection, rows: Rows) -> Collection[str]:
    """inside.corrected: ids of records that do not count (any more, or at the instant asked). Gives their tables."""
    _make_stored(connection, "corrections", rows.files.get("corrections", ()))
    if rows.withdrawn:
        connection.execute("INSERT INTO inside.withdrawn SELECT unnest(?)", [list(rows.withdrawn)])
    connection.execute(
        "CREATE TABLE inside.instant AS SELECT CAST(? AS TIMESTAMPTZ) AS as_of, CAST(? AS DATE) AS until",
        [rows.as_of, rows.until],
    )
    connection.execute(
        "CREATE TABLE inside.corrected AS "
        "SELECT record_id, table_name FROM inside.corrections_stored, inside.instant "
        "WHERE as_of IS NULL OR corrected_at <= as_of "
        "UNION SELECT record_id, NULL FROM inside.withdrawn"
    )
    named = {table for (table,) in connection.execute("SELECT DISTINCT table_name FROM inside.corrected").fetchall()}
    return RECORD_TABLES if None in named else named


def _make_rows(
    connection: duckdb.DuckDBPyConnection, table: str, rows: Rows, corrected: Collection[str], *, held: bool
) -> None:
    """inside.<table>_rows: the rows that count. corrected: tables in which some do not. held: whether they are kept in
    memory."""
    names = TABLES[table].names
    columns = ", ".join(f'"{name}"' for name in names)
    standing = "record_id NOT IN (SELECT record_id FROM inside.corrected)"
    # where nothing was corrected, the ids of millions of rows are not read to find that out
    counted = f"SELECT {columns} FROM inside.{table}_stored WHERE {standing if table in corrected else 'true'}"
    if rows.as_of is not None:
        # what was corrected later was still believed then; compaction may have folded it out of the table
        counted += " AND recorded_at <= (SELECT as_of FROM inside.instant)"
        _keep(connection, f"{table}_folded", _folded(connection, table))
        counted += (
            f" UNION ALL SELECT {columns} FROM inside.{table}_folded "
            f"WHERE record_id NOT IN (SELECT record_id FROM inside.{table}_stored) "
            f"AND {standing} AND recorded_at <= (SELECT as_of FROM inside.instant)"
        )
    arriving = f"SELECT {columns} FROM inside.{table}_added" if table in rows.added else ""
    if rows.labels is not None and "label" in names:
        into = ' OR list_has_any("into", (SELECT list(label) FROM inside.touched))' if "into" in names else ""
        bearing = f"WHERE label IN (SELECT label FROM inside.touched){into}"
        counted = f"SELECT {columns} FROM ({counted}) {bearing}"
        if arriving and not rows.added_bears:
            arriving += f" {bearing}"
    if arriving:
        counted += f" UNION ALL {arriving}"
    if rows.until is not None:
        counted = cut_off(table, names, counted)
    connection.execute(f"CREATE {'TABLE' if held else 'VIEW'} inside.{table}_rows AS {counted}")


def _make_touched(connection: duckdb.DuckDBPyConnection, rows: Rows) -> None:
    """inside.touched: the labels asked for, and those they were divided or cut from, all generations back."""
    life = 'SELECT label, "into" FROM inside.life_stored'
    if "life" in rows.added:
        life += ' UNION ALL SELECT label, "into" FROM inside.life_added'
    connection.execute(
        "CREATE TABLE inside.touched AS WITH RECURSIVE lineage AS ("
        "SELECT unnest(?) AS label UNION SELECT mothers.label FROM lineage "
        f'JOIN (SELECT label, unnest("into") AS daughter FROM ({life})) AS mothers ON mothers.daughter = lineage.label'
        ") SELECT label FROM lineage",
        [sorted(rows.labels or ())],
    )


def _folded(connection: duckdb.DuckDBPyConnection, table: str) -> pa.Table:
    """Old rows of records corrected after the instant asked, rebuilt from the corrections."""
    found = connection.execute(
        "SELECT old FROM inside.corrections_stored, inside.instant "
        "WHERE table_name = ? AND corrected_at > as_of AND old_recorded_at <= as_of",
        [table],
    ).fetchall()
    return pa.concat_tables([TABLES[table].empty_table(), *(from_json(table, old) for (old,) in found)])
