"""Why plants set less than they flowered, where flowers were followed."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.analysis import (
    Explanation,
    PodSet,
    SettingPatterns,
    explain_shortfall,
    pod_set,
    setting_patterns,
)
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.parts import Cautions, Headed, Listed, Part, Said, Section, listed
from perennia.report.page.tables import tabled

_FLOWERS = [
    "crop", "plant", "trusses", "opened", "set", "dropped", "full_size", "damaged", "lost_to_view", "still_open",
    "growing", "set_share", "full_share",
]  # fmt: skip
_CANDIDATES = ["candidate", "strength", "recorded", "contrast", "form", "predicts", "cannot_tell", "decides"]
_PATTERNS = [
    "crop", "season_name", "pattern", "on_from", "on_to", "p", "p_adjusted", "smallest_p", "n_flowers", "n_trusses",
    "n_plants", "why_not_told", "caution",
]  # fmt: skip
_FOLLOWED = """
select distinct named.bed, named.crop from flowering join plant_seasons as named using (plant, season)
where season = ? and named.bed is not null and named.crop is not null order by named.bed, named.crop
"""


def shortfall(books: Books) -> Section:
    """What flowers came to this season, and by what pattern they failed."""
    parts: tuple[Part, ...] = (Said(
        "Where flowers were followed, this says how many set and grew on, and whether the failures have something in "
        "common. A pattern is no cause: heat, thirst, missing insects and a full plant can leave the same one."
    ),)  # fmt: skip
    parts += books.told("Pod set", lambda: pod_set(books.source, season=books.season), lambda found: _set(books, found))
    for place, (bed, crop) in enumerate(_followed(books), start=1):
        parts += _explained_bed(books, place, bed, crop)
    return Section("shortfall", "Why a plant fell short", parts)


def _followed(books: Books) -> list[tuple[str, str]]:
    """Beds in which flowers were followed or counted this season, with the crop."""
    rows = books.source.sql(_FOLLOWED, [books.season]).itertuples(index=False)
    return [(str(row.bed), str(row.crop)) for row in rows]


def _explained_bed(books: Books, place: int, bed: str, crop: str) -> tuple[Part, ...]:
    """Every candidate for a shortfall in one bed."""
    return (
        Headed(f"explained-{place}", f"What may have kept flowers of {crop} from setting in {bed}"),
        *books.told(
            "What may have kept flowers from setting",
            lambda: explain_shortfall(books.source, bed, books.season, crop=crop),
            lambda found: _explained(books, bed, found),
        ),
    )


def _explained(books: Books, bed: str, found: Explanation) -> Iterator[Part]:
    looks, candidates = found.findings[: -len(found.table)], found.findings[-len(found.table) :]
    yield listed((*looks, *candidates))
    more = f"perennia explain --season {books.season}"
    table = tabled(found.table, _CANDIDATES, f"Candidates for a shortfall in {bed}", more=more, folded=True)
    yield from drawn(found, f"Candidates for a shortfall in {bed}, by how strongly the records speak for them", table)
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))


def _set(books: Books, found: PodSet) -> Iterator[Part]:
    if found.table.empty:
        yield Said(
            "No flower was followed this season, so nothing can be said of why a plant fell short. Counting what "
            "opened, set and dropped on two or three trusses a plant is enough to begin with."
        )
        return
    yield Headed("pod-set", "What the flowers came to")
    yield Listed(by_crop(found.findings, found))
    table = tabled(
        found.table, _FLOWERS, "Flowers by plant", more=f"perennia pod-set --season {books.season}", folded=True
    )
    yield from drawn(found, "How many flowers set and grew to full size", table)
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))
    yield Headed("patterns", "What the failures have in common")
    yield from books.told("Patterns of failure", lambda: setting_patterns(found), _patterns)


def _patterns(found: SettingPatterns) -> Iterator[Part]:
    yield listed(found.findings or ("Too few flowers were followed one by one to look for a pattern.",))
    if not found.table.empty:
        frame = found.table.rename(columns={"reason": "why_not_told"})
        table = tabled(frame, _PATTERNS, "Patterns looked for", folded=True)
        yield from drawn(found, "Patterns of failure looked for", table)
    if found.cautions:
        yield Cautions(by_crop(found.cautions, found))
