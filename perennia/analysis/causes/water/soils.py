"""How much water a soil holds for plants, by its texture, after table 19 of FAO Irrigation and Drainage Paper 56."""

from __future__ import annotations

import re

import attrs

from perennia.errors import AnalysisError

# lowest and highest water content at field capacity and at wilting point, m3 per m3; read in an open copy of table 19
_TEXTURES = {
    "sand": (0.07, 0.17, 0.02, 0.07),
    "loamy sand": (0.11, 0.19, 0.03, 0.10),
    "sandy loam": (0.18, 0.28, 0.06, 0.16),
    "loam": (0.20, 0.30, 0.07, 0.17),
    "silt loam": (0.22, 0.36, 0.09, 0.21),
    "silt": (0.28, 0.36, 0.12, 0.22),
    "silty clay loam": (0.30, 0.37, 0.17, 0.24),
    "silty clay": (0.30, 0.42, 0.17, 0.29),
    "clay": (0.32, 0.40, 0.20, 0.24),
}
TEXTURES = tuple(_TEXTURES)


@attrs.frozen
class Soil:
    """Water content in m3 per m3 at field capacity and at wilting point, and what the soil is called."""

    name: str
    theta_fc: float
    theta_wp: float


def soil_of(text: str | None, theta_fc: float | None, theta_wp: float | None, of: str) -> Soil:
    """The soil by its two water contents where both are given, else by its texture, the middle of the table's range.

    A text is a texture of the table where that is all it says before a comma or bracket: what a volcanic loam, a heavy
    loam or a compost holds, the table does not know.
    Raises AnalysisError in words that name the textures and the parameters.
    """
    if theta_fc is not None and theta_wp is not None:
        if not 0 <= theta_wp < theta_fc <= 1:
            raise AnalysisError(
                f"theta_fc ({theta_fc:g}) and theta_wp ({theta_wp:g}) are parts of 1 of the soil, the first the larger"
            )
        return Soil("given", theta_fc, theta_wp)
    if theta_fc is not None or theta_wp is not None:
        raise AnalysisError("theta_fc and theta_wp are given together, or neither")
    choices = f"give soil as one of {', '.join(TEXTURES)}, or theta_fc and theta_wp in m3 per m3"
    if text is None:
        raise AnalysisError(f"the soil of {of} is not recorded; {choices}")
    name = re.split(r"[,;(]", text.lower())[0].strip()
    if name not in _TEXTURES:
        raise AnalysisError(f"what the soil of {of} holds, {text!r}, is in no table used here; {choices}")
    fc_low, fc_high, wp_low, wp_high = _TEXTURES[name]
    return Soil(name, (fc_low + fc_high) / 2, (wp_low + wp_high) / 2)
