"""The question of whether a bed had water enough, from the terminal."""

from __future__ import annotations

from pathlib import Path

import attrs
import click

from perennia.analysis.causes import water_balance
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.questions import growing_years
from perennia.cli.showing import console, say_cautions, show, working, written
from perennia.garden import Garden

_SHOWN = [
    "on", "stage", "et0_mm", "kc", "etc_mm", "rain_mm", "watering_mm", "raw_mm", "depletion_mm", "ks",
    "extra_watering_mm", "missing",
]  # fmt: skip


@main.command("water")
@garden_argument
@click.argument("bed")
@click.option("--season", callback=growing_years, required=True, help="The growing year, such as 2023 or 2023/24.")
@click.option("--crop", help="The crop, by botanical name, where the bed held several.")
@click.option("--soil", help="Texture of the soil, such as loam, in place of what is recorded of the bed.")
@click.option("--theta-fc", type=float, help="Water content of the soil at field capacity, m3 per m3.")
@click.option("--theta-wp", type=float, help="Water content of the soil at wilting point, m3 per m3.")
@click.option("--root-depth", type=float, metavar="M", help="How deep the roots reach.")
@click.option("--since", metavar="DAY", help="Begin on this day, the soil being full, instead of with the season.")
@click.option("--step", type=click.IntRange(1), default=7, show_default=True, help="Days a row on the screen.")
@as_of_option
@formats
def water(
    garden: Path, bed: str, season: int, crop: str | None, soil: str | None, theta_fc: float | None,
    theta_wp: float | None, root_depth: float | None, since: str | None, step: int, as_of: str | None, as_json: bool,
    as_csv: bool,
) -> None:  # fmt: skip
    """Whether the plants of BED had water enough, and what watering would have kept them from stress.

    A bed whose soil is recorded in other words than the texture needs --soil, or --theta-fc and --theta-wp.
    --json and --csv write every day.
    """
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("reckoning water"):
            result = water_balance(
                source, bed, season, crop=crop, soil=soil, theta_fc=theta_fc, theta_wp=theta_wp,
                root_depth_m=root_depth, since=since,
            )  # fmt: skip
        if written(result.table, as_json, as_csv):
            return
        screen = console()
        show(attrs.evolve(result, table=result.table.iloc[::step]), _SHOWN, screen)
        say_cautions(screen, source, [result.crop])
