"""The season report from the terminal, as a page and on paper."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from perennia.checking import arguments
from perennia.cli.choosing import growing_years
from perennia.cli.group import as_of_option, garden_argument, main
from perennia.cli.showing import working
from perennia.garden import Garden
from perennia.intake.new_file import new_path, write_new
from perennia.report.page import season_report
from perennia.report.pdf import find_browser, write_pdf

_path = click.Path(path_type=Path)


@main.command()
@garden_argument
@click.option("--season", callback=growing_years, help="The growing year; the latest that grew, if left out.")
@click.option("--today", metavar="DAY", help="The day it speaks of, such as 2024-05-01; nothing later is seen.")
@click.option("--out", type=_path, metavar="FILE.html", help="Where to write the page; if left out, named by the day.")
@click.option("--pdf", type=_path, metavar="FILE.pdf", help="Print it into this file, by a Chromium that is installed.")
@as_of_option
def report(
    garden: Path, season: int | None, today: str | None, out: Path | None, pdf: Path | None, as_of: str | None
) -> None:  # fmt: skip
    """Write the season report: one HTML page that needs no network. With --pdf alone, only the printed one."""
    if out is None and pdf is None:
        out = Path(f"season-report-{arguments.a_day(today, 'today') or date.today()}.html")
    # what cannot be written is told before the work is done
    if out is not None:
        new_path(out, ".html", "the season report")
    if pdf is not None:
        new_path(pdf, ".pdf", "a printed page")
        find_browser()
    with Garden.open(garden, read_only=True, as_of=as_of) as source, working("writing the report") as progress:
        page = season_report(
            source, season, today, progress=lambda step: progress(f"writing the report, {step}")
        )  # fmt: skip
        if out is not None:
            write_new(out, page.encode())
        if pdf is not None:
            progress("printing it")
            write_pdf(page, pdf)
    for path in (out, pdf):
        if path is not None:
            click.echo(f"The season report lies in {path}.")
