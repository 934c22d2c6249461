"""The closed door: what is refused does nothing, what is allowed answers, and no query gets past its limits."""

from __future__ import annotations

import importlib
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from perennia.errors import QueryLimitError, QueryRefusedError, StoreError
from perennia.queries import select_grammar
from perennia.queries.allowed_functions import ALLOWED_FUNCTIONS
from perennia.queries.door import check_select, lock_connection, run_isolated, run_select
from tests.queries.door_forms import BAD, GOOD

# Imported by its plain name, so that a new process finds it whatever other package is called `tests`.
sys.path.append(str(Path(__file__).parent))
door_openings = importlib.import_module("door_openings")
VIEWS: tuple[str, ...] = door_openings.VIEWS
MIB = 1024 * 1024


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("door") / "rows"
    door_openings.write_rows(folder)
    return folder


@pytest.fixture(scope="module")
def locked(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with door_openings.open_locked(folder) as connection:
        yield connection


@pytest.fixture
def unlocked(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection with every power and a table to lose: only the check stands between it and the query."""
    door_openings.write_rows(tmp_path)
    with door_openings.open_with_views(tmp_path) as connection:
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


def test_every_bad_form_is_refused_and_does_nothing(
    unlocked: duckdb.DuckDBPyConnection, tmp_path: Path, hundred_forms: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The connection is open to everything, so a form that passed would have had its effect."""
    frame_of_python = pd.DataFrame({"a": [1]})
    assert len(frame_of_python) == 1  # a replacement scan would find it by its name
    monkeypatch.chdir(tmp_path)
    before = state_of(unlocked, tmp_path)
    forms = [form.replace("DIR", str(tmp_path)) for form in hundred_forms]
    assert [form for form in forms if not is_refused(form)] == []
    for form in forms:
        with pytest.raises(QueryRefusedError):
            run_select(unlocked, form, None, views=VIEWS, time_limit_s=5)
    assert state_of(unlocked, tmp_path) == before


def is_refused(query: str) -> bool:
    try:
        check_select(query, VIEWS)
    except QueryRefusedError:
        return True
    return False


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
        ("from harvest at (version => 1)", "as of that day"),
        ("with harvest as (select 1) select 1", "another name"),
        ("selct 1", "cannot be read"),
        ("select on from harvest", 'where a column is meant, put it in quotation marks: "on"'),
    ],
)
def test_a_refusal_names_what_was_refused_and_what_would_be_right(query: str, told: str) -> None:
    assert told in check_refuses(query)


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
        ("select $a", {"b": 1}, "parameters: a"),
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


@pytest.mark.parametrize(
    "part", [{"type": "NOVEL_NODE"}, {"class": "NOVEL", "type": "NOVEL"}, {"novel": []}, {"type": {}, "novel": 1}]
)
def test_a_part_of_the_tree_that_nobody_has_read_about_is_refused(part: dict[str, Any]) -> None:
    with pytest.raises(QueryRefusedError, match="novel"):
        select_grammar._checked_parts(part, frozenset(), ())


@pytest.mark.parametrize("opened", ["(", "[", "{'a':", "abs("])
def test_brackets_left_open_are_refused_before_they_hold_the_parser(opened: str) -> None:
    assert "nested" in check_refuses("select " + opened * 10_000)


@pytest.mark.parametrize("sign", ["-", "+", "- ", "+\n-"])
def test_signs_in_a_row_are_refused_before_they_hold_the_parser(sign: str) -> None:
    assert "signs in a row" in check_refuses("select " + sign * 10_000)


def test_a_ruler_of_dashes_in_a_comment_is_no_row_of_signs() -> None:
    check_select("select 1 " + "-" * 200, VIEWS)


@pytest.mark.parametrize("text", ["select 1" + " + 1" * 999, "select " + "not " * 950 + "true"])
def test_deep_nesting_without_brackets_never_escapes_as_a_traceback(
    locked: duckdb.DuckDBPyConnection, text: str
) -> None:
    try:
        table = run_select(locked, text, None, views=VIEWS, time_limit_s=30)
    except QueryRefusedError:
        return
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
    connection = door_openings.open_locked(folder, memory_limit="64MiB")
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
    with door_openings.open_with_views(folder) as connection:
        lock_connection(connection, door_openings.pinned_files(folder), memory_limit="64MiB", threads=2)
        asked = "select current_setting('memory_limit'), current_setting('threads')"
        assert connection.execute(asked).fetchall() == [("64.0 MiB", 2)]


