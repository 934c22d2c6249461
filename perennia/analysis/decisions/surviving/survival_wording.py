"""Survival in sentences for a grower."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from perennia.analysis.decisions.comparing.effect import REACH
from perennia.analysis.decisions.surviving.lifetimes import median_of
from perennia.analysis.decisions.surviving.root_winters import DIED, LEFT, NOT_REGROWN, OPEN, UNKNOWN, Winter
from perennia.analysis.decisions.surviving.survival_differences import SINGLE
from perennia.analysis.decisions.surviving.survival_groups import Group
from perennia.analysis.decisions.surviving.survival_lives import LASTING, Cohort, left_out_by_reason
from perennia.analysis.measures import probability
from perennia.checking.words import counted

_FEW_DEATHS = 10
_FEW_AT_RISK = 5
_YEAR_DAYS = 366

_UNDECIDED = {OPEN: "not known yet", LEFT: "taken out or divided before it could show"}


def group_finding(group: Group) -> str:
    """One row of the table as a sentence."""
    found = group.share
    head = f"{group.crop}, {group.name}: " if group.name != group.crop else f"{group.crop}: "
    rest = [f"{n} {said}" for outcome, said in _UNDECIDED.items() if (n := group.number(outcome))]
    after = f"; not counted: {', '.join(rest)}" if rest else ""
    if found.share is None:
        return f"{head}no winter is decided{after}."
    boxes = f" in {counted(found.boxes, 'box-winter')}" if found.boxes < found.roots else ""
    text = f"{head}{found.alive} of {counted(found.roots, 'root')}{boxes} came through ({percent(found.share)}"
    if found.low is None or found.high is None:
        return f"{text}); no interval, {found.withheld}{after}."
    ends = f"{percent(found.low)} to {percent(found.high)}"
    return f"{text}, {100 * group.level:.4g} % interval {ends}, {found.method}){after}."


def difference_finding(row: Mapping[str, Any]) -> str:
    """One pair of groups as a sentence."""
    head = f"{_crop_of(row)}{row['group']} less {row['against']}: "
    points = _points(row["difference"])
    if row["confounded_with"] == row["apart_in"] and row["apart_in"] in SINGLE:
        return (
            f"{head}{points} (n = {row['n_group']} and {row['n_against']}); each is a single {row['confounded_with']}, "
            "and two tell nothing of what else may differ between such: no interval, no p."
        )
    if row["confounded_with"]:
        return (
            f"{head}{points} (n = {row['n_group']} and {row['n_against']}), which may as well come from "
            f"{row['confounded_with']}, as the two share none: no interval, no p."
        )
    text = f"{head}{points} among {row['n_group']} and {row['n_against']} roots in {counted(row['strata'], 'stratum')}"
    text = text.replace("stratums", "strata")
    if row["low"] is None:
        return f"{text}; no interval and no p, {row['withheld']}."
    text += f" ({100 * row['level']:.4g} % interval {100 * row['low']:+.0f} to {100 * row['high']:+.0f})"
    text += f"; p {probability(row['p'])} as if randomised, smallest p so many deaths could give here "
    text += probability(row["smallest_p"])
    if row["smallest_p"] > REACH:
        text += "; this layout cannot reach 5 % whatever the truth"
    return f"{text}."


def life_finding(cohort: Cohort) -> str:
    """One group's lives as a sentence."""
    head = f"{cohort.key[0]}, {cohort.name}" if cohort.name != cohort.key[0] else cohort.key[0]
    deaths, median = sum(life.died for life in cohort.lives), median_of(cohort.steps)
    last = cohort.steps[-1]
    text = f"{head}, whole lives: {counted(len(cohort.lives), 'plant')}, {counted(deaths, 'death')}"
    if median is not None:
        when = f"{'' if median == int(median) else 'the winter after '}plant season {int(median)}"
        text += f"; by the estimate half were dead by the end of {when} (median)"
    else:
        text += "; more than half were alive as long as they were followed, so there is no median"
    ends = "" if last.low is None or last.high is None else f" ({percent(last.low)} to {percent(last.high)})"
    return f"{text}; {percent(last.share)}{ends} alive after {last.time:g} plant seasons (Kaplan-Meier)."


