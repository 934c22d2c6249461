"""The figures a crop's water is reckoned by: from its profile, or the grower's own in their place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from numbers import Real
from typing import TYPE_CHECKING, Any

import attrs

from perennia import crops
from perennia.analysis.causes.water.crop_coefficient import Coefficients, Stages
from perennia.errors import AnalysisError, ArgumentError

if TYPE_CHECKING:
    from perennia.source import Source


@attrs.frozen
class CropFigures:
    """Coefficients, days of the stages, reach of the roots in m, p at 5 mm a day, and the sources of those that come
    from the profile."""

    kc: Coefficients
    stages: Stages
    root_depth_m: float
    fraction: float
    sources: tuple[str, ...]


@attrs.frozen
class _Wanted:
    """How many numbers, an example, and what they are."""

    n: int
    example: str
    meaning: str


_WANTED = {
    "kc": _Wanted(3, "(0.5, 1.05, 0.9)", "the crop coefficients of the initial and mid-season stages and of the end"),
    "stage_days": _Wanted(4, "(20, 30, 30, 10)", "the days of the initial, development, mid-season and late stages"),
    "root_depth_m": _Wanted(1, "0.6", "how deep the roots reach"),
    "depletion_fraction": _Wanted(1, "0.45", "the share of the soil's water taken up without stress at 5 mm a day"),
}


def crop_figures(source: Source, crop: str, given: Mapping[str, object]) -> CropFigures:
    """The figures of a crop: those given (kc, stage_days, root_depth_m, depletion_fraction; None where not), else those
    of its profile, whose roots are taken to reach to the middle of their range.

    Raises AnalysisError, naming the parameters, where neither has one; ArgumentError for what is of another kind.
    """
    own = _of_profile(crops.profile(crop, source.profiles))
    values: dict[str, list[float]] = {}
    sources: list[str] = []
    lacking: list[str] = []
    for name, wanted in _WANTED.items():
        if given[name] is not None:
            values[name] = _numbers(given[name], name, wanted)
        elif figures := own.get(name):
            values[name] = [figure.value for figure in figures]
            sources += [figure.source for figure in figures]
        else:
            lacking.append(f"{name}, {wanted.meaning}, such as {wanted.example}")
    if lacking:
        raise AnalysisError(f"the profile of {crop} does not say enough; give {'; and '.join(lacking)}")
    (fraction,) = values["depletion_fraction"]
    if fraction >= 1:
        raise AnalysisError(f"depletion_fraction is {fraction:g}, which is no part of 1; give one such as 0.45")
    days = [round(length) for length in values["stage_days"]]
    if min(days) < 1:
        raise AnalysisError(f"stage_days are {days}; each stage lasts a day at least")
    return CropFigures(
        kc=Coefficients(*values["kc"]),
        stages=Stages(*days),
        root_depth_m=sum(values["root_depth_m"]) / len(values["root_depth_m"]),
        fraction=fraction,
        sources=tuple(dict.fromkeys(sources)),
    )


def _of_profile(profile: crops.CropProfile | None) -> dict[str, list[crops.Figure]]:
    """The figures a profile has, in the order of the parameters; those that are not whole left out."""
    if profile is None:
        return {}
    kc, days = profile.crop_coefficient, profile.stage_days
    found: dict[str, list[crops.Figure | None]] = {
        "kc": [] if kc is None else [kc.initial, kc.mid, kc.end],
        "stage_days": [] if days is None else [days.initial, days.development, days.mid, days.late],
        "root_depth_m": [profile.root_depth_min_m, profile.root_depth_max_m],
        "depletion_fraction": [profile.depletion_fraction],
    }
    return {
        name: [figure for figure in figures if figure is not None]
        for name, figures in found.items() if None not in figures
    }  # fmt: skip


def _numbers(values: Any, what: str, wanted: _Wanted) -> list[float]:
    """So many numbers above 0. Raises ArgumentError."""
    several = values if isinstance(values, Sequence) and not isinstance(values, str) else [values]
    right = len(several) == wanted.n and all(
        isinstance(value, Real) and not isinstance(value, bool) and 0 < float(value) < 1000 for value in several
    )
    if not right:
        raise ArgumentError(f"{what} is {values!r}; give {wanted.meaning}, above 0, such as {wanted.example}")
    return [float(value) for value in several]
