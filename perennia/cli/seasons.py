"""Questions about how seasons went: curves, flushes, projections of running seasons, fits, bearing over the years."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from perennia.analysis import Result, bearing, fit_curves, flushes, group_curves, project_totals, season_curves
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, print_table, say_cautions, show, working, written
from perennia.garden import Garden

_Command = TypeVar("_Command", bound=Callable[..., Any])
_FLUSHES = ["label", "crop", "season_name", "flush", "of", "starts_on", "peak_on", "ends_on", "amount", "share", "open"]
_PROJECTIONS = [
    "label", "crop", "season_name", "as_of", "measure", "to_date", "projected", "low", "high", "level", "n", "basis",
    "withheld",
]  # fmt: skip
_FITS = ["label", "crop", "season_name", "measure", "asymptote", "midpoint", "scale", "residual_sd", "n", "note"]
_BEARING = ["crop", "unit", "measure", "seasons", "pairs", "mean_crop", "index", "chance_low", "chance_high"]
_STEP_DAYS = 7


def _chosen(command: _Command) -> _Command:
    """--label, --crop and --season, each of which may be repeated."""
    for option in (
        click.option("--season", "seasons", callback=growing_years, multiple=True, help="Only this growing year."),
        click.option("--crop", "crops", multiple=True, help="Only this crop, by botanical name."),
        click.option("--label", "labels", multiple=True, help="Only this label or plant."),
    ):
        command = option(command)
    return command


def _answer(
    garden: Path, as_of: str | None, as_json: bool, as_csv: bool, step: str, columns: Sequence[str],
    ask: Callable[[Garden], Result], more: Sequence[str] = (),
) -> None:  # fmt: skip
    """Ask a garden and show the answer, with the further tables named in more."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working(step):
            result = ask(source)
        if written(result.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(" ".join([*result.findings, *result.cautions, what_there_is(source)]))
        screen = console()
        show(result, [name for name in columns if name in result.table.columns], screen)
        for name in more:
            frame = getattr(result, name)
            if not frame.empty:
                screen.print()
                print_table(frame, list(frame.columns), screen)
        say_cautions(screen, source, result.table["crop"].dropna().unique() if "crop" in result.table else ())


@main.command()
@garden_argument
@_chosen
@click.option("--stock", multiple=True, help="Only this stock, such as fresh or overwintered.")
@click.option("--measure", type=click.Choice(["g", "count"]), help="Each crop's own unit unless given.")
@click.option(
    "--axis", type=click.Choice(["date", "day_of_season", "days_since_start", "degree_days"]), default="date",
    show_default=True, help="What the curves run along.",
)  # fmt: skip
@click.option("--step", type=int, default=_STEP_DAYS, show_default=True, help="Days (or degree-days) a row.")
@click.option("--by", multiple=True, help="Mean curves of groups by this column, such as stock or season; repeat it.")
@as_of_option
@formats
def curves(
    garden: Path, labels: Sequence[str], crops: Sequence[str], seasons: Sequence[int] | None, stock: Sequence[str],
    measure: str | None, axis: str, step: int, by: Sequence[str], as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """The crop of each plant and season as it came in, or the mean curves of groups of plants."""
    chosen: dict[str, Any] = {
        "labels": labels or None, "crops": crops or None, "seasons": seasons or None, "stock": stock or None,
        "measure": measure, "axis": axis, "step": step,
    }  # fmt: skip
    along = "on" if axis == "date" else axis
    if by:
        # along dates season parts the groups, by which or not
        of = ["season_name"] if "season" in by or along == "on" else []
        columns = [
            "crop", *(name for name in by if name != "season"), *of, along, "n", "mean_cumulative", "low_cumulative",
            "high_cumulative", "mean_per_day", "measure",
        ]  # fmt: skip
        _answer(garden, as_of, as_json, as_csv, "drawing curves", list(dict.fromkeys(columns)),
                lambda source: group_curves(source, by, **chosen))  # fmt: skip
        return
    columns = ["label", "crop", "season", along, "cumulative", "per_day", "measure", "finished"]
    _answer(garden, as_of, as_json, as_csv, "drawing curves", columns, lambda source: season_curves(source, **chosen))


@main.command("flushes")
@garden_argument
@_chosen
@as_of_option
@formats
def flushes_(
    garden: Path, labels: Sequence[str], crops: Sequence[str], seasons: Sequence[int] | None, as_of: str | None,
    as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """The waves in which each plant cropped: when, and how much of the season came in each."""
    _answer(
        garden, as_of, as_json, as_csv, "telling flushes", _FLUSHES,
        lambda source: flushes(source, labels=labels or None, crops=crops or None, seasons=seasons or None),
    )  # fmt: skip


@main.command()
@garden_argument
@_chosen
@as_of_option
@formats
def project(
    garden: Path, labels: Sequence[str], crops: Sequence[str], seasons: Sequence[int] | None, as_of: str | None,
    as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """What running seasons may come to, by finished ones; a projection, not a record."""
    if seasons and len(seasons) > 1:
        raise click.UsageError("--season is taken once here")
    _answer(
        garden, as_of, as_json, as_csv, "projecting", _PROJECTIONS,
        lambda source: project_totals(
            source, season=seasons[0] if seasons else None, labels=labels or None, crops=crops or None
        ),
    )  # fmt: skip


@main.command()
@garden_argument
@_chosen
@click.option("--form", type=click.Choice(["logistic", "gompertz"]), default="logistic", show_default=True,
              help="The form of the curve.")  # fmt: skip
@as_of_option
@formats
def fit(
    garden: Path, labels: Sequence[str], crops: Sequence[str], seasons: Sequence[int] | None, form: Any,
    as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Fit a curve to the crop of each finished season: how much, when half of it, how fast."""
    _answer(
        garden, as_of, as_json, as_csv, "fitting", _FITS,
        lambda source: fit_curves(
            source, form=form, labels=labels or None, crops=crops or None, seasons=seasons or None
        ),
    )  # fmt: skip


@main.command("bearing")
@garden_argument
@click.option("--label", "labels", multiple=True, help="Only this label or plant; may be repeated.")
@click.option("--crop", help="Only this crop, by botanical name.")
@click.option("--measure", help="total_g, count or g_per_m2; each crop's own unit unless given.")
@as_of_option
@formats
def bearing_(
    garden: Path, labels: Sequence[str], crop: str | None, measure: str | None, as_of: str | None, as_json: bool,
    as_csv: bool,
) -> None:  # fmt: skip
    """How plants bear from year to year: alternation, change with age, lasting differences between plants."""
    _answer(
        garden, as_of, as_json, as_csv, "comparing years", _BEARING,
        lambda source: bearing(source, measure=measure, crop=crop, labels=labels or None),
        ("alternation", "trend", "variance"),
    )  # fmt: skip
