"""The ways in which a page is looked at."""

from __future__ import annotations

from typing import Literal

import attrs


@attrs.frozen
class View:
    """A width, a colour scheme, and whether it is a screen or paper."""

    name: str
    width_px: int
    scheme: Literal["light", "dark"]
    media: Literal["screen", "print"] = "screen"


_PAPER_PX = 673
"""A4 less the margins of the page, at 96 px an inch."""
DESKTOP, DESKTOP_DARK = View("desktop, light", 1280, "light"), View("desktop, dark", 1280, "dark")
PHONE, PHONE_DARK = View("phone, light", 390, "light"), View("phone, dark", 390, "dark")
PAPER = View("paper", _PAPER_PX, "light", "print")
VIEWS = (DESKTOP, DESKTOP_DARK, PHONE, PHONE_DARK, PAPER)
