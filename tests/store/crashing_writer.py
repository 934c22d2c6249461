"""A writer in a process of its own that can kill itself at the n-th step of the Delta library.

Usage: crashing_writer.py GARDEN commit|heal|compact|trace|hold [before|after N]
It prints ``acknowledged`` when the store says the work is done, and the number of steps it took.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from deltalake import DeltaTable

sys.path.insert(0, str(Path(__file__).parents[2]))


from stored import batch_of, put  # the script's own folder is on the path

from perennia.records import Picked, Site, Sown
from perennia.store.compaction import compact
from perennia.store.writing import writer

STEPS = ("create_write_transaction", "restore", "create_checkpoint")
taken = 0


def kill_at(when: str, number: int) -> None:
    """Make each step of the Delta library count, and end this process at the one named."""

    def counted(step: Callable[..., Any]) -> Callable[..., Any]:
        def run(*args: Any, **kwargs: Any) -> Any:
            global taken
            taken += 1
            if (when, number) == ("before", taken):
                os.kill(os.getpid(), signal.SIGKILL)
            result = step(*args, **kwargs)
            if (when, number) == ("after", taken):
                os.kill(os.getpid(), signal.SIGKILL)
            return result

        return run

    for name in STEPS:
        setattr(DeltaTable, name, counted(getattr(DeltaTable, name)))


def trace() -> None:
    """Print every wait for the disk and every commit, in order."""
    sync, commit = os.fsync, DeltaTable.create_write_transaction

    def traced_sync(descriptor: int) -> None:
        sync(descriptor)
        print("fsync", Path(f"/proc/self/fd/{descriptor}").readlink())

    def traced_commit(table: DeltaTable, actions: list[Any], *args: Any, **kwargs: Any) -> None:
        commit(table, actions, *args, **kwargs)
        print("commit", Path(table.table_uri.removeprefix("file://")).name, *(action.path for action in actions))

    os.fsync = traced_sync
    DeltaTable.create_write_transaction = traced_commit  # type: ignore[method-assign]


def main(root: str, action: str, when: str = "", number: str = "0") -> None:
    """Do one thing to the garden."""
    if action == "trace":
        trace()
    else:
        kill_at(when, int(number))
    records = [
        Site("Home"),
        Sown("A1", "2023-04-01", "Phaseolus coccineus"),
        Picked(["A1", "A2"], "2024-07-01", 90.0),
        Picked("A1", "2023-07-01", 40.0),
    ]
    with writer(root, timeout=60) as held:
        if action == "hold":
            print("holding", flush=True)
            sys.stdin.readline()
        if action in ("commit", "trace"):
            put(held, *records)
        elif action == "compact":
            compact(held, at=2)
        elif action == "many":
            for _ in range(10):
                held.commit(batch_of(Picked("A1", "2024-07-01", 1.0)), "record", 1, (), held.snapshot.recorded_at)
    print("acknowledged", taken)


if __name__ == "__main__":
    main(*sys.argv[1:])
