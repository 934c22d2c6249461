"""What can hurt someone, for the crops on the page."""

from __future__ import annotations

from collections.abc import Iterator

from perennia import crops
from perennia.report.page.asking import Books
from perennia.report.page.parts import Headed, Part, Said, Section, listed

_CROPS = "select distinct crop from plant_seasons where season = ? and crop is not null order by crop"


def crop_cautions(books: Books) -> Section:
    """The cautions of each crop of the season with who says so."""
    return Section("cautions", "Cautions for these crops", tuple(_cautions(books)))


def _cautions(books: Books) -> Iterator[Part]:
    yield Said(crops.CAUTIONS_DEFER)
    unknown = []
    for number, crop in enumerate(books.source.sql(_CROPS, [books.season])["crop"], 1):
        profile = crops.profile(str(crop), books.source.profiles)
        if profile is None or not profile.cautions:
            unknown.append(str(crop))
            continue
        yield Headed(f"caution-{number}", f"{profile.crop}, {', '.join(profile.common_names)}")
        lines = tuple(f"{caution.text} ({caution.source})" for caution in profile.cautions)
        yield listed(lines, shown=len(lines))
    if unknown:
        yield Said(
            f"No caution is on file for {', '.join(unknown)}. That does not mean that there is none: ask your local "
            "food-safety authority."
        )
