"""Which roots to keep over the winter."""

from __future__ import annotations

from pathlib import Path

import click
from rich.console import Console

from perennia.analysis.decisions.keeping.keep_list import CROP_MEASURES, KeepList, keep_list
from perennia.analysis.decisions.keeping.keep_wording import CHOICES
from perennia.cli.choosing import growing_years, what_there_is
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, heading, print_table, working, written
from perennia.garden import Garden

_KEEP = [
    "rank", "label", "bed", "plant_season", "seasons", "mean_crop", "expected_if_alive", "low", "high", "chance_alive",
    "expected", "keep", "root_g", "weighed_on", "condition",
]  # fmt: skip
_SEEDS = [
    "lot", "age_years", "tested_on", "tested", "germinated", "seeds_a_sowing", "sow_beside_roots", "sow_alone", "note",
]  # fmt: skip
_LEGEND = f"keep: {'; '.join(f'{keep}, {text}' for keep, text in CHOICES.items())}. · stands for what is not known."


@main.command()
@garden_argument
@click.option("--season", required=True, callback=growing_years, help="The growing year now ending.")
@click.option("--crop", help="Only this crop, by botanical name.")
@click.option("--target", type=float, help="The crop wanted next season, in grams or pieces.")
@click.option("--places", type=int, help="Winter places at hand.")
@click.option("--wintering", help='How the roots would be kept, such as "bare root, frost-free".')
@click.option("--repeatability", type=float, help="Your own figure, 0 to 1, in place of what the records show.")
@click.option("--assurance", type=float, default=0.9, show_default=True,
              help="With what probability the target is to be met.")  # fmt: skip
@click.option("--measure", type=click.Choice(CROP_MEASURES), help="Each crop's own unit unless given.")
@click.option("--page", type=click.Path(path_type=Path), metavar="FILE.html",
              help="Write the lifting list and labels to print.")  # fmt: skip
@as_of_option
@formats
def keep(
    garden: Path, season: int, crop: str | None, target: float | None, places: int | None, wintering: str | None,
    repeatability: float | None, assurance: float, measure: str | None, page: Path | None, as_of: str | None,
    as_json: bool, as_csv: bool,
) -> None:  # fmt: skip
    """Which plants are worth a winter place, by what they should bear next season, and what to sow beside them."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("weighing up"):
            result = keep_list(
                source, season, crop=crop, target=target, places=places, wintering=wintering,
                repeatability=repeatability, assurance=assurance, measure=measure,
            )  # fmt: skip
        if result.table.empty and result.unseen.empty:
            if written(result.table, as_json, as_csv):
                return
            raise click.ClickException(f"{' '.join(result.findings)} {what_there_is(source)}")
        if page is not None:
            result.to_html(page)
        if written(result.table, as_json, as_csv):
            return
        screen = console()
        _show(result, screen)
        if page is not None:
            screen.print(f"The lifting list and labels to print are in {page}.")


def _show(result: KeepList, screen: Console) -> None:
    """Crop by crop the table, what to do and what it rests on, then the cautions, each once."""
    named = list(dict.fromkeys([*result.table["crop"], *result.unseen["crop"]]))
    for crop in named:
        heading(screen, crop)
        ours = result.table[result.table["crop"] == crop]
        if not ours.empty:
            print_table(ours, _KEEP, screen)
        if crop == named[0]:
            screen.print(_LEGEND)
        for text in result.findings:
            if text.startswith(f"{crop}: "):
                screen.print(_sentence(text.removeprefix(f"{crop}: ")))
        seeds = result.seeds[result.seeds["crop"] == crop]
        if not seeds.empty:
            print_table(seeds, _SEEDS, screen)
    heading(screen, "Cautions")
    alone = f"{named[0]}: " if len(named) == 1 else ""
    for caution in result.cautions:
        screen.print(f"- {_sentence(caution.removeprefix(alone))}")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
