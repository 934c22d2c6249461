"""What changed since the season before, and what was written down lately."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date

import pandas as pd

from perennia.analysis import SeasonTable, plant_seasons, season_summary
from perennia.analysis.name_order import in_order
from perennia.analysis.shown import cell_text
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted
from perennia.report.page.asking import Books
from perennia.report.page.parts import Headed, Part, Said, Section, listed
from perennia.report.page.sums import summed
from perennia.report.page.tables import tabled, texts_tabled

LATELY_DAYS = 14
_NAMED = 40
_FROM_WHAT = "it is not known from what"
_NO_END = "Gone, with no end on record"
_GONE = {"died": "Died", "removed": "Taken out", "divided": "Divided"}
_LOST = {
    "died": "Did not come through the winter", "removed": "Taken out before it grew again",
    "divided": "Divided before it grew again",
}  # fmt: skip
# by the rule of took_crop in the queries, which a select over the views may not call
_LOOKED = "case when event = 'picked' and coalesce(grams, \"count\") = 0 then 'looked, nothing ripe' else event end"
_ENTRIES = " union all ".join(
    f"select on_to, {event} as event, label, {grams} as grams, {counts} as counted from {view} "
    f"where on_to <= $today and {of_a_day}"
    for view, event, grams, counts, of_a_day in (
        ("life", "event", "null", "null", "not inferred"),
        ("harvest", _LOOKED, "grams", '"count"', "event <> 'books_kept'"),
        ("flowering", "event", "null", "null", "true"), ("care", "event", "null", "null", "true"),
    )
)  # fmt: skip
"""That the books are complete up to a day is no entry of that day, nor is an act that nobody wrote down."""
_LATELY = (
    f"with entries as ({_ENTRIES}), latest as (select max(on_to) as day from entries) "
    "select on_to as day, event, count(*) as entries, count(distinct label) as plants, "
    "list(distinct label order by label) as labels, sum(grams) as grams, sum(counted) as counted, "
    "case when count(grams) > 0 then nullif(count(*) - count(grams), 0) end as unweighed, "
    "case when count(counted) > 0 then nullif(count(*) - count(counted), 0) end as uncounted "
    "from entries, latest where on_to > latest.day - $days group by on_to, event order by on_to desc, event"
)


def changed(books: Books) -> Section:
    """New plants, lost plants, moved plants, the crop beside that of the season before, and the latest entries."""
    parts: tuple[Part, ...] = books.told(
        "Plant seasons", lambda: plant_seasons(books.source, seasons=[books.season - 1, books.season]),
        lambda found: _plants(books, found),
    )  # fmt: skip
    parts += books.told(
        "Season summary of two seasons",
        lambda: season_summary(books.source, seasons=[books.season - 1, books.season]),
        lambda found: _crops(books, found),
    )  # fmt: skip
    parts += (Headed("lately", "Written down lately"), *_lately(books))
    return Section("changed", "What changed", parts)


def _plants(books: Books, found: SeasonTable) -> Iterator[Part]:
    rows = rows_of(found.table)
    before = {row["plant"]: row for row in rows if row["season"] == books.season - 1}
    now = {row["plant"]: row for row in rows if row["season"] == books.season}
    if not before:
        yield Said("No plant is on record in the season before, so every plant here is new to the books.")
        return
    yield Said(
        "Since the season before: which plants are new, which are gone, and which stand elsewhere. A plant is gone "
        "when it died, was taken out or divided, or shows nothing since."
    )
    twice = _twice({**before, **now}.values())
    new = [row for plant, row in now.items() if plant not in before]
    # what ended before it grew in the season before was gone then already
    gone = [row for plant, row in before.items() if plant not in now and row["grew"] is not False]
    lost = [row for plant, row in now.items() if plant in before and row["grew"] is False]
    unseen = [row for plant, row in now.items() if plant in before and row["grew"] is None]
    moved = [
        (before[plant], row) for plant, row in now.items()
        if plant in before and row["grew"] and None not in (row["bed"], before[plant]["bed"])
        and (row["bed"], row["cover"]) != (before[plant]["bed"], before[plant]["cover"])
    ]  # fmt: skip
    lines = [
        *(_named(_new(raised), own, twice) for raised, own in _by(new, "raised_from", _FROM_WHAT)),
        *(_named(_GONE.get(how, how), own, twice) for how, own in _by(gone, "ended_how", _NO_END)),
        *(_named(_LOST.get(how, _LOST["died"]), own, twice) for how, own in _by(lost, "ended_how", "died")),
        _named("Not seen yet this season", unseen, twice),
        *(f"{to['label']} stands in {_place(to)}; the season before it stood in {_place(then)}." for then, to in moved),
    ]
    yield listed(tuple(line for line in lines if line) or ("The same plants, in the same places.",), shown=20)


def _by(rows: Sequence[Row], name: str, unknown: str) -> list[tuple[str, list[Row]]]:
    kinds = sorted({str(row[name] or unknown) for row in rows})
    return [(kind, [row for row in rows if str(row[name] or unknown) == kind]) for kind in kinds]


def _new(raised: str) -> str:
    return f"New, {raised}" if raised == _FROM_WHAT else f"New from {raised}"


def _twice(rows: Iterable[Row]) -> set[str]:
    """Labels that more than one of these plants bears, as a label given again after its plant had gone."""
    borne = Counter(str(row["label"]) for row in rows)
    return {label for label, plants in borne.items() if plants > 1}


def _named(what: str, rows: Sequence[Row], twice: Collection[str]) -> str:
    """Plants in a sentence, by crop; none for none. twice: labels beside which the year a plant began is said."""
    if not rows:
        return ""
    ordered = sorted(rows, key=lambda row: (str(row["crop"]), in_order(row["label"])))
    labels = [str(row["plant"] if row["label"] in twice else row["label"]) for row in ordered]
    more = f" and {len(labels) - _NAMED} more" if len(labels) > _NAMED else ""
    crops = ", ".join(sorted({str(row["crop"]) for row in rows}))
    return f"{what}: {counted(len(rows), 'plant')} ({crops}): {', '.join(labels[:_NAMED])}{more}."


def _place(row: Row) -> str:
    return f"{row['bed']}, {row['cover'] or 'cover not known'}"


def _crops(books: Books, found: SeasonTable) -> Iterator[Part]:
    frame = found.table
    if not (frame["season"] == books.season - 1).any() or not (frame["season"] == books.season).any():
        return
    rows = []
    for crop, own in frame.groupby("crop", sort=True):
        before, now = (own[own["season"] == season] for season in (books.season - 1, books.season))
        running = bool((~now["finished"]).fillna(False).any())
        rows.append([
            str(crop), _plants_of(before), _kilograms(before), _plants_of(now),
            _kilograms(now) + (", still running" if running else ""),
        ])  # fmt: skip
    yield texts_tabled(
        ["crop", "plants the season before", "crop the season before, kg", f"plants in {books.season_name}",
         f"crop in {books.season_name}, kg"],
        rows, "The crop beside that of the season before",
    )  # fmt: skip
    yield Said(
        "These are sums of the plants that were weighed in full. The plants, their ages, their places and the weather "
        "were not the same in both seasons, so the difference is no comparison of anything; the comparisons below are."
    )


def _plants_of(frame: pd.DataFrame) -> str:
    return str(int(frame["grew"].fillna(False).sum()))


def _kilograms(frame: pd.DataFrame) -> str:
    grams = summed(frame, "total_g")
    if grams is None:
        return cell_text(None)
    unknown = int((frame["total_g"].isna() & frame["grew"].fillna(False)).sum())
    left_out = f", {counted(unknown, 'plant')} not weighed in full left out" if unknown else ""
    return f"{grams / 1000:.1f}{left_out}"


def _lately(books: Books) -> tuple[Part, ...]:
    frame = books.source.sql(_LATELY, {"days": LATELY_DAYS, "today": books.today})
    if frame.empty:
        return (Said("Nothing is written down of any plant."),)
    last: date = frame["day"].max().date()
    frame["plants"] = [_of_plants(list(labels), int(n)) for labels, n in frame[["labels", "plants"]].to_numpy()]
    frame["event"] = frame["event"].str.replace("_", " ")
    frame["plants"] = frame["plants"].astype("string")
    frame = frame.rename(columns={
        "grams": "total_g", "counted": "count", "unweighed": "entries not weighed", "uncounted": "entries not counted",
    })  # fmt: skip
    caption = f"What was written down in the {LATELY_DAYS} days up to the last entry"
    columns = ["day", "event", "entries", "plants", "total_g", "entries not weighed", "count", "entries not counted"]
    return (
        Said(f"The last entry is of {last.day} {last:%B %Y}. Below are the {LATELY_DAYS} days up to it, newest first."),
        tabled(frame, columns, caption, rows=60, folded=len(frame) > 20),
    )


def _of_plants(labels: list[str | None], n: int) -> str:
    named = sorted((label for label in labels if label is not None), key=in_order)
    if len(named) > 6:
        return f"{n} plants: {', '.join(named[:5])} ..."
    return ", ".join(named) or "none named"
