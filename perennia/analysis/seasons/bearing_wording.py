"""How plants bear from year to year, in sentences for a grower."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence

from perennia.analysis.measures import Measure, number
from perennia.analysis.seasons.alternation import (
    SEASONS_NEEDED,
    TAIL,
    Alternation,
    MeanAlternation,
    share_in_turn,
)
from perennia.analysis.seasons.histories import CropHistories
from perennia.analysis.seasons.repeatability import CLOSE
from perennia.analysis.selection import SURVIVOR, selection, selection_caution
from perennia.analysis.units import NOT_RECORDED
from perennia.checking.words import counted

_HELD = "all units of known age that kept their place"
_FACTORS = ("cultivar", "site", "bed", "cover")
_INDEX = (
    "The index of alternation is above 0 wherever seasons differ, and weather alone makes them differ; what it is held "
    "against are the same seasons in any other order. Plants of one place shared the weather, so that weather which "
    "alternated looks like plants that do, and plants coming into bearing or wearing out make neighbouring seasons "
    "unlike too."
)
_AGE = (
    "Every plant is a year older each year: a drift of weather, soil or care over these years looks the same as age, "
    "and the interval over units does not hold the weather that all units shared."
)
_LASTING = (
    "Repeatability speaks of plants in their places: a better spot kept for years counts as a better plant. Its "
    "interval is exact for normal values only, where a few plants crop far more than the rest it is too narrow; and "
    "plants that alternate seem to differ less than they do."
)
_STANDS_OUT = (
    f"an order stands out where it comes about in fewer than {100 * TAIL:.2g} of 100, as a plant's heavy and light "
    f"seasons in turn do from {SEASONS_NEEDED} seasons in a row on"
)


def alternation_finding(
    found: CropHistories, entries: Sequence[Alternation], mean: MeanAlternation | None
) -> str:
    """The mean index of a crop as a sentence."""
    head = f"{found.crop}, alternation of {found.measure.name}: "
    if mean is None:
        return f"{head}no unit has two neighbouring seasons with a crop, so there is no index."
    head += f"mean index {mean.index:.2f} (n = {counted(mean.n, 'unit')}; 0 is even bearing, 1 every other season "
    head += "empty)"
    if all(entry.chance is None for entry in entries):
        return f"{head}; with two seasons a unit there is no other order to hold it against."
    held = f"the same seasons in other orders give {mean.chance:.2f} on average and {mean.chance_low:.2f} to "
    held += f"{mean.chance_high:.2f} in at least 95 of 100 orders"
    return f"{head}; {held}: {_verdict(mean)}."


def _verdict(mean: MeanAlternation) -> str:
    if mean.above:
        return "neighbouring seasons are more unlike than order by chance makes them, as in plants that alternate"
    if mean.below:
        return "neighbouring seasons are more alike than order by chance makes them, as in a steady rise or fall"
    few = mean.seasons < SEASONS_NEEDED
    if mean.tellable:
        text = "alternation cannot be told from the order that chance brings"
        share = f"heavy and light seasons in turn come about in {_of_100(share_in_turn(mean.seasons))} orders of "
        return f"{text}; {share}{mean.seasons} seasons in a row, and {_STANDS_OUT}" if few else text
    text = "these are too few seasons for any order to stand out" if few else "no order of these crops could stand out"
    share = f"of {mean.seasons} seasons the order with the most unlike neighbours comes about in "
    share += f"{_of_100(mean.smallest_p)}, and {_STANDS_OUT}"
    return f"{text}, so alternation can be neither shown nor ruled out; {share}"


def _of_100(share: float) -> str:
    # two figures, of which 100 itself has three
    return f"{100 * share:.{'0f' if share >= 0.1 else '2g'}} of 100"


def age_finding(row: Mapping[str, object], measure: Measure) -> str:
    """One row of the trend as a sentence."""
    head = f"{row['crop']}, change with age, {row['basis']}: "
    if row["raw_change"] is None:
        return f"{head}{row['note']}."
    ages = "" if row["youngest"] is None else f", plant seasons {row['youngest']} to {row['oldest']}"
    head += f"raw change {measure.gap(_figure(row, 'raw_change'))} a year, at a mean of "
    head += f"{measure.figure(_figure(row, 'mean_crop'), None)} (n = {counted(_whole(row, 'n_units'), 'unit')}{ages})"
    if row["change"] is not None:
        low, high = (number(_figure(row, end), sign=True) for end in ("low", "high"))
        where = f"{counted(_whole(row, 'tested_units'), 'unit')} of known age in place"
        text = f"{head}; {where}: {measure.gap(_figure(row, 'change'))} a year (95 % interval {low} to {high})."
    elif row["confounded_with"] == "year":
        text = f"{head}; {_HELD} began together ({row['began']}), so age and year cannot be told apart: no "
        text += "interval."
    elif row["confounded_with"]:
        text = f"{head}, which may as well come from the {row['confounded_with']}: no interval."
    else:
        text = f"{head}; {row['note']}: no interval."
    gone = _whole(row, "not_seen_through")
    if row["basis"] == SURVIVOR and gone:
        text += f" {counted(gone, 'other unit')} did not last: survivors were chosen, or lived on for a reason, and a "
        text += "fall after the season they were chosen by can come of choosing alone, without any ageing."
    elif gone:
        text += " Units of a single season are not in it, so that choosing after the first season works here too."
    return text


def repeatability_finding(row: Mapping[str, object]) -> str:
    """One row of the variances as a sentence."""
    head = f"{row['crop']}, lasting differences between units: "
    if row["repeatability"] is None:
        return f"{head}{row['note']}, so there is no repeatability."
    size = f"n = {counted(_whole(row, 'n_units'), 'unit')}, {counted(_whole(row, 'n_values'), 'season')} of theirs"
    interval = ""
    if row["low"] is not None:
        interval = f"95 % interval {_figure(row, 'low'):.2f} to {_figure(row, 'high'):.2f}; "
    note = f" Mind that {row['note']}." if row["note"] else ""
    share = _figure(row, "repeatability")
    if share == 0:
        return f"{head}repeatability 0, no evidence that these plants differ ({interval}{size}).{note}"
    mean = f"of a mean of {row['mean_of']} seasons {_figure(row, 'repeatability_of_mean'):.2f}"
    return f"{head}repeatability of one season {share:.2f} ({interval}{size}), {mean}.{note}"


def bearing_cautions(
    every: Sequence[CropHistories], table: Sequence[Mapping[str, object]], trend: Sequence[Mapping[str, object]],
    variance: Sequence[Mapping[str, object]],
) -> tuple[str, ...]:  # fmt: skip
    """Everything that stands against taking the figures at face value, with its counts."""
    cautions = []
    if any(row["index"] is not None for row in table):
        cautions.append(_INDEX)
    if trend:
        cautions.append(_AGE)
    if any(row["repeatability"] is not None for row in variance):
        cautions.append(_LASTING)
    for found in every:
        said = [*_left_out(found), *_breaks([row for row in table if row["crop"] == found.crop])]
        said += _chosen(found) + _ages([row for row in trend if row["crop"] == found.crop])
        said += _differences(found, [row for row in variance if row["crop"] == found.crop])
        cautions += [f"{found.crop}: {text}." for text in said]
        cautions += _selections(found)
    if table:
        cautions.append("These results speak of the seasons and beds seen.")
    return tuple(cautions)


def still_running(found: CropHistories) -> list[str]:
    """Seasons left out because they run on for some plants, a sentence each."""
    return [
        f"season {name} is still running for some plants and is left out for all ({counted(n, 'plant season')})"
        for name, n in sorted(found.running.items())
    ]


def _left_out(found: CropHistories) -> list[str]:
    said = still_running(found)
    for n, noun, text in (
        (found.valueless, "unit", "left out, no season has a known crop in that measure (measure= asks for "
         "another)"),
        (found.silent, "plant season", "left out, of whose growth in it nothing is on record"),
        (sum(unit.without_value for unit in found.units), "season", "of units in growth without a known crop"),
        (sum(len(unit.plants) > 1 for unit in found.units), "unit", "of several plants linked by shared pickings"),
        (sum(len({season.members for season in unit.seasons}) > 1 for unit in found.units), "unit",
         "of linked plants that were not all there in every season; theirs is the mean of those there"),
        (sum(any(season.plants > season.labels for season in unit.seasons) for unit in found.units), "unit",
         "with stands of several plants, whose mean varies less than a plant"),
        (sum(unit.ended for unit in found.units), "season",
         "in which a plant ended, which may have cut its crop short"),
        (sum(any(season.left_for_seed for season in unit.seasons) for unit in found.units), "unit",
         "with pods or fruit left for seed, which can hold back a crop"),
    ):  # fmt: skip
        if n:
            said.append(f"{counted(n, noun)} {text}")
    return said


def _breaks(table: Sequence[Mapping[str, object]]) -> list[str]:
    said = []
    if breaks := sum(_whole(row, "breaks") for row in table):
        said.append(f"{counted(breaks, 'time')} a missing season breaks the succession; no pair is made across it")
    if zero := sum(_whole(row, "zero_pairs") for row in table):
        said.append(f"{counted(zero, 'pair')} of two seasons without a crop, which has no index and is left out")
    if single := sum(_whole(row, "pairs") == 0 for row in table):
        said.append(f"{counted(single, 'unit')} without an index, for lack of two neighbouring seasons with a crop")
    if once := sum(_whole(row, "seasons") == 1 for row in table):
        said.append(f"{counted(once, 'unit')} with one season only, which no change with age can be seen in")
    return said


def _chosen(found: CropHistories) -> list[str]:
    """How survivors came to be survivors."""
    survivors = [unit for unit in found.units if unit.seen_through and len(unit.seasons) > 1]
    others = [unit for unit in found.units if not unit.seen_through]
    if not survivors:
        return []
    if not others:
        return ["every unit was seen through the last season; how these plants were chosen before their first season "
                "on record is not known here"]  # fmt: skip
    firsts = [_mean(found.measure, [unit.values[0] for unit in units]) for units in (survivors, others)]
    return [
        f"survivors are {len(survivors)} of {len(survivors) + len(others)} units; in their first season on record they "
        f"had averaged {firsts[0]}, the others {firsts[1]}. Plants kept because they had cropped well fall back "
        "towards the mean without ageing, and plants that failed are missing from the later seasons"
    ]


def _mean(measure: Measure, values: Sequence[float]) -> str:
    """The mean of some values as a grower reads it, with their number."""
    return f"{measure.figure(statistics.fmean(values), None)} (n = {len(values)})"


def _ages(trend: Sequence[Mapping[str, object]]) -> list[str]:
    said = []
    for row in trend:
        if row["basis"] == SURVIVOR:
            continue
        if row["confounded_with"] == "year":
            said.append(f"{_HELD} began together ({row['began']}), so age and year cannot be told apart")
        elif row["change"] is not None:
            said.append(f"{_HELD} began in several seasons ({row['began']}), so age and year are only partly mixed")
        if changed := _whole(row, "changed_place"):
            said.append(f"{counted(changed, 'unit')} changed bed, cover or container, or are not known to have kept "
                        "them, counted in no interval of age")
        if ageless := _whole(row, "age_unknown"):
            said.append(f"{counted(ageless, 'unit')} of unknown or mixed age, counted in no interval of age")
    return said


def _differences(found: CropHistories, variance: Sequence[Mapping[str, object]]) -> list[str]:
    """What else units differed in, where a repeatability was found."""
    if all(row["repeatability"] is None for row in variance):
        return []
    said = []
    for factor in _FACTORS:
        levels = [getattr(season, factor) or NOT_RECORDED for unit in found.units for season in unit.seasons]
        known = len({*levels} - {NOT_RECORDED})
        if known > 1:
            missing = f", {levels.count(NOT_RECORDED)} seasons without" if NOT_RECORDED in levels else ""
            said.append(f"{factor} ({known}{missing})")
    if len({unit.began for unit in found.units}) > 1:
        said.append("age")
    texts = []
    if said:
        texts.append(f"units differed also in {', '.join(said)}, and what that does to the crop is in these shares")
    if any(CLOSE in str(row["note"]) for row in variance):
        texts.append("units that differ by less than chance would have them can be a sign of alternation out of step")
    return texts


def _selections(found: CropHistories) -> list[str]:
    seasons = sorted({int(row["season"]) for row in found.rows})
    rows = [selection(found.rows, found.crop, season, found.measure) for season in seasons[1:]]
    return [selection_caution(row) for row in rows if row is not None]


def _figure(row: Mapping[str, object], name: str) -> float:
    return float(str(row[name]))


def _whole(row: Mapping[str, object], name: str) -> int:
    return int(str(row[name]))
