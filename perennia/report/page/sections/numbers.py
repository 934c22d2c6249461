"""How the numbers of the page were made."""

from __future__ import annotations

from perennia.report.page.asking import Books
from perennia.report.page.parts import Facts, Headed, Part, Said, Section


def numbers(books: Books) -> Section:
    """Each answer on the page with its n, units and method."""
    parts: list[Part] = [Said("Every answer above, what it was reached by, and what one unit of it is.")]
    for number, answer in enumerate(books.answers, 1):
        result = answer.result
        parts.append(Headed(f"method-{number}", answer.name))
        parts.append(Facts((("n", str(result.n)), ("Units", result.units), ("Method", result.method))))
    return Section("numbers", "How the numbers were made", tuple(parts))
