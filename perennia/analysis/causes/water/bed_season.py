"""What grew in a bed in one season: its crop, its plants, and when its stages began."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.causes.daily_weather import BedPlace
from perennia.analysis.units import Row, rows_of
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.source import Source

_PLANTS = (
    "select grown.plant, grown.crop, grown.season_name, grown.finished, grown.ended_on, "
    "coalesce(grown.planted_on, grown.started_on) as begins_on, coalesce(cropped.plants, grown.plants, 1) as plants, "
    "cropped.space_m2, cropped.last_pick, lives.season_starts "
    "from plant_seasons as grown join season_summary as cropped using (plant, season) "
    "join plants as lives using (plant) "
    "where grown.bed = $bed and grown.season = $season and grown.grew is distinct from false order by grown.plant"
)
_FIRST_FLOWERS = (
    'select plant, min("on") as "on" from ('
    'select plant, coalesce(opened_on, on_to) as "on" from flowering '
    "where list_contains($plants, plant) and (event = 'flower_fate' or opened > 0) "
    "union all select plant, \"on\" from life where event = 'flowered' and list_contains($plants, plant)"
    ') where "on" between $first and $last group by plant'
)


@attrs.frozen
class BedSeason:
    """One crop in a bed in one season.

    plants: how many stand under each plant's label. begins_on: the day by which half the plants with a known one had
    been sown, planted or had regrown there. last_day: of the growing year. flowers_on: the day by which half the plants
    had opened a flower, None where fewer than half have one recorded. last_pick: of all. ends_on: the day the last of
    them ended, None while any lives. running: whether the season is not over for any. unknown: plants without a day on
    which they began. ground_m2: the bed's area, else what was given to its plants, None where neither is known.
    """

    crop: str
    season_name: str
    plants: dict[str, int]
    begins_on: pd.Timestamp
    last_day: pd.Timestamp
    flowers_on: pd.Timestamp | None
    last_pick: pd.Timestamp | None
    ends_on: pd.Timestamp | None
    running: bool
    unknown: int
    ground_m2: float | None
    others: tuple[str, ...]


def bed_season(source: Source, bed: BedPlace, season: int, crop: str | None) -> BedSeason:
    """The crop of a bed in a season, the one named where there are several.

    Raises AnalysisError where nothing grew there, several crops did and none is named, or no beginning is recorded.
    """
    every = rows_of(source.sql(_PLANTS, {"bed": bed.bed, "season": season}))
    crops = sorted({str(row["crop"]) for row in every})
    if not every or (crop is not None and crop not in crops):
        raise AnalysisError(_nothing_grew(source, bed.bed, season, crop))
    if crop is None and len(crops) > 1:
        raise AnalysisError(f"{bed.bed} held several crops that season; give crop as one of {', '.join(crops)}")
    chosen = crop or crops[0]
    rows = [row for row in every if row["crop"] == chosen]
    begun = sorted(row["begins_on"] for row in rows if row["begins_on"] is not None)
    if not begun:
        raise AnalysisError(
            f"nobody wrote down when {chosen} in {bed.bed} was sown, planted or regrew; record it, for the stages "
            "are counted from there"
        )
    begins_on = _half(begun)
    last_day = pd.Timestamp(f"{season + 1}-{rows[0]['season_starts']}") - pd.Timedelta(days=1)
    picks = [row["last_pick"] for row in rows if row["last_pick"] is not None]
    ends = [row["ended_on"] for row in rows]
    return BedSeason(
        crop=chosen,
        season_name=str(rows[0]["season_name"]),
        plants={str(row["plant"]): int(row["plants"]) for row in rows},
        begins_on=begins_on,
        last_day=last_day,
        flowers_on=_flowers_on(source, [str(row["plant"]) for row in rows], begins_on, last_day),
        last_pick=max(picks, default=None),
        ends_on=None if None in ends else max(ends),
        running=any(row["finished"] is not True for row in rows),
        unknown=len(rows) - len(begun),
        ground_m2=bed.area_m2 if bed.area_m2 is not None else _space(rows),
        others=tuple(name for name in crops if name != chosen),
    )


def _half(days: list[pd.Timestamp]) -> pd.Timestamp:
    """The day by which half of them had come."""
    return pd.Timestamp(days[(len(days) - 1) // 2])


def _flowers_on(
    source: Source, plants: list[str], begins_on: pd.Timestamp, last_day: pd.Timestamp
) -> pd.Timestamp | None:
    # the day on which growth is counted from is no day of a flower
    bounds = {"first": begins_on.date() + timedelta(days=1), "last": last_day.date()}
    days = sorted(row["on"] for row in rows_of(source.sql(_FIRST_FLOWERS, {"plants": plants, **bounds})))
    # half of all the plants, those without a flower among them
    return pd.Timestamp(days[(len(plants) + 1) // 2 - 1]) if 2 * len(days) >= len(plants) else None


def _space(rows: list[Row]) -> float | None:
    given = [row["space_m2"] for row in rows]
    return None if None in given else float(sum(given))


def _nothing_grew(source: Source, bed: str, season: int, crop: str | None) -> str:
    there = source.sql(
        "select distinct season_name, crop from plant_seasons where bed = ? and grew is distinct from false order by "
        "all",
        [bed],
    )
    what = "nothing" if crop is None else f"no {crop}"
    known = ", ".join(f"{row.crop} in {row.season_name}" for row in there.itertuples(index=False))
    return f"{what} is known to have grown in {bed} in {season}; " + (
        f"what is known of it is {known}" if known else "no plant is recorded there"
    )