def log_rank_finding(row: Mapping[str, Any]) -> str:
    """One log-rank test as a sentence."""
    head = f"{_crop_of(row)}whole lives of {row['group']} against {row['against']}: "
    if row["confounded_with"]:
        return f"{head}the two share no {row['confounded_with']}, so their curves are not tested against each other."
    counts = (
        f"{row['deaths_group']} of {row['n_group']} and {row['deaths_against']} of {row['n_against']} plants died in "
        "shared strata"
    )
    if row["note"]:
        return f"{head}{counts}; {row['note']}, so there is no test."
    chi2 = f"log-rank chi2 {row['chi2']:.3g} on {row['df']} df"
    return f"{head}{counts}; {chi2}, p {probability(row['p'])} as if randomised."


def survival_cautions(
    groups: Sequence[Group], compared: Sequence[Mapping[str, Any]], cohorts: Sequence[Cohort],
    tests: Sequence[Mapping[str, Any]], left_out: Mapping[tuple[str, str], int], factors: Sequence[str],
) -> tuple[str, ...]:  # fmt: skip
    """Everything that stands against taking the figures at face value, with its counts."""
    winters = [winter for group in groups for winter in group.winters]
    said = [*_of_winters(winters), *(text for group in groups if (text := _open_range(group)))]
    for row in compared:
        if row["alone"] and not row["confounded_with"]:
            said.append(
                f"{row['group']} less {row['against']} leaves out {counted(row['alone'], 'root')} whose winter, site, "
                "crop, cultivar and wintering no root of the other group shared."
            )
    if len(factors) > 2:
        said.append("Groups are held against each other where they differ in one of the things asked about, not more.")
    if sum(row["p"] is not None for row in compared) > 1 or sum(row["p"] is not None for row in tests) > 1:
        said.append("Several pairs were looked at; p_holm is adjusted for that, p is not.")
    return (*said, *_of_lives(cohorts, tests, left_out, factors))


def _crop_of(row: Mapping[str, Any]) -> str:
    """The crop at the head of a sentence, where the groups do not name it."""
    crop = row["crop"]
    return "" if crop is None or str(row["group"]).startswith(crop) else f"{crop}, "


def percent(part: float) -> str:
    """A part of 1 in whole per cent."""
    return f"{100 * part:.0f} %"


def _points(gap: float) -> str:
    return f"{100 * gap:+.0f} percentage points"


def _of_winters(winters: Sequence[Winter]) -> list[str]:
    decided = [winter for winter in winters if winter.decided]
    if not winters:
        return []
    said = [
        "These results speak of the winters and places seen; roots that were kept were chosen, not drawn by lot, and "
        "winterings were not drawn by lot unless you did so yourself."
    ]
    beds = Counter((winter.bed, winter.winter) for winter in decided if winter.bed is not None)
    crowded = sum(number for number in beds.values() if number > 1)
    if crowded:
        said.append(
            f"{counted(crowded, 'root')} wintered in a bed with others ({counted(len(beds), 'bed')} and winters): one "
            "bed's winter is one winter, and an interval that takes its roots apart is too narrow where they live or "
            "die together."
        )
    sharing = Counter(winter.cluster for winter in decided if winter.box is not None)
    said += _counts([
        (sum(winter.in_store and winter.box is None for winter in decided),
         "stored with no box named; nothing tells which of them shared one, so they are taken to stand apart"),
        (sum(number for number in sharing.values() if number > 1),
         "shared a box with others, and the interval takes the box as the unit"),
        (sum(winter.wintering in ("ground", "pot") for winter in winters),
         "with no lifting, storing or mulching on record are taken to have stayed where they stood, whether they lived "
         "or died"),
        (sum(winter.wintering == UNKNOWN for winter in winters), "with a wintering that nothing on record shows"),
        (sum(winter.outcome == NOT_REGROWN for winter in winters),
         "taken for dead because nobody wrote of a regrowth by their crop's latest date; record it if they live"),
        (sum(winter.interval_censored for winter in winters),
         "dead by a day a fortnight or more after they were last seen alive; when they died is not known nearer"),
        (sum(_across(winter) for winter in winters),
         "found dead more than a year after they were last seen alive; they are laid to the first winter of that time"),
        (sum(winter.outcome == OPEN and winter.regrow_by is None for winter in winters),
         "open for good unless they show or are found dead: their crop has no latest regrowth date"),
        (sum(winter.outcome == LEFT for winter in winters),
         "left out, taken out or divided before they could show whether they lived"),
    ])  # fmt: skip
    plants = {winter.plant for winter in decided}
    if len(plants) < len(decided):
        said.append(
            f"The {len(decided)} decided winters are of {counted(len(plants), 'plant')}: a plant's winters are taken "
            "as apart, each among those it entered."
        )
    return [*said, *_of_stands(decided)]


