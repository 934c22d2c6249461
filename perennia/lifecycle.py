"""States of a plant, and which act may follow which: one table, read by the SQL and by the search below.

An *act* is a life event as it bears on one plant: ``Stored`` is two acts (bare, potted), ``DiedBack`` two
(partial, whole), and ``Divided`` and ``CuttingTaken`` also begin the lives of the new plants.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from heapq import heappop, heappush

import attrs

STATES = ("none", "sown", "growing", "dormant", "lifted", "stored", "sheltered", "ended")
ENDED = "ended"
# what each state is called in a sentence to the grower
STATE_WORDS = {
    "none": "not begun",
    "sown": "sown",
    "growing": "growing",
    "dormant": "at rest in the ground",
    "lifted": "lifted and not yet put away",
    "stored": "in store as a bare root",
    "sheltered": "in its pot under cover",
    "ended": "dead or removed",
}

# One row an act, one column a state the plant is in before it. A cell holds the state after it;
# "+x" says that an act x must have happened unrecorded in between (a gap, returned as a doubt),
# "?x" the same without a doubt (nobody writes down every emergence); "." is refused as a contradiction;
# "=" leaves the state as it is.
_TABLE = """
act                  none     sown              growing             dormant             lifted                       stored                       sheltered          ended
sown                 sown     .                 .                   .                   .                            .                            .                  sown
already_here         growing  .                 .                   .                   .                            .                            .                  growing
acquired_plant       growing  .                 .                   .                   .                            .                            .                  growing
acquired_root        lifted   .                 .                   .                   .                            .                            .                  lifted
acquired_root_set    dormant  .                 .                   .                   .                            .                            .                  dormant
division             lifted   .                 .                   .                   .                            .                            .                  lifted
division_set         dormant  .                 .                   .                   .                            .                            .                  dormant
cutting              growing  .                 .                   .                   .                            .                            .                  growing
emerged              .        growing           =                   growing             growing+replanted            growing+replanted            =                  .
planted              .        growing?emerged   =                   =                   dormant                      dormant                      growing            .
moved                .        =                 =                   =                   dormant+replanted            dormant+replanted            growing            .
replanted            .        dormant+lifted    dormant+lifted      dormant+lifted      dormant                      dormant                      growing            .
regrew               .        growing?emerged   =                   growing             growing+replanted            growing+replanted            =                  .
flowered             .        growing?emerged   =                   growing+regrew      growing+replanted+regrew     growing+replanted+regrew     =                  .
counted              .        growing?emerged   =                   =                   =                            =                            =                  .
mulched              .        =                 =                   =                   dormant+replanted            dormant+replanted            =                  .
cut_back             .        growing?emerged   =                   =                   =                            =                            =                  .
cutting_taken        .        growing?emerged   =                   growing+regrew      =                            =                            =                  .
died_back_partial    .        growing?emerged   =                   growing+regrew      =                            =                            =                  .
died_back_whole      .        dormant?emerged   dormant             =                   =                            =                            =                  .
lifted               .        lifted?emerged    lifted              lifted              lifted+replanted             lifted+replanted             lifted             .
divided              .        growing?emerged   =                   =                   =                            =                            =                  .
stored_bare          .        stored+lifted     stored+lifted       stored+lifted       stored                       =                            stored+lifted      .
stored_pot           .        sheltered?emerged sheltered           sheltered           sheltered                    sheltered                    =                  .
store_checked        .        stored+stored_bare stored+stored_bare stored+stored_bare  stored+stored_bare           =                            =                  .
divided_ending       .        ended?emerged     ended               ended               ended                        ended                        ended              .
removed              .        ended             ended               ended               ended                        ended                        ended              .
died                 .        ended             ended               ended               ended                        ended                        ended              .
picked               .        growing?emerged   =                   growing+regrew      .                            .                            =                  .
"""


@attrs.frozen
class Step:
    """What an act does to a plant in one state: the state after, the acts it must have missed, whether that is a doubt."""

    after: str
    inferred: tuple[str, ...] = ()
    doubt: bool = False


def _read_table() -> tuple[tuple[str, ...], dict[tuple[str, str], Step]]:
    header, *rows = (line.split() for line in _TABLE.strip().splitlines())
    steps: dict[tuple[str, str], Step] = {}
    for act, *cells in rows:
        for before, cell in zip(header[1:], cells, strict=True):
            if cell == ".":
                continue
            doubt = "+" in cell
            after, *inferred = cell.replace("?", "+").split("+")
            steps[act, before] = Step(before if after == "=" else after, tuple(inferred), doubt)
    return tuple(row[0] for row in rows), steps


ACTS, TRANSITIONS = _read_table()
BEGINNINGS = tuple(act for act in ACTS if (act, "none") in TRANSITIONS)
# acts that show the plant in growth
GROWTH = ("sown", "acquired_plant", "cutting", "emerged", "planted", "regrew", "flowered", "cutting_taken", "picked")
# acts whose span is read from its first day, because what follows needs them done; all others from their last
OPENING = frozenset((*BEGINNINGS, "emerged", "planted", "moved", "replanted", "regrew"))
FIRST_DAY = date(1, 1, 1)
# beyond this many trials the plain order is kept; a label would need a dozen overlapping spans to get there
_MOST_TRIALS = 20_000


def rank(act: str) -> int:
    """Order of acts within one day, unless the search finds that another order has fewer gaps."""
    return ACTS.index(act)


def plain_day(act: str, on_from: date | None, on_to: date) -> date:
    """The day of its span on which an act is taken to have happened while nothing speaks against it."""
    return (on_from or FIRST_DAY) if act in OPENING else on_to


@attrs.frozen
class Happening:
    """One act of one label with its span, for the search: key finds it again."""

    key: bytes
    act: str
    on_from: date
    on_to: date


@attrs.frozen
class Placement:
    """Where the search puts one act: its day, and its order among all acts of the label."""

    key: bytes
    act: str
    on: date
    order: int


def place(happenings: Sequence[Happening]) -> list[Placement] | None:
    """The order of one label's acts, within their spans, that needs the fewest unrecorded acts between them.

    Uniform-cost search over the orders the spans allow (an act may come next when it can begin no later than
    every other open act can end). Returns None when no order is legal, or the search grows too large.
    Pickings take part as acts, so that a death half remembered is placed after the last picking.
    """
    count = len(happenings)
    ordered = sorted(happenings, key=lambda item: (plain_day(item.act, item.on_from, item.on_to), rank(item.act), item.key))
    # (doubts, acts placed so far negated, tie-break by plain order) keeps the search shallow and its answer unique
    frontier: list[tuple[int, int, tuple[int, ...], str, date]] = [(0, 0, (), "none", FIRST_DAY)]
    seen: set[tuple[frozenset[int], str]] = set()
    for _ in range(_MOST_TRIALS):
        if not frontier:
            return None
        doubts, _, path, state, day = heappop(frontier)
        if len(path) == count:
            return list(_placements([ordered[index] for index in path]))
        done = (frozenset(path), state)
        if done in seen:
            continue
        seen.add(done)
        left = [index for index in range(count) if index not in done[0]]
        latest = min(ordered[index].on_to for index in left)
        for index in left:
            item = ordered[index]
            step = TRANSITIONS.get((item.act, state))
            if item.on_from > latest or step is None:
                continue
            cost = doubts + (len(step.inferred) if step.doubt else 0)
            heappush(frontier, (cost, -len(path) - 1, (*path, index), step.after, max(day, item.on_from)))
    return None


def _placements(path: Sequence[Happening]) -> Iterator[Placement]:
    # forward pass: the earliest day each act can have had; openers stay there, others move as late as their followers allow
    earliest: list[date] = []
    day = FIRST_DAY
    for item in path:
        day = max(day, item.on_from)
        earliest.append(day)
    latest = date.max
    days: list[date] = [FIRST_DAY] * len(path)
    for index in range(len(path) - 1, -1, -1):
        item = path[index]
        latest = min(latest, item.on_to)
        days[index] = earliest[index] if item.act in OPENING else latest
        latest = min(latest, days[index])
    for order, (item, chosen) in enumerate(zip(path, days, strict=True)):
        yield Placement(item.key, item.act, chosen, order)


