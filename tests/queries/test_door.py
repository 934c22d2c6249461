"""The closed door: what is refused does nothing, what is allowed answers, and no query gets past its limits."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from perennia.errors import QueryLimitError, QueryRefusedError, StoreError
from perennia.queries import select_grammar
from perennia.queries.allowed_functions import ALLOWED_FUNCTIONS
from perennia.queries.door import check_select, lock_connection, run_isolated, run_select

VIEWS = ("harvest", "season_summary")
MIB = 1024 * 1024


def write_rows(folder: Path) -> None:
    """Invented rows: two views' files, and one file beside them that nobody may read."""
    folder.mkdir(exist_ok=True)
    pq.write_table(
        pa.table({"label": ["A1", "A1", "A2"], "season": [2023, 2024, 2024], "grams": [120.0, 80.5, None]}),
        folder / "harvest's.parquet",
    )
    pq.write_table(pa.table({"label": ["A1", "A2"], "crop": ["rhubarb", "dahlia"]}), folder / "summary.parquet")
    pq.write_table(pa.table({"secret": [1]}), folder / "secret.parquet")


def pinned_files(folder: Path) -> list[str]:
    return [str(folder / "harvest's.parquet"), str(folder / "summary.parquet")]


def open_with_views(folder: Path) -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect()
    for view, file in zip(VIEWS, pinned_files(folder), strict=True):
        connection.execute(f"set variable {view}_files = ?", [[file]])
        connection.execute(f"create view {view} as select * from read_parquet(getvariable('{view}_files'))")
    return connection


def open_locked(folder: Path, memory_limit: str | None = "100MiB") -> duckdb.DuckDBPyConnection:
    connection = open_with_views(folder)
    lock_connection(connection, pinned_files(folder), memory_limit=memory_limit, threads=1)
    return connection


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("door") / "rows"
    write_rows(folder)
    return folder


