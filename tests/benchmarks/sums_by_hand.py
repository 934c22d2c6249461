"""The seasons of a garden's pickings as a script without this library would work them out: the yardstick of curves.py.

Both scripts give, by label and year, crop by weight and count, picking days, first and last, the days by whose end 10,
50 and 90 % were in, and the middle of the 7 days of the largest mean rate, from vectorised steps of their library only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    import polars as pl

GAP_DAYS = 3
SHARES = {"t10": 0.1, "t50": 0.5, "t90": 0.9}
BY = ["label", "year"]


def pandas_seasons(files: list[str]) -> pd.DataFrame:
    """One row is one label and year."""
    columns = ["label", "on_to", "grams", "count"]
    rows = pd.concat([pd.read_parquet(file, columns=columns) for file in files], ignore_index=True)
    rows["on"] = pd.to_datetime(rows["on_to"])
    rows["year"] = rows["on"].dt.year
    days = rows.groupby([*BY, "on"], as_index=False)[["grams", "count"]].sum().sort_values([*BY, "on"])
    grouped = days.groupby(BY)
    days["to_g"] = grouped["grams"].cumsum()
    days["from"] = grouped["on"].shift().fillna(days["on"] - pd.Timedelta(days=GAP_DAYS))
    days["length"] = (days["on"] - days["from"]).dt.days
    found = grouped.agg(
        total_g=("grams", "sum"), count=("count", "sum"), picks=("on", "size"), first_pick=("on", "min"),
        last_pick=("on", "max"),
    )  # fmt: skip
    total = grouped["grams"].transform("sum")
    for name, share in SHARES.items():
        reached = days[days["to_g"] >= share * total * (1 - 1e-9)].groupby(BY).first()
        into = (share * found["total_g"] - (reached["to_g"] - reached["grams"])) / reached["grams"] * reached["length"]
        found[name] = reached["from"] + pd.to_timedelta(np.ceil(into - 1e-6), unit="D")
    daily = days.loc[days.index.repeat(days["length"]), [*BY, "on", "grams", "length"]]
    daily["rate"] = daily["grams"] / daily["length"]
    daily["day"] = daily["on"] - pd.to_timedelta(
        daily["length"] - 1 - daily.groupby(level=0).cumcount(), unit="D"
    )
    daily["week"] = daily.groupby(BY)["rate"].rolling(7, min_periods=1).sum().to_numpy()
    daily = daily.reset_index(drop=True)
    top = daily.loc[daily.groupby(BY)["week"].idxmax()].set_index(BY)
    found["peak_on"] = top["day"] - pd.Timedelta(days=3)
    found["peak_g_per_day"] = top["week"] / 7
    return found.reset_index()


def polars_seasons(files: list[str]) -> pl.DataFrame:
    """One row is one label and year."""
    import polars as pl

    days = (
        pl.scan_parquet(files, hive_partitioning=False)
        .select("label", pl.col("on_to").alias("on"), "grams", "count")
        .with_columns(pl.col("on").dt.year().alias("year"))
        .group_by([*BY, "on"]).agg(pl.col("grams").sum(), pl.col("count").sum())
        .sort([*BY, "on"])
        .with_columns(
            pl.col("grams").cum_sum().over(BY).alias("to_g"),
            pl.col("grams").sum().over(BY).alias("whole"),
            pl.col("on").shift().over(BY).fill_null(pl.col("on").dt.offset_by(f"-{GAP_DAYS}d")).alias("from"),
        )
        .with_columns((pl.col("on") - pl.col("from")).dt.total_days().alias("length"))
        .collect()
    )  # fmt: skip
    found = days.group_by(BY).agg(
        pl.col("grams").sum().alias("total_g"), pl.col("count").sum(), pl.len().alias("picks"),
        pl.col("on").min().alias("first_pick"), pl.col("on").max().alias("last_pick"),
    )  # fmt: skip
    for name, share in SHARES.items():
        into = (share * pl.col("whole") - (pl.col("to_g") - pl.col("grams"))) / pl.col("grams") * pl.col("length")
        reached = (
            days.filter(pl.col("to_g") >= share * pl.col("whole") * (1 - 1e-9))
            .with_columns((pl.col("from") + pl.duration(days=(into - 1e-6).ceil().cast(pl.Int64))).alias(name))
            .group_by(BY, maintain_order=True).first().select(*BY, name)
        )  # fmt: skip
        found = found.join(reached, on=BY, how="left")
    daily = (
        days.lazy()
        .with_columns((pl.col("grams") / pl.col("length")).alias("rate"))
        .with_columns(pl.date_ranges(pl.col("from") + pl.duration(days=1), "on").alias("day"))
        .select(*BY, "rate", "day").explode("day")
        .with_columns(pl.col("rate").rolling_sum(7, min_samples=1).over(BY).alias("week"))
        .group_by(BY).agg(pl.col("day").get(pl.col("week").arg_max()), pl.col("week").max())
        .collect()
    )  # fmt: skip
    return found.join(
        daily.select(
            *BY, (pl.col("day") - pl.duration(days=3)).alias("peak_on"), (pl.col("week") / 7).alias("peak_g_per_day")
        ),
        on=BY, how="left",
    )  # fmt: skip
