"""Shares of plants alive season by season, and whether groups of plants die alike, over whole lives."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import attrs

from perennia.analysis.decisions.surviving.lifetimes import Step, kaplan_meier, log_rank, median_of
from perennia.analysis.decisions.surviving.survival_differences import holm
from perennia.analysis.decisions.surviving.survival_groups import apart_in
from perennia.analysis.decisions.surviving.whole_lives import Life
from perennia.analysis.units import NOT_RECORDED

LASTING = ("crop", "cultivar", "site", "raised_from")
"""What plants can be grouped by for life; wintering, bed, box and age change from winter to winter."""
GROWTH, WINTER = "growing season", "winter after"
LIVES = {
    "plant_season": "Int64", "part": "string", "at_risk": "Int64", "deaths": "Int64", "censored": "Int64",
    "hazard": "Float64", "share": "Float64", "se": "Float64", "low": "Float64", "high": "Float64", "level": "Float64",
}  # fmt: skip
"""Columns of Survival.lives after the crop and what plants were grouped by; one row a group, plant season and part of
it in which a life ended or was last known.

part: growing season, or the winter after it. at_risk: plants that entered it, deaths among them; censored: plants not
followed beyond it. hazard: deaths over at_risk. share: part of all plants alive after it (Kaplan-Meier), se its error
(Greenwood), low and high its interval at level (log-log); missing where nobody or everybody has died.
"""
MEDIANS = {
    "n": "Int64", "deaths": "Int64", "late": "Int64", "median": "Float64", "least_at_risk": "Int64",
}  # fmt: skip
"""Columns of Survival.medians after the crop and what plants were grouped by; one row a group.

n: plants, deaths among them; late: those of them that came under watch when they were older. median: plant seasons
after which at most half were alive, k.5 in the winter after season k; missing while more than half are. least_at_risk:
fewest plants at risk at any death.
"""
TESTS = {
    "crop": "string", "group": "string", "against": "string", "n_group": "Int64", "n_against": "Int64",
    "deaths_group": "Int64", "deaths_against": "Int64", "strata": "Int64", "alone": "Int64", "chi2": "Float64",
    "df": "Int64", "p": "Float64", "p_holm": "Float64", "confounded_with": "string", "note": "string",
}  # fmt: skip
"""Columns of Survival.tests; one row a pair of groups that differ in one of the things asked about.

