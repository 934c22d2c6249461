"""Flowers and what they came to, from the terminal: shares by plant, days of loss, patterns of failure."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from perennia.analysis.causes.setting.patterns import setting_patterns
from perennia.analysis.causes.setting.pod_set import pod_set
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, heading, print_table, say_cautions, show, working, written
from perennia.garden import Garden

_PLANTS = [
    "crop", "season_name", "plant", "trusses", "opened", "set", "dropped", "full_size", "damaged", "lost_to_view",
    "still_open", "growing", "set_share", "full_share",
]  # fmt: skip
_TRUSSES = ["season_name", "plant", "truss", "basis", "opened", "set", "dropped", "full_size", "set_share"]
_OPENING = ["season_name", "basis", "on_from", "on_to", "opened", "trusses", "set", "set_decided", "set_share"]
_LOSSES = ["season_name", "basis", "on_from", "on_to", "lost", "flowers", "pods", "trusses", "at_risk"]
_POSITIONS = ["season_name", "position", "opened", "set", "set_decided", "set_share", "falling_share"]


@main.command("pod-set")
@garden_argument
@click.option("--label", "labels", multiple=True, help="Only this label or plant; may be repeated.")
@click.option("--crop", help="Only this crop, by botanical name.")
@click.option("--season", callback=growing_years, help="Only this growing year.")
@click.option("--patterns", is_flag=True, help="What the failures have in common: truss, position, load, date, gap.")
@as_of_option
@formats
def pod_set_(
    garden: Path, labels: Sequence[str], crop: str | None, season: int | None, patterns: bool, as_of: str | None,
    as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """How many flowers set and grew to full size, by plant, truss, position, day of opening and day of loss."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("following flowers"):
            result = pod_set(source, crop=crop, season=season, labels=labels or None)
            found = setting_patterns(result) if patterns else None
        if written(result.table if found is None else found.table, as_json, as_csv):
            return
        if result.table.empty:
            raise click.ClickException(" ".join([*result.findings, *result.cautions, what_there_is(source)]))
        screen = console()
        show(result, _PLANTS, screen)
        for title, frame, columns in (
            ("By truss", result.trusses, _TRUSSES),
            ("By day of opening", result.by_opening_day, _OPENING),
            ("By day of loss", result.by_loss_day, _LOSSES),
            ("By position on the truss", result.by_position, _POSITIONS),
        ):
            if not frame.empty:
                heading(screen, title)
                print_table(frame, columns, screen)
        if found is not None:
            heading(screen, "Patterns of failure")
            screen.print(found.summary())
        say_cautions(screen, source, result.table["crop"].dropna().unique())
