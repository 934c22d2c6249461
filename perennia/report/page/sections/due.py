"""What is due in the garden, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.analysis.causes import Due, due
from perennia.analysis.causes.due.matters import STANDINGS
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.parts import Cautions, Headed, Part, Said, Section, listed

_HEADINGS = {"overdue": "Overdue", "now": "Now", "ahead": "Ahead"}


def what_is_due(books: Books) -> Section:
    """What asks for attention on the day of the page."""
    return Section("due", "What is due", books.told("What is due", lambda: due(books.source, books.today), _due))


def _due(found: Due) -> Iterator[Part]:
    if found.table.empty:
        yield Said(" ".join(found.findings))
    for standing in STANDINGS:
        rows = found.table[found.table["standing"] == standing]
        if rows.empty:
            continue
        yield Headed(f"due-{standing}", _HEADINGS[standing])
        yield listed(tuple(f"{str(row.kind).capitalize()}. {row.why} {row.do}" for row in rows.itertuples(index=False)))
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))