def test_queries_take_no_more_memory_than_a_program_can_spare(folder: Path) -> None:
    with door_openings.open_with_views(folder) as connection:
        asked = "select current_setting('memory_limit')"
        connection.execute("set memory_limit = '300MiB'")
        lock_connection(connection, door_openings.pinned_files(folder))
        assert connection.execute(asked).fetchall() == [("300.0 MiB",)]
    with door_openings.open_with_views(folder) as connection:
        connection.execute("set memory_limit = '7GiB'")
        lock_connection(connection, door_openings.pinned_files(folder))
        assert connection.execute(asked).fetchall() == [("763.0 MiB",)]


@pytest.mark.parametrize(
    "setting",
    [
        "python_enable_replacements",
        "python_scan_all_frames",
        "autoinstall_known_extensions",
        "autoload_known_extensions",
        "allow_community_extensions",
        "allow_persistent_secrets",
    ],
)
def test_what_closed_files_already_hold_back_is_switched_off_as_well(
    locked: duckdb.DuckDBPyConnection, setting: str
) -> None:
    assert locked.execute("select current_setting(?)", [setting]).fetchall() == [(False,)]


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
    return run_isolated(partial(door_openings.open_locked, folder, "1GiB"), query, params, views=VIEWS, **limits)


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


def test_a_parameter_that_cannot_leave_this_process_is_refused(folder: Path) -> None:
    with pytest.raises(QueryRefusedError, match="another process"):
        isolated("select ?", folder, [lambda: 1])


@pytest.mark.parametrize(
    "query",
    [
        "select length(repeat('x', 3000000000))",  # one call, which DuckDB's own limit does not see
        "select list(range) from range(1000000000)",
        "select range, repeat('y', 1000) from range(1000000000)",
        "select " + ("(" + "+" * 400) * 150,  # chokes the parser
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
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr(tempfile, "tempdir", None)  # look at TMPDIR again
    with pytest.raises(QueryLimitError, match="stopped at its limit of 2 s"):
        isolated("select levenshtein(repeat('a', 1000000), repeat('b', 1000000))", folder, time_limit_s=2)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("opening", "error", "told"),
    [
        (door_openings.open_and_die, QueryLimitError, "signal 9"),
        (door_openings.open_and_fail, StoreError, "^the folder is gone$"),
        (door_openings.open_and_break, StoreError, "the disk is gone"),
    ],
)
def test_a_child_that_fails_is_told_in_words(
    opening: Callable[[], duckdb.DuckDBPyConnection], error: type[Exception], told: str
) -> None:
    with pytest.raises(error, match=told):
        run_isolated(opening, "select 1", None, views=(), time_limit_s=60, memory_limit_bytes=512 * MIB)


def test_what_a_child_prints_does_not_get_into_the_result() -> None:
    table = run_isolated(
        door_openings.open_and_print, "select 1 as a", None, views=(), time_limit_s=60, memory_limit_bytes=512 * MIB
    )
    assert table.to_pylist() == [{"a": 1}]


# --- random text

VOCABULARY = """
    select from where with recursive as ( ) [ ] { } , ; * . ' " $$ -- /* */ ? $a 1 2.5 null true harvest
    season_summary label season grams victim a b w union all except join on using lateral positional order by limit
    offset group having qualify over partition window exists not in is case when then else end values unnest range
    generate_series sum count list_transform lambda x : -> => := :: int text[] date interval day distinct filter
    copy to insert into delete update set create table view drop attach pragma call describe summarize pivot
    read_parquet read_text getvariable nextval sqlite_master main.harvest 'secret.parquet' "in.csv" ‘ ” é 🌱
"""
WORDS = VOCABULARY.split()
wordy = st.lists(st.sampled_from(WORDS) | st.text(max_size=5), max_size=25).map(" ".join)
atoms = st.sampled_from(["1", "label", "season", "grams", "'x'", "null", "?", "count(*)", "now()", "w.n", "[1, 2]"])
expressions = st.recursive(
    atoms,
    lambda inner: (
        st.builds(
            "({} {} {})".format,
            inner,
            st.sampled_from(["+", "-", "/", "||", "=", "<", "and", "or", "in", "like"]),
            inner,
        )
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
    except (QueryRefusedError, QueryLimitError):
        answer = None
    assert answer is None or isinstance(answer, pa.Table)
    assert sorted(folder.rglob("*")) == files
