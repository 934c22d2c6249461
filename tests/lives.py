"""Strategies that draw whole gardens of plant lives, legal by construction: each a walk through the lifecycle table.

Every act is given a true day first; what is written down is a span that holds it. Pickings, counts and care are then
laid on days on which the plants could bear. So a garden drawn here must be accepted whole, in any order of entry.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import attrs
from hypothesis import strategies as st

from perennia.lifecycle import ACTS, BEGINNINGS, ENDED, TRANSITIONS
from perennia.records.base import Record
from perennia.records.care import Allotted, Covered, Damage, Fed, Neighbour, Noted, Uncovered, Visits, Watered
from perennia.records.flowering import FlowerFate, TrussCount
from perennia.records.harvest import BooksKept, LeftForSeed, Picked
from perennia.records.life import (
    Acquired,
    AlreadyHere,
    Counted,
    CutBack,
    CuttingTaken,
    Died,
    DiedBack,
    Divided,
    Emerged,
    Flowered,
    Lifted,
    Moved,
    Mulched,
    Planted,
    Regrew,
    Removed,
    Replanted,
    Sown,
    StoreChecked,
    Stored,
)
from perennia.records.places import Bed, Site
from perennia.records.seed import GerminationTest, SeedSaved
from perennia.records.spans import Span
from perennia.records.weather import Weather

FIRST = date(2018, 11, 20)
LAST = date(2024, 6, 30)
# one crop counted by the piece, two that may be sown before their season, one without a profile, a slip, a common name
CROPS = (
    "Phaseolus coccineus", "Cynara cardunculus var. scolymus", "Capsicum pubescens", "Rheum x hybridum",
    "Ullucus tuberosus", "Rheum hybridum", "Oca",
)  # fmt: skip
BEARING = tuple(state for act, state in TRANSITIONS if act == "picked")
# a plant just sown is not picked for so long
YOUNG_DAYS = 50
_DAUGHTERS = ("division", "division_set", "cutting")
_FOLLOWING = {
    state: [act for act in ACTS if (act, state) in TRANSITIONS and act not in BEGINNINGS and act != "picked"]
    for state in ("sown", "growing", "dormant", "lifted", "stored", "sheltered")
}
_GAPS = (1, 3, 9, 21, 40, 75, 130, 200)


@attrs.define
class Life:
    """One label's acts as they truly were: days and the state from each on. exact: every act is written to its day."""

    label: str
    days: list[date] = attrs.Factory(list)
    states: list[str] = attrs.Factory(list)
    sown_on: date | None = None
    exact: bool = False

    def state_on(self, day: date) -> str:
        """The state in which a day began and ended; '' on a day on which it changed."""
        place = bisect_right(self.days, day)
        if place == 0:
            return "none"
        return "" if self.days[place - 1] == day else self.states[place - 1]

    def bears_on(self, day: date) -> bool:
        """Whether something may be picked off it that day."""
        young = self.sown_on is not None and 0 <= (day - self.sown_on).days < YOUNG_DAYS
        return self.state_on(day) in BEARING and not young


@attrs.define
class Drawn:
    """A garden being drawn: its places, its lives by label, and all its records so far.

    most_lives: once there are so many, daughters are drawn no further than their beginning.
    """

    sites: list[Site]
    beds: list[Bed]
    lives: dict[str, Life] = attrs.Factory(dict)
    records: list[Record] = attrs.Factory(list)
    most_lives: int = 8

    def bearing(self, day: date) -> list[str]:
        """Labels that may be picked that day."""
        return [label for label, life in self.lives.items() if life.bears_on(day)]

    def begun(self, day: date) -> list[str]:
        """Labels under which a plant had begun before that day."""
        return [label for label, life in self.lives.items() if life.days and life.days[0] < day]


def gardens(labels: int = 4, acts: int = 9, bursts: int = 8) -> st.SearchStrategy[list[Record]]:
    """All records of a garden, places first, the rest in any order: at most so many labels drawn (daughters come on
    top), acts a label, and runs of pickings."""
    return drawn_gardens(labels, acts, bursts).map(lambda drawn: [*drawn.sites, *drawn.beds, *drawn.records])