@pytest.fixture(scope="module")
def locked(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_locked(folder) as connection:
        yield connection


@pytest.fixture
def unlocked(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection with every power and a table to lose: only the check stands between it and the query."""
    write_rows(tmp_path)
    with open_with_views(tmp_path) as connection:
        connection.execute("create table victim as select 1 as kept")
        connection.execute("create sequence numbers")
        yield connection


def state_of(connection: duckdb.DuckDBPyConnection, folder: Path) -> tuple[Any, ...]:
    """All that a query could have changed: files, tables and their rows, settings, variables, sequences."""
    return (
        {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()},
        connection.execute("select * from victim").fetchall(),
        connection.execute("select table_name from duckdb_tables() order by all").fetchall(),
        connection.execute("select view_name, sql from duckdb_views() where not internal order by all").fetchall(),
        connection.execute("select name, value from duckdb_settings() where name not like '%log%'").fetchall(),
        connection.execute("select name, value from duckdb_variables() order by all").fetchall(),
        connection.execute("select last_value from duckdb_sequences()").fetchall(),
        connection.execute("select database_name from duckdb_databases() order by all").fetchall(),
    )


STATEMENTS = [
    "",
    " ; ",
    "-- nothing",
    "select 1; select 2",
    "select 1; drop table victim",
    "select 1;; copy victim to 'DIR/out.csv'",
    "select 1 -- \n; delete from victim",
    "/* select 1 */ delete from victim",
    "select 1 \0; delete from victim",
    "pragma database_list",
    "pragma threads = 1",
    "attach 'DIR/new.db' as other",
    "detach memory",
    "use memory",
    "install httpfs",
    "load httpfs",
    "set threads = 1",
    "set variable harvest_files = ['DIR/secret.parquet']",
    "reset threads",
    "copy victim to 'DIR/out.csv'",
    "copy victim from 'DIR/in.csv'",
    "export database 'DIR/out'",
    "import database 'DIR/out'",
    "insert into victim values (2)",
    "insert into victim values (2) returning *",
    "update victim set kept = 2",
    "delete from victim",
    "truncate victim",
    "merge into victim using (select 2 as kept) n on false when not matched then insert",
    "create table other as select 1",
    "create or replace view harvest as select 1",
    "create macro twice(x) as x * 2",
    "create sequence more",
    "create temp table victim as select 2",
    "create secret s (type http)",
    "create type mood as enum ('glad')",
    "alter table victim add column more int",
    "drop view harvest",
    "comment on table victim is 'x'",
    "begin",
    "commit",
    "checkpoint",
    "vacuum",
    "analyze",
    "call pragma_version()",
    "explain select 1",
    "explain analyze insert into victim values (2)",
    "prepare p as select 1",
    "execute p",
    "deallocate p",
    "describe harvest",
    "show tables",
    "show all tables",
    "summarize harvest",
    "pivot harvest on season using sum(grams)",
    "unpivot harvest on grams",
    "from harvest |> where true |> insert into victim",
    "select 1 into other",
]

# What writes when it stands in a WITH clause, and the same in every place where a query can stand in another.
WRITES = [
    "copy victim to 'DIR/out.csv'",
    "copy (select 1) to 'DIR/out.parquet' (format parquet)",
    "insert into victim values (2) returning kept",
    "insert into victim select 2",
    "update victim set kept = 2 returning kept",
    "delete from victim returning kept",
    "merge into victim using (select 2 as kept) n on false when not matched then insert",
    "create table other as select 1",
    "set threads = 1",
    "call pragma_version()",
    "attach 'DIR/new.db' as other",
]
PLACES = [
    "with w as (WRITE) select * from w",
    "with w as materialized (WRITE) select 1",
    "with w as not materialized (WRITE) select * from w",
    "with a as (select 1), w as (WRITE) select * from a",
    "with a as (with w as (WRITE) select * from w) select * from a",
    "with recursive a as (with w as (WRITE) select 1 as n union all select n + 1 from a where n < 2) select * from a",
    "select * from (with w as (WRITE) select * from w)",
    "select (with w as (WRITE) select count(*) from w)",
    "select [(with w as (WRITE) select count(*) from w)]",
    "select * from harvest where exists (with w as (WRITE) select * from w)",
    "select * from harvest where season in (with w as (WRITE) select 1 from w)",
    "select 1 union all (with w as (WRITE) select 1 from w)",
    "with w as (WRITE) select 1 except select 2",
    "select label from harvest order by (with w as (WRITE) select count(*) from w)",
    "select label from harvest limit (with w as (WRITE) select count(*) from w)",
    "select label from harvest offset (with w as (WRITE) select count(*) from w)",
    "select distinct on ((with w as (WRITE) select count(*) from w)) label from harvest",
    "select label from harvest group by all having (with w as (WRITE) select count(*) from w) > 0",
    "select label from harvest qualify row_number() over (order by (with w as (WRITE) select count(*) from w)) = 1",
    "select sum(grams) filter (where exists (with w as (WRITE) select * from w)) from harvest",
    "select list_transform([1], lambda x: x + (with w as (WRITE) select count(*) from w))",
    "select case when true then (with w as (WRITE) select count(*) from w) end",
    "select * from harvest, lateral (with w as (WRITE) select * from w) l",
    "select * from harvest h join season_summary s on exists (with w as (WRITE) select * from w)",
    "select * from harvest positional join (with w as (WRITE) select * from w) p",
    "values ((with w as (WRITE) select count(*) from w))",
    "select * from range((with w as (WRITE) select count(*) from w))",
    "select * from unnest([(with w as (WRITE) select count(*) from w)])",
    "from (with w as (WRITE) select * from w) select 1",
    "select columns(lambda c: (with w as (WRITE) select true)) from harvest",
    "select (WRITE)",
    "select * from (WRITE)",
    "select exists (WRITE)",
]

SOURCES = [
    "victim",
    "main.harvest",
    "memory.main.harvest",
    "memory.harvest",
    '"main.harvest"',
    "harvest at (version => 1)",
    "information_schema.tables",
    "sqlite_master",
    "sqlite_schema",
    "pg_catalog.pg_class",
    "pg_class",
    "pragma_database_list",
    "duckdb_tables",
    "duckdb_tables()",
    "duckdb_settings()",
    "duckdb_variables()",
    "duckdb_secrets()",
    "duckdb_functions()",
    "duckdb_logs_parsed('x')",
    "pragma_table_info('victim')",
    "pragma_show('victim')",
    "pragma_version()",
    "read_csv('DIR/in.csv')",
    "read_csv_auto('DIR/in.csv')",
    "read_json('DIR/in.json')",
    "read_parquet('DIR/secret.parquet')",
    "read_parquet(['DIR/secret.parquet'])",
    "READ_PARQUET('DIR/secret.parquet')",
    "\"read_parquet\"('DIR/secret.parquet')",
    "system.main.read_parquet('DIR/secret.parquet')",
    "main.range(3)",
    "parquet_scan('DIR/secret.parquet')",
    "parquet_metadata('DIR/secret.parquet')",
    "parquet_schema('DIR/secret.parquet')",
    "read_text('DIR/*')",
    "read_blob('DIR/*')",
    "read_duckdb('DIR/x.db')",
    "glob('DIR/*')",
    "sniff_csv('DIR/in.csv')",
    "query('select 1')",
    "query_table('victim')",
    "query_table(['victim'])",
    "json_execute_serialized_sql('{}')",
    "seq_scan('victim')",
    "arrow_scan(1, 2, 3)",
    "pandas_scan(1)",
    "test_all_types()",
    "repeat_row(1, num_rows = 3)",
    "checkpoint()",
    "force_checkpoint()",
    "enable_logging()",
    "enable_profiling()",
    "histogram_values(victim, kept)",
    "which_secret('x', 'http')",
    "'DIR/secret.parquet'",
    '"DIR/secret.parquet"',
    "'DIR/*.parquet'",
    '"secret.parquet"',
    "'in.csv'",
    "'https://example.invalid/rows.parquet'",
    "'s3://example/rows.parquet'",
    "$$in.csv$$",
    "‘in.csv’",
    "“in.csv”",
    "frame_of_python",
    "(describe harvest)",
    "(show tables)",
    "(summarize harvest)",
    "(pivot harvest on season using sum(grams))",
    "(unpivot harvest on grams)",
    "harvest pivot (sum(grams) for season in (2023, 2024))",
    "harvest unpivot (value for name in (grams))",
    "(table victim)",
    "(from victim)",
    "harvest h, h.label",
    "?",
]
SOURCE_PLACES = [
    "select * from SOURCE",
    "from SOURCE",
    "with a as (select * from SOURCE) select * from a",
    "select (select count(*) from SOURCE)",
    "select * from harvest, lateral (select * from SOURCE) l",
    "select * from harvest positional join SOURCE",
    "select 1 union all select 1 from SOURCE",
    "select label from harvest where exists (from SOURCE)",
    "select/**/*/**/from/* harvest */SOURCE",
    "select * from -- harvest\nSOURCE",
]

# A name from WITH must not open the catalogue's relation of that name where the WITH does not reach.
SCOPES = [
    'with "secret.parquet" as (select 1) select * from "secret.parquet"',
    'with "DIR/secret.parquet" as (select 1) select * from "DIR/secret.parquet"',
    'with "a b" as (select 1) select * from "a b"',
    "with harvest as (select 1) select * from harvest",
    "with HARVEST as (select 1) select 1",
    "with recursive sqlite_master as (select * from sqlite_master) select * from sqlite_master",
    "with recursive sqlite_master as (select name from sqlite_master union all select name from sqlite_master"
    " where false) select * from sqlite_master",
    "with a as (from sqlite_master), sqlite_master as (select 1) from a",
    "select (with victim as (select 1) select 1), * from victim",
    "select * from (with victim as (select 1) from victim) a, victim",
    "(with victim as (select 1) from victim) union all (from victim)",
    "with recursive w(n) as (select 1 union all select n + 1 from recurring.w) select * from w",
]

CALLS = [
    "getvariable('harvest_files')",
    "current_setting('threads')",
    "current_query()",
    "current_database()",
    "current_schemas(true)",
    "system.main.getvariable('harvest_files')",
    "main.current_setting('threads')",
    "'threads'.current_setting()",
    "GetVariable('harvest_files')",
    "\"getvariable\"('harvest_files')",
    "list_transform(['threads'], lambda x: current_setting(x))",
    "nextval('numbers')",
    "currval('numbers')",
    "setval('numbers', 7)",
    "setseed(0.5)",
    "write_log('x')",
    "sleep_ms(1)",
    "pg_sleep(1)",
    "getenv('HOME')",
    "read_text('DIR/in.csv')",
    "txid_current()",
    "current_connection_id()",
    "stats(1)",
    "version()",
    "error('x')",
    "json_serialize_sql('select 1')",
    "json_deserialize_sql('{}')",
    "json_serialize_plan('select 1')",
    "parse_duckdb_log_message('x', 'y')",
    "add_parquet_key('x', 'y')",
    "pg_get_viewdef(1)",
    "has_table_privilege('victim', 'select')",
    "in_search_path('memory', 'main')",
    "nextval('numbers') over ()",
]

BAD = [
    *STATEMENTS,
    *(place.replace("WRITE", write) for place in PLACES for write in WRITES),
    *(place.replace("SOURCE", source) for place in SOURCE_PLACES for source in SOURCES),
    *SCOPES,
    *(f"select {call}" for call in CALLS),
    *(f"select label from harvest order by {call}" for call in CALLS),
]


def test_every_bad_form_is_refused_and_does_nothing(
    unlocked: duckdb.DuckDBPyConnection, tmp_path: Path, hundred_forms: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The connection is open to everything, so a form that passed would have had its effect."""
    frame_of_python = pd.DataFrame({"a": [1]})
    assert len(frame_of_python) == 1  # a replacement scan would find it by its name
    monkeypatch.chdir(tmp_path)
    before = state_of(unlocked, tmp_path)
    passed = []
    for query in hundred_forms:
        try:
            run_select(unlocked, query.replace("DIR", str(tmp_path)), None, views=VIEWS, time_limit_s=5)
        except QueryRefusedError as refusal:
            assert len(str(refusal)) > 20, query
        else:
            passed.append(query)
    assert passed == []
    assert state_of(unlocked, tmp_path) == before


@pytest.fixture(params=range(0, len(BAD), 100), ids=lambda start: f"forms from {start}")
def hundred_forms(request: pytest.FixtureRequest) -> list[str]:
    """A hundred forms at a time: the state is compared once for all of them."""
    start: int = request.param
    return BAD[start : start + 100]


def check_refuses(query: str) -> str:
    with pytest.raises(QueryRefusedError) as refusal:
        check_select(query, VIEWS)
    return str(refusal.value)


@pytest.mark.parametrize(
    ("query", "effect"),
    [
        ("with w as (copy victim to 'DIR/out.csv') select * from w", lambda folder, _: (folder / "out.csv").exists()),
        (
            "with w as (insert into victim values (2) returning *) select * from w",
            lambda _, connection: len(connection.execute("from victim").fetchall()) == 2,
        ),
        (
            "select nextval('numbers')",
            lambda _, connection: connection.execute("select last_value from duckdb_sequences()").fetchall() == [(1,)],
        ),
    ],
)
def test_without_the_check_the_form_does_its_harm(
    unlocked: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    query: str,
    effect: Callable[[Path, duckdb.DuckDBPyConnection], bool],
) -> None:
    """DuckDB takes these for a SELECT; the test fails when a later DuckDB no longer does, and the note can go."""
    text = query.replace("DIR", str(tmp_path))
    assert [statement.type for statement in unlocked.extract_statements(text)] == [duckdb.StatementType.SELECT]
    unlocked.execute(text).fetchall()
    assert effect(tmp_path, unlocked)


def test_a_name_out_of_scope_would_open_the_catalogue(unlocked: duckdb.DuckDBPyConnection) -> None:
    rows = unlocked.execute("with recursive sqlite_master as (select * from sqlite_master) from sqlite_master")
    assert rows.fetchall() != []


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("from harvets", "harvest"),
        ("select summ(grams) from harvest", "sum"),
        ("with w as (copy victim to 'x.csv') from w", "a copy"),
        ("with w as (insert into victim values (1)) from w", "an insert"),
        ("describe harvest", "describe"),
        ("pivot harvest on season", "pivot"),
        ("select 1; select 2", "2 statements"),
        ("", "no statement"),
        ("delete from victim", "delete"),
        ("from read_csv('x.csv')", "read_csv"),
        ("from main.harvest", "main.harvest"),
        ("with harvest as (select 1) select 1", "another name"),
        ("selct 1", "cannot be read"),
    ],
)
def test_a_refusal_names_what_was_refused_and_what_would_be_right(query: str, told: str) -> None:
    assert told in check_refuses(query)


