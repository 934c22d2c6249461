"""Plants that frost in the ground would take, and what is known of which of them are to be kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import attrs

from perennia.analysis.causes.due.today import Today
from perennia.analysis.decisions.keeping.keep_list import keep_list
from perennia.analysis.decisions.keeping.keep_rows import EVEN, NO, VETO, YES
from perennia.analysis.name_order import in_order
from perennia.analysis.units import Row
from perennia.checking.words import counted

KEEP, COMPOST = "keep", "compost"
"""What a Noted of a label says of it to mark it: its `what`."""
_MARKED = (
    "select plant, lower(trim(what)) as mark, max(on_to) as \"on\" from care where event = 'noted' "
    "and plant is not null and lower(trim(what)) in ('keep', 'compost') group by all order by plant, 3"
)
_STORED = (
    "select plants.crop, count(distinct year(life.\"on\")) as years from life join plants using (plant) "
    "where life.event = 'stored' and not life.inferred group by plants.crop order by 1"
)
_MULCHED = "select plant, max(\"on\") as \"on\" from life where event = 'mulched' group by plant order by plant"
_ORDER = {YES: 0, EVEN: 1, NO: 2, VETO: 3}


@attrs.frozen(eq=False)
class Ranked:
    """Plants of one crop in the order in which they are worth a winter place, and what the keep list says of each."""

    rows: tuple[Row, ...]
    keep: dict[str, str]

    def labels(self, keep: str | None = None) -> list[str]:
        """Their labels, all or those of one verdict."""
        return [str(row["label"]) for row in self.rows
                if keep is None or self.keep.get(str(row["plant"]), EVEN) == keep]  # fmt: skip

    def told(self) -> str:
        """How many there are of each verdict."""
        parts = [
            f"{len(labels)} {word}" for keep, word in
            ((YES, "worth a winter place"), (EVEN, "undecided"), (NO, "not worth one"), (VETO, "diseased"))
            if (labels := self.labels(keep))
        ]  # fmt: skip
        return f"by the keep list {', '.join(parts)}"


def why_tender(today: Today, crop: str | None) -> str | None:
    """Why plants of a crop are kept from frost, in words; None where nothing says that they are."""
    # asked plant by plant, looked up crop by crop
    if crop not in today.tender:
        today.tender[crop] = _why_tender(today, crop)
    return today.tender[crop]


def _why_tender(today: Today, crop: str | None) -> str | None:
    profile = today.profile(crop)
    if profile is not None:
        figure = profile.storage_min_c
        if figure is None or figure.value <= 0:
            return None
        return f"its roots or pots are wintered above {figure.value:g} degrees C (crop profile: {figure.source})"
    years = next((int(row["years"]) for row in today.rows(_STORED) if row["crop"] == crop), 0)
    return f"it was put away for the winter in {counted(years, 'year')} (records)" if years else None


def marks(today: Today) -> dict[str, str]:
    """By plant what it was last marked as in the season that runs."""
    seasons = {str(row["plant"]): row for row in today.standing}
    found = {}
    for row in today.rows(_MARKED):
        standing = seasons.get(str(row["plant"]))
        if standing is not None and today.in_season(row["on"], standing):
            found[str(row["plant"])] = str(row["mark"])
    return found


def mulched_on(today: Today) -> dict[str, date]:
    """By plant the day it was last mulched: what is to winter where it stands."""
    return {str(row["plant"]): row["on"] for row in today.rows(_MULCHED)}


def ranked(today: Today, rows: Sequence[Row], marked: dict[str, str]) -> Ranked:
    """Plants of one crop, best keepers first: those marked to keep, then as the keep list of the season has them."""
    crop, season = str(rows[0]["crop"]), today.season(rows[0])
    if (crop, season) not in today.keep_lists:
        today.keep_lists[crop, season] = keep_list(today.source, season, crop=crop).table
    table = today.keep_lists[crop, season]
    places = {plant: place for place, plant in enumerate(table["plant"])}
    keep = dict(zip(table["plant"], table["keep"], strict=True))
    order = sorted(rows, key=lambda row: (
        marked.get(str(row["plant"])) != KEEP, _ORDER[keep.get(row["plant"], EVEN)],
        places.get(row["plant"], len(places)), in_order(row["label"]),
    ))  # fmt: skip
    return Ranked(tuple(order), keep)
