"""Patterns of failures to set, in sentences for a grower."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from perennia.analysis.causes.setting import pattern_rows as patterns
from perennia.analysis.causes.setting.flowers import FlowerBook, FlowerBooks
from perennia.analysis.causes.setting.pod_set_wording import stood, trusses_counted
from perennia.analysis.measures import probability
from perennia.checking.words import counted

_MANY = (
    "Several patterns are looked at in one season, and one p in twenty is below 0.05 by chance alone: p_adjusted "
    "allows for their number."
)
_NO_CAUSE = (
    "A pattern is no cause: causes that make the same pattern in these flowers are not told apart, and a pattern that "
    "does not stand out is not ruled out."
)


def pattern_findings(
    rows: Sequence[Mapping[str, Any]], gap: Mapping[str, Any] | None, within_trusses: str | None
) -> list[str]:
    """A sentence a pattern, and one that holds day of opening and day of loss side by side."""
    head = f"{rows[0]['crop']}, {rows[0]['season_name']}"
    said = []
    if len({row["reason"] for row in rows}) == 1 and all(row["p"] is None for row in rows):
        every = ", ".join(str(row["pattern"]) for row in rows)
        return [f"{head}: none of the patterns looked for can be told, for {rows[0]['reason']} ({every})."]
    for row in rows:
        text = f"{head}, {row['pattern']}: "
        if row["p"] is None:
            text += f"cannot be told, {row['reason']}"
        else:
            text += f"{seen(row)}; {_chance(row)} (n = {_size(row)})"
        if row["pattern"] == patterns.RUNS and within_trusses:
            text += f". Within trusses alone, {within_trusses}"
        if row["pattern"] == patterns.GAP and row["p"] is not None and gap:
            text += f". {_resumed(gap)}"
        said.append(f"{text}.")
    return [*_in_short(head, rows), *said, *_aligned(head, {row["pattern"]: row for row in rows})]


def _in_short(head: str, rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """What to read first; nothing where no pattern can be told."""
    told = [row for row in rows if row["p"] is not None]
    if not told:
        return []
    rare = [row["pattern"] for row in told if _adjusted(row) < patterns.TELLABLE]
    among = f"of {counted(len(told), 'pattern')} that can be told"
    if not rare:
        return [f"{head}: {among} none has an adjusted p below {patterns.TELLABLE:g}: none is told from chance."]
    return [f"{head}: {among} these have an adjusted p below {patterns.TELLABLE:g}: {'; '.join(rare)}."]


def _adjusted(row: Mapping[str, Any]) -> float:
    return float(row["p"] if row["p_adjusted"] is None else row["p_adjusted"])


def seen(row: Mapping[str, Any]) -> str:
    """What the flowers of a season show of one pattern, without its p; the days of the row are plain dates."""
    value = row["statistic"]
    if row["pattern"] == patterns.RUNS:
        expected = f"{row['expected']:.1f} expected by shuffles within plant and day"
        return f"{value:.0f} runs of flowers alike in fate, {expected}"
    if row["pattern"] == patterns.POSITION:
        return stood(value)
    way = "fewer" if value < 0 else "more"
    if row["pattern"] == patterns.PLANT_LOAD:
        return (
            f"picking had left {abs(value):.1f} pods {way} on the plants of flowers that set than of flowers that "
            "failed on the same day, beyond what lasts between plants"
        )
    if row["pattern"] == patterns.TRUSS_LOAD:
        return f"flowers that set had {abs(value):.1f} pods {way} beside them than those that failed on the same day"
    return f"{_when(row)} stands out most (F {value:.1f})"


def _when(row: Mapping[str, Any]) -> str:
    first, last = row["on_from"], row["on_to"]
    if row["pattern"] == patterns.DATE_LOST:
        return f"a burst of losses on {first}"
    way = "fewer" if row["change"] < 0 else "more"
    if row["kind"] == "step":
        return f"a change to {way} between {first} and {last}"
    if row["kind"] == "spike":
        return f"a day with {way} on {first}"
    return f"a gap from {first} to {last}"


def _chance(row: Mapping[str, Any]) -> str:
    text = f"p {probability(row['p'])}"
    if row["p_adjusted"] is not None:
        text += f", adjusted {probability(row['p_adjusted'])}"
    if row["p"] <= row["smallest_p"] * (1 + 1e-9):
        text += ", the smallest it can be"
    return text


def _size(row: Mapping[str, Any]) -> str:
    days = f", {row['n_days']} days" if row["n_days"] is not None else ""
    trusses = trusses_counted(row["n_trusses"])
    return f"{counted(row['n_flowers'], 'flower')} on {trusses} of {counted(row['n_plants'], 'plant')}{days}"


def _resumed(gap: Mapping[str, Any]) -> str:
    shares = [
        "none decided" if gap[name] is None else f"{100 * gap[name]:.0f} %"
        for name in ("share_before", "share_within", "share_after")
    ]
    return (
        f"Before, in and after it {shares[0]}, {shares[1]} and {shares[2]} came to it; later flowers of "
        f"{gap['trusses_resumed']} of {trusses_counted(gap['trusses_through'])} that flowered on through it did"
    )


def _aligned(head: str, rows: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """The day of opening and the day of loss side by side, without a verdict."""
    opened, lost = rows[patterns.DATE_OPENED], rows[patterns.DATE_LOST]
    if opened["p"] is None or lost["p"] is None:
        return []
    gap = rows[patterns.GAP]
    parts = [f"by day of opening {100 * opened['explained']:.0f} %"]
    if gap["p"] is not None:
        parts.append(f"as a gap of opening days {100 * gap['explained']:.0f} %")
    parts.append(f"by day of loss {100 * lost['explained']:.0f} %")
    return [
        f"{head}: of what a smooth trend leaves, one date takes off {', '.join(parts)}. A failure of pollination goes "
        "by the day of opening, a sudden stress by the day of loss; this is no verdict."
    ]


def pattern_cautions(books: FlowerBooks, rows: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """Everything that stands against reading a pattern as a cause, with its counts."""
    said = [f"No flowering is on record under the label {label}." for label in books.unknown]
    if books.unplaced:
        said.append(f"{counted(books.unplaced, 'row')} left out: no plant is known that bore the label then.")
    told = [row for row in rows if row["p"] is not None]
    if rows and not told:
        said.append("None of the patterns can be told from these flowers: more trusses of more plants would have to be "
                    "followed flower by flower.")  # fmt: skip
    for pattern in patterns.PATTERNS:
        if any(row["pattern"] == pattern for row in told):
            text = patterns.CAUTIONS[pattern]
            said.append(f"{pattern[0].upper()}{pattern[1:]}: {text}.")
    for book in books.books:
        said += [f"{book.crop}, {book.season_name}: {text}." for text in _left_out(book)]
    if told:
        said += [_MANY, _NO_CAUSE]
    return tuple(said)


def _left_out(book: FlowerBook) -> list[str]:
    said = []
    followed = {one.truss for one in book.flowers}
    if only := sum(one.truss not in followed for one in book.counts):
        said.append(f"{trusses_counted(only)} only counted, which no pattern is looked for in")
    if undated := sum(one.opened_on is None for one in book.flowers):
        said.append(f"{counted(undated, 'flower')} without a day of opening left out")
    if waiting := sum(one.still_open for one in book.flowers):
        said.append(f"{counted(waiting, 'flower')} still open; flowers opened since the first of them opened are left "
                    "out, for their failures are seen before their pods")  # fmt: skip
    return said
