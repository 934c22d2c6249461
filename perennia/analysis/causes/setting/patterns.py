"""Which patterns do failures to set follow: along the truss, by position, by date, by load, by a gap?"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, cast, get_args

import attrs
import pandas as pd

from perennia.analysis.causes.setting import pattern_rows
from perennia.analysis.causes.setting.courses import Stage
from perennia.analysis.causes.setting.date_null import DRAWS, SEED
from perennia.analysis.causes.setting.flowers import FlowerBooks, read_books
from perennia.analysis.causes.setting.patterns_wording import pattern_cautions, pattern_findings
from perennia.analysis.causes.setting.pod_set import PodSet
from perennia.analysis.result import Result, framed
from perennia.checking import arguments
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.source import Source

_FEWEST_DRAWS = 99
_UNITS = (
    "flowers followed one by one whose fate is decided and whose day of opening is known; n counts plants in a season. "
    "Trusses that were only counted show no pattern."
)
_METHOD = (
    "Along the truss, by position and by load: fates shuffled among flowers that opened on one day (of one plant; for "
    "load on the plant of all plants), so that good and bad days are held fixed; a smooth effect of position is taken "
    "off load. By date: logistic regression on a smooth trend of the day and on the mean place on the truss, the "
    "largest F of a lasting change or of a day apart over all dates held against series drawn from that trend with "
    "correlated good and bad days (parametric bootstrap). By day of loss: a burst of losses on one day, beside what "
    "the ages of flowers and pods would bring. A gap: two to eight days in which fewer set. p adjusted by Holm for the "
    "patterns of a season."
)


@attrs.frozen(kw_only=True, eq=False)
class SettingPatterns(Result):
    """Patterns of failures to set. stage: what counts as success, set or full size. by_truss: runs of each truss
    (columns in pattern_rows.BY_TRUSS). gaps: what setting did before, in and after the gap that stands out most
    (columns in pattern_rows.GAPS).

    Columns of the table: one row a crop, season and pattern.

    statistic: runs on all trusses; for position the mean place of flowers that set less that of those that failed, as a
    share of the truss; for load the mean number of pods beside flowers that set less that beside those that failed,
    within days (on the plant: pods that its own picking would leave, did all plants set alike); for dates and gaps an
    F. expected: its mean over shuffles. kind: step, spike (one day) or gap; on_from, on_to: its days, for a step the
    last day before it and the first after it. change: on the logit scale. explained: share of what the trend leaves
    that it takes off. p: two-sided, for load one-sided, missing where it cannot be told,
    for the reason given; p_adjusted: by Holm; smallest_p: the smallest that so many flowers or draws could give.
    n_flowers, n_trusses, n_plants: what it rests on; n_days: days of the series. caution: what else looks alike.
    """

    stage: str
    by_truss: pd.DataFrame
    gaps: pd.DataFrame


def setting_patterns(
    source: Source | PodSet,
    *,
    crop: str | None = None,
    season: int | None = None,
    labels: Collection[str] | None = None,
    stage: str = "set",
    draws: int = DRAWS,
    seed: int = SEED,
) -> SettingPatterns:
    """What the failures of a season's flowers have in common, and which of it cannot be told.

    One row is one crop, season and pattern; columns as help(perennia.SettingPatterns) tells. source: a garden, or the
    answer of pod_set, which has been chosen from already. stage: set, or full size. draws: shuffles and series behind
    each p; seed: of them.

    A small p says that a pattern is there, not what made it. labels may name plants, as ``A1/2021``. Runs: Wald and
    Wolfowitz 1940; dates: the scan of Andrews 1993. Raises AnalysisError for an unknown stage, too few draws,
    or a choice within a PodSet; ArgumentError for what is of another kind.
    """
    if stage not in get_args(Stage):
        raise AnalysisError(f"unknown stage {stage!r}: choose one of {', '.join(get_args(Stage))}")
    if arguments.a_whole_number(draws, "draws", DRAWS) < _FEWEST_DRAWS:
        raise AnalysisError(f"draws is {draws}; give {_FEWEST_DRAWS} or more, or no p could be small")
    start = arguments.a_whole_number(seed, "seed", SEED)
    if isinstance(source, PodSet):
        if any(given is not None for given in (crop, season, labels)):
            raise AnalysisError("a PodSet holds what was chosen for it; give crop, season and labels to pod_set")
        books = source.books
    else:
        books = read_books(source, crop, season, labels)
    return patterns_of(books, cast("Stage", stage), draws, abs(start))


def patterns_of(books: FlowerBooks, stage: Stage = "set", draws: int = DRAWS, seed: int = SEED) -> SettingPatterns:
    """setting_patterns on books that are read already."""
    rows, by_truss, gaps, findings = [], [], [], []
    for book in books.books:
        ours = pattern_rows.pattern_rows(book, stage, draws, seed)
        gap = pattern_rows.gap_row(book, stage, ours[-1])
        rows += ours
        by_truss += pattern_rows.truss_runs(book, stage)
        gaps += [gap] if gap else []
        findings += pattern_findings(ours, gap, pattern_rows.within_truss_sentence(book, stage))
    return SettingPatterns(
        table=framed(rows, pattern_rows.COLUMNS),
        n=sum(len(book.plants) for book in books.books),
        method=_METHOD,
        units=_UNITS,
        cautions=pattern_cautions(books, rows),
        findings=tuple(findings) or ("No flowering is on record for what was asked.",),
        stage=stage,
        by_truss=framed(by_truss, pattern_rows.BY_TRUSS),
        gaps=framed(gaps, pattern_rows.GAPS),
    )