@st.composite
def cropping_gardens(draw: st.DrawFn, labels: int = 3, most: int = 30) -> list[Record]:
    """All records of a garden of few plants that crop for long: runs of up to so many pickings, at times over a
    season's boundary or to the end of the books."""
    sites, beds = draw(places())
    drawn = Drawn(sites, beds)
    start = draw(st.sampled_from([date(2021, 3, 1), date(2021, 9, 15), date(2021, 11, 1)]))
    for number in range(draw(st.integers(1, labels))):
        life = drawn.lives.setdefault(f"P{number + 1}", Life(f"P{number + 1}", exact=True))
        _enact(draw, drawn, life, draw(st.sampled_from(["sown", "already_here", "acquired_plant"])), start)
        if draw(st.booleans()):
            stop = draw(st.sampled_from(["cut_back", "died_back_whole", "removed", "died_back_partial", "lifted"]))
            _enact(draw, drawn, life, stop, start + timedelta(draw(st.integers(80, 160))))
    for wait in draw(st.lists(st.sampled_from([52, 55, 70, 110, 300]), min_size=1, max_size=2, unique=True)):
        drawn.records += draw(pickings(drawn, start + timedelta(wait), most))
    if draw(st.booleans()):
        drawn.records.append(Weather(date(2023, 8, 1), site=sites[0].name, t_max_c=30.0))
    drawn.records += _waterings(draw, drawn, start)
    return [*drawn.sites, *drawn.beds, *drawn.records]


def _waterings(draw: st.DrawFn, drawn: Drawn, start: date) -> list[Record]:
    found: list[Record] = []
    for wait in draw(st.lists(st.integers(1, 200), max_size=3)):
        amount: dict[str, Any] = draw(st.sampled_from([{"litres": 30.0}, {"mm": 12.0}]))
        names = tuple(drawn.lives)[: draw(st.integers(0, 2))]
        where: dict[str, Any] = {"labels": names} if names else {"bed": drawn.beds[0].name}
        found.append(Watered(start + timedelta(wait), **where, **amount))
    return found


@st.composite
def drawn_gardens(draw: st.DrawFn, labels: int = 4, acts: int = 9, bursts: int = 8) -> Drawn:
    """The same with the lives it was made from."""
    sites, beds = draw(places())
    drawn = Drawn(sites, beds, most_lives=max(8, 2 * labels))
    for number in range(draw(st.integers(1, labels))):
        grow(draw, drawn, f"P{number + 1}", draw(st.integers(1, acts)))
    for _ in range(draw(st.integers(0, bursts))):
        drawn.records += draw(pickings(drawn))
    drawn.records += draw(other_entries(drawn))
    drawn.records = draw(st.permutations(drawn.records)) if draw(st.booleans()) else drawn.records
    return drawn


@st.composite
def places(draw: st.DrawFn) -> tuple[list[Site], list[Bed]]:
    """One site north of the equator, one south of it, or both, each with up to three beds of any kind."""
    starts = st.sampled_from([None, None, "03-01", "10-15"])
    north, south = Site("north", latitude=51.0, season_starts=draw(starts)), Site("south", latitude=-38.0)
    sites = draw(st.sampled_from([[north], [south], [north, south]]))
    beds = [
        Bed(
            f"{site.name} {number}", site.name,
            cover=draw(st.sampled_from(["open", "open", "tunnel", "glasshouse"])),
            area_m2=draw(st.sampled_from([None, 2.0, 7.5])),
            container=draw(st.sampled_from([None, None, "tub"])),
        )
        for site in sites
        for number in range(1, draw(st.integers(1, 3)) + 1)
    ]  # fmt: skip
    return sites, beds


def grow(draw: st.DrawFn, drawn: Drawn, label: str, acts: int) -> None:
    """Walk a label from nothing through so many acts, over more than one life where one ends."""
    life = drawn.lives.setdefault(label, Life(label, exact=draw(st.integers(0, 3)) == 0))
    day = life.days[-1] if life.days else FIRST + timedelta(draw(st.integers(0, 500)))
    for _ in range(acts):
        state = life.states[-1] if life.states else "none"
        day = max(day, draw(st.sampled_from([day, FIRST]))) + timedelta(_gap(draw, state, life.exact))
        if day > LAST:
            return
        if state in ("none", ENDED):
            act = draw(st.sampled_from([act for act in BEGINNINGS if act not in _DAUGHTERS]))
        else:
            act = draw(st.sampled_from(_FOLLOWING[state]))
        _enact(draw, drawn, life, act, day)


