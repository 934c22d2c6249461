"""The question of whether a bed had water enough, from the terminal."""

from __future__ import annotations

from pathlib import Path

import attrs
import click
import pandas as pd

from perennia.analysis import water_balance
from perennia.analysis.causes.water.water_days import UNKNOWN_BEFORE
from perennia.cli.choosing import growing_years
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, say_cautions, show, working, written
from perennia.garden import Garden

_SHOWN = [
    "from", "to", "stage", "et0_mm", "kc", "etc_mm", "rain_mm", "watering_mm", "raw_mm", "depletion_mm", "ks",
    "extra_watering_mm", "missing",
]  # fmt: skip
_SUMS = ("et0_mm", "etc_mm", "rain_mm", "watering_mm", "extra_watering_mm")
_KEY = (
    "et0_mm, etc_mm, rain_mm, watering_mm and extra_watering_mm are sums of the days of a row; kc is the mean, ks the "
    "lowest, raw_mm and depletion_mm those of the last day.\n"
    "depletion_mm is what the soil about the roots lacks; beyond raw_mm the plants go short, and ks falls below 1. "
    "extra_watering_mm would have kept it at 1."
)


@main.command("water")
@garden_argument
@click.argument("bed")
@click.option("--season", callback=growing_years, required=True, help="The growing year, such as 2023 or 2023/24.")
@click.option("--crop", help="The crop, by botanical name, where the bed held several.")
@click.option("--soil", help="Texture of the soil, such as loam, in place of what is recorded of the bed.")
@click.option("--theta-fc", type=float, help="Water content of the soil at field capacity, m3 per m3.")
@click.option("--theta-wp", type=float, help="Water content of the soil at wilting point, m3 per m3.")
@click.option("--root-depth", type=float, metavar="M", help="How deep the roots reach.")
@click.option("--kc", type=float, nargs=3, metavar="INITIAL MID END",
              help="Crop coefficients in place of the profile's, as for a crop trained high on poles.")
@click.option("--since", metavar="DAY", help="Begin on this day, the soil being full, instead of with the season.")
@click.option("--step", type=click.IntRange(1), default=7, show_default=True, help="Days a row on the screen.")
@as_of_option
@formats
def water(
    garden: Path, bed: str, season: int, crop: str | None, soil: str | None, theta_fc: float | None,
    theta_wp: float | None, root_depth: float | None, kc: tuple[float, float, float] | None, since: str | None,
    step: int, as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Whether the plants of BED had water enough, and what watering would have kept them from stress.

    A bed whose soil is recorded in other words than the texture needs --soil, or --theta-fc and --theta-wp.
    --json and --csv write every day.
    """
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("reckoning water"):
            result = water_balance(
                source, bed, season, crop=crop, soil=soil, theta_fc=theta_fc, theta_wp=theta_wp,
                kc=kc, root_depth_m=root_depth, since=since,
            )  # fmt: skip
        if written(result.table, as_json, as_csv):
            return
        screen = console()
        screen.print(_KEY)
        show(attrs.evolve(result, table=_by_step(result.table, step)), _SHOWN, screen)
        say_cautions(screen, source, [result.crop])


def _by_step(table: pd.DataFrame, step: int) -> pd.DataFrame:
    """So many days a row, that no rain or watering falls between the rows; a sum with a day missing is missing."""
    rows = []
    for begin in range(0, len(table), step):
        days = table.iloc[begin:begin + step]
        row = days.iloc[-1].to_dict()
        row |= {name: days[name].sum(skipna=False) for name in _SUMS}
        row |= {"from": days["on"].iloc[0], "to": days["on"].iloc[-1], "kc": days["kc"].mean(),
                "ks": days["ks"].min(skipna=False), "missing": _first_gap(days["missing"])}  # fmt: skip
        rows.append(row)
    return pd.DataFrame(rows).astype(dict(table.dtypes.items()))


def _first_gap(missing: pd.Series[str]) -> str | None:
    """What is not recorded on a day of these, rather than that an earlier day was not known."""
    reasons = missing.dropna()
    own = reasons[reasons != UNKNOWN_BEFORE]
    return own.iloc[0] if len(own) else reasons.iloc[0] if len(reasons) else None
