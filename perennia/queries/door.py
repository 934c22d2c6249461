"""The closed door for a grower's own SQL: one SELECT over the garden's views, and nothing else.

Two locks, each meant to hold alone: check_select reads the query's syntax tree and refuses whatever is not on its
lists; lock_connection takes from DuckDB every file but the pinned ones. run_select works in this process,
run_isolated in one of its own.
"""

from __future__ import annotations

import shutil
import tempfile
import weakref
from collections.abc import Sequence

import duckdb

from perennia.queries.isolation import run_isolated
from perennia.queries.running import Params, run_select
from perennia.queries.select_grammar import check_select

__all__ = ["Params", "check_select", "lock_connection", "run_isolated", "run_select"]

_USUAL_MIB = 763
_MIB_IN = {"MiB": 1, "GiB": 1024, "TiB": 1024**2}
_OFF = (
    "autoinstall_known_extensions",
    "autoload_known_extensions",
    "allow_community_extensions",
    "allow_persistent_secrets",
    "python_enable_replacements",
    "python_scan_all_frames",
)


def _usual_memory(connection: duckdb.DuckDBPyConnection) -> str:
    """What a program that asks a garden can spare: a large one takes 4 % longer than with all there is (measured)."""
    ((own,),) = connection.execute("select current_setting('memory_limit')").fetchall()
    number, unit = own.split()
    return f"{min(float(number) * _MIB_IN[unit], _USUAL_MIB):.0f}MiB"


def lock_connection(
    connection: duckdb.DuckDBPyConnection,
    allowed_files: Sequence[str],
    memory_limit: str | None = None,
    threads: int | None = None,
) -> None:
    """Let a connection reach only allowed_files, for good; views over them made before still read them.

    allowed_files are paths as the views name them (DuckDB compares absolute, normalised paths). memory_limit is
    DuckDB's, such as "512MiB"; None takes 800 MB, or four fifths of the machine's where that is less. threads is the
    number of its threads; None keeps DuckDB's own choice. Rows that do not fit are spilled to a private directory,
    removed when the connection is let go or the process ends.
    Extensions, secrets and Python variables are out of reach and no setting can be changed again. DuckDB itself
    still lets a statement write to the private directory and over variables: check_select keeps those out.
    """
    directory = tempfile.mkdtemp(prefix="perennia-duckdb-")
    weakref.finalize(connection, shutil.rmtree, directory, ignore_errors=True)
    connection.execute("set temp_directory = ?", [directory])
    connection.execute("set memory_limit = ?", [memory_limit or _usual_memory(connection)])
    if threads is not None:
        connection.execute("set threads = ?", [threads])
    for setting in _OFF:
        connection.execute(f"set {setting} = false")
    # In this order: the list of files is fixed once external access is off, all else once the lock is on.
    connection.execute("set allowed_paths = ?", [list(allowed_files)])
    connection.execute("set enable_external_access = false")
    connection.execute("set lock_configuration = true")