GOOD: list[tuple[str, Any, list[tuple[Any, ...]]]] = [
    ("select 1", None, [(1,)]),
    ("SELECT Label FROM Harvest WHERE season = 2023", None, [("A1",)]),
    ("select 1;", None, [(1,)]),
    ("select label from harvest where season = ?", [2023], [("A1",)]),
    ("select label from harvest where season = $season", {"season": 2023}, [("A1",)]),
    ("select $2 - $1", [1, 3], [(2,)]),
    ("select label from harvest where season in (select unnest(?)) limit ?", [[2023], 1], [("A1",)]),
    ("select '); delete from victim; --' as text", None, [("); delete from victim; --",)]),
    ("select crop, sum(grams) s from harvest join season_summary using (label) group by all order by all", None,
     [("dahlia", None), ("rhubarb", 200.5)]),
    ("select h.label from harvest h left join season_summary s on h.label = s.label and s.crop = 'x'"
     " where s.crop is null and h.season = 2023", None, [("A1",)]),
    ("select count(*) from harvest anti join season_summary using (label)", None, [(0,)]),
    ("select count(*) from harvest, season_summary", None, [(6,)]),
    ("select n from harvest positional join (values (7), (8)) v(n)", None, [(7,), (8,), (None,)]),
    ("with picked as (select * from harvest where grams is not null), t as (select count(*) n from picked)"
     " select n from t", None, [(2,)]),
    ("with récolte(n) as materialized (select 2) select n from récolte", None, [(2,)]),
    ("with a as (select 1 n), b as (with c as (select n + 1 m from a) select m from c) select m from b", None, [(2,)]),
    ("select (with a as (select 5 n) select n from a)", None, [(5,)]),
    ("with a as (select 1 n) select n from a union all select n + 1 from a order by n", None, [(1,), (2,)]),
    ("with recursive w(n) as (select 1 union all select n + 1 from w where n < 3) select max(n) from w", None, [(3,)]),
    ("select label, rank() over w from harvest where season = 2024 window w as (order by label) order by all", None,
     [("A1", 1), ("A2", 2)]),
    ("select season from harvest qualify row_number() over (partition by label order by season desc) = 1"
     " order by all", None, [(2024,), (2024,)]),
    ("select sum(grams) over (order by season rows between unbounded preceding and current row) from harvest"
     " where label = 'A1' order by season", None, [(120.0,), (200.5,)]),
    ("select 1 union select 1 intersect select 1 except select 2", None, [(1,)]),
    ("select count(*) from range(3)", None, [(3,)]),
    ("select count(*) from generate_series(date '2024-01-01', date '2024-01-03', interval 1 day)", None, [(3,)]),
    ("select u from unnest([1, 2]) t(u)", None, [(1,), (2,)]),
    ("select unnest([1, 2])", None, [(1,), (2,)]),
    ("select label, season, count(*) from harvest where season = 2024 group by grouping sets ((label), (season))"
     " order by all", None, [("A1", None, 1), ("A2", None, 1), (None, 2024, 2)]),
    ("select grouping(label), count(*) from harvest group by rollup (label) order by all", None,
     [(0, 1), (0, 2), (1, 3)]),
    ("select [x * 2 for x in [1, 2, 3] if x > 1]", None, [([4, 6],)]),
    ("select list_transform([1, 2], lambda x: x + 1), list_filter([1, 2], lambda x: x > 1)", None, [([2, 3], [2])]),
    ("select label from season_summary s where exists (from harvest h where h.label = s.label and season = 2023)",
     None, [("A1",)]),
    ("values (1, 'a'), (2, 'b')", None, [(1, "a"), (2, "b")]),
    ("select b from (values (1, 2)) v(a, b)", None, [(2,)]),
    ("from harvest select label where season = 2023", None, [("A1",)]),
    ("select label.lower() from harvest where season = 2023", None, [("a1",)]),
    ("select * exclude (grams) replace (season + 1 as season) from harvest where season = 2023", None, [("A1", 2024)]),
    ("select columns('lab.*') from harvest where season = 2023", None, [("A1",)]),
    ("select distinct on (label) label from harvest order by label, season", None, [("A1",), ("A2",)]),
    ("select count(*) from harvest h, lateral (select h.season as s) l where s = 2024", None, [(2,)]),
    ("select quantile_cont(grams, 0.5), count(*) filter (where grams is null), arg_max(label, grams) from harvest",
     None, [(100.25, 1, "A1")]),
    ("select case when true then {'a': 1}.a else 0 end, map {'k': 2}['k'], try_cast('x' as int), 7 // 2, 'ab'[1:1]",
     None, [(1, 2, None, 3, "a")]),
    ("select extract(year from date '2024-05-01'), date_trunc('month', date '2024-05-09')::date::text,"
     " strftime(date '2024-05-01' + interval 1 day, '%d')", None, [(2024, "2024-05-01", "02")]),
    ("select count(*) from harvest using sample 2 rows", None, [(2,)]),
    ("/* from victim */ select 1 -- drop table victim", None, [(1,)]),
]  # fmt: skip


