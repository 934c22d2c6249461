"""perennia from a terminal: the same questions, for those who would rather look than script."""

from __future__ import annotations

import io
import json
import math
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

import click
import numpy as np
import pandas as pd
from rich.console import Console
from rich.table import Table

from perennia import crops
from perennia.analysis import Result, compare_seasons, compare_stock, season_summary
from perennia.analysis import check as check_books
from perennia.analysis.measures import MEASURES
from perennia.errors import PerenniaError
from perennia.garden import Garden
from perennia.intake import read
from perennia.store.snapshot import GARDEN_FILE

_Command = TypeVar("_Command", bound=Callable[..., Any])
_SUMMARY = [
    "label", "season_name", "stock", "wintering", "bed", "cover", "plants", "total_g", "count", "picks", "first_pick",
    "t50", "peak_on", "g_per_m2", "finished", "ended_how",
]  # fmt: skip
_DEMO_NAME, _DEMO_CROP, _DEMO_SEASON, _DEMO_PLANT = "Quilanto (invented)", "Phaseolus coccineus", 2023, "P03"


def _seasons(_: click.Context, __: click.Parameter, value: str | Sequence[str] | None) -> Any:
    """Growing years as their first calendar years, from what the tables write: 2023 or 2023/24."""
    if value is None:
        return None
    if not isinstance(value, str):
        return tuple(_first_year(text) for text in value)
    return _first_year(value)


def _first_year(text: str) -> int:
    match = re.fullmatch(r"(\d{4})(?:/(\d{2}))?", text)
    if match is None or (match[2] is not None and (int(match[1]) + 1) % 100 != int(match[2])):
        raise click.BadParameter(f"{text!r} is no growing year; write 2023 or 2023/24")
    return int(match[1])


class _Refusing(click.Group):
    """Puts the library's errors on the standard error stream and ends with status 1; no traceback for a slip."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except PerenniaError as error:
            raise click.ClickException(str(error)) from error
        except BrokenPipeError:
            sys.stderr.close()
            return None
        except OSError as error:
            raise click.ClickException(f"what there is to show cannot be written ({error})") from error


@click.group(cls=_Refusing, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="perennia")
def main() -> None:
    """Records of perennial crops kept through several seasons, and what they show."""
    # a terminal that has no sign for a letter shows a question mark for it
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def _formats(command: _Command) -> _Command:
    """--json and --csv, for scripts."""
    command = click.option("--csv", "as_csv", is_flag=True, help="Write the table as CSV.")(command)
    return click.option("--json", "as_json", is_flag=True, help="Write the table as JSON, one object a row.")(command)


_garden = click.argument("garden", type=click.Path(path_type=Path))
_as_of = click.option("--as-of", metavar="DAY", help="As the books stood at the end of that day, or at an instant.")


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", help="A name for the garden.")
def new(folder: Path, name: str | None) -> None:
    """Make an empty garden in FOLDER."""
    with Garden.create(folder, name=name):
        click.echo(f"An empty garden lies in {folder}; perennia take-in {folder} BOOK --book NAME fills it.")


@main.command("take-in")
@_garden
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--book", required=True, help="The book's own name, the same from year to year.")
def take_in(garden: Path, path: Path, book: str) -> None:
    """Take a CSV file of exact column names, or a folder of them, into a garden."""
    with Garden.open(garden) as books:
        report = read(books, path, book=book)
        click.echo(f"{report.summary()}.")
        for doubt in report.doubts:
            click.echo(f"- {doubt.text}")


@main.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
def demo(folder: Path | None) -> None:
    """Build the invented garden in FOLDER (./perennia-demo) and show what it holds."""
    folder = folder or Path("perennia-demo")
    shipped = resources.files("perennia") / "demo_garden"
    with resources.as_file(shipped) as books, _demo_garden(folder) as garden:
        report = read(garden, books, book=_DEMO_NAME)
        console = _console()
        console.print(f"An invented garden, made up to show what perennia does, now lies in {folder}.")
        console.print(report.summary() + (", such as:" if report.doubts else "."))
        for doubt in report.doubts[:2]:
            console.print(f"  {doubt.text}")
        console.print(f"All that asks for a look: perennia check {folder}")
        summary = season_summary(garden, crops=[_DEMO_CROP], seasons=[_DEMO_SEASON])
        _heading(console, f"Season summary of the beans, {summary.table['season_name'].iloc[0]}")
        _show(summary, _SUMMARY, console)
        _heading(console, "Overwintered against freshly sown beans")
        crop, first = (
            compare_stock(garden, measure=measure, season=_DEMO_SEASON, crop=_DEMO_CROP)
            for measure in ("total_g", "first_pick")
        )
        _say(crop, console)
        console.print("\n".join([*first.findings, "Units, method and cautions as above."]))
        _heading(console, f"The life of {_DEMO_PLANT}, pickings and single flowers left out")
        life = garden.history(_DEMO_PLANT)
        life = life[~life["event"].isin(["picked", "flower_fate"])]
        _print_table(life, ["on", "season_name", "event", "what", "inferred"], console)
        _say_cautions(console, garden, [_DEMO_CROP])
        console.print(
            f"\nAsk more: perennia summary {folder}; perennia compare {folder} --seasons; perennia history {folder} R3"
        )


@main.command()
@_garden
@click.argument("label")
@_as_of
@_formats
def history(garden: Path, label: str, as_of: str | None, as_json: bool, as_csv: bool) -> None:
    """One plant's whole life, by its LABEL or address (A1, A1/2021)."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        frame = source.history(label)
        if _written(frame, as_json, as_csv):
            return
        console = _console()
        _print_table(frame, ["on", "on_from", "season_name", "event", "what", "state", "inferred"], console)
        lives = source.sql("select plant from plants where label = ? order by life", [label])["plant"]
        if others := [plant for plant in lives if plant != frame["plant"].iloc[0]]:
            console.print(f"That is {frame['plant'].iloc[0]}; the label was also given to {', '.join(others)}.")


