"""Seed pods to mark: cultivars in crop of which nothing hangs for seed this season and no young seed is in hand."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import attrs

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.own_days import first_day, own_days
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import beds_of, crop_named, listed
from perennia.analysis.units import Row
from perennia.checking.words import counted

_LEFT = (
    "select plants.plant, plants.crop, plants.cultivar, harvest.on_to as \"on\" from harvest "
    "join plants using (plant) where harvest.event = 'left_for_seed' order by 1, 4"
)
_SAVED = (
    "select plants.plant, plants.crop, plants.cultivar, seed.lot, seed.on_to as \"on\" from seed join plants "
    "using (plant) where seed.event = 'seed_saved' order by 5, 4"
)
_RAISED = "select distinct crop from plants where origin = 'seed' and crop is not null order by 1"
_BEARING = (
    "select plant, max(\"on\") as \"on\" from (select plant, \"on\" from harvest where event = 'picked' "
    'and coalesce(grams, "count") > 0 '
    "union all select plant, \"on\" from life where event = 'flowered' "
    "union all select plant, on_to from flowering) where plant is not null group by plant order by plant"
)
_BEARS_DAYS = 28
"""A plant picked, or seen in flower, within four weeks is taken to bear still: our own choice."""


@attrs.frozen(eq=False)
class SeedBooks:
    """Rows of what was left hanging and of what was saved."""

    left: list[Row]
    saved: list[Row]


def seed_pods(today: Today) -> Found:
    """One matter a cultivar and site, while it crops."""
    growing = today.in_state("growing", "sheltered")
    if not growing:
        return Found()
    bearing = {str(row["plant"]): row["on"] for row in today.rows(_BEARING)}
    raised = {row["crop"] for row in today.rows(_RAISED)}
    books = SeedBooks(today.rows(_LEFT), today.rows(_SAVED))
    cropping: dict[tuple[str | None, str, str | None], list[Row]] = defaultdict(list)
    for row in growing:
        last = bearing.get(str(row["plant"]))
        if last is None or row["crop"] not in raised:
            continue
        if (today.day - last).days <= _BEARS_DAYS and today.in_season(min(last, today.day), row):
            cropping[row["site"], str(row["crop"]), row["cultivar"]].append(row)
    found, unknown = [], []
    for (_, crop, cultivar), rows in cropping.items():
        profile = today.profile(crop)
        viability = None if profile is None else profile.seed_viability_years
        if viability is None:
            unknown.append(
                f"{crop_named(crop, cultivar)}: no profile says how long its seed is counted on, so whether to save "
                "some this season is not known."
            )
        elif (matter := _matter(today, rows, books, viability.value, viability.source)) is not None:
            found.append(matter)
    return Found(tuple(found), tuple(dict.fromkeys(unknown)))


def _matter(today: Today, rows: list[Row], books: SeedBooks, years: float, source: str) -> Matter | None:
    """None where pods hang, seed was saved this season, or what was saved is young enough for the next."""
    row, next_season = rows[0], today.season(rows[0]) + 1
    kind = (row["crop"], row["cultivar"])
    left = [one["on"] for one in books.left if (one["crop"], one["cultivar"]) == kind]
    saved = [one for one in books.saved if (one["crop"], one["cultivar"]) == kind]
    if any(today.in_season(min(on, today.day), row) for on in left):
        return None
    begins = first_day(next_season, str(row["season_starts"]))
    ages = [_years(one["on"], begins) for one in saved]
    if any(age <= years for age in ages):
        return None
    if saved:
        lot = saved[-1]
        young = f"its youngest lot on record, {lot['lot']}, was saved on {lot['on']}"
    else:
        young = "no lot saved of it is on record"
    own = own_days([*left, *(one["on"] for one in saved)], today.season(row), str(row["season_starts"]), earliest=0)
    by = None if own is None else own.last
    when = "By when is not known: none was left or saved before." if own is None else (
        own.told("In earlier seasons pods were left, or seed saved,") + "."
    )  # fmt: skip
    far = today.profile(row["crop"])
    apart = "" if far is None or far.isolation_m is None else (
        f" Others of its kind within {far.isolation_m.value:g} m may have crossed with it ({far.isolation_m.source})."
    )  # fmt: skip
    labels = tuple(str(one["label"]) for one in rows)
    return Matter(
        kind="seed pods", site=row["site"], place=beds_of(one["bed"] for one in rows), labels=labels, crop=row["crop"],
        cultivar=row["cultivar"], by=by,
        why=(
            f"{crop_named(*kind)}: {counted(len(rows), 'plant')} in crop, {listed(labels)}, and nothing left for seed "
            f"this season; {young}, and seed is counted on for {years:g} years (crop profile: {source}). {when}"
        ),
        do=f"Mark pods to hang on the plants worth it, and write it down (event left_for_seed).{apart}",
    )  # fmt: skip


def _years(saved: date, begins: date) -> int:
    return max(begins.year - saved.year, 0)
