"""The season report: one page that needs nothing but itself."""

from __future__ import annotations

import re
from datetime import date
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from perennia.analysis.shown import MISSING_MEANS
from perennia.checking import arguments
from perennia.errors import AnalysisError
from perennia.garden import Garden
from perennia.intake.new_file import new_path, write_new
from perennia.intake.sources import Progress
from perennia.report.page.asking import Books
from perennia.report.page.parts import Said, Section
from perennia.report.page.said_once import said_once
from perennia.report.page.sections import SECTIONS
from perennia.report.svg import colours_on_dark

if TYPE_CHECKING:
    import jinja2

    from perennia.source import Source

_SEASONS = "select distinct season, season_name from plant_seasons where grew order by season"
_ANY = "select distinct season, season_name from plant_seasons order by season"

_NO_CHARACTER = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f-\x9f\ufdd0-\ufdef\ufffe\uffff]")
"""Controls and the like, which a note may hold and an HTML page may not."""
_LONGEST_WHOLE = 16
"""Letters of the longest word that is never broken in a table on paper."""


def season_report(
    source: Source, season: int | None = None, today: date | str | None = None, *, progress: Progress | None = None
) -> str:
    """One HTML page on a season of a garden: how it stands, what changed, comparisons with their cautions, survival,
    what flowers came to, which roots to keep, a page a plant, how the numbers were made, and cautions for the crops.

    season: the first calendar year of the growing year; the latest in which a plant grew unless given. today: the day
    the page speaks of, and nothing that happened later is looked at; unless given the computer's, with all there is.
    The page holds its style and figures, and needs no network and no script. Every text of the records is escaped. Up
    to 60 plants each have a page of their own, above that a table. What cannot be answered is said in its place.
    progress: called with what is being done, a few words a section and a plant's page.

    Raises ArgumentError where season or today is of another kind, AnalysisError where jinja2 is not installed.
    """
    given = arguments.a_day(today, "today")
    day = given or date.today()
    chosen = None if season is None else arguments.a_year(season, "season")
    name = source.name if isinstance(source, Garden) else None
    template = _template()
    source = source if given is None else source.up_to(given)
    seasons = {int(row["season"]): str(row["season_name"]) for row in source.sql(_SEASONS).to_dict("records")}
    if chosen is None:
        chosen = max((one for one in seasons if one <= day.year), default=None)
    if chosen is None or chosen not in seasons:
        return _page(template, name, None if chosen is None else str(chosen), day, [_nothing(source, chosen)])
    books = Books(source, chosen, seasons[chosen], day, progress or (lambda step: None))
    sections = []
    for number, make in enumerate(SECTIONS, 1):
        books.say(f"section {number} of {len(SECTIONS)}")
        section = make(books)
        if section is not None:
            sections.append(section)
    return _page(template, name, books.season_name, day, said_once(sections))


def write_season_report(
    source: Source, path: str | Path, season: int | None = None, today: date | str | None = None
) -> Path:
    """Write the season report into a new file, and return its path.

    path: of the file, ending in .html; season, today: as season_report takes them. Raises IntakeError where the file is
    there already, its name ends otherwise or it cannot be written, and ArgumentError or AnalysisError as season_report
    does.
    """
    named = new_path(path, ".html", "the season report")
    write_new(named, season_report(source, season, today).encode())
    return named


def _nothing(source: Source, season: int | None) -> Section:
    """The one section of a garden, or season, without a plant."""
    names = [str(name) for name in source.sql(_ANY)["season_name"]]
    if not names:
        said = "The garden has no plant yet. Record the first, and this page will begin to fill."
    elif season is None:
        said = f"No plant has grown yet; the books hold plants of {', '.join(names)}."
    else:
        said = f"No plant grew in season {season}; the books hold plants of {', '.join(names)}."
    return Section("year", "The season so far", (Said(said),))


def _page(template: jinja2.Template, name: str | None, season: str | None, day: date, sections: list[Section]) -> str:
    style = (resources.files(__package__) / "season_report.css").read_text(encoding="utf-8")
    style += f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {colours_on_dark()} }} }}\n"
    page = template.render(
        garden=name, season=season, day=f"{day.day} {day:%B %Y}", sections=sections, style=style,
        missing_means=MISSING_MEANS, version=version("perennia"),
    )  # fmt: skip
    return _NO_CHARACTER.sub("\ufffd", page)


def _is_long(cell: str) -> bool:
    """Whether a cell holds a word that a column of paper may have to break; no other word is broken there."""
    return any(len(word) > _LONGEST_WHOLE for word in cell.split())


def _template() -> Any:
    """The template, every text escaped. Raises AnalysisError where jinja2 is not installed."""
    try:
        import jinja2  # of the extra report, so no import of this module may need it
    except ModuleNotFoundError as error:
        if error.name is None or error.name.partition(".")[0] != "jinja2":
            raise
        raise AnalysisError("a report needs jinja2; install it with: pip install 'perennia[report]'") from error
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(lambda file: (resources.files(__package__) / file).read_text(encoding="utf-8")),
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined,
    )  # fmt: skip
    environment.tests["long"] = _is_long
    return environment.get_template("season_report.html.j2")