@main.command()
@_garden
@click.option("--season", callback=_seasons, multiple=True, help="Only this growing year; may be repeated.")
@click.option("--crop", multiple=True, help="Only this crop, by botanical name; may be repeated.")
@click.option("--label", multiple=True, help="Only this label or plant; may be repeated.")
@_as_of
@_formats
def summary(
    garden: Path, season: Sequence[int], crop: Sequence[str], label: Sequence[str], as_of: str | None, as_json: bool,
    as_csv: bool,
) -> None:  # fmt: skip
    """Crop and timing of each plant in each season."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        result = season_summary(source, labels=label or None, crops=crop or None, seasons=season or None)
        if _written(result.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(f"nothing matches. {_what_there_is(source)}")
        console = _console()
        _show(result, _SUMMARY, console)
        _say_cautions(console, source, result.table["crop"].dropna().unique())


@main.command()
@_garden
@click.option(
    "--measure", type=click.Choice(sorted(MEASURES)), help="What to compare; each crop's own unit unless given."
)
@click.option("--season", callback=_seasons, help="Only this growing year.")
@click.option("--crop", help="Only this crop, by botanical name.")
@click.option(
    "--beds-alike", multiple=True, metavar="BED", help="A bed declared to be like the others so named; repeat it."
)
@click.option("--seasons", is_flag=True, help="Compare later seasons of the same plants with their first instead.")
@_as_of
@_formats
def compare(
    garden: Path, measure: str | None, season: int | None, crop: str | None, beds_alike: Sequence[str], seasons: bool,
    as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Overwintered against freshly sown stock, or later seasons against the first."""
    if seasons and (season is not None or beds_alike):
        raise click.UsageError(
            "--seasons compares every season of the same plants; leave --season and --beds-alike out"
        )
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        result: Result
        if seasons:
            result = compare_seasons(source, measure=measure, crop=crop)
        else:
            result = compare_stock(source, measure=measure, season=season, crop=crop, beds_alike=beds_alike)
        if _written(result.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(f"{' '.join(result.findings)} {_what_there_is(source)}")
        _say(result, _console())


@main.command()
@_garden
@_as_of
@_formats
def check(garden: Path, as_of: str | None, as_json: bool, as_csv: bool) -> None:
    """What in the books to confirm, complete or mend: gaps, silent seasons, odd weights, likely twins."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        result = check_books(source)
        if _written(result.table, as_json, as_csv):
            return
        console = _console()
        for text in result.table["text"]:
            console.print(f"- {text}")
        for finding in result.findings:
            console.print(finding)


def _what_there_is(source: Garden) -> str:
    """The crops and seasons of a garden, for someone who asked for others."""
    frame = source.sql("select distinct crop, season_name from season_summary order by all")
    if frame.empty:
        return "The garden has no plant yet."
    crops_here, seasons = (", ".join(sorted(frame[name].dropna().unique())) for name in ("crop", "season_name"))
    return f"The crops here are {crops_here}; seasons {seasons}; labels are as in the book."


def _demo_garden(folder: Path) -> Garden:
    """The demo garden, opened when an earlier run has built it there; a garden of any other name is left alone."""
    if (folder / GARDEN_FILE).exists():
        garden = Garden.open(folder)
        if garden.name == _DEMO_NAME:
            return garden
    return Garden.create(folder, name=_DEMO_NAME)


def _console() -> Console:
    """Wide when it is not a terminal, so that nothing is cut in a file or a pipe."""
    return Console(width=None if sys.stdout.isatty() else 200, highlight=False, markup=False, emoji=False)


def _written(frame: pd.DataFrame, as_json: bool, as_csv: bool) -> bool:
    """Write a table for scripts when asked to, dates in ISO 8601, missing and unbounded as null or an empty cell."""
    if as_json and as_csv:
        raise click.UsageError("--json and --csv at once; choose one")
    if as_json:
        rows = [{name: _plain(value) for name, value in row.items()} for row in frame.to_dict("records")]
        _write(json.dumps(rows, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
    if as_csv:
        texts = frame.map(_plain)
        _write(texts.to_csv(index=False, lineterminator="\n"))
    return as_json or as_csv


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


def _show(result: Result, columns: Sequence[str], console: Console) -> None:
    _print_table(result.table, columns, console)
    console.print("· stands for what is not recorded or cannot be known.")
    for line in (*result.findings, *(f"- {caution}" for caution in result.cautions)):
        console.print(line)


def _say(result: Result, console: Console) -> None:
    console.print(result.summary())
    console.print()


def _heading(console: Console, text: str) -> None:
    console.print()
    console.rule(text, align="left", characters="-")


def _print_table(frame: pd.DataFrame, columns: Sequence[str], console: Console) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in columns:
        numeric = pd.api.types.is_numeric_dtype(frame[name]) and not pd.api.types.is_bool_dtype(frame[name])
        table.add_column(name.removesuffix("_name"), justify="right" if numeric else "left", overflow="fold")
    for row in frame[list(columns)].itertuples(index=False):
        table.add_row(*(_cell(value) for value in row))
    console.print(table)


def _cell(value: Any) -> str:
    if not isinstance(value, tuple) and pd.isna(value):
        return "·"
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
    return str(value)


def _say_cautions(console: Console, garden: Garden, shown: Iterable[str]) -> None:
    """What can hurt someone, for the crops shown."""
    found = [crops.profile(str(crop), garden.profiles) for crop in shown]
    profiles = [profile for profile in found if profile is not None and profile.cautions]
    if not profiles:
        return
    _heading(console, "Cautions for these crops")
    for profile in profiles:
        for caution in profile.cautions:
            console.print(f"- {profile.crop}: {caution.text} ({caution.source})")
    console.print(crops.CAUTIONS_DEFER)
