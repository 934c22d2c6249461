"""The pedigree of one plant from the terminal: a tree, its sentences, its seed lots."""

from __future__ import annotations

from pathlib import Path

import click

from perennia.analysis.decisions.descent.pedigree import pedigree
from perennia.cli.group import as_of_option, formats, garden_argument, main
from perennia.cli.showing import console, print_table, working, written
from perennia.garden import Garden


@main.command("pedigree")
@garden_argument
@click.argument("label")
@as_of_option
@formats
def pedigree_(garden: Path, label: str, as_of: str | None, as_json: bool, as_csv: bool) -> None:
    """What a plant comes from and what came from it, by its LABEL or address (A1, A1/2021)."""
    with Garden.open(garden, read_only=True, as_of=as_of) as source:
        with working("reading the books"):
            result = pedigree(source, label)
        if written(result.table, as_json, as_csv):
            return
        screen = console()
        screen.print(result.tree(), soft_wrap=True)
        screen.print()
        screen.print(result.summary())
        if not result.lots.empty:
            screen.print()
            print_table(result.lots, list(result.lots.columns), screen)
            screen.print("· stands for what is not recorded or cannot be known.")
