"""In how many flushes did each plant crop, when, and how much of the season came in each?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

import attrs

from perennia.analysis.measures import number
from perennia.analysis.name_order import BY_PLANT_SEASON, ordered
from perennia.analysis.result import Result, framed
from perennia.analysis.seasons.picking_curves import PickingCurve, key_of, read_curves, usual_gaps, why_no_curve
from perennia.analysis.seasons.waves import cannot_tell, usual_gap, waves
from perennia.analysis.units import Row
from perennia.analysis.unknown_names import unknown_names
from perennia.checking.words import counted

if TYPE_CHECKING:
    from perennia.source import Source

COLUMNS = {
    "plant": "string", "label": "string", "crop": "string", "season": "Int64", "season_name": "string",
    "flush": "Int64", "of": "Int64", "starts_on": "datetime64[s]", "peak_on": "datetime64[s]",
    "ends_on": "datetime64[s]", "amount": "Float64", "share": "Float64", "gap_days": "Int64", "measure": "string",
    "open": "boolean",
}  # fmt: skip

_METHOD = (
    "Own rule. Pickings are spread evenly over the days since the last picking, look or regrowth, clearances left out, "
    "and the daily rate is smoothed by a normal kernel with a standard deviation of 1.5 picking gaps (the crop's usual "
    "gap, or the season's own middle gap where longer). Two flushes are told apart where the smoothed rate between "
    "them falls to half of the lower peak or below and each holds a tenth of the crop or more. In an even crop a pause "
    "of two gaps makes no flush and one of three does. Peaks nine gaps or more apart are told whatever one picking was "
    "missed or doubled."
)


@attrs.frozen(kw_only=True, eq=False)
class Flushes(Result):
    """Waves of picking. n counts units: seasons of plants that could be told,
    labels linked by shared pickings as one.

    Columns of the table: one row a flush of one plant's season.

    flush: its number in the season, of: how many there were (so far, in a running season). starts_on, ends_on: first
    and last day on which the smoothed rate was at half of the flush's peak or above; ends_on is missing while open.
    peak_on: day of the highest smoothed rate. amount: crop from the valley before to the valley after it, in the
    measure, without what was stripped in clearance; share: of the season's crop without that (so far). gap_days: days
    from the end of the flush before to its start. open: the season is running and this is its last flush, which may
    go on.
    """


def flushes(
    source: Source,
    *,
    labels: Collection[str] | None = None,
    crops: Collection[str] | None = None,
    seasons: Collection[int] | None = None,
) -> Flushes:
    """The flushes of each plant's season: when they came and what each held.

    One row is one flush; columns as help(perennia.Flushes) tells, amounts in g or count, days as datetime64[s].
    labels, crops, seasons: which plants and seasons to take, all unless given.
    Seasons are withheld, and counted in a caution, below 5 pickings and where gaps are too wide to tell. The rule is
    our own; it rests on the scale-space property of the normal kernel, which makes no new peaks (Witkin 1983, from
    memory). Raises ArgumentError when a choice is of another kind.
    """
    seasons_read, curves = read_curves(source, labels=labels, crops=crops, seasons=seasons)
    gaps = usual_gaps(source, {str(row["crop"]) for row in seasons_read})
    rows: list[dict[str, object]] = []
    told: list[PickingCurve] = []
    findings: list[str] = []
    withheld: Counter[str] = Counter()
    for season in seasons_read:
        curve, gap_days = curves.get(key_of(season)), gaps[season["crop"]]
        if curve is None:
            reason = why_no_curve(season)
        else:
            reason = cannot_tell(curve.per_day, curve.visits, curve.pickings, gap_days)
        if reason is not None:
            withheld[reason] += 1
        elif curve is not None:
            found = _rows(curve, gap_days)
            rows += found
            told.append(curve)
            findings.append(_finding(season, found))
    return Flushes(
        table=ordered(framed(rows, COLUMNS), BY_PLANT_SEASON), n=len({curve.unit for curve in told}), method=_METHOD,
        units="one plant's season, labels linked by shared pickings counted once in n; amounts in the measure, "
        "g or count; shares of the season's crop without clearances",
        cautions=(*unknown_names(source, labels, crops), *_cautions(told, withheld)),
        findings=tuple(findings) or ("No season shows its flushes.",),
    )  # fmt: skip


def _rows(curve: PickingCurve, gap_days: float) -> list[dict[str, object]]:
    running = not curve.finished
    found = waves(curve.per_day, usual_gap(curve.visits, gap_days), running=running)
    return [
        {
            **{name: curve.row[name] for name in ("plant", "label", "crop", "season", "season_name", "measure")},
            "flush": place + 1, "of": len(found),
            "starts_on": curve.on(wave.rises), "peak_on": curve.on(wave.peak),
            "ends_on": None if running and wave is found[-1] else curve.on(wave.falls),
            "amount": wave.amount, "share": wave.amount / curve.total,
            "gap_days": wave.rises - found[place - 1].falls if place else None,
            "open": running and wave is found[-1],
        }
        for place, wave in enumerate(found)
    ]  # fmt: skip


def _finding(season: Row, found: Sequence[Mapping[str, object]]) -> str:
    peaks = ", ".join(f"{_day(row['peak_on'])} ({100 * float(str(row['share'])):.0f} %)" for row in found)
    number_of = f"{len(found)} flush{'es' if len(found) > 1 else ''}"
    total = number(sum(float(str(row["amount"])) for row in found))
    so_far = "" if season["finished"] else " so far, the last still open"
    noun = "g" if season["measure"] == "g" else "counted"
    return f"{season['label']} ({season['crop']}), {season['season_name']}: {number_of} of {total} {noun}{so_far}, " + (
        f"peak on {peaks}." if len(found) == 1 else f"peaks on {peaks}."
    )


def _day(value: object) -> str:
    return f"{value.day} {value:%B}" if isinstance(value, date) else str(value)


def _cautions(told: Sequence[PickingCurve], withheld: Counter[str]) -> tuple[str, ...]:
    cautions = ["Flushes whose peaks lie nearer than nine picking gaps may pass for one."] if told else []
    cautions += [f"{counted(count, 'season')} withheld: {reason}." for reason, count in sorted(withheld.items())]
    if any("gap" in reason for reason in withheld):
        cautions.append("Write down looks that found nothing ripe (grams=0): they show a pause that a gap hides.")
    if running := sum(not curve.finished for curve in told):
        cautions.append(f"{counted(running, 'season')} still running: flushes so far, shares of the crop so far.")
    if vague := sum(int(curve.row["spans_left_out"] or 0) for curve in told):
        cautions.append(f"{counted(vague, 'picking')} dated too vaguely (over 14 days) for any flush.")
    if shared := sum((curve.row["sharing"] or 1) > 1 for curve in told):
        cautions.append(f"{counted(shared, 'season')} with shares of pickings off several labels, split evenly: "
                        "what one of these labels did alone cannot be told.")  # fmt: skip
    return tuple(cautions)
