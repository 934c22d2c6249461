"""How the season stands: each crop as a whole, each plant in a row, and what running seasons may come to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from perennia import crops
from perennia.analysis import Projections, SeasonTable, project_totals, season_curves, season_summary
from perennia.analysis.result import framed
from perennia.checking.words import counted
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Headed, Part, Said, Section, listed
from perennia.report.page.sums import summed
from perennia.report.page.tables import tabled

SUMMARY = "Season summary"
_PLANTS = [
    "label", "crop", "stock", "bed", "plants", "total_g", "count", "picks", "first_pick", "t50", "peak_on", "g_per_m2",
    "finished", "ended_how",
]  # fmt: skip
_CURVES = ["label", "crop", "stock", "on", "cumulative", "per_day", "measure"]
_PROJECTED = [
    "label", "crop", "measure", "as_of", "to_date", "projected", "low", "high", "finished_seasons_used", "resting_on",
]  # fmt: skip
_CROPS = {
    "crop": "string", "also called": "string", "plants in growth": "Int64", "plants picked": "Int64",
    "total_kg": "Float64", "count": "Int64", "plants not weighed in full": "Int64",
    "plants not counted in full": "Int64",
    "first_pick": "datetime64[s]", "last_pick": "datetime64[s]", "still running": "Int64",
}  # fmt: skip
_FOLDED_FROM = 40
"""Rows above which the projections stand behind a line."""
_STEP_DAYS = 14
"""Days between two rows of the table behind the curves."""


def year(books: Books) -> Section:
    """The season so far, or as it was when it is over."""
    parts = books.told(
        SUMMARY, lambda: season_summary(books.source, seasons=[books.season]), lambda found: _summary(books, found)
    )
    parts += (Headed("curves", "How the crop came in"),)
    parts += books.told(
        "Curves of the season", lambda: season_curves(books.source, seasons=[books.season], step=_STEP_DAYS), _curves
    )
    parts += books.told(
        "What running seasons may come to", lambda: project_totals(books.source, season=books.season), _projected
    )
    return Section("year", "The season so far", parts)


def _summary(books: Books, found: SeasonTable) -> Iterator[Part]:
    frame = found.table
    yield Said(_standing(books, frame))
    each = _by_crop(books, frame)
    yield listed(tuple(_crop_sentence(row) for row in each.to_dict("records")))
    yield tabled(each, list(each.columns), "Each crop as a whole")
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))
    yield Headed("by-plant", "When each plant cropped")
    every = tabled(
        frame, _PLANTS, "Each plant of the season", more=f"perennia summary --season {books.season}", folded=True
    )
    yield from drawn(found, "When each plant cropped this season, and how much", every)


def _standing(books: Books, frame: pd.DataFrame) -> str:
    """How many plants grew, how many have yet to be seen, and how many ended before they could grow."""
    unseen, lost = (int(of.fillna(False).sum()) for of in (frame["grew"].isna(), ~frame["grew"]))
    running = int((frame["grew"] & ~frame["finished"]).fillna(False).sum())
    said = f"{counted(int(frame['grew'].fillna(False).sum()), 'plant')} in growth in season {books.season_name}"
    said += f"; for {running} of them the season is still running." if running else "."
    if frame["finished"].all():
        said += " The season is over."
    if unseen:
        said += f" Nothing is written down of the growth of {counted(unseen, 'more plant')} in it."
    return f"{said} {counted(lost, 'more plant')} ended before growing in it." if lost else said


def _by_crop(books: Books, frame: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for crop, own in frame.groupby("crop", sort=True):
        profile = crops.profile(str(crop), books.source.profiles)
        grams, pieces = summed(own, "total_g"), summed(own, "count")
        rows.append({
            "crop": crop, "also called": profile.common_names[0] if profile is not None else None,
            "plants in growth": int(own["grew"].fillna(False).sum()), "plants picked": int((own["picks"] > 0).sum()),
            "total_kg": None if grams is None else grams / 1000, "count": None if pieces is None else round(pieces),
            "plants not weighed in full": int((own["total_g"].isna() & own["grew"].fillna(False)).sum()),
            "plants not counted in full": (
                int((own["count"].isna() & own["grew"].fillna(False)).sum()) if pieces is not None else None
            ),
            "first_pick": _or_none(own["first_pick"].min()), "last_pick": _or_none(own["last_pick"].max()),
            "still running": int((own["grew"] & ~own["finished"]).fillna(False).sum()),
        })  # fmt: skip
    return framed(rows, _CROPS)


def _or_none(value: Any) -> Any:
    return None if pd.isna(value) else value


def _crop_sentence(row: dict[Any, Any]) -> str:
    if not row["plants in growth"]:
        return f"{row['crop']}: no growth of any plant is written down."
    said = f"{row['crop']}: {row['plants picked']} of {counted(row['plants in growth'], 'plant')} in growth "
    said += "was picked" if row["plants picked"] == 1 else "were picked"
    weighed, unknown = not pd.isna(row["total_kg"]), row["plants not weighed in full"]
    if weighed:
        said += f", {row['total_kg']:.1f} kg in all"
    elif not pd.isna(row["count"]):
        said += f", {counted(row['count'], 'piece')} in all"
    if not pd.isna(row["first_pick"]):
        first, last = _day(row["first_pick"]), _day(row["last_pick"])
        said += f", on {first}" if first == last else f", from {first} to {last}"
    if weighed and unknown:
        said += f"; {counted(unknown, 'plant')} not weighed in full left out of the weight"
    return f"{said}."


def _day(value: pd.Timestamp) -> str:
    return f"{value.day} {value:%B %Y}"


def _curves(found: SeasonTable) -> Iterator[Part]:
    if found.table.empty:
        yield Said("Nothing was picked yet, so there is no curve.")
        return
    caption = f"The curves, a row every {_STEP_DAYS} days"
    table = tabled(found.table, _CURVES, caption, more="perennia curves", folded=True)
    yield from drawn(found, "The crop of each plant as it came in", table)


def _projected(found: Projections) -> Iterator[Part]:
    frame = found.table[found.table["projected"].notna()].rename(
        columns={"n": "finished_seasons_used", "basis": "resting_on"}
    )
    if frame.empty:
        return
    yield Headed("may-come-to", "What running seasons may come to")
    yield Said(
        "What a running season may come to if it goes on as finished ones did. This is a projection and no record: "
        "the interval is for one season of one plant, and it is wide because seasons differ."
    )
    many = len(frame) > _FOLDED_FROM
    yield tabled(frame, _PROJECTED, "Projected crops", more="perennia project", folded=many)
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))
