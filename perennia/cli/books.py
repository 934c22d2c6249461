"""Books into a garden and out of it: new, template, take-in, correct, export."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import pyarrow as pa

from perennia import intake
from perennia.cli.group import garden_argument, main
from perennia.cli.showing import working
from perennia.garden import Garden
from perennia.intake.corrections import one_row

_SHOWN = 20
_path = click.Path(path_type=Path)


def _pairs(_: click.Context, parameter: click.Parameter, values: Sequence[str]) -> dict[str, str]:
    """NAME=VALUE options as a dict."""
    pairs = {}
    for value in values:
        name, sign, said = value.partition("=")
        if not sign or not name.strip():
            raise click.BadParameter(f"{value!r} is not written {parameter.metavar}")
        pairs[name.strip()] = said.strip()
    return pairs


def _written(command: Any) -> Any:
    """The options that say how a book is written."""
    for option in (
        click.option("--decimal", type=click.Choice([",", "."]), help="The sign that parts tenths from wholes."),
        click.option("--encoding", metavar="NAME", help="How a text file is encoded, if it is not UTF-8."),
        click.option("--year", type=int, help="The year of dates that have none; else that in the file's name."),
        click.option("--dates", type=click.Choice(["day first", "month first"]),
                     help="The order of dates that are not ISO 8601."),
        click.option("--unit", multiple=True, callback=_pairs, metavar="FIELD=UNIT",
                     help="The unit a field is written in, such as grams=kg; may be repeated."),
        click.option("--column", multiple=True, callback=_pairs, metavar="HEADING=FIELD",
                     help="What a column holds; HEADING= leaves it out; may be repeated."),
    ):  # fmt: skip
        command = option(command)
    return command


def _columns(given: dict[str, str]) -> dict[str, str | None]:
    return {heading: field or None for heading, field in given.items()}


@main.command()
@click.argument("folder", type=_path)
@click.option("--name", help="A name for the garden.")
def new(folder: Path, name: str | None) -> None:
    """Make an empty garden in FOLDER."""
    with Garden.create(folder, name=name):
        click.echo(f"An empty garden lies in {folder}; perennia take-in {folder} BOOK --book NAME fills it.")


@main.command()
@click.argument("workbook", type=_path)
@click.option("--pages", type=_path, help="Also write pages to print and write on in the garden, an HTML file.")
def template(workbook: Path, pages: Path | None) -> None:
    """Write a blank WORKBOOK (.xlsx) to fill in, with headings, choices, examples and explanations."""
    click.echo(f"A blank workbook lies in {intake.template(workbook)}; fill it in, then take it in.")
    if pages is not None:
        click.echo(f"Pages to print lie in {intake.book_pages(pages)}.")


@main.command("take-in")
@garden_argument
@click.argument("path", type=_path)
@click.option("--book", required=True, help="The book's own name, the same from year to year.")
@click.option("--event", help="What the rows are, where they do not say so themselves (picked, weather ...).")
@_written
@click.option("--all", "constants", multiple=True, callback=_pairs, metavar="FIELD=VALUE",
              help="A field that is the same in every row and has no column; may be repeated.")
@click.option("--stop", is_flag=True, help="Store nothing when anything is wrong, instead of setting rows aside.")
@click.option("--correct", metavar="REASON", help="Let rows edited since replace what is stored, for this reason.")
@click.option("--station", is_flag=False, flag_value="", metavar="[ID]",
              help="PATH is a NOAA GHCN-Daily file; the station's ID where it holds several. Needs --all site=NAME.")
@click.option("--anemometer-m", type=float, help="Height of the station's anemometer, to take its wind to 2 m.")
def take_in(
    garden: Path, path: Path, book: str, event: str | None, column: dict[str, str], unit: dict[str, str],
    dates: str | None, year: int | None, encoding: str | None, decimal: str | None, constants: dict[str, str],
    stop: bool, correct: str | None, station: str | None, anemometer_m: float | None,
) -> None:  # fmt: skip
    """Take a book into a garden: a CSV, XLSX or Parquet file, or a folder of them. Bad rows are set aside."""
    on_error: intake.OnError = "stop" if stop else "set aside"
    with Garden.open(garden) as books, working("reading the book") as progress:
        if station is None:
            report = intake.read(
                books, path, event, book=book, columns=_columns(column), units=unit, dates=dates, year=year,
                constants=constants, on_error=on_error, correct=correct, encoding=encoding, decimal=decimal,
                progress=progress,
            )  # fmt: skip
        else:
            if "site" not in constants:
                raise click.UsageError("a station's weather belongs to a site; name it with --all site=NAME")
            report = intake.read_station(
                books, path, site=constants["site"], book=book, station=station or None,
                anemometer_height_m=anemometer_m, on_error=on_error, correct=correct,
            )  # fmt: skip
    _say_report(report)


def _say_report(report: intake.IntakeReport) -> None:
    click.echo(f"{report.summary()}.")
    for note in report.notes:
        click.echo(f"- {note}")
    _say_some([f"- {doubt.text}" for doubt in report.doubts], "perennia check shows all")
    if report.set_aside:
        click.echo("Set aside, to be mended there and taken in under the same book's name, with the same options:")
        _say_some([f"- {problem.line()}" for problem in report.problems], "the file has them all")


def _say_some(lines: Sequence[str], rest: str) -> None:
    for line in lines[:_SHOWN]:
        click.echo(line)
    if len(lines) > _SHOWN:
        click.echo(f"... and {len(lines) - _SHOWN} more; {rest}")


@main.command()
@garden_argument
@click.argument("record_id", required=False)
@click.option("--set", "fields", multiple=True, callback=_pairs, metavar="FIELD=VALUE",
              help="What a field should say; FIELD= empties it; may be repeated.")
@click.option("--take-back", is_flag=True, help="Take the record back and put nothing in its place.")
@click.option("--from", "source", type=_path,
              help="Correct all records that a table names by record_id, as export writes it.")
@click.option("--reason", required=True, help="Why, for later years.")
@_written
def correct(
    garden: Path, record_id: str | None, fields: dict[str, str], take_back: bool, source: Path | None, reason: str,
    column: dict[str, str], unit: dict[str, str], dates: str | None, year: int | None, encoding: str | None,
    decimal: str | None,
) -> None:  # fmt: skip
    """Correct the record RECORD_ID (history --ids shows it), or many from a table; what was stored is kept."""
    ways = [bool(record_id and fields), bool(record_id and take_back), source is not None and record_id is None]
    if sum(ways) != 1:
        raise click.UsageError("give RECORD_ID with --set or with --take-back, or --from FILE alone")
    with Garden.open(garden) as books, working("correcting"):
        rows: Path | pa.Table | None = source
        if record_id is not None:
            if column or unit or decimal:
                raise click.UsageError("--column, --unit and --decimal are for --from; write the unit in the value")
            rows = pa.table({"record_id": [record_id]}) if take_back else one_row(books, record_id, fields)
        report = intake.correct(
            books, rows, reason=reason, columns=_columns(column), units=unit, dates=dates, year=year,
            encoding=encoding, decimal=decimal,
        )  # fmt: skip
    click.echo(f"{report.summary()}.")
    _say_some([f"- {doubt.text}" for doubt in report.doubts], "perennia check shows all")


@main.command()
@garden_argument
@click.argument("folder", type=_path)
@click.option("--parquet", is_flag=True, help="Write Parquet files instead of CSV.")
@click.option("--as-of", metavar="DAY", help="As the books stood at the end of that day, or at an instant.")
def export(garden: Path, folder: Path, parquet: bool, as_of: str | None) -> None:
    """Write a garden's records into FOLDER as a Frictionless Data Package, a table a file."""
    with Garden.open(garden, read_only=True, as_of=as_of) as books, working("writing"):
        click.echo(f"{intake.export(books, folder, as_='parquet' if parquet else 'csv').summary()}.")