def _gap(draw: st.DrawFn, state: str, exact: bool) -> int:
    if state == "none" or (state == ENDED and exact and draw(st.booleans())):
        return 0
    # a label used again waits, so that spans of the old and the new plant cannot cross
    return draw(st.sampled_from(_GAPS)) + (40 if state == ENDED else draw(st.integers(-1, 3)))


def _enact(draw: st.DrawFn, drawn: Drawn, life: Life, act: str, day: date) -> None:
    state = life.states[-1] if life.states else "none"
    drawn.records.append(_record(draw, drawn, life, act, day))
    life.days.append(day)
    life.states.append(TRANSITIONS[act, state].after)
    if act == "sown":
        life.sown_on = day


def _record(draw: st.DrawFn, drawn: Drawn, life: Life, act: str, day: date) -> Record:
    label, on = life.label, Span(day, day) if life.exact else draw(spans_holding(day))
    bed = draw(st.sampled_from(drawn.beds)).name
    maybe_bed = draw(st.sampled_from([bed, bed, bed, None]))
    space = draw(st.sampled_from([None, 0.25, 1.5]))
    crop, plants = draw(st.sampled_from(CROPS)), draw(st.sampled_from([1, 1, 1, 3, 12]))
    season = draw(st.sampled_from([None, None, 3]))
    effort: dict[str, Any] = draw(st.sampled_from([{}, {}, {"minutes": 10.0, "cost": 2.5, "note": "windy"}]))
    match act:
        case "sown":
            return Sown(label, on, crop=crop, cultivar=draw(st.sampled_from([None, "Red"])), bed=maybe_bed,
                        plants=plants, lot=draw(st.sampled_from([None, "L1"])), space_m2=space, **effort)  # fmt: skip
        case "already_here":
            since = draw(st.sampled_from([None, "2016", "../2017", "2015-06/2016-03", "2018-01~"]))
            return AlreadyHere(label, on, crop=crop, since=since, bed=maybe_bed, plants=plants, plant_season=season)
        case "acquired_plant":
            return Acquired(label, on, crop=crop, kind="plant", bed=maybe_bed, plants=plants, plant_season=season)
        case "acquired_root" | "acquired_root_set":
            place = bed if act == "acquired_root_set" else None
            return Acquired(label, on, crop=crop, kind="root", bed=place, plant_season=season, space_m2=space)
        case "divided" | "divided_ending" | "cutting_taken":
            return _parted(draw, drawn, label, act, on, day, maybe_bed)
        case _:
            return _plain_act(draw, label, act, on, bed, maybe_bed, space, effort)


def _plain_act(
    draw: st.DrawFn, label: str, act: str, on: Span, bed: str, maybe_bed: str | None, space: float | None,
    effort: dict[str, Any],
) -> Record:  # fmt: skip
    protection = draw(st.sampled_from([None, "frost-free", "mulch"]))
    made: dict[str, Any] = {
        "emerged": lambda: Emerged(label, on, alive=draw(st.sampled_from([None, 1, 2]))),
        "planted": lambda: Planted(label, on, bed=bed, space_m2=space, **effort),
        "moved": lambda: Moved(label, on, bed=bed),
        "replanted": lambda: Replanted(label, on, bed=maybe_bed, space_m2=space),
        "regrew": lambda: Regrew(label, on, shoots=draw(st.sampled_from([None, 4]))),
        "flowered": lambda: Flowered(label, on),
        "counted": lambda: Counted(label, on, alive=draw(st.integers(1, 5))),
        "mulched": lambda: Mulched(label, on),
        "cut_back": lambda: CutBack(label, on, to_cm=20.0),
        "died_back_partial": lambda: DiedBack(label, on, extent="partial", cause="frost"),
        "died_back_whole": lambda: DiedBack(label, on, extent="whole"),
        "lifted": lambda: Lifted(label, on, root_g=410.0, roots_broken=False, condition="sound", **effort),
        "stored_bare": lambda: Stored(label, on, place="bare root", protection=protection, box="7"),
        "stored_pot": lambda: Stored(label, on, place="pot", protection=protection),
        "store_checked": lambda: StoreChecked(label, on, condition="sound"),
        "removed": lambda: Removed(label, on, reason="given away"),
        "died": lambda: Died(label, on, cause="rot"),
    }
    return made[act]()  # type: ignore[no-any-return]


