"""The question of which roots came through the winter, and how long plants live."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from perennia.analysis.decisions.surviving.survival import survival
from perennia.analysis.decisions.surviving.survival_groups import FACTORS
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, print_table, show, working, written
from perennia.garden import Garden

_FIGURES = [
    "n_roots", "n_boxes", "alive", "dead", "not_regrown", "interval_censored", "open", "left", "share", "low", "high",
]  # fmt: skip


@main.command("survival")
@garden_argument
@click.option("--by", multiple=True, type=click.Choice(FACTORS), help="What to group by; may be repeated. [wintering]")
@click.option("--crop", help="Only this crop, by botanical name.")
@click.option("--season", callback=growing_years, help="Only the winter that leads into this growing year.")
@click.option("--lives", is_flag=True, help="Show whole lives, the share of plants alive season by season, instead.")
@as_of_option
@formats
def survival_(
    garden: Path, by: Sequence[str], crop: str | None, season: int | None, lives: bool, as_of: str | None,
    as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Which roots came through the winter, and how long plants live."""
    if lives and season is not None:
        raise click.UsageError("--lives shows whole lives; leave --season out")
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("counting roots"):
            result = survival(source, by=by or ("wintering",), crop=crop, season=season)
        if written(result.lives if lives else result.table, as_json, as_csv):
            return
        if result.table.empty and result.lives.empty:
            raise click.ClickException(f"{' '.join(result.findings)} {what_there_is(source)}")
        screen = console()
        if lives:
            print_table(result.lives, list(result.lives.columns), screen)
            screen.print()
        named = [name for name in result.table.columns if name == "crop" or name in by or name in result.by]
        show(result, [*named, *_FIGURES], screen)
