"""Which roots came through the winter, and how long plants live."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.analysis import Survival, survival
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Headed, Listed, Part, Said, Section
from perennia.report.page.tables import tabled

_FIGURES = [
    "crop", "wintering", "n_roots", "n_boxes", "alive", "dead", "not_regrown", "interval_censored", "open", "left",
    "share", "low", "high",
]  # fmt: skip
_LIVES_BEGIN = "whole lives:"
"""With it a sentence on whole lives begins, which is said of all winters and not of one."""
_LIVES = ["crop", "plant_season", "part", "at_risk", "deaths", "censored", "share", "low", "high"]


def surviving(books: Books) -> Section:
    """The winter before this season, then all winters and whole lives."""
    parts = (Headed("last-winter", "The winter before this season"), *books.told(
        "Survival of the winter before", lambda: survival(books.source, season=books.season), _last_winter
    ), Headed("all-winters", "All winters, and how long plants live"), *books.told(
        "Survival of all winters, and whole lives", lambda: survival(books.source), _all_winters
    ))  # fmt: skip
    return Section("survival", "Survival", parts)


def _last_winter(found: Survival) -> Iterator[Part]:
    if found.table.empty:
        yield Said("No root was kept over that winter, or none is on record.")
        return
    yield Listed(by_crop([line for line in found.findings if _LIVES_BEGIN not in line.lower()], found))
    yield tabled(found.table, _FIGURES, "Roots of that winter")
    yield Said("The cautions below hold for this winter too, and one winter says little of the next.")


def _all_winters(found: Survival) -> Iterator[Part]:
    if found.table.empty and found.lives.empty:
        yield Said("No root has been through a winter on record, so there is nothing to count yet.")
        return
    yield Listed(by_crop(found.findings, found))
    table = tabled(found.table, _FIGURES, "Roots by wintering, all winters", more="perennia survival", folded=True)
    yield from drawn(found, "Roots that came through, by wintering, and plants alive season by season", table)
    if not found.lives.empty:
        more = "perennia survival --lives"
        yield tabled(found.lives, _LIVES, "Plants alive, season by season", more=more, folded=True)
    yield Cautions(by_crop(found.cautions, found))
