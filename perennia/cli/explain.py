"""Why flowers set so little, from the terminal: every candidate side by side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click
import pandas as pd

from perennia.analysis import explain_shortfall
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, heading, print_table, say_cautions, working, written
from perennia.errors import UnknownLabelError
from perennia.garden import Garden

_SHOWN = ["candidate", "strength", "recorded", "contrast", "form"]
_FORMS = ["form", "there", "p", "on_from", "on_to", "reason"]


@main.command("explain")
@garden_argument
@click.argument("bed_or_labels", nargs=-1, required=True)
@click.option("--season", callback=growing_years, required=True, help="The growing year, such as 2023 or 2023/24.")
@click.option("--crop", help="The crop, by botanical name, where the bed held several.")
@click.option("--soil", help="Texture of the soil, such as loam, in place of what is recorded of the bed.")
@click.option("--since", metavar="DAY", help="Begin the water balance on this day, the soil being full.")
@click.option("--forms", is_flag=True, help="What the failures look like too, form by form.")
@as_of_option
@formats
def explain(
    garden: Path, bed_or_labels: Sequence[str], season: int, crop: str | None, soil: str | None,
    since: str | None, forms: bool, as_of: str | None, as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Why the flowers of a bed, or of one or more labels, set so little: each candidate with what speaks for it.

    What is not recorded is never ruled out; what would decide is said with each.
    """
    asked = bed_or_labels[0] if len(bed_or_labels) == 1 else list(bed_or_labels)
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("weighing what the records show"):
            try:
                result = explain_shortfall(source, asked, season, crop=crop, soil=soil, since=since)
            except UnknownLabelError as why:
                raise UnknownLabelError(f"{why}. {_where_to_look(source)}") from why
        if written(result.forms if forms else result.table, as_json, as_csv):
            return
        screen = console()
        screen.print(result.summary())
        heading(screen, "Candidates")
        print_table(result.table, _SHOWN, screen)
        if forms:
            heading(screen, "Forms of failure")
            print_table(result.forms, _FORMS, screen)
        heading(screen, "What would decide")
        for row in result.table.itertuples():
            if row.strength != "against":
                screen.print(f"- {row.candidate}: {row.decides}.")
        heading(screen, "What these records cannot tell")
        for text, candidates in _untold(result.table).items():
            screen.print(f"- {', '.join(candidates)}: {text}.")
        say_cautions(screen, source, [result.crop])


def _where_to_look(source: Garden) -> str:
    """The beds and seasons of the garden, for someone who asked for others."""
    beds = source.sql("select bed from beds order by bed")["bed"]
    named = f"Its beds are {', '.join(beds)}" if len(beds) else "It has no bed"
    return f"{named}; several labels are written one after another. {what_there_is(source)}"


def _untold(table: pd.DataFrame) -> dict[str, list[str]]:
    """What cannot be told whatever the records hold, each once, with the candidates it is true of."""
    found: dict[str, list[str]] = {}
    for row in table[table["strength"] != "against"].itertuples():
        for text in str(row.cannot_tell).split("; "):
            found.setdefault(text, []).append(str(row.candidate))
    return found
