"""Questions to a garden: one plant's life, season summaries, comparisons, what asks for a look."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from perennia.analysis import Result, compare_change, compare_seasons, compare_stock, season_summary
from perennia.analysis import check as check_books
from perennia.analysis.measures import MEASURES
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, print_table, say, say_cautions, show, working, written
from perennia.garden import Garden

SUMMARY = [
    "label", "season_name", "stock", "wintering", "bed", "cover", "plants", "total_g", "count", "picks", "first_pick",
    "t50", "peak_on", "g_per_m2", "finished", "ended_how",
]  # fmt: skip


def growing_years(_: click.Context, __: click.Parameter, value: str | Sequence[str] | None) -> Any:
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


@main.command()
@garden_argument
@click.argument("label")
@click.option("--ids", is_flag=True, help="Show the ids of the records, by which they can be corrected.")
@as_of_option
@formats
def history(garden: Path, label: str, ids: bool, as_of: str | None, as_json: bool, as_csv: bool) -> None:
    """One plant's whole life, by its LABEL or address (A1, A1/2021)."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("reading the books"):
            frame = source.history(label)
        if written(frame, as_json, as_csv):
            return
        screen = console()
        # an act that was only inferred has no record of its own to correct
        frame["record_id"] = frame["record_id"].mask(frame["inferred"].fillna(False).astype(bool))
        columns = ["on", "on_from", "season_name", "event", "what", "state", "inferred"]
        print_table(frame, [*columns, "record_id"] if ids else columns, screen)
        lives = source.sql("select plant from plants where label = ? order by life", [label])["plant"]
        if others := [plant for plant in lives if plant != frame["plant"].iloc[0]]:
            screen.print(f"That is {frame['plant'].iloc[0]}; the label was also given to {', '.join(others)}.")


@main.command()
@garden_argument
@click.option("--season", callback=growing_years, multiple=True, help="Only this growing year; may be repeated.")
@click.option("--crop", multiple=True, help="Only this crop, by botanical name; may be repeated.")
@click.option("--label", multiple=True, help="Only this label or plant; may be repeated.")
@as_of_option
@formats
def summary(
    garden: Path, season: Sequence[int], crop: Sequence[str], label: Sequence[str], as_of: str | None, as_json: bool,
    as_csv: bool,
) -> None:  # fmt: skip
    """Crop and timing of each plant in each season."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("adding up"):
            result = season_summary(source, labels=label or None, crops=crop or None, seasons=season or None)
        if written(result.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(f"nothing matches. {what_there_is(source)}")
        screen = console()
        show(result, SUMMARY, screen)
        say_cautions(screen, source, result.table["crop"].dropna().unique())


@main.command()
@garden_argument
@click.option(
    "--measure", type=click.Choice(sorted(MEASURES)), multiple=True,
    help="What to compare; each crop's own unit unless given; may be repeated.",
)
@click.option("--season", callback=growing_years, help="Only this growing year.")
@click.option("--crop", help="Only this crop, by botanical name.")
@click.option(
    "--beds-alike", multiple=True, metavar="BED", help="A bed declared to be like the others so named; repeat it."
)
@click.option("--margin", type=float, help="A difference, in the measure, that would not matter: are they closer?")
@click.option("--seasons", is_flag=True, help="Compare later seasons of the same plants with their first instead.")
@click.option("--change", is_flag=True, help="Hold the change of the same roots against that of fresh stock instead.")
@as_of_option
@formats
def compare(
    garden: Path, measure: Sequence[str], season: int | None, crop: str | None, beds_alike: Sequence[str],
    margin: float | None, seasons: bool, change: bool, as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Overwintered against freshly sown stock, later seasons against the first, or the change of both."""
    if (seasons or change) and (season is not None or beds_alike):
        which = "--seasons" if seasons else "--change"
        raise click.UsageError(f"{which} compares every season of the same plants; leave --season and --beds-alike out")
    if change and (seasons or margin is not None):
        raise click.UsageError("--change goes with neither --seasons nor --margin")
    measures = measure or None
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        result: Result
        with working("comparing"):
            if change:
                result = compare_change(source, measure=measures, crop=crop)
            elif seasons:
                result = compare_seasons(source, measure=measures, crop=crop, margin=margin)
            else:
                result = compare_stock(
                    source, measure=measures, season=season, crop=crop, beds_alike=beds_alike, margin=margin
                )
        if written(result.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(f"{' '.join(result.findings)} {what_there_is(source)}")
        say(result, console())


@main.command()
@garden_argument
@as_of_option
@formats
def check(garden: Path, as_of: str | None, as_json: bool, as_csv: bool) -> None:
    """What in the books to confirm, complete or mend: gaps, silent seasons, odd weights, likely twins, odd crops."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("looking through the books"):
            result = check_books(source)
        if written(result.table, as_json, as_csv):
            return
        screen = console()
        for text in result.table["text"]:
            screen.print(f"- {text}")
        for finding in result.findings:
            screen.print(finding)


def what_there_is(source: Garden) -> str:
    """The crops and seasons of a garden, for someone who asked for others."""
    frame = source.sql("select distinct crop, season_name from season_summary order by all")
    if frame.empty:
        return "The garden has no plant yet."
    crops_here, seasons = (", ".join(sorted(frame[name].dropna().unique())) for name in ("crop", "season_name"))
    return f"The crops here are {crops_here}; seasons {seasons}; labels are as in the book."
