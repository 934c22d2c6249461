"""The daily water balance of the root zone after FAO Irrigation and Drainage Paper 56 (1998), chapter 8."""

from __future__ import annotations

import math
from collections.abc import Sequence

import attrs


def total_available_mm(theta_fc: float, theta_wp: float, root_depth_m: float) -> float:
    """TAW, the water in mm that the soil within reach of the roots holds for plants (equation 82)."""
    return 1000 * (theta_fc - theta_wp) * root_depth_m


def depletion_fraction(at_5_mm: float, etc_mm: float) -> float:
    """p, the share of it that is taken up without stress, from that at 5 mm a day (note to table 22): 0.1 to 0.8."""
    return min(max(at_5_mm + 0.04 * (5 - etc_mm), 0.1), 0.8)


def stress_coefficient(depletion_mm: float, taw_mm: float, fraction: float) -> float:
    """Ks, the share of its full evapotranspiration that a crop keeps up (equation 84)."""
    if depletion_mm <= fraction * taw_mm:
        return 1.0
    return max((taw_mm - depletion_mm) / ((1 - fraction) * taw_mm), 0.0)


@attrs.frozen
class DayInput:
    """What a day asks of the root zone: the crop's full evapotranspiration and the water that reached the soil, both in
    mm and nan where not known, and p on that day."""

    etc_mm: float
    water_mm: float
    fraction: float

    @property
    def known(self) -> bool:
        """Whether both are known."""
        return not (math.isnan(self.etc_mm) or math.isnan(self.water_mm))


@attrs.frozen
class RootZoneDay:
    """What became of it. raw_mm: RAW, the depletion up to which there is no stress. ks: by the depletion at the start
    of the day. et_mm: what the crop drew. percolation_mm: below the roots. depletion_mm: at the end of the day.
    extra_mm: the least water that, given by that morning beside all that was given before, keeps Ks at 1."""

    raw_mm: float
    ks: float
    et_mm: float
    percolation_mm: float
    depletion_mm: float
    extra_mm: float


def balance(days: Sequence[DayInput], taw_mm: float, start_mm: float) -> list[RootZoneDay | None]:
    """The root zone day by day from a depletion of start_mm; None where it is not known.

    After a day whose water or evapotranspiration is not known, the depletion lies anywhere up to TAW. The balance goes
    on from the evening by which even a soil dried out that day would be full again. Run-off and water from below are
    taken to be none.
    """
    found: list[RootZoneDay | None] = []
    depletion = kept = min(start_mm, taw_mm)
    certain = True
    for day in days:
        if not day.known:
            # it may be as dry as can be: what follows is the most that can be lacking
            depletion, certain = taw_mm, False
            found.append(None)
            continue
        if not certain:
            depletion = kept = _day(depletion, day, taw_mm, 0.0).depletion_mm
            certain = depletion == 0
            found.append(None)
            continue
        extra = max(kept - day.fraction * taw_mm, 0.0)
        kept = _day(kept - extra, day, taw_mm, 0.0).depletion_mm
        today = _day(depletion, day, taw_mm, extra)
        depletion = today.depletion_mm
        found.append(today)
    return found


def _day(depletion_mm: float, day: DayInput, taw_mm: float, extra_mm: float) -> RootZoneDay:
    """One day (equation 85): what was drawn is taken off, the water added, and what is more than full sinks away."""
    ks = stress_coefficient(depletion_mm, taw_mm, day.fraction)
    # no more can be drawn than the soil held that morning
    drawn = min(ks * day.etc_mm, taw_mm - depletion_mm)
    end = depletion_mm + drawn - day.water_mm
    return RootZoneDay(
        raw_mm=day.fraction * taw_mm,
        ks=ks,
        et_mm=drawn,
        percolation_mm=max(-end, 0.0),
        depletion_mm=max(end, 0.0),
        extra_mm=extra_mm,
    )
