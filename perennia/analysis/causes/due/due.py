"""What asks for attention today, and why?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

import attrs

from perennia.analysis.causes.daily_weather import bed_named
from perennia.analysis.causes.due.frosts import frosts_of
from perennia.analysis.causes.due.keepers import keepers
from perennia.analysis.causes.due.lifting import lifting
from perennia.analysis.causes.due.matters import COLUMNS, KINDS, ordered, row_of, told
from perennia.analysis.causes.due.pickings import pickings
from perennia.analysis.causes.due.regrowth import roots_not_regrown
from perennia.analysis.causes.due.root_books import box_map, root_weights
from perennia.analysis.causes.due.seed_lots import seed_lots
from perennia.analysis.causes.due.seed_pods import seed_pods
from perennia.analysis.causes.due.sowings import sowings
from perennia.analysis.causes.due.starting import roots_to_start
from perennia.analysis.causes.due.store_checks import store_checks
from perennia.analysis.causes.due.today import today_of
from perennia.analysis.causes.due.trusses import trusses
from perennia.analysis.causes.due.watering import watering
from perennia.analysis.causes.water.soils import soil_of
from perennia.analysis.result import Result, framed
from perennia.checking import arguments
from perennia.errors import AnalysisError, ArgumentError

if TYPE_CHECKING:
    from perennia.source import Source

_ASKED = (
    store_checks, pickings, trusses, seed_pods, roots_not_regrown, sowings, root_weights, box_map, seed_lots,
)  # fmt: skip
_ASKED_WITH_FROST = (lifting, keepers, roots_to_start)
_LATEST_YEAR = 9000
_METHOD = (
    "Each kind of matter by a rule of its own, from the records up to the day, the crop profiles, the garden's own "
    "dates in earlier seasons, and its weather; every sentence says which. Nothing that was recorded of a later day is "
    "looked at."
)


@attrs.frozen(kw_only=True, eq=False)
class Due(Result):
    """What asks for attention on a day (columns in matters.COLUMNS), the most urgent first. n: matters."""

    today: date


def due(
    source: Source, today: str | date | None = None, *, frost_risk: float = 0.1, soils: Mapping[str, str] | None = None,
) -> Due:  # fmt: skip
    """Everything that asks for attention on a day, and why, the most urgent first.

    One row is one matter (columns in matters.COLUMNS; kinds in matters.KINDS). today: the day asked for, that of the
    computer unless given; nothing that happened later is looked at, whenever it was written down. frost_risk: the
    chance taken that frost comes sooner in autumn, or later in spring, than the day gone by. soils: textures by bed, as
    water_balance takes them, in place of what is recorded of it.

    What lacks a basis on record gets no date, or is counted in the cautions. Raises ArgumentError for what is no day or
    of another kind, AnalysisError for a risk that is no share or a texture that is in no table, UnknownLabelError for
    soils of an unknown bed.
    """
    day = arguments.a_day(today, "today") or date.today()
    if day.year > _LATEST_YEAR:
        raise AnalysisError(f"today is {day}; give a day that a plant of these books can see")
    risk = arguments.a_number(frost_risk, "frost_risk", "a number between 0 and 1 such as 0.1")
    if not 0 < risk < 1:
        raise AnalysisError(f"frost_risk {frost_risk!r} is not between 0 and 1; 0.1 is usual")
    books = today_of(source, day, risk)
    textures = {} if soils is None else _textures(source, soils)
    frosts = frosts_of(books)
    answers = [
        *(ask(books) for ask in _ASKED), watering(books, textures), *(ask(books, frosts) for ask in _ASKED_WITH_FROST)
    ]  # fmt: skip
    matters = ordered((matter for found in answers for matter in found.matters), day)
    return Due(
        table=framed([row_of(matter, place, day) for place, matter in enumerate(matters, 1)], COLUMNS),
        n=len(matters),
        method=_METHOD,
        units="a row is one matter; plants counts labels, a stand being one",
        findings=tuple(told(matter, day) for matter in matters) or (f"Nothing asks for attention on {day}.",),
        cautions=tuple(sentence for found in answers for sentence in found.unknown),
        today=day,
    )


def _textures(source: Source, soils: object) -> dict[str, str]:
    """The textures by bed, held against the beds there are and the table of textures."""
    if not isinstance(soils, Mapping):
        raise ArgumentError(f"soils is {soils!r:.40}; give a dict of textures by bed such as {{'Gate bed': 'loam'}}")
    given = {bed_named(source, bed).bed: arguments.a_name(soil, "a soil") for bed, soil in soils.items()}
    for bed, soil in given.items():
        soil_of(soil, None, None, bed)
    return given


__all__ = ["COLUMNS", "KINDS", "Due", "due"]
