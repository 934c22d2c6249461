"""A page a plant with its life, its curve and its entries; or where there are too many, a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

import attrs
import pandas as pd

from perennia.analysis import KeepList, Projections, SeasonTable, season_curves, season_summary
from perennia.analysis.decisions.keeping.keep_wording import CHOICES
from perennia.analysis.name_order import in_order
from perennia.analysis.seasons.plant_lives import PlantLives, plant_lives
from perennia.analysis.seasons.projections import may_come_to
from perennia.analysis.shown import MISSING
from perennia.analysis.units import Row, rows_of
from perennia.checking.words import counted, days_in_cell
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Facts, Link, Linked, Part, Said, Section, Sheet, Tabled
from perennia.report.page.tables import tabled, texts_tabled

PAGES = 60
"""The most plants that get a page each; more would make a book of the report."""
ROWS = 1000
"""The most plants of a table in which each has a row; above it a row is a bed and crop."""
_LIFE = ["season_name", "stock", "wintering", "bed", "cover", "plants", "total_g", "count", "picks", "first_pick",
         "t50", "peak_on", "finished", "ended_how"]  # fmt: skip
_SPELLS = ["state", "began", "until", "inferred", "ended_how"]
_LIVES = ["plant", "crop", *_SPELLS]
_CURVE = ["season", "on", "cumulative", "per_day", "measure"]
_ENTRIES = 150
_OF_LIFE = ("life", "seed")
"""The tables of which a plant's page has every entry; of pickings, flowers and care it has those of the season."""
_TABLE = ["label", "crop", "cultivar", "stock", "bed", "total_g", "count", "first_pick", "t50", "finished"]


def plants(books: Books) -> Section:
    """Every plant of the season."""
    found: list[Sheet] = []
    parts = books.told(
        "Each plant's seasons", lambda: season_summary(books.source), lambda every: _plants(books, every, found)
    )
    return Section("plants", "Plant by plant", parts, tuple(found))


def _plants(books: Books, every: SeasonTable, sheets: list[Sheet]) -> Iterator[Part]:
    frame = every.table
    now = frame[frame["season"] == books.season]
    asked = partial(plant_lives, books.source, [str(plant) for plant in now["plant"]])
    if len(now) > PAGES:
        yield from _table(books, now)
        yield from books.told("Lives of the plants", asked, _lives)
        return
    rows = sorted(
        rows_of(now), key=lambda row: (str(row["crop"]), *(in_order(row[name]) for name in ("site", "bed", "label")))
    )
    yield Said(
        f"A page for each of {counted(len(rows), 'plant')} of the season, by crop and bed. Above {PAGES} plants there "
        "would be a table instead."
    )
    names = _names(rows)
    for crop in sorted({str(row["crop"]) for row in rows}):
        yield Linked(crop, tuple(
            Link(f"plant-{number}", names[number - 1]) for number, row in enumerate(rows, 1) if str(row["crop"]) == crop
        ))  # fmt: skip
    shown = [str(row["plant"]) for row in rows]
    curves, entries = season_curves(books.source), books.source.history(shown)

    def each(lives: PlantLives) -> Iterator[Part]:
        told = _Told(
            every, curves, lives, seasons=_by_plant(frame, shown), curve=_by_plant(curves.table, shown),
            spells=_by_plant(lives.table, shown), pickings=_by_plant(lives.pickings, shown),
            entries=_by_plant(entries, shown),
        )  # fmt: skip
        for number, (row, name) in enumerate(zip(rows, names, strict=True), 1):
            books.say(f"plant {number} of {len(rows)}")
            sheets.append(Sheet(f"plant-{number}", name, tuple(_sheet(books, row, told))))
        return _lives(lives)

    yield from books.told("Lives of the plants", asked, each)


def _lives(found: PlantLives) -> Iterator[Part]:
    table = tabled(found.table, _LIVES, "Lives of the plants of the season", folded=True)
    yield from drawn(found, "Lives of the plants of the season, and the days they were picked", table)
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))


@attrs.frozen(eq=False)
class _Told:
    """What was answered of all plants, and the rows of each by its plant."""

    every: SeasonTable
    curves: SeasonTable
    lives: PlantLives
    seasons: Mapping[str, pd.DataFrame]
    curve: Mapping[str, pd.DataFrame]
    spells: Mapping[str, pd.DataFrame]
    pickings: Mapping[str, pd.DataFrame]
    entries: Mapping[str, pd.DataFrame]


def _by_plant(frame: pd.DataFrame, plants: Sequence[str]) -> dict[str, pd.DataFrame]:
    """The rows of each of these plants, parted once."""
    parted = {
        str(plant): own.reset_index(drop=True)
        for plant, own in frame[frame["plant"].isin(plants)].groupby("plant", sort=False)
    }
    return {plant: parted.get(plant, frame.iloc[:0]) for plant in plants}


