"""Questions to a garden: one plant's life, season summaries, what asks for a look."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from perennia.analysis import check as check_books
from perennia.analysis import season_summary
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, print_table, say_cautions, show, working, written
from perennia.garden import Garden

SUMMARY = [
    "label", "season_name", "stock", "wintering", "bed", "cover", "plants", "total_g", "count", "picks", "first_pick",
    "t50", "peak_on", "g_per_m2", "finished", "ended_how",
]  # fmt: skip


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
@click.option("--forgone", is_flag=True, help="Weigh what was left for seed, by the mean of the table pods.")
@as_of_option
@formats
def summary(
    garden: Path, season: Sequence[int], crop: Sequence[str], label: Sequence[str], forgone: bool, as_of: str | None,
    as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Crop and timing of each plant in each season."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("adding up"):
            result = season_summary(
                source, labels=label or None, crops=crop or None, seasons=season or None, forgone=forgone
            )
        if written(result.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(f"nothing matches. {what_there_is(source)}")
        screen = console()
        crops = ["crop"] if result.table["crop"].nunique() > 1 else []
        show(result, [*crops, *SUMMARY, *(["left_for_seed", "forgone_g"] if forgone else [])], screen)
        say_cautions(screen, source, result.table["crop"].dropna().unique())


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
