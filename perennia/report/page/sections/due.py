"""What is due in the garden, the most urgent first."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.analysis import Due, due
from perennia.analysis.causes.due.matters import STANDINGS
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Headed, Part, Said, Section, Tabled, listed
from perennia.report.page.tables import tabled

_COLUMNS = {"standing": "standing", "kind": "matter", "what": "of", "since": "due from", "by": "makes sense until"}
_HEADINGS = {"overdue": "Overdue", "now": "Now", "ahead": "Ahead"}


def what_is_due(books: Books) -> Section:
    """What asks for attention on the day of the page."""
    return Section("due", "What is due", books.told("What is due", lambda: due(books.source, books.today), _due))


def _behind(found: Due) -> Tabled:
    """The table behind the figure: which matter, of which plants or place, from when to when."""
    frame = found.table.assign(what=found.table["labels"].fillna(found.table["place"]))
    return tabled(frame.rename(columns=_COLUMNS), list(_COLUMNS.values()), "What is due, from when to when",
                  more="perennia due", folded=True)  # fmt: skip


def _due(found: Due) -> Iterator[Part]:
    if found.table.empty:
        yield Said(" ".join(found.findings))
        return
    yield from drawn(found, "What is due, by the days between which it makes sense", _behind(found))
    for standing in STANDINGS:
        rows = found.table[found.table["standing"] == standing]
        if rows.empty:
            continue
        yield Headed(f"due-{standing}", _HEADINGS[standing])
        yield listed(tuple(f"{str(row.kind).capitalize()}. {row.why} {row.do}" for row in rows.itertuples(index=False)))
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))
