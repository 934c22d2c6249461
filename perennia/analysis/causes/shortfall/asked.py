"""What was asked: the plants of a bed or of labels in one season, their flowers, and the days on which they
flowered."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import attrs

from perennia.analysis.causes.setting.flowers import FlowerBook, books_of, flowering_rows
from perennia.analysis.causes.setting.truss_counts import day_of
from perennia.analysis.units import Row, rows_of
from perennia.checking import arguments
from perennia.checking.words import nearest
from perennia.errors import AnalysisError, UnknownLabelError

if TYPE_CHECKING:
    from perennia.source import Source

_PLANTS = "select * from plant_seasons where season = ? order by plant"
_BEDS = "select bed from beds order by bed"
_SEASON_STARTS = "select plant, season_starts from plants"
_STAYS = (
    'select plant, "on", bed from life where bed is not null and list_contains($plants, plant) order by plant, ordinal'
)
_PICKED = (
    'select plant, "on", grams, count, clearance from harvest where event = \'picked\' and season = ? order by "on"'
)

BEFORE_FLOWERING_DAYS = 10
"""Days before the first flower from which the place of a plant matters to its flowers: the longest look back."""
_DATED = 0.9
"""Share of the flowers on record with a day of opening from which the days of flowering are taken as known (own
rule)."""
UNDATED = "the day on which flowers opened is not recorded of many of them"


@attrs.frozen(eq=False)
class Asked:
    """Plants of one crop in one season, and what the books hold of their flowering.

    season_first: first day of the growing year. rows: of plant_seasons, one a plant. beds: those they stood in; site:
    the only one they stood on. elsewhere: plants that stood in another bed too while they flowered. book: their flowers
    and truss counts, None where none is on record. first, last: days between which they flowered, by flowers, counts or
    pickings, as days_from says; None where no day of flowering is known. flowering: the days on which flowers opened,
    or all from first to last where no such day is known. dated: whether nearly all flowers on record have their day of
    opening, so that flowering has all its days. pickings: rows of harvest.
    """

    name: str
    crop: str
    season: int
    season_name: str
    season_first: date
    rows: tuple[Row, ...]
    beds: tuple[str, ...]
    site: str | None
    elsewhere: tuple[str, ...]
    book: FlowerBook | None
    first: date | None
    last: date | None
    days_from: str
    flowering: tuple[date, ...]
    dated: bool
    pickings: tuple[Row, ...]

    @property
    def plants(self) -> tuple[str, ...]:
        return tuple(str(row["plant"]) for row in self.rows)

    @property
    def labels(self) -> tuple[str, ...]:
        return tuple(sorted({str(row["label"]) for row in self.rows}))


def asked(
    source: Source, bed_or_labels: str | Collection[str], season: int, crop: str | None = None
) -> Asked:
    """The plants meant by a bed's name, a label or several labels.

    Raises UnknownLabelError where nothing of that name grew in the season, AnalysisError where a name is both a bed's
    and a label's or several crops grew there.
    """
    year = arguments.a_year(season, "season")
    wanted = None if crop is None else arguments.a_name(crop, "crop")
    rows = rows_of(source.sql(_PLANTS, [year]))
    name, meant = _meant(source, bed_or_labels, rows, year)
    ours = [row for row in meant if row["grew"] is None or row["grew"]]
    if not ours:
        raise AnalysisError(f"{name}: no plant came into growth in {year}, and none could flower")
    found = [row for row in ours if wanted is None or row["crop"] == wanted]
    if not found:
        grown = ", ".join(sorted({str(row["crop"]) for row in ours}))
        raise AnalysisError(f"no {wanted} grew in {name} in {year}; what grew there: {grown}")
    crops = sorted({str(row["crop"]) for row in found})
    if len(crops) > 1:
        raise AnalysisError(f"{name} held {', '.join(crops)} in {year}; name one of them as crop")
    return _gathered(source, name, crops[0], year, found)


def _meant(
    source: Source, bed_or_labels: str | Collection[str], rows: Sequence[Row], year: int
) -> tuple[str, list[Row]]:
    """The name for what was asked, and its rows."""
    if not isinstance(bed_or_labels, str):
        labels = arguments.names(bed_or_labels, "labels")
        if not labels:
            raise AnalysisError("no label was given; name a bed or the plants to look at")
        named = {row["plant"]: row for label in labels for row in _labelled(label, rows, year)}
        return ", ".join(dict.fromkeys(labels)), list(named.values())
    name = arguments.a_name(bed_or_labels, "bed or label")
    labelled = [row for row in rows if name in (row["label"], row["plant"])]
    if name not in list(source.sql(_BEDS)["bed"]):
        return name, labelled or _labelled(name, rows, year)
    if labelled:
        raise AnalysisError(f"{name} is a bed and a label; give [{name!r}] for the plant, or rename one of them")
    bedded = [row for row in rows if row["bed"] == name]
    if not bedded:
        raise AnalysisError(f"nothing is known to have grown in {name} in {year}")
    return name, bedded


def _labelled(label: str, rows: Sequence[Row], year: int) -> list[Row]:
    found = [row for row in rows if label in (row["label"], row["plant"])]
    if not found:
        known = sorted({str(row["label"]) for row in rows})
        raise UnknownLabelError(f"no plant or bed {label} is known in {year}{nearest(label, known)}")
    return found


def _gathered(source: Source, name: str, crop: str, year: int, rows: Sequence[Row]) -> Asked:
    plants = {str(row["plant"]) for row in rows}
    flowering = flowering_rows(source, crop)
    books = books_of(flowering[flowering["plant"].isin(plants)], season=year).books
    book = next((one for one in books if one.crop == crop), None)
    pickings = tuple(row for row in rows_of(source.sql(_PICKED, [year])) if row["plant"] in plants)
    first, last, days_from = _flowering_days(book, pickings)
    opened = sorted({one.opened_on for one in book.flowers if one.opened_on}) if book else []
    beds = tuple(sorted({str(row["bed"]) for row in rows if row["bed"] is not None}))
    sites = sorted({str(row["site"]) for row in rows if row["site"] is not None})
    return Asked(
        name=name, crop=crop, season=year, season_name=str(rows[0]["season_name"]),
        season_first=_season_first(source, plants, year), rows=tuple(rows), beds=beds,
        site=sites[0] if len(sites) == 1 else None, elsewhere=_elsewhere(source, rows, first, last), book=book,
        first=first, last=last, days_from=days_from, flowering=tuple(opened) or _between(first, last),
        dated=bool(opened) and _dated(book), pickings=pickings,
    )  # fmt: skip


def _season_first(source: Source, plants: set[str], season: int) -> date:
    starts = {str(row["season_starts"]) for row in rows_of(source.sql(_SEASON_STARTS)) if row["plant"] in plants}
    return date.fromisoformat(f"{season}-{min(starts)}")


def _elsewhere(source: Source, rows: Sequence[Row], first: date | None, last: date | None) -> tuple[str, ...]:
    """Plants that stood in another bed than that of their season from shortly before the first flower to the last."""
    if first is None or last is None:
        return ()
    since = first - timedelta(BEFORE_FLOWERING_DAYS)
    stays: dict[str, list[tuple[date, str]]] = {}
    for stay in rows_of(source.sql(_STAYS, {"plants": [str(row["plant"]) for row in rows]})):
        stays.setdefault(str(stay["plant"]), []).append((day_of(stay["on"]), str(stay["bed"])))
    found = []
    for row in rows:
        before = [bed for day, bed in stays.get(str(row["plant"]), []) if day <= since][-1:]
        during = [bed for day, bed in stays.get(str(row["plant"]), []) if since < day <= last]
        if len({*before, *during}) > 1:
            found.append(str(row["plant"]))
    return tuple(found)


def _dated(book: FlowerBook | None) -> bool:
    """Whether nearly all flowers on record, those of trusses that were only counted among them, have their day."""
    if book is None:
        return False
    followed = {one.truss for one in book.flowers}
    counted = sum(max(one.latest.values(), default=0) for one in book.counts if one.truss not in followed)
    dated = sum(one.opened_on is not None for one in book.flowers)
    return dated >= _DATED * (len(book.flowers) + counted)


def _between(first: date | None, last: date | None) -> tuple[date, ...]:
    if first is None or last is None:
        return ()
    return tuple(first + timedelta(n) for n in range((last - first).days + 1))


def _flowering_days(book: FlowerBook | None, pickings: Sequence[Row]) -> tuple[date | None, date | None, str]:
    """The first and last day on which flowers are known, or else the days of picking, and which of them it is."""
    opened = [one.opened_on for one in book.flowers if one.opened_on] if book else []
    if opened:
        return min(opened), max(opened), "flowers opened"
    counted = [day for one in book.counts for day in one.counted_on.values()] if book else []
    if counted:
        return min(counted), max(counted), "trusses were counted"
    picked: list[Any] = [day_of(row["on"]) for row in pickings]
    if picked:
        return min(picked), max(picked), "something was picked"
    return None, None, "nothing shows when they flowered"