@pytest.mark.parametrize(("query", "params", "rows"), GOOD, ids=[query for query, _, _ in GOOD])
def test_a_good_form_answers(
    locked: duckdb.DuckDBPyConnection, query: str, params: Any, rows: list[tuple[Any, ...]]
) -> None:
    table = run_select(locked, query, params, views=VIEWS, time_limit_s=30)
    assert [tuple(row) for row in zip(*(column.to_pylist() for column in table.columns), strict=True)] == rows


def test_an_empty_answer_keeps_its_columns(locked: duckdb.DuckDBPyConnection) -> None:
    table = run_select(locked, "select label, grams from harvest where false", None, views=VIEWS, time_limit_s=None)
    assert (table.num_rows, table.column_names) == (0, ["label", "grams"])


@pytest.mark.parametrize(
    ("query", "params", "told"),
    [
        ("select seasn from harvest", None, "close to it: season"),
        ("select h.gram from harvest h", None, "close to it: grams"),
        ("select nothing_like_it_at_all from harvest", None, "no column nothing_like_it_at_all"),
        ("select 'x'::int", None, "Could not convert"),
        ("select label from harvest group by season", None, "GROUP BY"),
        ("select ?", None, "parameters: 1"),
        ("select ?", [1, 2], "excess parameters: 2"),
        ("select $a", {"b": 1}, "excess parameters: b"),
        ("select ?", [object()], "transform python value"),
        ("select ?", 5, "a list"),
        ("select ?", "text", "a list"),
        ("select 1 as a order by 'x' limit -1", None, "cannot be run"),
        ("select '\ud800'", None, "no text"),
        (7, None, "a query is text"),
    ],
)
def test_a_query_that_cannot_run_says_why(
    locked: duckdb.DuckDBPyConnection, query: Any, params: Any, told: str
) -> None:
    with pytest.raises(QueryRefusedError, match=told):
        run_select(locked, query, params, views=VIEWS, time_limit_s=None)


