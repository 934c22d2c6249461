"""How the numbers of the page were made."""

from __future__ import annotations

from perennia.report.page.asking import Books
from perennia.report.page.measure_words import IN_WORDS
from perennia.report.page.parts import Facts, Headed, Part, Said, Section

_SPOKEN_OF = ("total_g", "count", "first_pick", "t50")


def numbers(books: Books) -> Section:
    """Each answer on the page with its n, units and method."""
    parts: list[Part] = [Said(
        "Every answer above, what it was reached by, and what one unit of it is. Columns go by their own names here: "
        + "; ".join(f"{name} is the {meaning}" for name, meaning in IN_WORDS.items() if name in _SPOKEN_OF) + "."
    )]  # fmt: skip
    for number, answer in enumerate(books.answers, 1):
        result = answer.result
        parts.append(Headed(f"method-{number}", answer.name))
        parts.append(Facts((("n", str(result.n)), ("Units", result.units), ("Method", result.method))))
    return Section("numbers", "How the numbers were made", tuple(parts))