group, against: the two, as they are named. n_group, n_against, deaths_group, deaths_against: plants and deaths in
strata (of crop, cultivar, site and season of beginning, but for what the groups are named by) that held both; alone:
plants in none. chi2, df, p: the log-rank test over these strata, as if randomised within them; p_holm adjusted for all
pairs. confounded_with: what the two share no level of: then there is no test. note: why there is none otherwise.
"""
_STRATA = ("crop", "cultivar", "site", "season begun")


@attrs.frozen
class Cohort:
    """Plants alike in crop and in what lasts of what was asked for; key names them in that order, crop first."""

    key: tuple[str, ...]
    lives: tuple[Life, ...]
    steps: tuple[Step, ...]

    @property
    def name(self) -> str:
        """What tells it from others of its crop."""
        return ", ".join(self.key[1:]) or self.key[0]

    @property
    def late(self) -> int:
        """Plants that came under watch when they were older."""
        return sum(life.entry > 0 for life in self.lives)

    @property
    def least_at_risk(self) -> int | None:
        """Fewest plants at risk at any death."""
        return min((step.at_risk for step in self.steps if step.deaths), default=None)


def lasting(factors: Sequence[str]) -> tuple[str, ...]:
    """Those of the factors that last for life."""
    return tuple(factor for factor in factors if factor in LASTING)


def cohorts_of(lives: Iterable[Life], factors: Sequence[str], level: float) -> list[Cohort]:
    """The lives by the factors, each with its curve."""
    found: dict[tuple[str, ...], list[Life]] = {}
    for life in lives:
        found.setdefault(tuple(_level_of(life, factor) for factor in factors), []).append(life)
    return [
        Cohort(key, tuple(own), tuple(kaplan_meier(
            [life.time for life in own], [life.died for life in own], entry=[life.entry for life in own], level=level,
        )))
        for key, own in sorted(found.items())
    ]  # fmt: skip


def lives_rows(cohorts: Iterable[Cohort], factors: Sequence[str], level: float) -> list[dict[str, object]]:
    """Rows of Survival.lives."""
    return [
        {
            **dict(zip(factors, cohort.key, strict=True)), "plant_season": int(step.time),
            "part": GROWTH if step.time == int(step.time) else WINTER, "at_risk": step.at_risk, "deaths": step.deaths,
            "censored": step.censored, "hazard": step.deaths / step.at_risk, "share": step.share, "se": step.se,
            "low": step.low, "high": step.high, "level": level,
        }
        for cohort in cohorts for step in cohort.steps
    ]  # fmt: skip


def median_rows(cohorts: Iterable[Cohort], factors: Sequence[str]) -> list[dict[str, object]]:
    """Rows of Survival.medians."""
    return [
        {
            **dict(zip(factors, cohort.key, strict=True)), "n": len(cohort.lives),
            "deaths": sum(life.died for life in cohort.lives), "late": cohort.late, "median": median_of(cohort.steps),
            "least_at_risk": cohort.least_at_risk,
        }
        for cohort in cohorts
    ]  # fmt: skip


def log_rank_rows(cohorts: Sequence[Cohort], factors: Sequence[str], across_crops: bool) -> list[dict[str, object]]:
    """Rows of Survival.tests."""
    return holm([
        _tested(one, other, factors, across_crops) for one, other in combinations(cohorts, 2)
        if (across_crops or one.key[0] == other.key[0]) and len(apart_in(factors, one.key, other.key)) == 1
    ])  # fmt: skip


def _tested(one: Cohort, other: Cohort, factors: Sequence[str], across_crops: bool) -> dict[str, object]:
    asked = {factor for factor in factors if factor != "crop" or across_crops}
    layers = [factor for factor in _STRATA if factor not in asked and not (factor == "cultivar" and across_crops)]
    strata = [{_key(life, layers) for life in cohort.lives} for cohort in (one, other)]
    shared = strata[0] & strata[1]
    names = [", ".join(cohort.key) if across_crops else cohort.name for cohort in (one, other)]
    arms = [[life for life in cohort.lives if _key(life, layers) in shared] for cohort in (one, other)]
    row: dict[str, object] = dict.fromkeys(TESTS)
    row |= {
        "crop": one.key[0] if one.key[0] == other.key[0] else None, "group": names[0], "against": names[1],
        "n_group": len(arms[0]), "n_against": len(arms[1]), "deaths_group": sum(life.died for life in arms[0]),
        "deaths_against": sum(life.died for life in arms[1]), "strata": len(shared),
        "alone": len(one.lives) + len(other.lives) - len(arms[0]) - len(arms[1]),
    }  # fmt: skip
    wintered = [{kind for life in cohort.lives for kind in life.winterings} for cohort in (one, other)]
    if all(wintered) and wintered[0].isdisjoint(wintered[1]):
        return row | {"confounded_with": "wintering"}
    if not shared:
        apart = [name for name in layers if _levels(one, name).isdisjoint(_levels(other, name))]
        return row | {"confounded_with": ", ".join(apart) or f"{', '.join(layers)} taken together"}
    both = [*arms[0], *arms[1]]
    found = log_rank(
        [life.time for life in both], [life.died for life in both], ["0"] * len(arms[0]) + ["1"] * len(arms[1]),
        entry=[life.entry for life in both], strata=[" | ".join(_key(life, layers)) for life in both],
    )  # fmt: skip
    if found is None:
        return row | {"note": "no plant of one died while both had plants alive"}
    return row | {"chi2": found.chi2, "df": found.df, "p": found.p}


def _level_of(life: Life, factor: str) -> str:
    value = life.season_name if factor == "season begun" else getattr(life, factor)
    return NOT_RECORDED if value is None else str(value)


def _key(life: Life, layers: Sequence[str]) -> tuple[str, ...]:
    return tuple(_level_of(life, factor) for factor in layers)


def _levels(cohort: Cohort, factor: str) -> set[str]:
    return {_level_of(life, factor) for life in cohort.lives}


def left_out_by_reason(left_out: Mapping[tuple[str, str], int]) -> Counter[str]:
    """Plants left out, by why."""
    counts: Counter[str] = Counter()
    for (_, reason), number in left_out.items():
        counts[reason] += number
    return counts
