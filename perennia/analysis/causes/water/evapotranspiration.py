"""Reference evapotranspiration by the library pyet, after FAO Irrigation and Drainage Paper 56.

Allen, Pereira, Raes and Smith 1998. Penman-Monteith where wind, humidity and radiation are known beside the
temperatures, and the height of the site; Hargreaves, which the temperatures are enough for, elsewhere.
"""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np
import pandas as pd

from perennia.analysis.permutation import Floats
from perennia.errors import AnalysisError

PENMAN_MONTEITH, HARGREAVES = "Penman-Monteith", "Hargreaves"
_PENMAN_NEEDS = ["t_min_c", "t_max_c", "rh_pct", "wind_m_s", "solar_mj_m2"]
_HARGREAVES_NEEDS = ["t_min_c", "t_max_c"]


def reference_et(days: pd.DataFrame, latitude: float, elevation_m: float | None) -> pd.DataFrame:
    """et0_mm, the reference evapotranspiration in mm a day, and et0_method, by which of the two; both missing where the
    temperatures are.

    days: the columns of daily_weather.MEASURED, indexed by day. latitude in degrees, north positive. Without the height
    of the site, from which comes the pressure of the air, every day goes by Hargreaves.
    Raises AnalysisError where pyet is not installed.
    """
    whole = days[_PENMAN_NEEDS].notna().all(axis=1) & (elevation_m is not None)
    warm = days[_HARGREAVES_NEEDS].notna().all(axis=1) & ~whole
    found = pd.DataFrame({"et0_mm": np.nan, "et0_method": pd.Series(pd.NA, index=days.index, dtype="string")})
    if elevation_m is not None and whole.any():
        found.loc[whole, "et0_mm"] = penman_monteith(days[whole], latitude, elevation_m)
        found.loc[whole, "et0_method"] = PENMAN_MONTEITH
    if warm.any():
        found.loc[warm, "et0_mm"] = hargreaves(days[warm], latitude)
        found.loc[warm, "et0_method"] = HARGREAVES
    return found


def penman_monteith(days: pd.DataFrame, latitude: float, elevation_m: float, ea_kpa: float | None = None) -> Floats:
    """Equation 6 of the paper in mm a day, without heat flux into the soil, which is small over a day.

    days: t_min_c, t_max_c, wind_m_s (at 2 m) and solar_mj_m2, indexed by day, and rh_pct, the mean relative humidity,
    from which the vapour pressure comes (equation 19) unless ea_kpa is given.
    """
    low, high = days["t_min_c"], days["t_max_c"]
    humidity = {"rh": days["rh_pct"]} if ea_kpa is None else {"ea": pd.Series(ea_kpa, index=days.index)}
    found = _pyet().pm_fao56(
        (low + high) / 2, days["wind_m_s"], rs=days["solar_mj_m2"], tmax=high, tmin=low, elevation=elevation_m,
        lat=math.radians(latitude), **humidity,
    )  # fmt: skip
    return np.asarray(found, dtype=float)


def hargreaves(days: pd.DataFrame, latitude: float) -> Floats:
    """Equation 52 of the paper in mm a day, from t_min_c and t_max_c, indexed by day."""
    low, high = days["t_min_c"], days["t_max_c"]
    return np.asarray(_pyet().hargreaves((low + high) / 2, high, low, math.radians(latitude)), dtype=float)


def _pyet() -> ModuleType:
    try:
        import pyet
    except ImportError as error:
        raise AnalysisError(
            "reference evapotranspiration needs pyet; install it with: pip install 'perennia[models]'"
        ) from error
    module: ModuleType = pyet
    return module
