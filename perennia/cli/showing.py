"""How frames and results are shown in a terminal, and written for scripts."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from threading import Timer
from typing import Any

import click
import pandas as pd
from rich.console import Console
from rich.status import Status

from perennia import crops
from perennia.analysis import Result
from perennia.analysis.shown import MISSING_MEANS, rich_table
from perennia.garden import Garden


@contextmanager
def working(step: str, *, after_s: float = 1.0) -> Iterator[Callable[[str], None]]:
    """Says in a terminal what is being done once that takes over after_s; silent elsewhere."""
    if not sys.stderr.isatty():
        yield lambda step: None
        return
    status = Status(step, console=Console(stderr=True))
    timer = Timer(after_s, status.start)
    timer.start()
    try:
        yield status.update
    finally:
        timer.cancel()
        timer.join()
        status.stop()


def console() -> Console:
    """Wide when it is not a terminal, so that nothing is cut in a file or a pipe."""
    return Console(width=None if sys.stdout.isatty() else 200, highlight=False, markup=False, emoji=False)


def written(frame: pd.DataFrame, as_json: bool, as_csv: bool) -> bool:
    """Write a table for scripts when asked to, dates in ISO 8601, missing and unbounded as null or an empty cell."""
    if as_json and as_csv:
        raise click.UsageError("--json and --csv at once; choose one")
    if not as_json and not as_csv:
        return False
    rows = [{name: _plain(value) for name, value in row.items()} for row in frame.to_dict("records")]
    if as_json:
        _write(json.dumps(rows, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
    else:
        # as objects, for beside a missing one a whole number would turn into 4.0
        _write(pd.DataFrame(rows, columns=list(frame), dtype=object).to_csv(index=False, lineterminator="\n"))
    return True


def _write(text: str) -> None:
    """For scripts, in UTF-8 whatever the terminal can show."""
    click.echo(text.encode(), nl=False)


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return list(value)
    if pd.isna(value) or (isinstance(value, float) and math.isinf(value)):
        return None
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    return value.item() if hasattr(value, "item") else value


def show(result: Result, columns: Sequence[str], console: Console) -> None:
    rows = result.shown_rows
    if not rows.empty:
        print_table(rows, columns, console)
        console.print(MISSING_MEANS)
    for line in (*result.findings, *(f"- {caution}" for caution in result.cautions)):
        console.print(line)


def say(result: Result, console: Console) -> None:
    console.print(result.summary())
    console.print()


def heading(console: Console, text: str) -> None:
    console.print()
    console.rule(text, align="left", characters="-")


def print_table(frame: pd.DataFrame, columns: Sequence[str], console: Console) -> None:
    console.print(rich_table(frame[list(columns)], [name.removesuffix("_name") for name in columns]))


def say_cautions(console: Console, garden: Garden, shown: Iterable[str]) -> None:
    """What can hurt someone, for the crops shown."""
    found = [crops.profile(str(crop), garden.profiles) for crop in shown]
    profiles = [profile for profile in found if profile is not None and profile.cautions]
    if not profiles:
        return
    heading(console, "Cautions for these crops")
    for profile in profiles:
        for caution in profile.cautions:
            console.print(f"- {profile.crop}: {caution.text} ({caution.source})")
    console.print(crops.CAUTIONS_DEFER)
