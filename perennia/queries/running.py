"""Running a checked SELECT: parameters, the time limit, and DuckDB's errors put into words for the grower."""

from __future__ import annotations

import difflib
import re
import threading
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, TypeAlias

import duckdb
import pyarrow as pa

from perennia.errors import PerenniaError, QueryLimitError, QueryRefusedError
from perennia.queries.select_grammar import check_select, first_line

Params: TypeAlias = Sequence[Any] | Mapping[str, Any] | None

_REPEAT_INTERRUPT_S = 0.05
_NO_COLUMN = re.compile(r'(?:Referenced column|does not have a column named) "(?P<column>[^"]+)"')
_OWN_CANDIDATES = re.compile(r"Candidate bindings: (?P<names>.+)")


def run_select(
    connection: duckdb.DuckDBPyConnection,
    query: str,
    params: Params,
    *,
    views: Collection[str],
    time_limit_s: float | None,
) -> pa.Table:
    """Check a query, run it and return the whole result; column names are the query's.

    params fill ``?`` in order (a list) or ``$name`` (a dict); None when there are none. The connection is used by
    one query at a time. At time_limit_s seconds the query is interrupted; DuckDB looks for the interruption
    between blocks of rows, so that one long call on one row (list_sum(range(100000000)): 28 s) ends only after it,
    and what such a call allocates is not held by DuckDB's memory limit. run_isolated holds both.

    Raises QueryRefusedError for a query that is not allowed or cannot be run as written, QueryLimitError for one
    that reached the limit of time or of memory.
    """
    check_select(query, views)
    bound = _bindable(params)
    try:
        with _interrupted_after(connection, time_limit_s):
            return connection.sql(query, params=bound).to_arrow_table()
    except (duckdb.Error, pa.ArrowException, MemoryError) as error:
        raise _in_words(error, connection, views, time_limit_s) from error


def _bindable(params: object) -> list[Any] | dict[str, Any] | None:
    if params is None:
        return None
    if isinstance(params, Mapping):
        return {str(name): value for name, value in params.items()}
    if isinstance(params, Sequence) and not isinstance(params, str | bytes):
        return list(params)
    raise QueryRefusedError(
        f"parameters are a list (for ?) or a dict (for $name), not {type(params).__name__}; write [2024]"
    )


@contextmanager
def _interrupted_after(connection: duckdb.DuckDBPyConnection, time_limit_s: float | None) -> Iterator[None]:
    if time_limit_s is None:
        yield
        return
    if not time_limit_s > 0:
        raise QueryLimitError(f"a time limit of {time_limit_s} s leaves no time; give a number of seconds above 0")
    done = threading.Event()

    def watch() -> None:
        # An interruption between two steps of a query is lost (measured), so it is repeated until the query ends.
        if not done.wait(time_limit_s):
            connection.interrupt()
            while not done.wait(_REPEAT_INTERRUPT_S):
                connection.interrupt()

    watcher = threading.Thread(target=watch, name="perennia query time limit", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()


def _in_words(
    error: BaseException, connection: duckdb.DuckDBPyConnection, views: Collection[str], time_limit_s: float | None
) -> PerenniaError:
    if isinstance(error, duckdb.InterruptException):
        after = "" if time_limit_s is None else f" at its limit of {time_limit_s:g} s"
        return QueryLimitError(f"the query was stopped{after}; ask for fewer rows or allow it more time")
    if isinstance(error, duckdb.OutOfMemoryException | MemoryError):
        return QueryLimitError(
            f"the query needs more memory than it is allowed ({first_line(error) or 'out of memory'});"
            " ask for fewer rows or allow it more memory (memory_limit, where the garden is opened;"
            " memory_limit_mb, where an isolated query is asked)"
        )
    missing = _NO_COLUMN.search(str(error))
    if missing is None:
        return QueryRefusedError(f"the query cannot be run as written: {first_line(error)}")
    column = missing["column"]
    close = _own_candidates(error) or difflib.get_close_matches(column, _columns(connection, views), n=5, cutoff=0.5)
    remedy = f"close to it: {', '.join(close)}" if close else "see garden.views() for the columns of each view"
    return QueryRefusedError(f"there is no column {column} here; {remedy}")


def _own_candidates(error: BaseException) -> list[str]:
    named = _OWN_CANDIDATES.search(str(error))
    return re.findall(r'"([^"]+)"', named["names"]) if named else []


def _columns(connection: duckdb.DuckDBPyConnection, views: Collection[str]) -> list[str]:
    try:
        return sorted({column for view in views for column in connection.view(view).columns})
    except duckdb.Error:
        return []  # the names are a courtesy: the error they would go with must not be lost for them
