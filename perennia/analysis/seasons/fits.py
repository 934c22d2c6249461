"""A smooth curve through each finished season's crop: what it ran up to, when half was in, and how long it took."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING

import attrs

from perennia.analysis.measures import number
from perennia.analysis.name_order import BY_PLANT_SEASON, ordered
from perennia.analysis.result import Result, framed
from perennia.analysis.seasons.least_squares import NO_FIT, NO_PLATEAU, TOO_FEW, Fit, Form, choose_form, fit
from perennia.analysis.seasons.picking_curves import PickingCurve, key_of, read_curves, why_no_curve
from perennia.analysis.unknown_names import unknown_names
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

__all__ = ["COLUMNS", "CurveFits", "Fit", "fit", "fit_curves"]

COLUMNS = {
    "plant": "string", "label": "string", "crop": "string", "season": "Int64", "season_name": "string",
    "measure": "string", "form": "string", "asymptote": "Float64", "asymptote_se": "Float64", "midpoint": "Float64",
    "midpoint_se": "Float64", "scale": "Float64", "scale_se": "Float64", "residual_sd": "Float64", "n": "Int64",
    "total": "Float64", "note": "string",
}  # fmt: skip

_INDEPENDENT = (
    "Standard errors take the points as independent, but each holds all the crop before it: in simulated seasons of 8 "
    "to 25 pickings they were about 2 to 7 times too small, that of the asymptote most. They are no limits."
)


@attrs.frozen(kw_only=True, eq=False)
class CurveFits(Result):
    """Fitted curves. n counts units: seasons of plants with a sound fit, labels
    linked by shared pickings as one.

    Columns of the table: one row a plant and finished season with a dated crop.

    form: logistic or gompertz. asymptote: what the curve runs up to, residual_sd: spread of the points round it, total:
    the season's crop without clearances, all in the measure (g or count). midpoint: day of the season by which half of
    the asymptote was in, scale: days, as in least_squares.Fit. _se: standard errors. n: points, that is days with a
    picking or look, those of a clearance alone left out. note: too few points, did not converge, no plateau reached;
    missing for a sound fit. A coefficient of determination is left out: any rising curve through a cumulative crop
    comes near 1.
    """

    form: str


def fit_curves(
    source: Source,
    *,
    form: Form = "logistic",
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
) -> CurveFits:
    """Fit a logistic or Gompertz curve to the cumulative crop of each finished season.

    One row is one plant and finished season; columns as help(perennia.CurveFits) tells. form: logistic (Pinheiro and
    Bates 2000) or gompertz (Gompertz 1825). labels, crops, seasons: which plants and seasons to take, all unless given.
    Only the days of pickings and looks are points, as the days between are drawn and not seen; clearances are left out,
    and a day of nothing else is no point, for what had ripened by then went with the strip and is not known.
    Running seasons are not fitted, and counted. Method and notes: least_squares.fit. Raises AnalysisError for an
    unknown form, ArgumentError for a choice of another kind.
    """
    choose_form(form)
    read, curves = read_curves(source, labels=labels, crops=crops, seasons=seasons)
    fitted = [
        (curve, fit(*curve.at_visits(), form)) for row in read
        if (curve := curves.get(key_of(row))) is not None and curve.finished and curve.total > 0
    ]  # fmt: skip
    running = sum(row["finished"] is not True and (row["picks"] or 0) > 0 for row in read)
    bare = [row for row in read if row["finished"] is True and key_of(row) not in curves]
    without = Counter(reason for row in bare if (reason := why_no_curve(row)) is not None)
    sound = [curve for curve, found in fitted if found.note is None]
    return CurveFits(
        table=ordered(framed([_row(curve, found) for curve, found in fitted], COLUMNS), BY_PLANT_SEASON),
        n=len({curve.unit for curve in sound}), form=form,
        method=f"Least squares of a {'Gompertz' if form == 'gompertz' else form} curve through the cumulative crop, "
        "clearances left out, at the days of pickings and looks.",
        units="one plant's finished season, labels linked by shared pickings counted once in n; asymptote, residual_sd "
        "and total in the measure, g or count; midpoint as day of the season, scale in days",
        cautions=(*unknown_names(source, labels, crops), *_cautions(fitted, running, without)),
        findings=tuple(_finding(curve, found) for curve, found in fitted) or ("No finished season can be fitted.",),
    )  # fmt: skip


def _row(curve: PickingCurve, found: Fit) -> dict[str, object]:
    names = ("plant", "label", "crop", "season", "season_name", "measure")
    return {**{name: curve.row[name] for name in names}, **attrs.asdict(found), "total": curve.total}


def _finding(curve: PickingCurve, found: Fit) -> str:
    row, noun = curve.row, "g" if curve.row["measure"] == "g" else "counted"
    head = f"{row['label']} ({row['crop']}), {row['season_name']}: "
    if found.asymptote is None or found.midpoint is None or found.scale is None:
        return f"{head}{found.note} (n = {found.n})."
    half = curve.on(round(found.midpoint) - curve.first_day)
    note = f"; {found.note}" if found.note else ""
    return (
        f"{head}runs up to {number(found.asymptote)} {noun}, half of it by {half.day} {half:%B}, scale "
        f"{number(found.scale)} days (n = {found.n} points){note}."
    )


def _cautions(
    fitted: Collection[tuple[PickingCurve, Fit]], running: int, without: Mapping[str, int]
) -> tuple[str, ...]:
    notes = Counter(found.note for _, found in fitted)
    cautions = [_INDEPENDENT] if any(found.asymptote is not None for _, found in fitted) else []
    said = {
        TOO_FEW: "with fewer than 5 days of picking or looking: too few points to fit.",
        NO_FIT: "on which the fit did not converge, or with fewer than two days on the rise of the curve: whether the "
        "crop came as such a curve cannot be told.",
        NO_PLATEAU: "without a plateau: its asymptote lies far outside the data and says nothing of the crop.",
    }
    cautions += [f"{counted(notes[note], 'season')} {text}" for note, text in said.items() if notes[note]]
    if cleared := sum(curve.cleared for curve, _ in fitted):
        cautions.append(f"{counted(cleared, 'season')} with a clearance, whose crop is in no curve.")
    if running:
        cautions.append(f"{counted(running, 'running season')} not fitted.")
    cautions += [f"{counted(count, 'finished season')} not fitted: {reason}." for reason, count in without.items()]
    if vague := sum(int(curve.row["spans_left_out"] or 0) for curve, _ in fitted):
        cautions.append(f"{counted(vague, 'picking')} dated too vaguely (over 14 days) for any curve.")
    if shared := sum((curve.row["sharing"] or 1) > 1 for curve, _ in fitted):
        cautions.append(f"{counted(shared, 'season')} with shares of pickings off several labels, split evenly.")
    return tuple(cautions)
