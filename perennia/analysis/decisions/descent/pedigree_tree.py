"""A pedigree as indented plain text: what a plant came from above, what it gave below."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from perennia.analysis.decisions.descent.descent import Link, Way, links_from
from perennia.analysis.units import Row
from perennia.checking.words import counted, days, days_in_cell
from perennia.lifecycle import STATE_WORDS

_INDENT = "  "
_BEGINNINGS = {
    "already here": "stood here before the books began; its mother is not on record",
    "bought plant": "was bought as a young plant; its mother is not on record",
    "bought root": "was bought as a root; its mother is not on record",
}


def drawn(plant: str, rows: Mapping[str, Row], links: Sequence[Link], recorded: Collection[str]) -> str:
    """The tree of a plant; rows by plant, recorded the lots of which a saving is on record."""
    lines = [f"{plant}: {life_in_words(rows[plant])}", "came from"]
    lines += _branches(plant, rows, links, "up", recorded) or [_end(rows[plant], 1, recorded)]
    lines.append("gave")
    lines += _branches(plant, rows, links, "down", recorded) or [f"{_INDENT}no plant on record"]
    return "\n".join(lines)


def life_in_words(row: Row, beside: Row | None = None) -> str:
    """Kind, beginning, end or state, and crop so far of one plant; its kind only where it is not that of beside."""
    said = [] if beside is not None and _kind(row) == _kind(beside) else [_kind(row)]
    if row["plants"] > 1:
        said.append(f"stand of {row['plants']}")
    if row["ended_on"] is None:
        end = STATE_WORDS[str(row["state"])]
    else:
        first, last = (None if row[name] is None else row[name].date() for name in ("ended_from", "ended_to"))
        end = f"{row['ended_how'] or 'ended'} {days_in_cell(first, last)}"
    said += [f"begun {row['began_on'].date()}", end]
    return f"{', '.join(said)}; {_crop_so_far(row)}"


def _kind(row: Row) -> str:
    return str(row["crop"]) if row["cultivar"] is None else f"{row['crop']} {row['cultivar']}"


def beginning(row: Row, recorded: Collection[str]) -> str:
    """Why a pedigree goes no further up from a plant whose mother is not known."""
    if row["origin"] in _BEGINNINGS:
        return _BEGINNINGS[str(row["origin"])]
    if row["sown_lot"] is None:
        return "was sown from seed of no named lot; its mother is not on record"
    if row["sown_lot"] in recorded:
        lacking = "into which no seed of the crop was saved by then"
    else:
        lacking = "of which no saving is on record"
    return f"was sown from lot {row['sown_lot']}, {lacking}; where the seed came from is not on record"


def _end(row: Row, depth: int, recorded: Collection[str]) -> str:
    return _INDENT * depth + beginning(row, recorded).removeprefix("was ")


def parting(link: Link, way: Way) -> str:
    """How the plant at the end of a link and the one at its start belong together."""
    on = days(link.on_from, link.on_to)
    if link.by != "seed":
        return f"{'its ' if way == 'down' else 'by '}{link.by} {on}"
    if way == "down":
        return f"its seed of lot {link.lot}" if link.certain else f"perhaps its seed, lot {link.lot}"
    if link.certain:
        return f"by seed of lot {link.lot}, saved {on}"
    if link.mothers > 1:
        return f"perhaps, by seed of lot {link.lot}, saved {on}, one of {link.mothers} mothers"
    return f"perhaps, by seed of lot {link.lot}, saved {on}, which may be after the sowing"


def _crop_so_far(row: Row) -> str:
    said = []
    if row["total_g"] is not None:
        said.append(f"{row['total_g']:.0f} g in {counted(int(row['seasons_weighed']), 'season')}")
    if row["count"] is not None:
        said.append(f"{row['count']:.0f} counted in {counted(int(row['seasons_counted']), 'season')}")
    return ", ".join(said) if said else "no known crop"


def _branches(
    plant: str, rows: Mapping[str, Row], links: Sequence[Link], way: Way, recorded: Collection[str]
) -> list[str]:
    """The lines below a plant, depth first; a plant that two ways lead to is followed once."""
    leading = links_from(links, way)
    lines: list[str] = []
    followed = {plant}
    # a stack of its own, as a line of clones may be longer than Python lets functions call themselves
    waiting = [(link, 1) for link in reversed(leading.get(plant, []))]
    while waiting:
        link, depth = waiting.pop()
        name = link.end(way)
        head = f"{_INDENT * depth}{name} ({parting(link, way)})"
        if name in followed:
            lines.append(f"{head}: as above")
            continue
        followed.add(name)
        lines.append(f"{head}: {life_in_words(rows[name], beside=rows[plant])}")
        further = leading.get(name, [])
        if way == "up" and not further:
            lines.append(_end(rows[name], depth + 1, recorded))
        waiting += [(after, depth + 1) for after in reversed(further)]
    return lines
