"""Names in the order in which a person would write them."""

from __future__ import annotations

import re
from typing import Any


def in_order(value: Any) -> list[tuple[int, int, str]]:
    """Numbers within a name in their own order, so that B2 comes before B10; nothing last."""
    if value is None:
        return [(2, 0, "")]
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part.casefold())
            for part in re.split(r"(\d+)", str(value)) if part]  # fmt: skip
