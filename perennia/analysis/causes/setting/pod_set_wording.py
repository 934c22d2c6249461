"""How many flowers set, in sentences for a grower."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from perennia.analysis.causes.setting.flowers import OPEN_AT_MOST_DAYS, FlowerBook, FlowerBooks
from perennia.checking.words import counted

_VISITS = 2
"""Days between looks from which a loss may have happened well before it was seen."""


def pod_set_findings(
    plants: Sequence[Mapping[str, Any]], shares: Sequence[Mapping[str, Any]]
) -> tuple[str, ...]:
    """A sentence for every crop, season and stage, then the numbers behind them."""
    said = []
    for row in shares:
        head = f"{row['crop']}, {row['season_name']}, {row['stage']}: "
        if row["share"] is None:
            said.append(f"{head}{row['note']}.")
            continue
        n = f"{counted(row['n_plants'], 'plant')}, {counted(row['decided'], 'decided flower')}"
        text = f"{head}{_percent(row['share'])} of decided flowers, as the mean of plants (n = {n})"
        if row["low"] is None:
            text += f"; no interval: {row['note']}"
        else:
            text += f", {_level(row)} interval {_percent(row['low'])} to {_percent(row['high'])}"
        if row["beta_binomial"] is not None:
            low, high = _percent(row["beta_binomial_low"]), _percent(row["beta_binomial_high"])
            text += f"; by the beta-binomial {_percent(row['beta_binomial'])} ({low} to {high}), two flowers of one "
            text += f"plant being alike by {row['phi']:.2f}"
        said.append(f"{text}.")
        if row["stage"] == "set":
            ours = [one for one in plants if (one["crop"], one["season"]) == (row["crop"], row["season"])]
            said.append(_numbers(ours))
    return tuple(said) or ("No flowering is on record for what was asked.",)


def _numbers(plants: Sequence[Mapping[str, Any]]) -> str:
    """The sums over the plants of one season."""
    names = {
        "opened": "opened", "set": "set", "dropped": "dropped", "full_size": "full size or picked",
        "damaged": "damaged", "lost_to_view": "lost to view", "still_open": "still open", "growing": "still growing",
    }  # fmt: skip
    parts = []
    for name, words in names.items():
        known = [row[name] for row in plants if row[name] is not None]
        if known and (sum(known) or name in ("opened", "set", "dropped")):
            parts.append(f"{words} {sum(known)}")
    return f"Flowers behind this: {', '.join(parts)}."


def pod_set_cautions(
    books: FlowerBooks, trusses: Sequence[Mapping[str, Any]], shares: Sequence[Mapping[str, Any]]
) -> tuple[str, ...]:
    """Everything that stands against taking the shares at face value, with its counts."""
    said = [f"No flowering is on record under the label {label}." for label in books.unknown]
    if books.unplaced:
        said.append(f"{counted(books.unplaced, 'row')} left out: no plant is known that bore the label then.")
    for book in books.books:
        ours = [row for row in trusses if (row["crop"], row["season"]) == (book.crop, book.season)]
        head = f"{book.crop}, {book.season_name}: "
        said += [f"{head}{text}." for text in (*_undecided(book), *_joined(book), *_counts(book, ours))]
    if any(row["n_plants"] == 1 for row in shares):
        said.append("With one plant there is no interval: what its flowers did says nothing of how plants differ.")
    if any(row["share"] is not None for row in shares):
        said.append("Only trusses somebody watched are in it; were they chosen for their looks, the shares are theirs.")
    return tuple(said)


def _undecided(book: FlowerBook) -> list[str]:
    lost = sum(one.lost_to_view and one.end is None for one in book.flowers)
    said = []
    for n, text in (
        (sum(one.still_open for one in book.flowers), "still open, neither set nor failed"),
        (sum(one.growing for one in book.flowers), "growing as pods or fruits, which may yet drop"),
        (lost, f"without an end over {OPEN_AT_MOST_DAYS} days before the books' last day, taken as lost to view"),
        (sum(one.end == "lost to view" for one in book.flowers), "lost to view, which counts as no failure"),
        (sum(one.end == "damaged" for one in book.flowers), "damaged, which counts as no failure to set"),
        (sum(one.opened_on is None for one in book.flowers), "without a day of opening, in no row by opening day"),
        (sum(one.full is False and one.ended_on is None for one in book.flowers), "lost on a day not recorded"),
    ):  # fmt: skip
        if n:
            said.append(f"{counted(n, 'flower')} {text}")
    return said


def _joined(book: FlowerBook) -> list[str]:
    said = []
    if book.joined:
        said.append(f"{counted(book.joined, 'flower')} written in several rows, taken together")
    if book.contrary:
        said.append(f"{counted(book.contrary, 'flower')} whose rows contradict one another; the later one was taken")
    return said


def _counts(book: FlowerBook, trusses: Sequence[Mapping[str, Any]]) -> list[str]:
    """What truss counts cannot tell, and where they differ from flowers followed one by one."""
    said = []
    only = [one for one in book.counts if one.truss not in {flower.truss for flower in book.flowers}]
    if only:
        said.append(f"{trusses_counted(len(only))} only counted: which flowers set, and whether flowers or pods "
                    "dropped, is not known of them")  # fmt: skip
    if untold := sum(one.drops_untold for one in only if one.set_of_decided() is not None):
        said.append(f"on {untold} of them drops may have been of flowers or of pods; they were taken as of flowers")
    if lacking := sum(one.set_of_decided() is None for one in only):
        said.append(f"{lacking} of them without a share: drops were not counted when pods last were")
    both = [row for row in trusses if row["opened_by_count"] is not None]
    if both:
        apart = Counter(row["opened_by_count"] - row["opened"] for row in both)
        less, more = (sum(abs(gap) * n for gap, n in apart.items() if gap * side > 0) for side in (-1, 1))
        said.append(f"{trusses_counted(len(both))} followed flower by flower and counted too; the flowers were "
                    f"taken, and the counts have {more} opened flowers more on some, {less} fewer on others")
    if fallen := sum(one.fallen for one in book.counts):
        said.append(f"{counted(fallen, 'number')} lower than an earlier one of the same truss; the later one was taken")
    gaps = _visit_gaps(book)
    if gaps and sorted(gaps)[len(gaps) // 2] >= _VISITS:
        said.append("trusses were looked at every few days only, so that a loss may be older than the day it was seen")
    return said


def _visit_gaps(book: FlowerBook) -> list[int]:
    """Days between looks at flowers that were followed."""
    days = sorted({day for one in book.flowers for day in (one.opened_on, one.set_on, one.ended_on) if day})
    return [(later - sooner).days for sooner, later in pairwise(days)]


def trusses_counted(n: int) -> str:
    """A number of trusses."""
    return "1 truss" if n == 1 else f"{n} trusses"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _level(row: Mapping[str, Any]) -> str:
    return f"{100 * float(row['level']):g} %"


def stood(change: float) -> str:
    """Where on the truss flowers that set stood, beside those of the same plant and day that failed."""
    beside = "of flowers of one plant and day those that set stood"
    if abs(change) < _NO_PLACE:
        return f"{beside} no higher and no lower than those that failed"
    return f"{beside} {abs(change):.2f} of a truss {'lower' if change < 0 else 'higher'}"


_NO_PLACE = 0.005
"""Part of a truss that would be written as 0.00."""