def _sheet(books: Books, row: Row, told: _Told) -> Iterator[Part]:
    plant, label = str(row["plant"]), str(row["label"])
    yield Facts(tuple(_facts(row)))
    said = [*_kept(books.answer(KeepList), plant), *_to_come(books.answer(Projections), plant)]
    if said:
        yield Said(" ".join(said))
    life = attrs.evolve(
        told.lives, table=told.spells[plant], pickings=told.pickings[plant], n=1, cautions=(), findings=()
    )
    spells = tabled(life.table, _SPELLS, f"The life of {label} in spells", folded=True)
    yield from drawn(life, f"The life of {label}, and the days it was picked", spells, name=plant)
    yield tabled(told.seasons[plant], _LIFE, f"Seasons of {label}")
    curve = attrs.evolve(told.curves, table=told.curve[plant], n=1)
    if curve.table.empty:
        yield Said("Nothing was picked off it, so there is no curve.")
    else:
        every = told.every.table
        named = dict(zip(every["season"], every["season_name"], strict=True))
        behind = tabled(_weekly(curve.table, named), _CURVE, f"The curves of {label}, a row a week", folded=True)
        yield from drawn(curve, f"How the crop of {label} came in", behind, name=plant, show="cumulative")
    yield from _entries(books, told.entries[plant], label)


def _names(rows: Sequence[Row]) -> list[str]:
    """The label of each plant, with the year it began where the season had two of that label."""
    labels = [str(row["label"]) for row in rows]
    return [
        str(row["plant"]) if labels.count(label) > 1 else label for row, label in zip(rows, labels, strict=True)
    ]


def _facts(row: Row) -> Iterator[tuple[str, str]]:
    yield "Crop", f"{row['crop']} '{row['cultivar']}'" if row["cultivar"] else str(row["crop"])
    if row["plant_season"] is not None:
        yield "Plant season", str(row["plant_season"])
    for name, said in (("raised_from", "Grew from"), ("bed", "Bed"), ("cover", "Cover"), ("wintering", "Wintered")):
        if row[name] is not None:
            yield said, str(row[name])
    if row["plants"] is not None and row["plants"] > 1:
        yield "A stand of", counted(int(row["plants"]), "plant")


def _kept(found: KeepList | None, plant: str) -> Iterator[str]:
    """Its place in the keep list."""
    if found is None:
        return
    for row in rows_of(_own(found.table, plant)):
        of = counted(int(found.table["crop"].eq(row["crop"]).sum()), "plant")
        rank = "It has no rank in the keep list" if row["rank"] is None else (
            f"In the keep list it has rank {row['rank']} of {of} of its crop"
        )  # fmt: skip
        yield f"{rank}: {CHOICES[str(row['keep'])]}."


def _to_come(found: Projections | None, plant: str) -> Iterator[str]:
    """What its running season may come to."""
    for row in [] if found is None else rows_of(_own(found.table, plant)):
        if row["projected"] is not None:
            yield f"Its running season: {may_come_to(row)}"


def _own(frame: pd.DataFrame, plant: str) -> pd.DataFrame:
    """The rows of one plant."""
    return frame[frame["plant"] == plant].reset_index(drop=True)


def _weekly(frame: pd.DataFrame, named: Mapping[int, str]) -> pd.DataFrame:
    """The last of every seven rows of a season, and its last; the seasons by their names."""
    place = frame.groupby("season").cumcount()
    last = ~frame.duplicated("season", keep="last")
    return frame[(place % 7 == 6) | last].assign(season=lambda rows: rows["season"].map(named).astype("string"))


def _entries(books: Books, frame: pd.DataFrame, label: str) -> Iterator[Part]:
    of_life = frame["table"].isin(_OF_LIFE)
    yield _entries_table(frame[of_life], f"What is written of the life of {label}")
    season = frame[~of_life & (frame["season"] == books.season)]
    if not season.empty:
        caption = f"Pickings, flowers and care of {label}, {books.season_name}"
        yield attrs.evolve(_entries_table(season, caption), folded=True)


def _entries_table(frame: pd.DataFrame, caption: str) -> Tabled:
    rows = rows_of(frame.tail(_ENTRIES))
    table = texts_tabled(
        ["when", "season", "what", "details"],
        [[_when(row), row["season_name"] or MISSING, _event(row), row["what"] or ""] for row in rows], caption,
    )  # fmt: skip
    if len(frame) > len(rows):
        return attrs.evolve(table, note=f"{len(frame) - len(rows)} earlier ones left out; perennia history shows them.")
    return table


def _when(row: Row) -> str:
    """The day, or the span in which it happened."""
    first, last = (None if row[name] is None else row[name].date() for name in ("on_from", "on_to"))
    return str(row["on"].date()) if last is None else days_in_cell(first, last)


def _event(row: Row) -> str:
    return str(row["event"]).replace("_", " ") + (", inferred" if row["inferred"] else "")


def _table(books: Books, now: pd.DataFrame) -> Iterator[Part]:
    more = f"perennia summary --season {books.season}"
    yield Said(
        f"The season has {len(now)} plants. Up to {PAGES} each would have a page of its own; "
        + (f"up to {ROWS} each has a row." if len(now) <= ROWS else f"above {ROWS} a row is a crop in a bed.")
        + " perennia history shows the whole life of any plant."
    )
    if len(now) <= ROWS:
        yield tabled(now, _TABLE, "Every plant of the season", more=more, rows=ROWS)
        return
    beds = now.groupby(["crop", "bed", "stock"], dropna=False, sort=True).agg(
        plants=("plant", "nunique"), mean_g=("total_g", "mean"), least_g=("total_g", "min"), most_g=("total_g", "max"),
        first_pick=("first_pick", "min"), median_half_in_by=("t50", "median"),
    ).reset_index()  # fmt: skip
    yield tabled(beds, list(beds.columns), "Each crop in each bed, by stock", more=more, rows=ROWS)
