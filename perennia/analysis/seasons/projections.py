"""What may a season that is still running come to, by what finished seasons had in by the same day?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.measures import number
from perennia.analysis.name_order import BY_PLANT_SEASON, ordered
from perennia.analysis.result import Result, framed
from perennia.analysis.seasons.picking_curves import (
    PickingCurve,
    key_of,
    read_curves,
    usual_gaps,
    why_no_curve,
)
from perennia.analysis.seasons.projecting import LEAST_SEASONS, Projection
from perennia.analysis.seasons.projection_bases import Basis, FinishedSeasons
from perennia.analysis.seasons.tables import season_summary
from perennia.analysis.units import Row, rows_of
from perennia.analysis.unknown_names import unknown_names
from perennia.checking import arguments
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

COLUMNS = {
    "plant": "string", "label": "string", "crop": "string", "season": "Int64", "season_name": "string",
    "as_of": "datetime64[s]", "as_of_day": "Int64", "measure": "string", "to_date": "Float64",
    "first_pick": "datetime64[s]", "projected": "Float64", "low": "Float64", "high": "Float64", "level": "Float64",
    "n": "Int64", "years": "Int64", "basis": "string", "withheld": "string",
}  # fmt: skip

_METHOD = (
    "Crop to date over the share that finished seasons, clearances left out, had in by the end of the same date of "
    "theirs: the plant's own of the same stock, if three or more, else its crop's of the same stock, else its crop's, "
    "of places whose growing year begins on the same day. "
    "Mean and prediction interval on log(1/share) for one new season of a new year, by t with n - 1 degrees of freedom "
    "where each unit is of another year, and with those of Satterthwaite over variance between and within years where "
    "not. "
    "Where a finished season had nothing in by that day: middle and largest share of the others, no upper limit."
)
# our own rule: limits further apart than this say next to nothing
_WIDEST = 50
_NOT_PICKED = "not picked yet"
_LAST_VISITS = (
    'select seasons.site, max(harvest."on") as last_visit from harvest '
    "join plant_seasons as seasons on seasons.plant = harvest.plant and seasons.season = harvest.season "
    "where event = 'picked' and on_to - on_from <= 13 group by all"
)


@attrs.frozen(kw_only=True, eq=False)
class Projections(Result):
    """Running seasons and what they may come to. n counts its projections.

    Columns of the table: one row a plant whose season is running.

    as_of: the plant's last picking or look, as_of_day: its day of the season; the projection is of what was known
    then. to_date: crop recorded so far in the measure, g or count. projected: what the season may come to without a
    clearance at its end, a projection and no record; low, high: limits of its prediction interval of that level, high
    missing where nothing bounds it. n: finished units it rests on (labels linked by shared pickings of a season are
    one), years: of how many years. basis: own seasons (of the stock it is now, such as overwintered); crop, and that
    stock; or crop. withheld: why there is no projection, else missing.
    """

    @property
    def shown_rows(self) -> pd.DataFrame:
        """Without the plants not picked yet, whose rows hold no crop and would bury the others."""
        return self.table[self.table["withheld"].ne(_NOT_PICKED).fillna(True)]


def project_totals(
    source: Source,
    *,
    season: int | None = None,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
) -> Projections:
    """Project the season's crop of every plant whose season is running.

    One row is one plant; columns as help(perennia.Projections) tells, amounts in g or count. season: its year, all
    running ones unless given; labels, crops: which plants to take, all unless given. Withheld, with the reason in the
    row, before the first pick, below three finished units with anything in by that day, where all of them had all in
    by then, after a clearance, and where the plant was not picked or looked at for long while picking went on. Finished
    seasons with vaguely dated pickings, or of places whose growing year begins on another day, are left out. What the
    interval rests on: projecting.prospect (own rule).
    Raises ArgumentError when a choice is of another kind.
    """
    chosen = None if season is None else [arguments.a_year(season, "season")]
    asked = rows_of(season_summary(source, labels=labels, crops=crops, seasons=chosen).table)
    running = [row for row in asked if row["finished"] is not True and row["grew"] is not False]
    names = sorted({str(row["crop"]) for row in running})
    _, curves = read_curves(source, crops=names)
    gaps = usual_gaps(source, names)
    last_visits = _last_visits(source)
    finished = FinishedSeasons(curves)
    answers = [
        _answer(row, curves.get(key_of(row)), finished, gaps[str(row["crop"])], last_visits) for row in running
    ]  # fmt: skip
    rows = [row for row, _ in answers]
    projected = [row for row in rows if row["withheld"] is None]
    return Projections(
        table=ordered(framed(rows, COLUMNS), BY_PLANT_SEASON), n=len(projected), method=_METHOD,
        units="one plant's running season; amounts in the measure, g or count; to_date is recorded, while projected, "
        "low and high are projections, not records",
        cautions=(*unknown_names(source, labels, crops), *_cautions(running, answers)),
        findings=tuple(_finding(row) for row in projected) or ("No running season can be projected.",),
    )  # fmt: skip


def _answer(
    row: Row, curve: PickingCurve | None, finished: FinishedSeasons, gap_days: float,
    last_visits: Mapping[str | None, date],
) -> tuple[dict[str, object], Basis | None]:
    """The row of one plant, and what its projection rests on."""
    to_date = {"g": row["total_g"], "count": row["count"]}.get(row["measure"])
    basis: Basis | None = None
    projection: Projection | None = None
    reason = _why_not(row, curve, gap_days, last_visits)
    if curve is not None and reason is None:
        for basis in finished.bases(curve):
            if len(basis.units) < LEAST_SEASONS:
                reason = f"fewer than {LEAST_SEASONS} finished seasons to go by"
                continue
            all_in, prospect = basis.standing(curve)
            if all_in:
                reason = "all finished seasons had all in by that day, which does not tell what is still to come"
                continue
            reason = f"fewer than {LEAST_SEASONS} finished seasons had anything in by that day"
            if prospect is not None and to_date:
                projection = prospect(float(to_date))
                wide = projection.high is not None and projection.high > _WIDEST * projection.low
                projection, reason = (None, _too_wide(basis)) if wide else (projection, None)
                break
    return {
        **{name: row[name] for name in ("plant", "label", "crop", "season", "season_name", "measure", "first_pick")},
        "as_of": None if curve is None else curve.on(curve.visits[-1]),
        "as_of_day": None if curve is None else _last_day(curve),
        "to_date": to_date, **_figures(projection),
        "n": None if projection is None else projection.seasons,
        "years": None if projection is None else projection.years,
        "basis": None if projection is None or basis is None else basis.name, "withheld": reason,
    }, basis if projection else None  # fmt: skip


def _too_wide(basis: Basis) -> str:
    seasons, years = counted(len(basis.units), "finished season"), counted(len(set(basis.years)), "year")
    return f"{seasons} of {years} agree too little: the limits would lie more than a factor of {_WIDEST} apart"


def _figures(projection: Projection | None) -> dict[str, object]:
    if projection is None:
        return dict.fromkeys(("projected", "low", "high", "level"))
    return {
        "projected": projection.total, "low": projection.low, "high": projection.high, "level": projection.level,
    }  # fmt: skip


def _why_not(
    row: Row, curve: PickingCurve | None, gap_days: float, last_visits: Mapping[str | None, date]
) -> str | None:
    """Why a running season cannot be projected, whatever finished ones there are."""
    if curve is None:
        return why_no_curve(row) or _NOT_PICKED
    if curve.cleared:
        return "a clearance took what would have ripened later"
    if curve.total <= 0:
        return _NOT_PICKED
    last_on = curve.on(curve.visits[-1])
    # our own rule, as for a run of picking over the season's boundary
    longest = max(21.0, 3 * gap_days)
    if (last_visits.get(row["site"], last_on) - last_on).days > longest:
        return f"neither picked nor looked at for over {longest:.0f} days, while picking went on at its site"
    return None


def _last_visits(source: Source) -> dict[str | None, date]:
    """The last day of a dated picking or look at each site."""
    found = source.sql(_LAST_VISITS)
    return {
        None if pd.isna(site) else str(site): day.date()
        for site, day in zip(found["site"], found["last_visit"], strict=True)
    }


def _last_day(curve: PickingCurve) -> int:
    return curve.first_day + int(curve.visits[-1])


def _finding(row: Mapping[str, object]) -> str:
    return f"{row['label']} ({row['crop']}), {row['season_name']}: {may_come_to(row)}"


def may_come_to(row: Mapping[str, object]) -> str:
    """A row of Projections.table with a projection as a sentence, of which the plant and season are said before."""
    to_date, projected, low, level = (float(str(row[name])) for name in ("to_date", "projected", "low", "level"))
    noun = "g" if row["measure"] == "g" else "counted"
    upper = "without an upper limit" if row["high"] is None else f"to {number(float(str(row['high'])))}"
    as_of = row["as_of"]
    day = f"{as_of.day} {as_of:%B %Y}" if isinstance(as_of, date) else str(as_of)
    whose = "its own" if row["basis"] == "own seasons" else f"its {row['basis']}"
    return (
        f"{number(to_date)} {noun} by {day}; the season may come "
        f"to {number(projected)} {noun} ({100 * level:.3g} % interval {number(low)} {upper}; by "
        f"{counted(int(str(row['n'])), 'finished season')} of {whose}): a projection, not a record."
    )


def _cautions(running: Sequence[Row], answers: Sequence[tuple[Mapping[str, object], Basis | None]]) -> tuple[str, ...]:
    withheld = Counter(str(row["withheld"]) for row, _ in answers if row["withheld"] is not None)
    based = [(row, own, basis) for own, (row, basis) in zip(running, answers, strict=True) if basis is not None]
    cautions = ["A projection holds where the season goes on as the finished ones did."] if based else []
    cautions += [f"{counted(count, 'running season')} not projected: {reason}." for reason, count in withheld.items()]
    told = (
        (
            [row for row, _, _ in based if row["years"] == 1],
            "on finished seasons of one year only: all saw the same weather, and the interval leaves out how years "
            "differ.",
        ),
        (
            [row for row, _, _ in based if row["years"] in (2, 3)],
            "on finished units of two or three years: where years differ far more than plants, an interval called 95 % "
            "held 89 and 92 % in simulated gardens.",
        ),
        (
            [row for row, own, basis in based if _elsewhere(own, basis)],
            "in part on plants at another site or under another cover, or where that is not recorded; what these do to "
            "the shares is not told apart.",
        ),
        (
            [row for row, _, _ in based if row["basis"] == "crop"],
            "on plants of any stock, as too few of the same were seen: overwintered plants may crop sooner than fresh "
            "ones.",
        ),
        (
            [row for row, _, _ in based if row["high"] is None],
            "on finished seasons beside which others had nothing in by that day: there is no upper limit.",
        ),
        (
            [row for row, own, _ in based if (own["sharing"] or 1) > 1],
            "on shares of pickings off several labels, split evenly.",
        ),
    )
    cautions += [f"{counted(len(rows), 'projection')} resting {text}" for rows, text in told if rows]
    return tuple(cautions)


def _elsewhere(row: Row, basis: Basis) -> bool:
    return basis.places != {(row["site"], row["cover"])} or None in (row["site"], row["cover"])