def _parted(
    draw: st.DrawFn, drawn: Drawn, label: str, act: str, on: Span, day: date, bed: str | None
) -> Record:  # fmt: skip
    """A division or cuttings; each new plant's own life is drawn on from here."""
    into = tuple(f"{label}{letter}{len(drawn.lives)}" for letter in "ab"[: draw(st.integers(1, 2))])
    first = "cutting" if act == "cutting_taken" else "division" if bed is None else "division_set"
    for daughter in into:
        life = drawn.lives.setdefault(daughter, Life(daughter, [day], [TRANSITIONS[first, "none"].after]))
        grow(draw, drawn, life.label, draw(st.integers(0, 4)) if len(drawn.lives) < drawn.most_lives else 0)
    if act == "cutting_taken":
        return CuttingTaken(label, on, into=into, bed=bed, minutes=5.0)
    return Divided(label, on, into=into, mother_continues=act == "divided", bed=bed, minutes=12.0)


def spans_holding(day: date) -> st.SearchStrategy[Span]:
    """What may be written down of a true day: mostly the day, else a span of up to five weeks round it."""
    wide = st.tuples(st.integers(0, 17), st.integers(0, 17))
    width = st.sampled_from([(0, 0)] * 5 + [(1, 2), (0, 13), (7, 7)]) | wide
    return width.map(lambda sides: Span(day - timedelta(sides[0]), day + timedelta(sides[1])))


_AMOUNTS: tuple[dict[str, Any], ...] = (
    {"grams": 120.0}, {"grams": 250.5, "count": 11}, {"grams": 40.0, "count": 3}, {"grams": 75.0, "count": 5},
    {"grams": 300.0}, {"count": 4}, {"grams": 0.0}, {"count": 0}, {"grams": 0.0, "count": 0},
    {"grams": 500.0, "count": 20, "clearance": True}, {"grams": 90.0, "count": 6, "minutes": 6.0, "use": "kitchen"},
)  # fmt: skip


@st.composite
def pickings(draw: st.DrawFn, drawn: Drawn, first: date | None = None, most: int = 14) -> list[Record]:
    """A run of pickings and looks off the plants that bear, alone or together, some dated by a span; and at times the
    end of complete books or pods left for seed. They begin after the first day given, else anywhere."""
    day = first or draw(st.dates(FIRST, LAST))
    bears = [at for life in drawn.lives.values() for at in life.days if life.bears_on(at + timedelta(60))]
    if first is None and bears and draw(st.integers(0, 3)):
        day = draw(st.sampled_from(bears)) + timedelta(draw(st.integers(1, 90)))
    # weighed or counted throughout, so that seasons with a measure are common
    amounts = [kind for kind in _AMOUNTS if draw(st.sampled_from(["grams", "count", ""])) in ("", *kind)] or [*_AMOUNTS]
    often = [st.integers(0, 9), st.integers(1, 4), st.integers(3, 8)] if first is None else [st.integers(1, 4)]
    gaps = draw(st.sampled_from(often))
    least = 0 if first is None else 8
    steps = draw(st.lists(st.tuples(gaps, st.sampled_from(amounts), st.integers(0, 5)), min_size=least, max_size=most))
    together, alone = draw(st.booleans()), draw(st.booleans())
    found: list[Record] = []
    for gap, amount, choice in steps:
        day += timedelta(gap)
        bearing = drawn.bearing(day)
        if not bearing or day > LAST:
            continue
        labels = bearing if together and choice < 4 else [bearing[0 if alone else choice % len(bearing)]]
        on = draw(spans_holding(day)) if choice == 5 else Span(day, day)
        found.append(Picked(tuple(labels), on, **amount))
    if found and draw(st.integers(0, 5)) == 0:
        labels = drawn.bearing(day)
        found += [LeftForSeed(label, day, count=6) for label in labels[:1]]
    return found


