"""The comparisons, each with what stands against taking it at face value."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from perennia.analysis import compare_change, compare_seasons, compare_stock
from perennia.analysis.result import Result
from perennia.report.page.asking import Books
from perennia.report.page.by_crop import by_crop
from perennia.report.page.figures import drawn
from perennia.report.page.measure_words import IN_WORDS, in_words
from perennia.report.page.parts import Cautions, Headed, Listed, Part, Said, Section
from perennia.report.page.tables import tabled

_STOCK = [
    "crop", "season_name", "basis", "measure", "n_overwintered", "n_fresh", "mean_overwintered", "mean_fresh",
    "raw_gap", "shift", "shift_low", "shift_high", "level", "p", "smallest_p", "confounded_with",
]  # fmt: skip
_BY_STOCK = {
    "n_arm": "n_overwintered", "n_against": "n_fresh", "mean_arm": "mean_overwintered", "mean_against": "mean_fresh",
}  # fmt: skip
"""The sides of the first comparison by their names; the other two have none of these columns."""
_SEASONS = [
    "crop", "plant_season", "basis", "measure", "n_pairs", "mean_first", "mean_later", "raw_gap", "shift", "shift_low",
    "shift_high", "level", "p", "smallest_p", "confounded_with",
]  # fmt: skip
_CHANGE = [
    "crop", "plant_season", "first_season", "later_season", "measure", "n_roots", "n_fresh_first", "n_fresh_later",
    "gap", "gap_low", "gap_high", "p", "level",
]  # fmt: skip
_HOW_TO_READ = (
    "A shift is by how much the one group lies above the other, plant for plant; its interval says "
    "between what bounds it may well lie. p is the share of all ways of dealing the same plants out by lot that would "
    "give as great a shift: near 0 it is hard to put down to luck, and it says nothing of what else differed. Where "
    "two groups share no bed or no cover there is only the gap, with what it may come from instead, and no p."
)
_WORDS = (
    "Per survivor speaks of the plants that lived to be picked; per root kept counts those lost in the winter as no "
    "crop."
)


def comparing(books: Books) -> Section:
    """Old roots against fresh stock, later seasons against the first, and the change of both."""
    source, season = books.source, books.season
    parts: tuple[Part, ...] = (Said(_HOW_TO_READ), Said(_WORDS))
    parts += _compared(
        books, "Overwintered against freshly raised, this season", "compare-stock",
        "Did roots kept over the winter do better this season than plants raised fresh?",
        lambda: compare_stock(source, season=season), _STOCK, f"perennia compare --season {season}",
    )  # fmt: skip
    parts += _compared(
        books, "Later seasons against the first, all years", "compare-seasons",
        "Did the same plants do better in later seasons of their life than in their first?",
        lambda: compare_seasons(source), _SEASONS, "perennia compare --seasons",
    )  # fmt: skip
    parts += _compared(
        books, "The change of old roots against that of fresh stock, all years", "compare-change",
        "What is left of that change once what the years did to fresh stock is taken off?",
        lambda: compare_change(source), _CHANGE, "perennia compare --change",
    )  # fmt: skip
    return Section("comparisons", "Comparisons", parts)


def _compared(
    books: Books, name: str, anchor: str, asked: str, question: Callable[[], Result], columns: Sequence[str], more: str
) -> tuple[Part, ...]:  # fmt: skip
    def parts(found: Result) -> Iterator[Part]:
        yield Listed(by_crop([in_words(line) for line in found.findings], found))
        if not found.table.empty:
            frame = found.table.rename(columns=_BY_STOCK)
            frame["measure"] = frame["measure"].replace(IN_WORDS)
            shown = [column for column in columns if column in frame]
            table = tabled(frame, shown, f"{name}: the figures", more=more, folded=True)
            yield from drawn(found, name, table)
        if found.cautions:
            yield Cautions(by_crop([in_words(line) for line in found.cautions], found))

    return (Headed(anchor, name), Said(asked), *books.told(name, question, parts))
