"""The sections of the season report, a file each, in the order in which they stand on the page.

Each is a function of the Books that gives a Section, or None where it has nothing to say. What a section needs, it asks
through Books.told, so that a question that fails becomes a sentence and every answer is listed with its method.
"""

from __future__ import annotations

from collections.abc import Callable

from perennia.report.page.asking import Books
from perennia.report.page.parts import Section
from perennia.report.page.sections.asked_of_books import asked_of_books
from perennia.report.page.sections.cautions import crop_cautions
from perennia.report.page.sections.changed import changed
from perennia.report.page.sections.comparing import comparing
from perennia.report.page.sections.due import what_is_due
from perennia.report.page.sections.keeping import keeping
from perennia.report.page.sections.numbers import numbers
from perennia.report.page.sections.plants import plants
from perennia.report.page.sections.shortfall import shortfall
from perennia.report.page.sections.surviving import surviving
from perennia.report.page.sections.year import year

SECTIONS: tuple[Callable[[Books], Section | None], ...] = (
    year, changed, what_is_due, comparing, surviving, shortfall, keeping, asked_of_books, crop_cautions, plants,
    numbers,
)  # fmt: skip
"""numbers lists what the others asked, so it comes last."""
