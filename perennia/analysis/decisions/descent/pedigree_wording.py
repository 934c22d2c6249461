"""A pedigree in sentences for a grower."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from perennia import crops
from perennia.analysis.decisions.descent.descent import Link
from perennia.analysis.decisions.descent.pedigree_lots import Pollination
from perennia.analysis.decisions.descent.pedigree_tree import beginning, life_in_words
from perennia.analysis.units import Row
from perennia.checking.words import counted, days

if TYPE_CHECKING:
    from perennia.crops import CropProfile

_NAMED_AT_MOST = 12
_PARTED = {"division": "a division", "cutting": "a cutting"}


def pedigree_findings(rows: Sequence[Row], links: Sequence[Link], lots: Sequence[Row]) -> tuple[str, ...]:
    """The plant, its beginning, its line upwards, what came from it, and its seed."""
    own = rows[0]
    said = [f"{own['plant']} is {life_in_words(own)}.", _beginning(own, links, lots)]
    up, down = ([row for row in rows if row["way"] == way] for way in ("up", "down"))
    if up:
        said.append(_upwards(rows, links, lots, up))
    said.append(_downwards(str(own["plant"]), down))
    said += _seed_kept(own, lots)
    return tuple(said)


def _beginning(own: Row, links: Sequence[Link], lots: Sequence[Row]) -> str:
    mothers = [link for link in links if link.plant == own["plant"]]
    if not mothers:
        return f"It {beginning(own, _recorded(lots))}."
    first = mothers[0]
    if first.by != "seed":
        on = days(first.on_from, first.on_to)
        return f"It is {_PARTED[first.by]} of {first.mother}, made {on}: the same genotype."
    names = _named(sorted(link.mother for link in mothers))
    if len(mothers) > 1:
        text = f"It was sown from lot {first.lot}, into which seed of {len(mothers)} plants went: its mother is one of "
        return f"{text}{names}, its father is not on record."
    perhaps = "" if first.certain else "perhaps "
    return f"It was sown from lot {first.lot}, {perhaps}seed of {names}: a new genotype, its father not on record."


def _upwards(rows: Sequence[Row], links: Sequence[Link], lots: Sequence[Row], up: Sequence[Row]) -> str:
    with_mother = {link.plant for link in links}
    ends = [row for row in up if row["plant"] not in with_mother]
    furthest = max(up, key=lambda row: row["steps"])
    text = f"Upwards {counted(len(up), 'ancestor')}, the furthest {counted(furthest['steps'], 'step')} back "
    text += f"({furthest['vegetative_generations']} by division or cutting, {furthest['seed_generations']} by seed)"
    if ends:
        recorded = _recorded(lots)
        text += "; the line ends with " + "; and with ".join(
            f"{row['plant']}, which {beginning(row, recorded)}" for row in ends[:3]
        )
        if len(ends) > 3:
            text += f"; and with {len(ends) - 3} more"
    return f"{text}."


def _downwards(plant: str, down: Sequence[Row]) -> str:
    if not down:
        return f"No division, cutting or sowing of {plant} is on record."
    kinds = Counter(str(row["by"]) for row in down)
    parts = [
        counted(kinds[by], noun)
        for by, noun in (("division", "division"), ("cutting", "cutting"), ("seed", "sowing"))
        if kinds[by]
    ]
    standing = sum(row["ended_on"] is None for row in down)
    clones = [str(row["plant"]) for row in down if row["clone"]]
    deepest = max(down, key=lambda row: row["steps"])
    text = f"Downwards {counted(len(down), 'descendant')} ({', '.join(parts)}), {standing} of them still there, over "
    text += f"{counted(deepest['steps'], 'step')}"
    if clones:
        text += f"; its own genotype have {_named(clones)}"
    return f"{text}."


def _seed_kept(own: Row, lots: Sequence[Row]) -> list[str]:
    """Lots with seed of the plant itself from which nothing was sown."""
    kept = [
        lot for lot in lots
        if lot["raised"] == 0 and lot["mothers"] is not None and f", {own['plant']}, " in f", {lot['mothers']}, "
    ]  # fmt: skip
    return [f"Of its seed nothing is sown yet from {_named([_lot(lot) for lot in kept])}."] if kept else []


def _lot(lot: Row) -> str:
    text = f"lot {lot['lot']}"
    return f"{text} ({lot['germinated']} of {lot['tested']} tested germinated)" if lot["tested"] else text


def pedigree_cautions(
    rows: Sequence[Row], links: Sequence[Link], lots: Sequence[Row], pollinations: Sequence[Pollination],
    profiles: Mapping[str, CropProfile],
) -> tuple[str, ...]:  # fmt: skip
    """Everything that stands against taking the pedigree at face value."""
    said = []
    if unsure := [str(row["plant"]) for row in rows if not row["certain"]]:
        said.append(
            f"{counted(len(unsure), 'relative')} not certain ({_named(unsure)}): seed of several plants went into a "
            "lot, or it may have been saved after the sowing."
        )
    said += [_pollinated(found, profiles) for found in pollinations]
    bearing = {link.mother for link in links}
    if stands := [str(row["plant"]) for row in rows if row["plants"] > 1 and row["plant"] in bearing]:
        said.append(f"{_named(stands)}: stands of several plants; which of them was the mother is not on record.")
    recorded = {lot["lot"] for lot in lots if lot["mothers"] is not None}
    with_mother = {link.plant for link in links}
    for row in rows:
        if row["sown_lot"] in recorded and row["plant"] not in with_mother and row["way"] != "down":
            said.append(
                f"Lot {row['sown_lot']} is on record, but only with seed of another crop or saved after {row['plant']} "
                "was sown from a lot of that name; check the lot and the days if it is meant."
            )
    silent = sum(row["seasons"] - max(row["seasons_weighed"], row["seasons_counted"]) for row in rows)
    if silent:
        said.append(f"{counted(silent, 'season')} of these plants without a known crop, in none of the sums.")
    if shared := [str(row["plant"]) for row in rows if row["shared_g"] > 0]:
        said.append(f"The crop of {_named(shared)} holds shares of pickings off several labels, taken as equal.")
    if len(rows) > 1:
        said.append(
            "Sums of crop are of plants of different age, place and years; they show no effect of descent."
        )
    return tuple(said)


def _pollinated(found: Pollination, profiles: Mapping[str, CropProfile]) -> str:
    """What is known of the father of the seed of one crop: never who it was."""
    text = f"{found.crop}: the father of seed is not on record ({counted(found.savings, 'saving')}"
    if found.by_hand:
        text += f", {found.by_hand} off plants with flowers pollinated by hand that year or the year before, the "
        text += "pollen not named"
    text += "); where nothing else is recorded take it as open pollination."
    if len(found.cultivars) > 1:
        text += f" Cultivars of it that stood here then: {_named(found.cultivars)}; seed may be a cross of them."
    profile = crops.profile(found.crop, profiles)
    if profile is None or profile.isolation_m is None:
        return f"{text} No distance at which it keeps from crossing is in a crop profile."
    figure = profile.isolation_m
    return f"{text} To keep true it wants {figure.value:g} m to the next of its kind ({figure.source})."


def _recorded(lots: Sequence[Row]) -> set[str]:
    return {str(lot["lot"]) for lot in lots if lot["mothers"] is not None}


def _named(names: Sequence[str]) -> str:
    """Names in a row, the first dozen of them."""
    more = len(names) - _NAMED_AT_MOST
    return ", ".join(names[:_NAMED_AT_MOST]) + (f" and {more} more" if more > 0 else "")
