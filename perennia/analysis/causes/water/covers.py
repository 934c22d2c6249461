"""What is over a bed day by day, and what of the rain and of the sun's evapotranspiration gets through it."""

from __future__ import annotations

from collections.abc import Mapping
from numbers import Real
from typing import TYPE_CHECKING

import pandas as pd

from perennia.analysis.units import rows_of
from perennia.errors import AnalysisError, ArgumentError
from perennia.records.places import COVERS

if TYPE_CHECKING:
    from perennia.source import Source

# a closed cover keeps all rain out, by what it is; that net and fleece let it through: common practice, no source
RAIN_THROUGH = {"open": 1.0, "net": 1.0, "fleece": 1.0, "tunnel": 0.0, "glasshouse": 0.0, "indoors": 0.0}
"""Share of the rain that reaches the soil under each cover, unless the grower gives another."""
# evapotranspiration inside follows the radiation that enters (lysimeter work in plastic houses, Acta Horticulturae 35,
# by its abstract); that 0.6 to 0.8 of it does is from memory, and its middle taken for all that is glazed
ET_UNDER = {"open": 1.0, "net": 1.0, "fleece": 1.0, "tunnel": 0.7, "glasshouse": 0.7, "indoors": 0.7}
"""Evapotranspiration under each cover as a share of that outside, unless the grower gives another."""

# a cover put on goes before one taken off on the same day; with a span its last day counts, as in place_spans
_CHANGES = (
    "select on_to as \"on\", max(case when event = 'covered' then cover end) as cover from care "
    "where bed = $bed and event in ('covered', 'uncovered') group by on_to order by on_to"
)


def covers_of(source: Source, bed: str, usual: str, days: pd.DatetimeIndex) -> pd.Series[str]:
    """The cover over a bed on each day: the one last put on, or the usual one before any and once it was taken off."""
    found = pd.Series(usual, index=days, dtype="string")
    for change in rows_of(source.sql(_CHANGES, {"bed": bed})):
        found[days >= change["on"]] = change["cover"] or usual
    return found


def shares(given: Mapping[str, float] | None, usual: Mapping[str, float], what: str) -> dict[str, float]:
    """The usual shares with the grower's own in their place. Raises AnalysisError for a cover there is not or for what
    is no share, ArgumentError for another kind."""
    if given is None:
        return dict(usual)
    if not isinstance(given, Mapping):
        raise ArgumentError(f'{what} is {given!r}; give shares by cover, such as {{"tunnel": 0.6}}')
    for cover, share in given.items():
        if cover not in COVERS:
            raise AnalysisError(f"{what} names {cover!r}, which is no cover; choose from {', '.join(COVERS)}")
        if isinstance(share, bool) or not isinstance(share, Real) or not 0 <= share <= 1:
            raise AnalysisError(f"{what} of {cover} is {share!r}; give a share between 0 and 1")
    return {**usual, **given}
