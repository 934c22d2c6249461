"""States of a plant, and which act may follow which: one table, read by the SQL and by the search below.

An *act* is a life event as it bears on one plant: ``Stored`` is two acts (bare, potted), ``DiedBack`` two
(partial, whole), and ``Divided`` and ``CuttingTaken`` also begin the lives of the new plants.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from heapq import heappop, heappush
from itertools import count

import attrs

STATES = ("none", "sown", "growing", "dormant", "lifted", "stored", "sheltered", "ended")
ENDED = "ended"
# what each state is called in a sentence to the grower
STATE_WORDS = {
    "none": "not begun",
    "sown": "a sowing",
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
act                none     sown                       growing                    dormant                    lifted                    stored                    sheltered      ended
sown               sown     .                          .                          .                          .                         .                         .              sown
already_here       growing  .                          .                          .                          .                         .                         .              growing
acquired_plant     growing  .                          .                          .                          .                         .                         .              growing
acquired_root      lifted   .                          .                          .                          .                         .                         .              lifted
acquired_root_set  dormant  .                          .                          .                          .                         .                         .              dormant
division           lifted   .                          .                          .                          .                         .                         .              lifted
division_set       dormant  .                          .                          .                          .                         .                         .              dormant
cutting            growing  .                          .                          .                          .                         .                         .              growing
emerged            .        growing                    =                          growing                    growing+replanted         growing+replanted         =              .
planted            .        growing?emerged            =                          =                          dormant                   dormant                   growing        .
moved              .        =                          =                          =                          dormant+replanted         dormant+replanted         growing        .
replanted          .        dormant+lifted             dormant+lifted             dormant+lifted             dormant                   dormant                   growing        .
regrew             .        growing?emerged            =                          growing                    growing+replanted         growing+replanted         =              .
flowered           .        growing?emerged            =                          growing+regrew             growing+replanted+regrew  growing+replanted+regrew  =              .
counted            .        growing?emerged            =                          =                          =                         =                         =              .
mulched            .        =                          =                          =                          dormant+replanted         dormant+replanted         =              .
cut_back           .        growing?emerged            =                          =                          =                         =                         =              .
cutting_taken      .        growing?emerged            =                          growing+regrew             =                         =                         =              .
died_back_partial  .        growing?emerged            =                          growing+regrew             =                         =                         =              .
died_back_whole    .        dormant?emerged            dormant                    =                          =                         =                         =              .
lifted             .        lifted?emerged             lifted                     lifted                     lifted+replanted          lifted+replanted          lifted         .
divided            .        growing?emerged            =                          =                          =                         =                         =              .
stored_bare        .        stored+lifted              stored+lifted              stored+lifted              stored                    =                         stored+lifted  .
stored_pot         .        sheltered?emerged          sheltered                  sheltered                  sheltered                 sheltered                 =              .
store_checked      .        stored+lifted+stored_bare  stored+lifted+stored_bare  stored+lifted+stored_bare  stored+stored_bare        =                         =              .
divided_ending     .        ended?emerged              ended                      ended                      ended                     ended                     ended          .
removed            .        ended                      ended                      ended                      ended                     ended                     ended          .
died               .        ended                      ended                      ended                      ended                     ended                     ended          .
picked             .        growing?emerged            =                          growing+regrew             .                         .                         =              .
"""  # noqa: E501


@attrs.frozen
class Step:
    """What an act does to a plant in one state: the state after, the acts missed before it, whether that is a doubt."""

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
# beyond this many trials gaps are no longer counted; only a dozen spans that all overlap each other get there
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


@attrs.frozen(order=False)
class _Trial:
    """The first acts of an order being tried: by first day, those before first_left, and those in beyond.

    state is the plant's after them, last the act placed last, before the trial it was added to.
    """

    state: str
    first_left: int
    beyond: frozenset[int]
    last: int
    before: _Trial | None


def place(happenings: Sequence[Happening]) -> list[Placement] | None:
    """The order of one label's acts, within their spans, that needs the fewest unrecorded acts between them.

    Pickings take part as acts, so that a death half remembered is placed after the last picking. Returns None when no
    order is legal. A tangle of spans too large to search through for the fewest gaps gets a legal order all the same.
    """
    ordered = sorted(happenings, key=_plain_order)
    for counting in (True, False):
        path, finished = _search(ordered, counting)
        if path is not None:
            return list(_placements([ordered[index] for index in path]))
        if finished:
            return None
    return None


def _plain_order(item: Happening) -> tuple[date, int, bytes, date, date]:
    return plain_day(item.act, item.on_from, item.on_to), rank(item.act), item.key, item.on_from, item.on_to


def _search(ordered: Sequence[Happening], counting: bool) -> tuple[list[int] | None, bool]:
    """Uniform-cost search over the orders the spans allow, acts in plain order tried first.

    An act may come next when it can begin no later than every other act that is left can end. Gives the order as places
    in ordered, or None, and whether the search came to its end.
    """
    starts = sorted(range(len(ordered)), key=lambda index: (ordered[index].on_from, index))
    twin_before = _twins(ordered)
    number = count()
    # the doubts so far, then the acts placed so far negated, keep the search shallow
    frontier = [(0, 0, next(number), _Trial("none", 0, frozenset(), -1, None))]
    seen: set[tuple[int, frozenset[int], str]] = set()
    while frontier and len(seen) < _MOST_TRIALS:
        doubts, placed, _, trial = heappop(frontier)
        if -placed == len(ordered):
            return _path(trial), True
        known = (trial.first_left, trial.beyond, trial.state)
        if known in seen:
            continue
        seen.add(known)
        left = list(_may_come_next(ordered, starts, trial))
        for index in sorted(left):
            step = TRANSITIONS.get((ordered[index].act, trial.state))
            # of acts alike in all but their key, the first comes first
            if step is None or twin_before.get(index) in left:
                continue
            cost = len(step.inferred) if counting and step.doubt else 0
            heappush(frontier, (doubts + cost, placed - 1, next(number), _followed(trial, index, step.after, starts)))
    return None, not frontier


def _twins(ordered: Sequence[Happening]) -> dict[int, int]:
    """Each act that is like an earlier one in kind and span, with the nearest such."""
    last: dict[tuple[str, date, date], int] = {}
    twins: dict[int, int] = {}
    for index, item in enumerate(ordered):
        alike = (item.act, item.on_from, item.on_to)
        if alike in last:
            twins[index] = last[alike]
        last[alike] = index
    return twins


def _may_come_next(ordered: Sequence[Happening], starts: Sequence[int], trial: _Trial) -> Iterator[int]:
    latest = date.max
    for place_in_starts in range(trial.first_left, len(starts)):
        index = starts[place_in_starts]
        if index in trial.beyond:
            continue
        if ordered[index].on_from > latest:
            return
        latest = min(latest, ordered[index].on_to)
        yield index


def _followed(trial: _Trial, index: int, state: str, starts: Sequence[int]) -> _Trial:
    beyond = {*trial.beyond, index}
    first_left = trial.first_left
    while first_left < len(starts) and starts[first_left] in beyond:
        beyond.discard(starts[first_left])
        first_left += 1
    return _Trial(state, first_left, frozenset(beyond), index, trial)


def _path(trial: _Trial) -> list[int]:
    path: list[int] = []
    while trial.before is not None:
        path.append(trial.last)
        trial = trial.before
    return path[::-1]


def _placements(path: Sequence[Happening]) -> Iterator[Placement]:
    # forward: the earliest day each act can have had; openers stay there, others move as late as their followers allow
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


