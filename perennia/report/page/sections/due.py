"""What is due in the garden."""

from __future__ import annotations

from perennia.report.page.asking import Books
from perennia.report.page.parts import Section


def what_is_due(books: Books) -> Section | None:
    """Nothing yet: no question of what is due can be asked so far."""
    return None
