"""Crop coefficients by stage after FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith 1998)."""

from __future__ import annotations

import math

import attrs

STAGES = ("initial", "development", "mid", "late")
_HELD_FROM = 0.45
"""A coefficient of the end below it is of a crop that dried on its stalk, and does not change with the climate."""


@attrs.frozen
class Stages:
    """How many days each stage lasts."""

    initial: int
    development: int
    mid: int
    late: int

    @property
    def total(self) -> int:
        """Days of all four."""
        return self.initial + self.development + self.mid + self.late

    def at(self, day: int) -> str:
        """The stage of a day, 1 the first; days after the last stage are late."""
        ends = (self.initial, self.initial + self.development, self.initial + self.development + self.mid)
        return next((stage for stage, end in zip(STAGES, ends, strict=False) if day <= end), STAGES[-1])

    def mid_begins_after(self, days: int) -> Stages:
        """The same, the two stages before mid-season stretched or shortened in proportion to last so many days."""
        initial = round(days * self.initial / (self.initial + self.development))
        return attrs.evolve(self, initial=initial, development=days - initial)

    def lasting(self, total: int) -> Stages:
        """The same, mid-season lengthened so that all four last so many days, if that is more than they do."""
        return attrs.evolve(self, mid=self.mid + max(total - self.total, 0))


@attrs.frozen
class Coefficients:
    """Single crop coefficients, without unit, of the initial and mid-season stages and of the end of the late one."""

    initial: float
    mid: float
    end: float

    def at(self, day: int, stages: Stages) -> float:
        """That of a day, 1 the first: constant, or on a straight line between stages (equation 66)."""
        before_mid = stages.initial + stages.development
        before_late = before_mid + stages.mid
        if day <= stages.initial:
            return self.initial
        if day <= before_mid:
            return self.initial + (day - stages.initial) / stages.development * (self.mid - self.initial)
        if day <= before_late:
            return self.mid
        if day >= stages.total:
            return self.end
        return self.mid + (day - before_late) / stages.late * (self.end - self.mid)

    def in_climate(self, wind_m_s: float, rh_min_pct: float, height_m: float) -> Coefficients:
        """Those of mid-season and end for another climate than that of the tables (equations 62 and 65)."""
        more = climate_step(wind_m_s, rh_min_pct, height_m)
        end = self.end + more if self.end >= _HELD_FROM else self.end
        return Coefficients(self.initial, self.mid + more, end)


def climate_step(wind_m_s: float, rh_min_pct: float, height_m: float) -> float:
    """What a crop coefficient is raised by: mean wind at 2 m (1 to 6 m/s), mean lowest humidity (20 to 80 %), height of
    the crop (0.1 to 10 m), each held to the range of the equation."""
    wind, humidity, height = min(max(wind_m_s, 1), 6), min(max(rh_min_pct, 20), 80), min(max(height_m, 0.1), 10)
    return float((0.04 * (wind - 2) - 0.004 * (humidity - 45)) * (height / 3) ** 0.3)


def saturation_kpa(temperature_c: float) -> float:
    """Vapour pressure of saturated air in kPa (equation 11)."""
    return 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def lowest_humidity_pct(t_min_c: float, t_max_c: float) -> float:
    """Relative humidity at the warmest hour where the dew point is the day's lowest temperature (equation 64)."""
    return 100 * saturation_kpa(t_min_c) / saturation_kpa(t_max_c)
