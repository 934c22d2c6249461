"""Running a checked SELECT in a process of its own, where limits of time and memory hold whatever the query does."""

from __future__ import annotations

import json
import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, BinaryIO

import duckdb
import pyarrow as pa
import pyarrow.ipc

from perennia.errors import PerenniaError, QueryLimitError, QueryRefusedError, ReadOnlyError, StoreError
from perennia.queries.running import Params, run_select

_REFUSED = 3
_MIB = 1024 * 1024
_RAISED_AGAIN: dict[str, type[PerenniaError]] = {
    kind.__name__: kind for kind in (QueryRefusedError, QueryLimitError, ReadOnlyError, StoreError)
}
# Not multiprocessing: its spawned child first runs the grower's script again, which fails without a __main__ guard.
_START = (
    "import pickle, sys; sys.path[:] = pickle.load(sys.stdin.buffer);"
    "from perennia.queries.isolation import answer; answer()"
)


def run_isolated(
    open_connection: Callable[[], duckdb.DuckDBPyConnection],
    query: str,
    params: Params,
    *,
    views: Collection[str],
    time_limit_s: float,
    memory_limit_bytes: int,
) -> pa.Table:
    """Run a query as run_select does, in a fresh process that is killed at the time limit.

    open_connection and params are pickled; the connection is opened, the query checked and run in the new process,
    all under the limits: text made to choke the parser is held too.
    time_limit_s counts from the start of that process, so it includes about half a second to load DuckDB.
    memory_limit_bytes is the address space the process may take beyond what DuckDB and Arrow hold when idle; an
    idle connection takes some 50 MiB of it. Spilled rows go to a directory that is removed with the process.

    Raises QueryRefusedError as run_select does; QueryLimitError at either limit, and on systems other than Linux,
    where the memory of a process cannot be limited; StoreError when the connection cannot be opened.
    """
    if not sys.platform.startswith("linux"):
        raise QueryLimitError("a query can be held to a memory limit only on Linux; run it without isolation")
    if not time_limit_s > 0:
        raise QueryLimitError(f"a time limit of {time_limit_s} s leaves no time; give a number of seconds above 0")
    task = b"".join(
        [
            pickle.dumps(sys.path),
            pickle.dumps((open_connection, query, tuple(views), memory_limit_bytes)),
            _pickled(params),
        ]
    )
    with tempfile.TemporaryDirectory(prefix="perennia-query-", ignore_cleanup_errors=True) as directory:
        try:
            # One allocation arena: each reserves 64 MiB of address space whether used or not.
            ended = subprocess.run(
                [sys.executable, "-c", _START],
                input=task,
                capture_output=True,
                timeout=time_limit_s,
                env={**os.environ, "TMPDIR": directory, "MALLOC_ARENA_MAX": "1"},
                check=False,
            )
        except subprocess.TimeoutExpired as error:
            raise QueryLimitError(
                f"the query was stopped at its limit of {time_limit_s:g} s; ask for fewer rows or allow it more time"
            ) from error
    if ended.returncode == 0:
        return pa.ipc.open_stream(ended.stdout).read_all()
    raise _told(ended, memory_limit_bytes)


def _pickled(params: Params) -> bytes:
    try:
        return pickle.dumps(params)
    except (pickle.PicklingError, TypeError, AttributeError) as error:
        raise QueryRefusedError(
            f"a parameter cannot be handed to another process ({error}); give numbers, text, dates or lists of them"
        ) from error


def _told(ended: subprocess.CompletedProcess[bytes], memory_limit_bytes: int) -> PerenniaError:
    if ended.returncode == _REFUSED:
        said = json.loads(ended.stdout)
        return _RAISED_AGAIN.get(said["error"], StoreError)(said["message"])
    last_words = (ended.stderr.decode(errors="replace").strip().splitlines() or ["it left no message"])[-1]
    if ended.returncode < 0:
        return QueryLimitError(
            f"the query's process was ended by the system (signal {-ended.returncode}), most likely for want of memory:"
            f" it was allowed {memory_limit_bytes // _MIB} MiB; ask for fewer rows or allow it more ({last_words})"
        )
    return StoreError(f"the garden could not be opened in a separate process: {last_words}")


def answer() -> None:
    """What the new process does: read the task from standard input, write the result to standard output, end.

    Ends with status 0 and an Arrow stream, or status 3 and JSON naming the error; never returns.
    """
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints must not get into the result
    try:
        reply, status = _arrow_stream(_run(sys.stdin.buffer)), 0
    except PerenniaError as error:
        reply, status = _error(type(error).__name__, str(error)), _REFUSED
    except (MemoryError, duckdb.OutOfMemoryException):
        message = "the query needs more memory than it is allowed; ask for fewer rows or allow it more memory"
        reply, status = _error(QueryLimitError.__name__, message), _REFUSED
    _write_and_end(replies, reply, status)


def _run(task: BinaryIO) -> pa.Table:
    open_connection, query, views, memory_limit_bytes = pickle.load(task)
    params = pickle.load(task)
    _limit_memory(memory_limit_bytes)
    return run_select(open_connection(), query, params, views=views, time_limit_s=None)


def _limit_memory(limit_bytes: int) -> None:
    import resource  # Linux only, like this function

    # DuckDB's threads and pools are reserved at the first connection; the limit counts from there.
    with duckdb.connect() as connection:
        connection.sql("select 1").to_arrow_table()
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    _, ceiling = resource.getrlimit(resource.RLIMIT_AS)
    limit = pages * resource.getpagesize() + limit_bytes
    if ceiling != resource.RLIM_INFINITY:
        limit = min(limit, ceiling)
    resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _arrow_stream(table: pa.Table) -> Any:
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema) as stream:
        stream.write_table(table)
    return sink.getvalue()


def _error(kind: str, message: str) -> bytes:
    return json.dumps({"error": kind, "message": message}).encode()


def _write_and_end(replies: BinaryIO, reply: Any, status: int) -> None:
    replies.write(reply)
    replies.flush()
    # No teardown: near the memory limit it can fail after the result is already out.
    os._exit(status)