def test_duckdbs_own_error_is_kept_as_the_cause(locked: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(QueryRefusedError) as refusal:
        run_select(locked, "select 'x'::int", None, views=VIEWS, time_limit_s=None)
    assert isinstance(refusal.value.__cause__, duckdb.ConversionException)


@pytest.mark.parametrize("opened", ["(", "[", "{'a': ", "abs("])
def test_brackets_left_open_are_refused_before_they_hold_the_parser(opened: str) -> None:
    assert "nested" in check_refuses("select " + opened * 20_000)


@pytest.mark.parametrize("text", ["select 1" + " + 1" * 999, "select " + "not " * 950 + "true"])
def test_deep_nesting_without_brackets_never_escapes_as_a_traceback(
    locked: duckdb.DuckDBPyConnection, text: str
) -> None:
    try:
        table = run_select(locked, text, None, views=VIEWS, time_limit_s=30)
    except QueryRefusedError as refusal:
        assert "deep" in str(refusal)
    else:
        assert table.num_rows == 1


def test_a_query_longer_than_the_limit_is_refused() -> None:
    fitting = "select 1".ljust(select_grammar.LONGEST_QUERY)
    check_select(fitting, VIEWS)
    assert "characters long" in check_refuses(fitting + " ")


def test_every_allowed_function_exists_and_only_chance_is_volatile() -> None:
    with duckdb.connect() as connection:
        known = connection.execute(
            "select lower(function_name), bool_or(has_side_effects) from duckdb_functions()"
            " where function_type in ('scalar', 'aggregate', 'macro', 'window') group by all"
        ).fetchall()
    volatile = {name for name, side_effects in known if side_effects}
    assert ALLOWED_FUNCTIONS - {name for name, _ in known} == {"unnest"}  # built into the binder
    assert volatile & ALLOWED_FUNCTIONS == {"random", "uuid", "uuidv4", "uuidv7", "gen_random_uuid"}


# --- the second lock, tried without the first


@pytest.mark.parametrize(
    "statement",
    [
        "from read_parquet('DIR/secret.parquet')",
        "from 'DIR/secret.parquet'",
        "from glob('DIR/*')",
        "from read_text('DIR/*')",
        "copy (select 1) to 'DIR/out.csv'",
        "with w as (copy (select 1) to 'DIR/out.csv') select * from w",
        "attach 'DIR/new.db' as other",
        "export database 'DIR/out'",
        "load httpfs",
        "install httpfs",
        "from 'https://example.invalid/rows.parquet'",
        "create persistent secret s (type http)",
        "set enable_external_access = true",
        "set allowed_paths = ['DIR/secret.parquet']",
        "set lock_configuration = false",
        "reset lock_configuration",
        "set temp_directory = 'DIR'",
        "set memory_limit = '100GB'",
        "from frame_of_python",
    ],
)
def test_a_locked_connection_reaches_nothing_but_its_files(
    locked: duckdb.DuckDBPyConnection, folder: Path, statement: str
) -> None:
    frame_of_python = pd.DataFrame({"a": [1]})
    assert len(frame_of_python) == 1
    before = {path: path.read_bytes() for path in folder.rglob("*")}
    with pytest.raises(duckdb.Error):
        locked.execute(statement.replace("DIR", str(folder))).fetchall()
    assert {path: path.read_bytes() for path in folder.rglob("*")} == before
    assert locked.execute("select count(*) from harvest").fetchall() == [(3,)]


def test_python_variables_are_found_only_while_the_connection_is_not_locked(unlocked: Any) -> None:
    frame_of_python = pd.DataFrame({"a": [1]})
    assert len(frame_of_python) == 1
    assert unlocked.execute("from frame_of_python").fetchall() == [(1,)]


def test_spilled_rows_go_to_a_private_directory_that_is_removed(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    connection = open_locked(folder, memory_limit="64MiB")
    (directory,) = tmp_path.iterdir()
    assert directory.stat().st_mode & 0o077 == 0
    assert connection.execute("select current_setting('temp_directory')").fetchall() == [(str(directory),)]
    run_select(
        connection, "select count(*) from (select range r from range(3000000) order by hash(range), r) where r >= 0",
        None, views=VIEWS, time_limit_s=60,
    )  # fmt: skip
    connection.close()
    del connection
    assert list(tmp_path.iterdir()) == []


def test_the_limits_asked_for_are_duckdbs(folder: Path) -> None:
    with open_with_views(folder) as connection:
        lock_connection(connection, pinned_files(folder), memory_limit="64MiB", threads=2)
        asked = "select current_setting('memory_limit'), current_setting('threads')"
        assert connection.execute(asked).fetchall() == [("64.0 MiB", 2)]


# --- limits

ENDLESS = [
    "with recursive w(n) as (select 1 union all select n + 1 from w) select count(*) from w",
    "select count(*) from range(1000000) a, range(1000000) b where a.range % 7 = b.range % 3",
]


@pytest.mark.parametrize("query", ENDLESS)
@pytest.mark.parametrize("limit", [1e-6, 0.3])
def test_an_endless_query_is_stopped_and_the_connection_still_answers(
    locked: duckdb.DuckDBPyConnection, query: str, limit: float
) -> None:
    with pytest.raises(QueryLimitError, match="was stopped at its limit"):
        run_select(locked, query, None, views=VIEWS, time_limit_s=limit)
    assert run_select(locked, "select 1 as a", None, views=VIEWS, time_limit_s=30).to_pylist() == [{"a": 1}]


def test_a_query_beyond_duckdbs_memory_limit_is_stopped(locked: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(QueryLimitError, match="more memory"):
        run_select(locked, "select list(range) from range(100000000)", None, views=VIEWS, time_limit_s=60)


@pytest.mark.parametrize("limit", [0, -1.0, float("nan")])
def test_a_limit_that_leaves_no_time_is_refused(locked: duckdb.DuckDBPyConnection, folder: Path, limit: float) -> None:
    with pytest.raises(QueryLimitError, match="above 0"):
        run_select(locked, "select 1", None, views=VIEWS, time_limit_s=limit)
    with pytest.raises(QueryLimitError, match="above 0"):
        isolated("select 1", folder, time_limit_s=limit)


def isolated(query: str, folder: Path, params: Any = None, **limits: Any) -> pa.Table:
    limits = {"time_limit_s": 60, "memory_limit_bytes": 512 * MIB} | limits
    return run_isolated(partial(open_locked, folder, "1GiB"), query, params, views=VIEWS, **limits)


def test_an_isolated_query_answers_as_in_this_process(locked: duckdb.DuckDBPyConnection, folder: Path) -> None:
    query = (
        "select label, season, grams, [season] as l, uuid() is null as u from harvest where season >= ? order by all"
    )
    here = run_select(locked, query, [2023], views=VIEWS, time_limit_s=None)
    assert isolated(query, folder, [2023]).equals(here)


def test_an_isolated_query_is_checked_first(folder: Path) -> None:
    with pytest.raises(QueryRefusedError, match="a copy"):
        isolated("with w as (copy harvest to 'x.csv') from w", folder)


def test_an_isolated_query_that_cannot_run_says_why(folder: Path) -> None:
    with pytest.raises(QueryRefusedError, match="close to it: season"):
        isolated("select seasn from harvest", folder)


@pytest.mark.parametrize(
    "query",
    [
        "select length(repeat('x', 3000000000))",  # one call, which DuckDB's own limit does not see
        "select list(range) from range(1000000000)",
        "select range, repeat('y', 1000) from range(1000000000)",
    ],
)
def test_an_isolated_memory_bomb_ends_in_a_limit_error(folder: Path, query: str) -> None:
    with pytest.raises(QueryLimitError, match="memory"):
        isolated(query, folder, memory_limit_bytes=256 * MIB)


def test_memory_too_small_to_open_the_garden_ends_in_a_limit_error(folder: Path) -> None:
    with pytest.raises(QueryLimitError, match="memory"):
        isolated("select 1", folder, memory_limit_bytes=MIB)


def test_an_isolated_call_that_cannot_be_interrupted_is_killed_and_leaves_nothing(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with pytest.raises(QueryLimitError, match="stopped at its limit of 2 s"):
        isolated("select levenshtein(repeat('a', 1000000), repeat('b', 1000000))", folder, time_limit_s=2)
    assert list(tmp_path.iterdir()) == []


def open_and_die() -> duckdb.DuckDBPyConnection:
    import os
    import signal

    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError


def open_and_fail() -> duckdb.DuckDBPyConnection:
    raise StoreError("the folder is gone")


def open_and_break() -> duckdb.DuckDBPyConnection:
    raise OSError("the disk is gone")


def open_and_print() -> duckdb.DuckDBPyConnection:
    print("noise on standard output")
    return duckdb.connect()


@pytest.mark.parametrize(
    ("opening", "error", "told"),
    [
        (open_and_die, QueryLimitError, "signal 9"),
        (open_and_fail, StoreError, "^the folder is gone$"),
        (open_and_break, StoreError, "the disk is gone"),
    ],
)
def test_a_child_that_fails_is_told_in_words(
    opening: Callable[[], duckdb.DuckDBPyConnection], error: type[Exception], told: str
) -> None:
    with pytest.raises(error, match=told):
        run_isolated(opening, "select 1", None, views=(), time_limit_s=60, memory_limit_bytes=512 * MIB)


def test_what_a_child_prints_does_not_get_into_the_result() -> None:
    table = run_isolated(open_and_print, "select 1 as a", None, views=(), time_limit_s=60, memory_limit_bytes=512 * MIB)
    assert table.to_pylist() == [{"a": 1}]


# --- random text

WORDS = (
    "select from where with recursive as ( ) [ ] { } , ; * . ' \" $$ -- /* */ \n ? $a 1 2.5 null true harvest"
    " season_summary label season grams victim a b w union all except join on using lateral positional order by limit"
    " offset group having qualify over partition window exists not in is case when then else end values unnest range"
    " generate_series sum count list_transform lambda x : -> => := :: int text[] date interval day distinct filter"
    " copy to insert into delete update set create table view drop attach pragma call describe summarize pivot"
    " read_parquet read_text getvariable nextval sqlite_master main.harvest 'secret.parquet' \"in.csv\" ‘ ” é 🌱"
).split(" ")
wordy = st.lists(st.sampled_from(WORDS) | st.text(max_size=5), max_size=25).map(" ".join)
atoms = st.sampled_from(["1", "label", "season", "grams", "'x'", "null", "?", "count(*)", "now()", "w.n", "[1, 2]"])
expressions = st.recursive(
    atoms,
    lambda inner: (
        st.builds("({} {} {})".format, inner, st.sampled_from("+ - / || = < and or in like".split()), inner)
        | st.builds("{}({})".format, st.sampled_from(["sum", "upper", "abs", "unnest", "len", "getvariable"]), inner)
        | st.builds("(select {} from {})".format, inner, st.sampled_from(["harvest", "range(3) w(n)", "victim", "w"]))
    ),
    max_leaves=5,
)
sources = st.sampled_from(["harvest", "season_summary s", "w", "range(4) w(n)", "(values (1)) w(n)", "'x.csv'"])
shaped = st.builds(
    "{} select {} from {} {} {}".format,
    st.sampled_from(["", "with w(n) as (select 1)", "with w as (copy harvest to 'x.csv')"]),
    st.lists(expressions, min_size=1, max_size=3).map(", ".join),
    sources,
    st.just("") | expressions.map("where {}".format),
    st.sampled_from(["", "group by all", "order by 1", "limit 2", "union all select 1"]),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=300)
@given(query=wordy | shaped | st.text(), params=st.none() | st.lists(st.integers() | st.text(), max_size=2))
def test_any_text_ends_in_a_table_a_refusal_or_a_limit(
    locked: duckdb.DuckDBPyConnection, folder: Path, query: str, params: list[Any] | None
) -> None:
    files = sorted(folder.rglob("*"))
    try:
        answer = run_select(locked, query, params, views=VIEWS, time_limit_s=20)
    except (QueryRefusedError, QueryLimitError) as refusal:
        assert str(refusal)
    else:
        assert isinstance(answer, pa.Table)
    assert sorted(folder.rglob("*")) == files
