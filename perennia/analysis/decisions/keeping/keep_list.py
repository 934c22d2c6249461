"""Which roots go into the store this autumn, and how much to sow beside them?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd

from perennia import crops
from perennia.analysis.decisions.keeping import keep_fresh, keep_seed, keep_target, keep_winter
from perennia.analysis.decisions.keeping.keep_cautions import keep_cautions
from perennia.analysis.decisions.keeping.keep_crop import OUTLOOK, Ask, CropAnswer, crop_answer, outlook_row
from perennia.analysis.decisions.keeping.keep_method import keep_method
from perennia.analysis.decisions.keeping.keep_pages import lifting_rows, write_pages
from perennia.analysis.decisions.keeping.keep_reason import reason
from perennia.analysis.decisions.keeping.keep_roots import RootBooks, root_books
from perennia.analysis.decisions.keeping.keep_rows import COLUMNS, keep_row
from perennia.analysis.decisions.keeping.keep_unseen import UNSEEN, unseen_row
from perennia.analysis.decisions.keeping.keep_wording import keep_findings
from perennia.analysis.decisions.surviving.root_winters import Winter, winters_of
from perennia.analysis.measures import MEASURES, Measure, measures_named, own_measure
from perennia.analysis.result import Result, framed
from perennia.analysis.selection import SELECTION
from perennia.analysis.units import Row, rows_of
from perennia.checking import arguments
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.crops import CropProfile
    from perennia.source import Source

_ROWS = "select * from season_summary where crop = coalesce(?, crop)"
CROP_MEASURES = tuple(name for name, measure in MEASURES.items() if measure.kind in ("amount", "rate"))
"""The measures a keep list can be asked in: crops of a season."""
_UNITS = (
    "a row is a living plant, or a stand however many plants it has; plants linked by a shared picking have one "
    "expectation. Crops are a plant standing; a target is the crop of them all."
)


@attrs.frozen(kw_only=True, eq=False)
class KeepList(Result):
    """Which plants are worth a winter place. outlook: what the records of a crop say (columns in keep_crop.OUTLOOK).
    fresh: what a sowing is expected to bear (keep_fresh.FRESH). winters: chances to live (keep_winter.WINTERS). plan:
    roots and sowings that meet the target (keep_target.PLAN). seeds: seed lots (keep_seed.SEEDS). selection: how those
    kept before had out-cropped the others (selection.SELECTION). unseen: plants not seen since their latest winter,
    which are not ranked (keep_unseen.UNSEEN).

    Columns of the table are told by keep_rows.COLUMNS; one row a living plant.
    """

    season: int
    measure: str
    outlook: pd.DataFrame
    fresh: pd.DataFrame
    winters: pd.DataFrame
    plan: pd.DataFrame
    seeds: pd.DataFrame
    selection: pd.DataFrame
    unseen: pd.DataFrame

    def lifting_list(self) -> pd.DataFrame:
        """The plants in the order in which they are come by: site, bed, label. Columns in keep_pages.LIFTING.

        One row is one plant. do: keep, compost, choose (nothing on record decides) or destroy (disease).
        """
        return lifting_rows(self.table)

    def to_html(self, path: str | Path) -> Path:
        """Write a page to print: the lifting list with room for the weight of each root, and labels to cut out.

        It needs no network and no script. Returns the path. Raises IntakeError where the file is there already, its
        name does not end in .html, or it cannot be written.
        """
        return write_pages(self.table, self.unseen, self.season, [*self.findings, *self.cautions], path)


def keep_list(
    source: Source,
    season: int,
    *,
    crop: str | None = None,
    target: float | None = None,
    places: int | None = None,
    wintering: str | None = None,
    repeatability: float | None = None,
    assurance: float = 0.9,
    measure: str | None = None,
    level: float = 0.95,
) -> KeepList:
    """Each living plant's expected crop next season against that of fresh stock, ranked, with the reason in words.

    Shrunken effects (best linear unbiased prediction, Henderson 1975) of plants over the seasons on record; where they
    show no difference, or fewer than 10 plants have two seasons, the list goes by the condition of the root.

    One row is one plant alive at the end of the season (columns in keep_rows.COLUMNS). season: the season now ending,
    taken as over. target: the crop wanted next season, in the measure; places: winter places at hand; both need one
    crop. wintering: how roots would be kept, as in the column of season_summary, such as "bare root, frost-free"; the
    one a root is in already, else the one most used in the garden, unless given. repeatability: the grower's own, 0 to
    1, in place of what the records show. assurance: the probability with which the target is to be met. measure:
    total_g, count or g_per_m2; unless given each crop's own. level: of the intervals.

    Raises AnalysisError for a measure that is no crop of a season, numbers out of range, a target in g_per_m2, or a
    target or places for several crops at once; ArgumentError for what is of another kind.
    """
    season, ask, measured = _asked(season, target, places, wintering, repeatability, assurance, measure, level)
    frame = source.sql(_ROWS, [None if crop is None else arguments.a_name(crop, "crop")])
    rows = rows_of(frame)
    names = _crops(rows, season, ask)
    here = {name: [row for row in rows if _here(row, name, season)] for name in names}
    books = {name: root_books(source, name, season, here[name]) for name in names}
    winters = {name: winters_of(source, name) for name in names}
    lots = {name: keep_seed.seed_rows(source, name) for name in names}
    return _result(rows, names, ask, measured, books, winters, lots, source.profiles)


def keep_list_of(
    frame: pd.DataFrame,
    season: int,
    *,
    books: Mapping[str, RootBooks] | None = None,
    winters: Mapping[str, Sequence[Winter]] | None = None,
    lots: Mapping[str, Sequence[Row]] | None = None,
    target: float | None = None,
    places: int | None = None,
    wintering: str | None = None,
    repeatability: float | None = None,
    assurance: float = 0.9,
    measure: str | None = None,
    level: float = 0.95,
    profiles: Mapping[str, CropProfile] | None = None,
) -> KeepList:
    """keep_list on rows of season_summary, with what is known of roots, winters and seed lots by crop.

    profiles: the crop profiles to go by, the shipped ones when not given.
    """
    season, ask, measured = _asked(season, target, places, wintering, repeatability, assurance, measure, level)
    rows = rows_of(frame)
    return _result(rows, _crops(rows, season, ask), ask, measured, books or {}, winters or {}, lots or {}, profiles)


def _result(
    rows: Sequence[Row], names: Sequence[str], ask: Ask, measured: Measure | None, books: Mapping[str, RootBooks],
    winters: Mapping[str, Sequence[Winter]], lots: Mapping[str, Sequence[Row]],
    profiles: Mapping[str, CropProfile] | None,
) -> KeepList:  # fmt: skip
    nothing = RootBooks(roots={}, ended={})
    answers = []
    for name in names:
        ours = [row for row in rows if row["crop"] == name]
        answer = crop_answer(
            ours, name, measured or own_measure(name, ours, profiles), ask, books.get(name, nothing),
            winters.get(name, ()), lots.get(name, ()), crops.profile(name, profiles),
        )  # fmt: skip
        if answer is not None:
            answers.append(answer)
    table = [
        keep_row(one, answer.measure, answer.fresh, ask.level,
                 reason(one, answer.outlook, answer.fresh, answer.measure))
        for answer in answers for one in answer.every
    ]  # fmt: skip
    return KeepList(
        table=framed(table, COLUMNS),
        n=sum(answer.outlook.n_units for answer in answers),
        method=keep_method(answers, ask),
        units=_UNITS,
        cautions=keep_cautions(answers),
        findings=tuple(text for answer in answers for text in keep_findings(answer, ask))
        or (_nothing(rows, ask.season),),
        season=ask.season,
        measure=measures_named(table, () if measured is None else (measured,)),
        **_frames(answers, ask),
    )


def _frames(answers: Sequence[CropAnswer], ask: Ask) -> dict[str, pd.DataFrame]:
    """The further tables of a keep list."""
    return {
        "outlook": framed([outlook_row(answer) for answer in answers], OUTLOOK),
        "fresh": framed([keep_fresh.fresh_row(answer.crop, answer.measure.name, answer.fresh, ask.level)
                         for answer in answers], keep_fresh.FRESH),
        "winters": framed([keep_winter.winter_row(answer.crop, chance, ask.level) for answer in answers
                           for chance in answer.chances], keep_winter.WINTERS),
        "plan": framed([keep_target.plan_row(answer.crop, ask.target or 0.0, ask.assurance, plan) for answer in answers
                        for plan in answer.plans], keep_target.PLAN),
        "seeds": framed([lot for answer in answers for lot in answer.seeds], keep_seed.SEEDS),
        "selection": framed([row for answer in answers for row in answer.selections], SELECTION),
        "unseen": framed([unseen_row(one) for answer in answers for one in answer.unseen], UNSEEN),
    }  # fmt: skip


def _asked(
    season: Any, target: Any, places: Any, wintering: Any, repeatability: Any, assurance: Any, measure: Any, level: Any
) -> tuple[int, Ask, Measure | None]:
    """What was asked for, checked."""
    measured = None if measure is None else _a_crop(measure)
    if measured is not None and measured.kind == "rate" and target is not None:
        raise AnalysisError("a target is the crop of all plants together; ask for it in total_g or count")
    if repeatability is not None:
        repeatability = arguments.a_number(repeatability, "repeatability", "a number such as 0.3")
        if not 0 <= repeatability <= 1:
            raise AnalysisError(f"repeatability {repeatability!r} is not between 0 and 1; 0.3 would be a middling one")
    for name, value in (("assurance", assurance), ("level", level)):
        if not 0 < arguments.a_number(value, name, "a number such as 0.9") < 1:
            raise AnalysisError(f"{name} {value!r} is not between 0 and 1; 0.9 is usual")
    if places is not None and arguments.a_whole_number(places, "places", 12) < 0:
        raise AnalysisError(f"places {places!r} is below 0; give the number of winter places at hand")
    year = arguments.a_year(season, "season")
    return year, Ask(
        season=year, target=None if target is None else arguments.a_number_above_0(target, "target"),
        places=None if places is None else int(places),
        wintering=None if wintering is None else arguments.a_name(wintering, "wintering"),
        repeatability=None if repeatability is None else float(repeatability), assurance=float(assurance),
        level=float(level),
    ), measured  # fmt: skip


def _a_crop(measure: Any) -> Measure:
    if not isinstance(measure, str) or measure not in CROP_MEASURES:
        raise AnalysisError(
            f"{measure!r} is no crop of a season, and a keep list is of crops: choose one of {', '.join(CROP_MEASURES)}"
        )
    return MEASURES[measure]


def _here(row: Row, crop: str, season: int) -> bool:
    return row["crop"] == crop and int(row["season"]) == season and row["grew"] is not False


def _crops(rows: Sequence[Row], season: int, ask: Ask) -> list[str]:
    """The crops with a plant in the season. Raises AnalysisError where one is needed and there are several."""
    names = sorted({str(row["crop"]) for row in rows if _here(row, str(row["crop"]), season)})
    if len(names) > 1 and (ask.target is not None or ask.places is not None):
        raise AnalysisError(f"a target, or winter places, is for one crop; name one of {', '.join(names)} as the crop")
    return names


def _nothing(rows: Sequence[Row], season: int) -> str:
    seasons = ", ".join(sorted({str(row["season_name"]) for row in rows}))
    said = f"No plant on record lives in season {season}"
    return f"{said}; seasons on record are {seasons}." if seasons else f"{said}."
