"""Rows of season_summary for tests, and a Source that serves them through DuckDB."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import duckdb
import pandas as pd

from perennia import crops

COLUMNS = {
    "label": "string", "season": "Int64", "season_name": "string", "crop": "string",
    "cultivar": "string", "plant_season": "Int64",
    "raised_from": "string", "stock": "string", "wintering": "string", "site": "string", "bed": "string",
    "cover": "string", "moved": "boolean", "unit": "string", "plants": "Int64", "total_g": "Float64", "count": "Int64",
    "picks": "Int64", "first_pick": "datetime64[s]", "last_pick": "datetime64[s]", "t10": "datetime64[s]",
    "t50": "datetime64[s]", "t90": "datetime64[s]", "peak_on": "datetime64[s]", "peak_g_per_day": "Float64",
    "g_per_m2": "Float64", "finished": "boolean", "plant": "string", "container": "string", "space_m2": "Float64",
    "planted_on": "datetime64[s]", "kept_root": "boolean", "grew": "boolean", "left_for_seed": "Int64",
    "left_uncounted": "Int64",
    "sharing": "Int64", "spans_left_out": "Int64", "measure": "string", "withheld": "string", "watered_mm": "Float64",
    "ended_how": "string", "waterings": "Int64", "shared_g": "Float64", "shared_count": "Float64",
}  # fmt: skip
EFFORTS = {
    "plant": "string", "season": "Int64", "occupied_days": "Int64", "minutes": "Float64", "cost": "Float64",
    "works": "Int64", "timed": "Int64", "costed": "Int64",
}  # fmt: skip
TRIAL_ARMS = {
    "plant": "string", "label": "string", "trial": "string", "arm": "string", "block": "string", "by_lot": "boolean",
    "season": "Int64", "on_from": "datetime64[s]", "on_to": "datetime64[s]",
}  # fmt: skip


def row(label: str, season: int = 2022, **given: Any) -> dict[str, Any]:
    """One row: a finished fresh plant in the open bed B1 at Home, unless told otherwise."""
    usual: dict[str, Any] = dict.fromkeys(COLUMNS)
    usual |= {
        "label": label, "season": season, "season_name": str(season),
        "crop": "bean", "cultivar": "Red", "plant_season": 1, "stock": "fresh",
        "site": "Home", "bed": "B1", "cover": "open", "moved": False, "unit": label, "plants": 1, "finished": True,
        "plant": f"{label}/{season}", "kept_root": False, "grew": True, "left_for_seed": 0, "left_uncounted": 0,
        "sharing": 1,
    }  # fmt: skip
    return usual | given


def overwintered(label: str, season: int = 2022, **given: Any) -> dict[str, Any]:
    """One row of a kept root in its second season."""
    return row(label, season, **({"stock": "overwintered", "plant_season": 2, "kept_root": True,
                                  "plant": f"{label}/{season - 1}"} | given))  # fmt: skip


def lost(label: str, season: int = 2022, **given: Any) -> dict[str, Any]:
    """One row of a root that was put by and did not come through the winter."""
    return overwintered(label, season, **({"grew": False, "bed": None, "cover": None, "site": None} | given))


def frame(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """The rows as the view would give them."""
    columns = {name: pd.Series([entry[name] for entry in rows], dtype=kind) for name, kind in COLUMNS.items()}
    return pd.DataFrame(columns)


def arms(old: Sequence[float], new: Sequence[float], **given: Any) -> list[dict[str, Any]]:
    """Overwintered and fresh plants with these crops in one bed."""
    rows = [overwintered(f"O{i}", total_g=value, **given) for i, value in enumerate(old)]
    return rows + [row(f"F{i}", total_g=value, **given) for i, value in enumerate(new)]


class FrameSource:
    """A Source over one table of season_summary, and what its rows have of season_efforts."""

    def __init__(self, rows: Sequence[Mapping[str, Any]], allotments: Sequence[Mapping[str, Any]] = ()) -> None:
        self._frame = frame(rows)
        self._allotments = pd.DataFrame(
            {name: pd.Series([entry[name] for entry in allotments], dtype=kind) for name, kind in TRIAL_ARMS.items()}
        )
        unwritten = {"works": 0, "timed": 0, "costed": 0}
        efforts = pd.DataFrame({name: [entry.get(name, unwritten.get(name)) for entry in rows] for name in EFFORTS})
        self._efforts = efforts.astype(EFFORTS)

    @property
    def profiles(self) -> Any:
        """The shipped profiles."""
        return crops.profiles()

    def sql(self, query: str, params: Sequence[Any] | None = None, *, as_: str = "pandas") -> Any:
        """The query's answer over the rows."""
        with duckdb.connect() as connection:
            connection.register("season_summary", self._frame)
            connection.register("plants", self._frame[["label", "plant", "crop"]].drop_duplicates())
            connection.register("season_efforts", self._efforts)
            connection.register("trial_arms", self._allotments)
            return connection.execute(query, list(params or [])).df()

    def table(self, view: str, labels: Any = None, years: Any = None, as_: str = "pandas") -> Any:
        """The whole table."""
        return self.sql(f"select * from {view}")

    def history(self, label: str) -> Any:
        """The rows of one label."""
        return self.sql("select * from season_summary where label = ?", [label])

    def views(self) -> Any:
        """No descriptions here."""
        return pd.DataFrame()
