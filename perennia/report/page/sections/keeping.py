"""Which roots are worth a winter place."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.analysis import KeepList, keep_list
from perennia.analysis.decisions.keeping.keep_wording import CHOICES
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Listed, Part, Said, Section
from perennia.report.page.tables import tabled

_KEEP = [
    "rank", "label", "crop", "in", "bed", "plant_season", "seasons", "mean_crop", "expected_if_alive", "low", "high",
    "chance_alive", "expected", "fresh_expected", "keep", "root_g", "condition",
]  # fmt: skip
_IN = {"total_g": "g", "count": "pieces"}
"""What the crops of a row are given in: those of some crops are weighed, those of others counted."""
_SHOWN = 100


def keeping(books: Books) -> Section:
    """The keep list of the season."""
    parts = books.told("Keep list", lambda: keep_list(books.source, books.season), lambda found: _listed(books, found))
    return Section("keep", "Which roots to keep", parts)


def _listed(books: Books, found: KeepList) -> Iterator[Part]:
    if found.table.empty:
        yield Listed(by_crop(found.findings, found, books.crops()))
        return
    yield Said(
        "Living plants ranked by what each should bear next season, the chance of losing it in the winter reckoned in, "
        "against a plant raised fresh. The last word is with the root in your hand."
    )
    yield Listed(by_crop(found.findings, found, books.crops()))
    more = f"perennia keep --season {books.season}"
    rows = found.table.assign(**{"in": found.table["measure"].map(_IN).astype("string")})
    table = tabled(rows, _KEEP, "The keep list, crops a plant", more=more, rows=_SHOWN, folded=True)
    yield from drawn(found, "What each plant should bear next season", table)
    yield Said(f"In the column keep: {'; '.join(f'{keep}, {text}' for keep, text in CHOICES.items())}.")
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found, books.crops()))
