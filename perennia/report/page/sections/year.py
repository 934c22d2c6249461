"""How the season stands: each crop as a whole, each plant in a row, and what running seasons may come to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from perennia import crops
from perennia.analysis.result import framed
from perennia.analysis.seasons import Projections, SeasonTable, project_totals, season_curves, season_summary
from perennia.checking.words import counted
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Headed, Part, Said, Section, listed
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
    running = int((~frame["finished"]).fillna(False).sum())
    grew = int(frame["grew"].fillna(False).sum())
    said = f"{counted(grew, 'plant')} in growth in season {books.season_name}"
    lost = int((~frame["grew"]).fillna(False).sum())
    yield Said(
        (f"{said}; for {running} of them the season is still running." if running else f"{said}. The season is over.")
        + (f" Of {counted(lost, 'more plant')} the root was kept and did not grow." if lost else "")
    )
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


def _by_crop(books: Books, frame: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for crop, own in frame.groupby("crop", sort=True):
        profile = crops.profile(str(crop), books.source.profiles)
        weighed, counts = own["total_g"].dropna(), own["count"].dropna()
        rows.append({
            "crop": crop, "also called": profile.common_names[0] if profile is not None else None,
            "plants in growth": int(own["grew"].fillna(False).sum()), "plants picked": int((own["picks"] > 0).sum()),
            "total_kg": float(weighed.sum()) / 1000 if len(weighed) else None,
            "count": round(float(counts.sum())) if len(counts) else None,
            "plants not weighed in full": int((own["total_g"].isna() & own["grew"].fillna(False)).sum()),
            "plants not counted in full": (
                int((own["count"].isna() & own["grew"].fillna(False)).sum()) if len(counts) else None
            ),
            "first_pick": _or_none(own["first_pick"].min()), "last_pick": _or_none(own["last_pick"].max()),
            "still running": int((~own["finished"]).fillna(False).sum()),
        })  # fmt: skip
    return framed(rows, _CROPS)


def _or_none(value: Any) -> Any:
    return None if pd.isna(value) else value


def _crop_sentence(row: dict[Any, Any]) -> str:
    said = f"{row['crop']}: {row['plants picked']} of {row['plants in growth']} plants in growth were picked"
    if not pd.isna(row["total_kg"]):
        said += f", {row['total_kg']:.1f} kg in all"
    if not pd.isna(row["first_pick"]):
        said += f", from {_day(row['first_pick'])} to {_day(row['last_pick'])}"
    unknown = row["plants not weighed in full"]
    return f"{said}; {counted(unknown, 'plant')} not weighed in full left out of it." if unknown else f"{said}."


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
