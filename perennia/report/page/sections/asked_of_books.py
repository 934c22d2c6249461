"""What in the books asks for a look."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.analysis import BooksCheck, check
from perennia.report.page.asking import Books, sentence
from perennia.report.page.parts import Part, Said, Section, listed
from perennia.report.page.tables import ROWS


def asked_of_books(books: Books) -> Section:
    """Gaps, silent seasons, odd weights, likely twins: questions to the grower, the latest first."""
    parts = books.told("Check of the books", lambda: check(books.source), _check)
    return Section("books", "What in the books asks for a look", parts)


def _check(found: BooksCheck) -> Iterator[Part]:
    yield Said(" ".join(found.findings))
    texts = [sentence(str(text)) for text in found.table["text"]][::-1]
    if len(texts) > ROWS:
        texts = [*texts[:ROWS], f"And {len(texts) - ROWS} more; perennia check shows them all."]
    yield listed(tuple(texts), shown=10)