@st.composite
def other_entries(draw: st.DrawFn, drawn: Drawn) -> list[Record]:
    """Complete books, flowers, covers and other care, weather and seed."""
    found: list[Record] = []
    for bed in drawn.beds:
        if draw(st.booleans()):
            since = draw(st.dates(FIRST, LAST - timedelta(700)))
            found.append(BooksKept(bed.name, since, since + timedelta(draw(st.integers(0, 700)))))
        found.append(Weather(draw(st.dates(FIRST, LAST)), bed=bed.name, t_min_c=-3.0, rain_mm=2.0))
    found += _covers(draw, drawn)
    found += _last_days(draw, drawn)
    for day in draw(st.lists(st.dates(FIRST, LAST), max_size=3)):
        amount = draw(st.sampled_from([{"litres": 30.0}, {"mm": 12.0}]))
        found.append(Watered(draw(spans_holding(day)), bed=draw(st.sampled_from(drawn.beds)).name, **amount))
    for day in draw(st.lists(st.dates(FIRST, LAST), max_size=5, unique=True)):
        labels = drawn.bearing(day)
        if labels:
            found.append(TrussCount(labels[0], "t1", day, opened=12, set=5, dropped=3))
            found.append(FlowerFate(labels[-1], "t2", 1, opened_on=day, end="lost to view"))
        begun = drawn.begun(day)
        if begun:
            found.append(SeedSaved(draw(st.sampled_from(begun)), day, lot="L1", grams=3.0, count=20))
            found.append(draw(_care(day, begun)))
        found.append(GerminationTest("L1", day, sown=10, germinated=7))
        found += _weather(drawn, day)
    return found


def _weather(drawn: Drawn, day: date) -> list[Record]:
    """A day's weather at the first site, at times without its lowest temperature, and at times in a bed too."""
    t_min_c, t_max_c = (None, 4.0, -3.5)[day.day % 3], (21.5, 5.0)[day.day % 2]
    found: list[Record] = [Weather(day, site=drawn.sites[0].name, t_min_c=t_min_c, t_max_c=t_max_c)]
    if day.day % 4 == 0:
        found.append(Weather(day, bed=drawn.beds[0].name, t_min_c=9.5, t_max_c=33.0))
    return found


# weighted so that one plant is allotted more than once in one trial
_TRIALS = (("cover", "bare", True, "1"), ("cover", "mulched", False, None), ("lot", "fresh", True, "1"))


def _care(day: date, labels: Sequence[str]) -> st.SearchStrategy[Record]:
    names = tuple(labels[:3])
    made: list[Record] = [
        Watered(day, labels=names, litres=9.0, minutes=3.0), Watered(day, labels=names, mm=8.0),
        Fed(day, labels=names, what="compost", amount_g=600.0),
        Damage(day, labels=names, cause="frost", extent=0.5), Visits(day, labels=names, watched_minutes=10.0, visits=4),
        Neighbour(day, labels=names, crop="squash", until=day), Noted(day, labels=names, what="in bud", cost=1.0),
        *(Allotted(names, day, trial=trial, arm=arm, by_lot=lot, block=block) for trial, arm, lot, block in _TRIALS),
    ]  # fmt: skip
    return st.sampled_from(made)


def _last_days(draw: st.DrawFn, drawn: Drawn) -> list[Record]:
    """Entries on the day a plant ended, on which another may have begun under its label."""
    found: list[Record] = []
    for label, life in drawn.lives.items():
        before = ["none", *life.states]
        ends = [day for day, state, old in zip(life.days, life.states, before, strict=False)
                if life.exact and state == ENDED and old in BEARING]  # fmt: skip
        if ends and draw(st.booleans()):
            day = draw(st.sampled_from(ends))
            found.append(Picked((label,), day, grams=draw(st.sampled_from([0.0, 700.0])), clearance=True))
            found.append(Watered(day, labels=(label,), mm=5.0))
    return found


def _covers(draw: st.DrawFn, drawn: Drawn) -> list[Record]:
    """Covers put on and taken off beds and labels, now and then several on one day."""
    found: list[Record] = []
    days = draw(st.lists(st.dates(FIRST, LAST), max_size=5))
    for number, day in enumerate([*days, *days[:2]]):
        begun = drawn.begun(day)
        kind = draw(st.sampled_from(["fleece", "net", None]))
        if number % 2 and begun:
            chosen = {"labels": tuple(begun[: draw(st.integers(1, 2))])}
        else:
            chosen = {"bed": draw(st.sampled_from(drawn.beds)).name}
        found.append(Uncovered(day, **chosen) if kind is None else Covered(day, cover=kind, **chosen))
    return found
