"""Questions about warmth and cold from the terminal: degree-days of a place, and the dates of its frosts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import attrs
import click

from perennia.analysis import degree_days, frost_dates
from perennia.analysis.causes.warmth.degree_day_methods import METHODS
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, print_table, show, working, written
from perennia.garden import Garden

_FROST = ["half", "share", "day", "low", "high", "normal_day", "n_years", "withheld"]
_DEGREE_DAYS = ["on", "t_min_c", "t_max_c", "degree_days", "sum"]


@main.command("degree-days")
@garden_argument
@click.argument("place")
@click.option("--base", type=float, required=True, help="Degrees C above which warmth counts.")
@click.option("--upper", type=float, help="Degrees C above which no more counts.")
@click.option("--method", type=click.Choice(METHODS), default="average", show_default=True, help="How a day counts.")
@click.option("--since", metavar="DAY", help="The first day; the first with weather unless given.")
@click.option("--until", metavar="DAY", help="The last day; the last with weather unless given.")
@click.option("--step", type=click.IntRange(1), default=7, show_default=True, help="Days a row on the screen.")
@as_of_option
@formats
def degree_days_(
    garden: Path, place: str, base: float, upper: float | None, method: Any, since: str | None, until: str | None,
    step: int, as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """The degree-days of PLACE, a site or a bed, summed day by day; --json and --csv write every day."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("adding up warmth"):
            result = degree_days(source, place, base, upper, method, since=since, until=until)
        if written(result.table, as_json, as_csv):
            return
        # the last day is shown too, for its sum is what was asked for
        days = result.table[(result.table.index % step == 0) | (result.table.index == len(result.table) - 1)]
        show(attrs.evolve(result, table=days), _DEGREE_DAYS, console())


@main.command()
@garden_argument
@click.argument("site")
@click.option("--threshold", type=float, default=0.0, show_default=True, help="A frost is colder than this, degrees C.")
@click.option("--inclusive", is_flag=True, help="Count a day that is just as cold as that too.")
@click.option("--risk", type=float, default=0.1, show_default=True, help="The chance of frost to be taken.")
@click.option("--level", type=float, default=0.95, show_default=True, help="Level of the intervals.")
@click.option("--years", "by_year", is_flag=True, help="Show the frosts of every year instead.")
@as_of_option
@formats
def frost(
    garden: Path, site: str, threshold: float, inclusive: bool, risk: float, level: float, by_year: bool,
    as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """When SITE has its last frost of spring and its first of autumn; when to plant out and to lift."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("looking for frosts"):
            result = frost_dates(source, site, threshold, level=level, risk=risk, inclusive=inclusive)
        if written(result.years if by_year else result.table, as_json, as_csv):
            return
        screen = console()
        nothing_named = bool(result.table["day"].isna().all())
        if nothing_named:
            # the years are all there is to see: a table of shares without a day says six times that there is none
            show(attrs.evolve(result, table=result.years), list(result.years.columns), screen)
            return
        if by_year:
            print_table(result.years, list(result.years.columns), screen)
            screen.print()
        show(result, _FROST, screen)
