"""What stands against taking a keep list at face value, with its counts, and what can hurt someone."""

from __future__ import annotations

import re
from collections.abc import Sequence

from perennia.analysis.decisions.keeping.keep_crop import CropAnswer
from perennia.analysis.decisions.keeping.keep_outlook import ENOUGH_SEASONS
from perennia.analysis.measures import MEASURES, number
from perennia.analysis.name_order import in_order
from perennia.analysis.seasons.bearing_wording import still_running
from perennia.analysis.units import NOT_RECORDED
from perennia.checking.words import counted
from perennia.crops import CAUTIONS_DEFER

_SHOWN = 8
_SEASONS_TOLD = 3
_COUNT = re.compile(r"\b(\d+) (plant season|season|plant)s?\b")
_FACTORS = ("cultivar", "site", "bed", "cover")


def keep_cautions(answers: Sequence[CropAnswer]) -> tuple[str, ...]:
    """All cautions; one that holds for several crops, be it with other counts, is said once for them all."""
    every = [
        (answer.crop, f"{text}.") for answer in answers
        for text in (*_records(answer), *_comparing(answer), *_chosen_before(answer), *_roots(answer))
    ]  # fmt: skip
    profiles = [answer.profile for answer in answers if answer.profile is not None and answer.profile.cautions]
    every += [(one.crop, f"{caution.text} ({caution.source})") for one in profiles for caution in one.cautions]
    alike: dict[str, list[tuple[str, str]]] = {}
    for crop, text in every:
        alike.setdefault(_COUNT.sub(r"# \2s", text, count=1), []).append((crop, text))
    said = tuple(_together(texts) for texts in alike.values())
    return (*said, CAUTIONS_DEFER) if profiles else said


def _together(texts: Sequence[tuple[str, str]]) -> str:
    """One caution of one crop or several, the counts in the order of the crops."""
    crops, first = dict.fromkeys(crop for crop, _ in texts), texts[0][1]
    if len({text for _, text in texts}) > 1:
        counts = [found[1] for _, text in texts if (found := _COUNT.search(text)) is not None]
        first = _COUNT.sub(rf"{', '.join(counts[:-1])} and {counts[-1]} \2s", first, count=1)
    return f"{', '.join(crops)}: {first}"


def _records(answer: CropAnswer) -> list[str]:
    view, found = answer.outlook, answer.found
    said = []
    if view.model is not None and view.season_variance is None:
        said.append(
            f"fewer than {ENOUGH_SEASONS} seasons that are over show how seasons differ, so every interval here holds "
            "single plants but not the season to come, and the true ones are wider"
        )
    if answer.running:
        said.append(
            f"the season is not over for {counted(len(answer.running), 'plant')}: crops to date tell plants apart, and "
            "the mean season rests on seasons that are over, if there are any; ask again when all is in"
        )
    # a run of picking may go on into the season asked for, and that of the season before is then not over
    said += still_running(found)
    for n, noun, text in (
        (sum(one.row[answer.measure.name] is None for one in answer.every), "plant",
         "without a known crop this season, kept in the list on what else there is"),
        (sum(one.history is None for one in answer.every), "plant",
         "without any known crop, expected to bear what others do"),
        (sum(one.history is not None and len(one.history.plants) > 1 for one in answer.every), "plant",
         "linked to others by a shared picking, with one expectation for those linked"),
        (answer.juvenile, "season", "of plants too young to bear, by the crop's profile, left out"),
    ):  # fmt: skip
        if n:
            said.append(f"{counted(n, noun)} {text}")
    if found.silent:
        said.append(f"of {counted(found.silent, 'plant season')} nothing is recorded")
    if answer.unlisted:
        by_plant = sorted(answer.unlisted.items(), key=lambda named: in_order(named[0]))
        ends = [f"{plant} {how}" for plant, how in by_plant[:_SHOWN]]
        more = len(answer.unlisted) - len(ends)
        said.append(f"not listed, as they have ended: {'; '.join(ends)}{f' and {more} more' if more else ''}")
    return said


def _comparing(answer: CropAnswer) -> list[str]:
    said = [f"against fresh stock, {text}" for text in answer.fresh.confounded]
    if answer.outlook.basis == "none":
        return said
    seasons = [season for unit in answer.found.units for season in unit.seasons]
    differing = [
        f"{factor} ({len(levels)})" for factor in _FACTORS
        if len(levels := {str(getattr(one, factor) or NOT_RECORDED) for one in seasons}) > 1
    ]  # fmt: skip
    if differing:
        said.append(f"plants stood apart also in {', '.join(differing)}: a better place kept for years counts as a "
                    "better plant, and does not move with its root")  # fmt: skip
    return said


def _chosen_before(answer: CropAnswer) -> list[str]:
    """How far those carried over had out-cropped the others, in the latest seasons of which it is known."""
    if not answer.selections:
        return []
    told = [
        f"before {row['season_name']} {_figure(row['mean_kept'])} {MEASURES[str(row['measure'])].unit} "
        f"(n = {row['n_kept']}) against {_figure(row['mean_not_kept'])} (n = {row['n_not_kept']})"
        for row in answer.selections[-_SEASONS_TOLD:]
    ]  # fmt: skip
    return [
        "plants carried over were not drawn by lot: against those that were not they had averaged, in the season "
        f"{'; '.join(told)}; part of any lead may have been theirs already, and those kept because they had cropped "
        "well fall back towards the mean afterwards; that is choosing, and says nothing of age"
    ]


def _figure(value: object) -> str:
    return number(float(str(value)))


def _roots(answer: CropAnswer) -> list[str]:
    said = [f"{one.row['label']}: not to be kept, nor set near others; {one.root.veto}" for one in answer.every
            if one.root.veto is not None]  # fmt: skip
    unseen = sum(one.root.condition is None for one in answer.every)
    if unseen:
        seen = f"no condition of the root is on record this season for {counted(unseen, 'plant')}"
        said.append(f"{seen}: look at it first")
    oldest = None if answer.profile is None else answer.profile.productive_seasons_max
    if oldest is not None:
        old = [one for one in answer.every if (one.row["plant_season"] or 0) >= oldest.value]
        if old:
            said.append(f"{counted(len(old), 'plant')} will be past {oldest.value:g} seasons, after which one of this "
                        f"crop is seldom worth keeping ({oldest.source})")  # fmt: skip
    if len(answer.chances) > 1 and any(chance.known is None for chance in answer.chances):
        said.append("roots are wintered in several ways, of which not all are known: the rank is by crop alone")
    return said
