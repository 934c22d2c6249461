"""Comparisons of stock and of seasons."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from perennia.analysis import Result, compare_change, compare_seasons, compare_stock
from perennia.analysis.measures import MEASURES
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, say, working, written
from perennia.garden import Garden


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
