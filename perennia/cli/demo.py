"""The invented garden, built and shown."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import click

from perennia.analysis import compare_stock, season_summary
from perennia.cli.group import main
from perennia.cli.questions import SUMMARY
from perennia.cli.showing import console, heading, print_table, say, say_cautions, show, working
from perennia.garden import Garden
from perennia.intake import read
from perennia.store.snapshot import GARDEN_FILE

DEMO_NAME, DEMO_CROP, DEMO_SEASON, DEMO_PLANT = "Quilanto (invented)", "Phaseolus coccineus", 2023, "P03"


@main.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
def demo(folder: Path | None) -> None:
    """Build the invented garden in FOLDER (./perennia-demo) and show what it holds."""
    folder = folder or Path("perennia-demo")
    shipped = resources.files("perennia") / "demo_garden"
    with resources.as_file(shipped) as books, _demo_garden(folder) as garden:
        with working("taking in the invented books"):
            report = read(garden, books, book=DEMO_NAME)
        screen = console()
        screen.print(f"An invented garden, made up to show what perennia does, now lies in {folder}.")
        screen.print(report.summary() + (", such as:" if report.doubts else "."))
        for doubt in report.doubts[:2]:
            screen.print(f"  {doubt.text}")
        screen.print(f"All that asks for a look: perennia check {folder}")
        summary = season_summary(garden, crops=[DEMO_CROP], seasons=[DEMO_SEASON])
        heading(screen, f"Season summary of the beans, {summary.table['season_name'].iloc[0]}")
        show(summary, SUMMARY, screen)
        heading(screen, "Overwintered against freshly sown beans")
        crop, first = (
            compare_stock(garden, measure=measure, season=DEMO_SEASON, crop=DEMO_CROP)
            for measure in ("total_g", "first_pick")
        )
        say(crop, screen)
        screen.print("\n".join([*first.findings, "Units, method and cautions as above."]))
        heading(screen, f"The life of {DEMO_PLANT}, pickings and single flowers left out")
        life = garden.history(DEMO_PLANT)
        life = life[~life["event"].isin(["picked", "flower_fate"])]
        print_table(life, ["on", "season_name", "event", "what", "inferred"], screen)
        say_cautions(screen, garden, [DEMO_CROP])
        screen.print(
            f"\nAsk more: perennia summary {folder}; perennia compare {folder} --seasons; perennia history {folder} R3"
        )


def _demo_garden(folder: Path) -> Garden:
    """The demo garden, opened when an earlier run has built it there; a garden of any other name is left alone."""
    if (folder / GARDEN_FILE).exists():
        garden = Garden.open(folder)
        if garden.name == DEMO_NAME:
            return garden
    return Garden.create(folder, name=DEMO_NAME)
