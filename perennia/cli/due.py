"""What asks for attention, from the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from perennia.analysis import due
from perennia.analysis.causes.due.matters import STANDINGS
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, heading, say_cautions, working, written
from perennia.garden import Garden

_HEADINGS = {"overdue": "Overdue", "now": "Now", "ahead": "Ahead"}


@main.command("due")
@garden_argument
@click.option("--today", metavar="DAY", help="The day asked for, such as 2024-05-01; the computer's unless given.")
@click.option("--frost-risk", type=float, default=0.1, show_default=True,
              help="The chance to be taken that frost comes sooner, or later in spring.")  # fmt: skip
@click.option("--soil", "soils", multiple=True, metavar="BED=TEXTURE",
              help="Texture of a bed's soil, in place of what is recorded of it; may be repeated.")  # fmt: skip
@as_of_option
@formats
def due_(
    garden: Path, today: str | None, frost_risk: float, soils: Sequence[str], as_of: str | None, as_json: bool,
    as_csv: bool,
) -> None:  # fmt: skip
    """What asks for attention today and why, the most urgent first.

    Nothing that happened after --today is looked at. --json and --csv write a row a matter.
    """
    textures = dict(_texture(text) for text in soils)
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("looking through the garden"):
            result = due(source, today, frost_risk=frost_risk, soils=textures)
        if written(result.table, as_json, as_csv):
            return
        screen = console()
        screen.print(f"{source.name or garden.name}, {result.today}")
        if result.table.empty:
            screen.print(" ".join(result.findings))
        for standing in STANDINGS:
            rows = result.table[result.table["standing"] == standing]
            if rows.empty:
                continue
            heading(screen, _HEADINGS[standing])
            for row in rows.itertuples(index=False):
                screen.print(f"{row.urgency}. {str(row.kind).capitalize()}. {row.why} {row.do}")
        if result.cautions:
            heading(screen, "Not known")
            for caution in result.cautions:
                screen.print(f"- {caution}")
        picked = result.table["kind"] == "picking"
        say_cautions(screen, source, result.table.loc[picked, "crop"].dropna().unique())


def _texture(text: str) -> tuple[str, str]:
    bed, equals, texture = text.rpartition("=")
    if not equals or not bed or not texture:
        raise click.BadParameter(f"{text!r} names no texture of a bed; write it as 'Gate bed=loam'")
    return bed.strip(), texture.strip()
