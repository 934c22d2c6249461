"""What every kind looks at: the books up to the day, the plants that stand in them, and the profiles of their crops."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

import attrs

from perennia import crops
from perennia.analysis.causes.due.own_days import growing_year
from perennia.analysis.name_order import in_order
from perennia.analysis.units import Row

if TYPE_CHECKING:
    import pandas as pd

    from perennia.crops import CropProfile
    from perennia.source import Source

# what began with a day half remembered may not have begun yet
_STANDING = "select * from standing where began_on <= ? order by plant"
# what bears after it was sown or came to rest has come up, whether or not anybody wrote that down
_BORE = (
    "select plant, max(on_from) as \"on\" from (select plant, on_from from harvest where event = 'left_for_seed' "
    "or (event = 'picked' and coalesce(grams, \"count\") > 0) union all select plant, on_from from flowering) "
    "where plant is not null group by plant order by plant"
)
_SITES = "select site, latitude, season_starts from sites order by site"


@attrs.frozen(eq=False)
class Today:
    """The day and the books up to it, nothing later in them.

    standing: rows of the view standing, days as dates; what bore since it was sown or came to rest is growing. sites:
    rows of sites by name. frost_risk: the chance of frost to be taken. keep_lists: tables of keep lists by crop and
    season, and tender: why a crop is kept from frost, both filled as they are asked for.
    """

    source: Source
    day: date
    standing: tuple[Row, ...]
    sites: Mapping[str, Row]
    frost_risk: float
    keep_lists: dict[tuple[str, int], pd.DataFrame] = attrs.field(factory=dict, init=False)
    tender: dict[str | None, str | None] = attrs.field(factory=dict, init=False)

    def in_state(self, *states: str) -> list[Row]:
        """The plants in one of these states."""
        return [row for row in self.standing if row["state"] in states]

    def profile(self, crop: str | None) -> CropProfile | None:
        """The profile of a crop in force, None without one."""
        return None if crop is None else crops.profile(crop, self.source.profiles)

    def season(self, row: Row) -> int:
        """The growing year of a plant on the day."""
        return growing_year(self.day, str(row["season_starts"]))

    def in_season(self, on: date, row: Row) -> bool:
        """Whether a day lies in the growing year that runs for a plant."""
        return growing_year(on, str(row["season_starts"])) == self.season(row)

    def south(self, site: str | None) -> bool | None:
        """Whether a site lies south of the equator; None where nobody knows."""
        latitude = None if site is None or site not in self.sites else self.sites[site]["latitude"]
        return None if latitude is None else bool(latitude < 0)

    def rows(self, query: str, *params: Any) -> list[Row]:
        """The answer to a query, days as dates and missing values as None."""
        return dated_rows(self.source, query, *params)


def today_of(source: Source, day: date, frost_risk: float) -> Today:
    """The books up to a day."""
    books = source.up_to(day)
    bore = {row["plant"]: row["on"] for row in dated_rows(books, _BORE)}
    standing = sorted(
        (_as_it_bears(row, bore.get(row["plant"])) for row in dated_rows(books, _STANDING, day)),
        key=lambda row: (in_order(row["label"]), str(row["plant"])),
    )
    sites = {str(row["site"]): row for row in dated_rows(books, _SITES)}
    return Today(books, day, tuple(standing), sites, frost_risk)


def _as_it_bears(row: Row, bore: date | None) -> Row:
    if row["state"] not in ("sown", "dormant") or bore is None or bore <= row["state_since"]:
        return row
    return {**row, "state": "growing"}


def dated_rows(source: Source, query: str, *params: Any) -> list[Row]:
    """The answer to a query, days as dates and missing values as None."""
    rows: list[Row] = source.sql(query, list(params), as_="arrow").to_pylist()
    return rows
