"""Lives, winters and roots by hand for keep lists."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from perennia.analysis.decisions.keeping.keep_list import KeepList, keep_list_of
from perennia.analysis.decisions.keeping.keep_roots import Root, RootBooks
from perennia.analysis.decisions.surviving.root_winters import DIED, SURVIVED, Winter
from tests.analysis.seasons_frame import frame, row

Rows = list[dict[str, Any]]
STORE = "bare root, frost-free"
LAST = 2020


def life(label: str, crops: Sequence[float | None], until: int = LAST, **given: Any) -> Rows:
    """A plant's seasons, the last one in until; None is a season whose crop is not known."""
    began = until - len(crops) + 1
    plant = f"{label}/{began}"
    return [
        row(label, began + k, **({"total_g": crop, "plant_season": k + 1, "plant": plant, "unit": plant,
                                  "stock": "overwintered" if k else "fresh", "kept_root": k > 0,
                                  "wintering": STORE if k else None} | given))
        for k, crop in enumerate(crops)
    ]  # fmt: skip


def differing(n: int = 12, seasons: int = 4, seed: int = 7, noise: float = 60.0) -> Rows:
    """Plants that differ, the later the better, all with the same seasons."""
    random = np.random.default_rng(seed)
    return [
        one for i in range(n)
        for one in life(f"P{i:02}", [float(crop) for crop in 600 + 50 * i + noise * random.normal(size=seasons)])
    ]  # fmt: skip


def alike() -> Rows:
    """Plants whose seasons differ and which, on average, do not: their variance is estimated as zero."""
    return [one for i in range(12) for one in life(f"P{i:02}", [700.0 + 60 * (-1) ** i, 700.0 - 60 * (-1) ** i, 700.0])]


def alike_of(began: int) -> Rows:
    """The same, begun in a year."""
    return [one for i in range(12) for one in life(f"P{i:02}", [700.0] * (LAST - began + 1))]


def winter(number: int, outcome: str, wintering: str = STORE, box: str | None = None) -> Winter:
    return Winter(f"W{number}/2010", f"W{number}", "bean", None, 2015, "2015", 2, "seed", wintering, "Home", None, None,
                  box, 1, None, None, outcome, None, None, None)  # fmt: skip


def winters(alive: int, dead: int) -> dict[str, list[Winter]]:
    """So many roots that came through in store, and that did not."""
    return {"bean": [winter(i, SURVIVED if i < alive else DIED) for i in range(alive + dead)]}


def books(**roots: Root) -> dict[str, RootBooks]:
    """Roots by label, of plants begun in 2017."""
    return {"bean": RootBooks(roots={f"{label}/2017": root for label, root in roots.items()}, ended={})}


def asked(rows: Sequence[Mapping[str, Any]], **options: Any) -> KeepList:
    return keep_list_of(frame(rows), LAST, **options)


def of(result: KeepList, label: str) -> pd.Series:
    (found,) = (entry for _, entry in result.table.iterrows() if entry["label"] == label)
    return found