def _of_stands(decided: Sequence[Winter]) -> list[str]:
    stands = [winter for winter in decided if winter.plants > 1]
    if not stands:
        return []
    text = f"{counted(len(stands), 'winter')} of stands of several plants count as one each, alive while any plant is"
    known = [winter for winter in stands if winter.plants_after is not None]
    if known:
        before, after = sum(winter.plants for winter in known), sum(int(winter.plants_after or 0) for winter in known)
        text += f"; where plants were counted again, {before} became {after}"
    return [f"{text}."]


def _open_range(group: Group) -> str | None:
    """How far the open roots could still move a share."""
    still, found = group.number(OPEN), group.share
    if not still or found.share is None:
        return None
    least, most = found.alive / (found.roots + still), (found.alive + still) / (found.roots + still)
    return (
        f"{group.crop}, {group.name}: {counted(still, 'root')} not yet decided and left out; deaths are known before "
        f"survivals are, and the share may still come out anywhere from {percent(least)} to {percent(most)}."
    )


def _across(winter: Winter) -> bool:
    known = winter.outcome == DIED and winter.ended_on is not None and winter.last_alive_on is not None
    return known and (winter.ended_on - winter.last_alive_on).days > _YEAR_DAYS  # type: ignore[operator]


def _counts(parts: Sequence[tuple[int, str]]) -> list[str]:
    return [f"{counted(number, 'root-winter')} {text}." for number, text in parts if number]


def _of_lives(
    cohorts: Sequence[Cohort], tests: Sequence[Mapping[str, Any]], left_out: Mapping[tuple[str, str], int],
    factors: Sequence[str],
) -> list[str]:  # fmt: skip
    said = [
        f"Whole lives leave out {counted(number, 'plant')}: {reason}."
        for reason, number in sorted(left_out_by_reason(left_out).items())
    ]
    if not cohorts:
        return said
    said.append(
        "Whole lives take plants as apart from one another; those of one bed, one box or one mother are so only within "
        "reason. A sowing counts from the day it was sown, and its death from when one was recorded."
    )
    changing = [factor for factor in factors if factor not in LASTING]
    if changing:
        said.append(
            f"Whole lives are not grouped by {', '.join(changing)}, which changes from winter to winter: who lived "
            "long has had more of them."
        )
    late = sum(cohort.late for cohort in cohorts)
    if late:
        said.append(f"{counted(late, 'plant')} came when older and is at risk only from then on (delayed entry).")
    thin = [cohort.name for cohort in cohorts if (cohort.least_at_risk or _FEW_AT_RISK) < _FEW_AT_RISK]
    if thin:
        said.append(f"Some deaths fell when under {_FEW_AT_RISK} plants were followed ({', '.join(thin)}): steps that "
                    "deep rest on very few.")  # fmt: skip
    if any(row["p"] is not None and row["deaths_group"] + row["deaths_against"] < _FEW_DEATHS for row in tests):
        said.append(f"A log-rank p that rests on fewer than {_FEW_DEATHS} deaths is rough.")
    return said
