"""Lives of labels: which acts bear on a label, their order, the state after each, and the views plants and life."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import Any

import attrs

from perennia import crops
from perennia.lifecycle import BEGINNINGS, FIRST_DAY, OPENING, TRANSITIONS, Happening, Placement, place, rank
from tests.oracle.book import FAR, Book, Entry, Row

_ORIGINS = {
    "sown": "seed", "already_here": "already here", "acquired_plant": "bought plant", "acquired_root": "bought root",
    "acquired_root_set": "bought root", "division": "division", "division_set": "division", "cutting": "cutting",
}  # fmt: skip
_ENDS = {"died": "died", "removed": "removed", "divided_ending": "divided"}
BEARING = {state for act, state in TRANSITIONS if act == "picked"}
BORNE = ("picked", "left_for_seed", "truss_count", "flower_fate")


@attrs.frozen
class Act:
    """One life record as it bears on one label; mother is the label a daughter comes from."""

    label: str
    act: str
    entry: Entry
    mother: str | None = None

    @property
    def record(self) -> Any:
        """The record."""
        return self.entry.record

    @property
    def bed(self) -> str | None:
        """Bed named for this label: that of a division or cutting is where the daughters went."""
        if self.mother is None and self.entry.event in ("divided", "cutting_taken"):
            return None
        return getattr(self.record, "bed", None)

    @property
    def plain_day(self) -> date:
        """Day taken while nothing speaks against it: the first for what opens a stretch, else the last."""
        return (self.entry.first or FIRST_DAY) if self.act in OPENING else self.entry.last


@attrs.define
class Turn:
    """An act in its place: day, number under its label, states, and what must have happened unrecorded before it."""

    act: Act
    day: date
    number: int
    before: str
    after: str
    missed: tuple[str, ...]
    doubt: bool
    previous: date | None


@attrs.define
class Plant:
    """One life of a label. began is the day taken for its beginning, ended for its end."""

    label: str
    number: int
    turns: list[Turn]
    name: str = ""
    crop: str | None = None
    cultivar: str | None = None
    mother: str | None = None
    site: str | None = None
    starts: str = "01-01"
    ahead_days: int = 0
    borne_on: list[date] = attrs.Factory(list)

    @property
    def first(self) -> Turn:
        """The act it began with."""
        return self.turns[0]

    @property
    def began(self) -> date:
        """Day taken for its beginning: with an open start the last possible one, or the first on which it showed."""
        if self.first.day > FIRST_DAY:
            return self.first.day
        shown = [turn.day for turn in self.turns if turn.day > FIRST_DAY]
        return min([self.first.act.entry.last, *shown, *self.borne_on])

    @property
    def ended(self) -> date | None:
        """Day of its end."""
        return self.turns[-1].day if self.turns[-1].after == "ended" else None

    @property
    def ended_how(self) -> str | None:
        """Died, removed or divided."""
        return _ENDS[self.turns[-1].act.act] if self.ended else None

    @property
    def origin(self) -> str:
        """How it began."""
        return _ORIGINS[self.first.act.act]


def acts(book: Book) -> dict[str, list[Act]]:
    """Every act by label, in no order."""
    found: dict[str, list[Act]] = defaultdict(list)
    for entry in book.entries["life"]:
        record: Any = entry.record
        found[record.label].append(Act(record.label, _act_of(entry), entry))
        for daughter in getattr(record, "into", ()):
            kind = "cutting" if entry.event == "cutting_taken" else "division" if record.bed is None else "division_set"
            found[daughter].append(Act(daughter, kind, entry, record.label))
    return found


def _act_of(entry: Entry) -> str:
    record: Any = entry.record
    match entry.event:
        case "stored":
            return "stored_pot" if record.place == "pot" else "stored_bare"
        case "died_back":
            return f"died_back_{record.extent}"
        case "divided":
            return "divided" if record.mother_continues else "divided_ending"
        case "acquired":
            if record.kind == "plant":
                return "acquired_plant"
            return "acquired_root" if record.bed is None else "acquired_root_set"
    return entry.event


def walk(ordered: list[tuple[Act, date]]) -> list[Turn] | None:
    """The acts of a label in order with the states between them; None when one contradicts."""
    turns: list[Turn] = []
    state, previous = "none", None
    for number, (act, day) in enumerate(ordered, start=1):
        step = TRANSITIONS.get((act.act, state))
        if step is None:
            return None
        turns.append(Turn(act, day, number, state, step.after, step.inferred, step.doubt, previous))
        state, previous = step.after, day
    return turns


def turns_of(book: Book, label: str, own: list[Act]) -> list[Turn]:
    """A label's acts in order: as their days give it, unless that has gaps or contradicts and spans allow another."""
    plain = walk([(act, act.plain_day) for act in sorted(own, key=_plain_key)])
    borne = [(e.first or FIRST_DAY, e.last) for name in ("harvest", "flowering") for e in book.entries[name]
             if label in e.labels]  # fmt: skip
    if plain is not None and _all_borne(plain, borne):
        gaps = any(turn.doubt for turn in plain)
        if not gaps or not _overlapping(own):
            return plain
    found = _searched(own, borne)
    by_key = {(bytes.fromhex(act.entry.id), act.act): act for act in own}
    turns = walk([(by_key[item.key, item.act], item.on) for item in found if item.key])
    if turns is None:
        raise AssertionError(f"no legal order under {label}")
    return turns


def _searched(own: list[Act], borne: list[tuple[date, date]]) -> list[Placement]:
    happenings = [
        Happening(bytes.fromhex(act.entry.id), act.act, act.entry.first or FIRST_DAY, act.entry.last) for act in own
    ]
    pickings = [Happening(b"", "picked", first, last) for first, last in sorted(set(borne))]
    found = place([*happenings, *pickings])
    if found is None:
        raise AssertionError("no legal order")
    return found


def _plain_key(act: Act) -> tuple[date, int, str]:
    return act.plain_day, rank(act.act), act.entry.id


def _overlapping(own: list[Act]) -> bool:
    spans = [(act.entry.first or FIRST_DAY, act.entry.last) for act in own]
    return any(a[0] <= b[1] and b[0] <= a[1] for i, a in enumerate(spans) for b in spans[:i])


def _all_borne(turns: list[Turn], borne: list[tuple[date, date]]) -> bool:
    stretches = [
        (turn.day, after.day if after else FAR)
        for turn, after in zip(turns, [*turns[1:], None], strict=True)
        if turn.after in BEARING
    ]
    return all(any(start <= last and end >= first for start, end in stretches) for first, last in borne)


def plants(book: Book) -> list[Plant]:
    """Every life of every label, named."""
    found: list[Plant] = []
    for label, own in acts(book).items():
        lives: list[Plant] = []
        borne = [e.last for name in ("harvest", "flowering") for e in book.entries[name] if label in e.labels]
        for turn in turns_of(book, label, own):
            if turn.act.act in BEGINNINGS:
                lives.append(Plant(label, len(lives) + 1, [], borne_on=borne))
            lives[-1].turns.append(turn)
        for index, life in enumerate(lives):
            same_year = sum(1 for earlier in lives[:index] if earlier.began.year == life.began.year)
            life.name = f"{label}/{life.began.year}" + (f".{same_year + 1}" if same_year else "")
        found += lives
    for life in found:
        _describe(book, life, found)
    return found


def _describe(book: Book, life: Plant, everyone: list[Plant]) -> None:
    source = life
    while source.first.act.mother is not None:
        source = _mother_of(source, everyone)
    record = source.first.act.record
    life.crop, life.cultivar = record.crop, record.cultivar
    life.mother = _mother_of(life, everyone).name if life.first.act.mother else None
    bed = _first_bed(life, everyone)
    life.site = book.site_of(bed)
    profile = crops.profile(record.crop)
    life.starts = (profile.season_starts if profile else None) or book.starts_at(bed) or "01-01"
    life.ahead_days = int(profile.sow_ahead_days.value) if profile and profile.sow_ahead_days else 0


def _first_bed(life: Plant, everyone: list[Plant]) -> str | None:
    """The first bed it is known to have stood in, else that of its mother."""
    bed = next((turn.act.bed for turn in life.turns if turn.act.bed is not None), None)
    if bed is None and life.first.act.mother is not None:
        return _first_bed(_mother_of(life, everyone), everyone)
    return bed


def _mother_of(daughter: Plant, everyone: list[Plant]) -> Plant:
    """The life of the mother's label in which the division or cutting itself stands."""
    entry = daughter.first.act.entry
    return next(
        life for life in everyone
        if life.label == daughter.first.act.mother
        and any(turn.act.entry is entry and turn.act.mother is None for turn in life.turns)
    )  # fmt: skip


def plants_view(lives: list[Plant]) -> Iterator[Row]:
    """Rows of plants."""
    for life in lives:
        first = life.first.act
        since = getattr(first.record, "since", None)
        yield {
            "plant": life.name, "label": life.label, "crop": life.crop, "cultivar": life.cultivar,
            "origin": life.origin, "mother": life.mother, "lot": getattr(first.record, "lot", None),
            "plants": begun_plants(life),
            "began_from": first.entry.first, "began_on": life.began, "ended_on": life.ended,
            "ended_how": life.ended_how, "state": life.turns[-1].after, "site": life.site, "season_starts": life.starts,
            "sow_ahead_days": life.ahead_days, "given_plant_season": getattr(first.record, "plant_season", None),
            "since_from": since.start if since else None, "since_to": since.end if since else None,
            "life": life.number,
        }  # fmt: skip


def begun_plants(life: Plant) -> int:
    """Plants begun under the label; a division or cutting is one."""
    return 1 if life.first.act.mother else getattr(life.first.act.record, "plants", 1)


_LIFE_FIELDS = (
    "alive", "space_m2", "root_g", "roots_broken", "condition", "kept_because", "place", "protection", "box", "shoots",
    "to_cm", "extent", "cause", "reason", "note",
)  # fmt: skip


def life_view(lives: list[Plant], harvest: list[Row]) -> Iterator[Row]:
    """Rows of life: what was written, what must have happened before it, and regrowth that a picking shows."""
    for life in lives:
        for turn in life.turns:
            yield _written(life, turn)
        yield from (row for row, _ in inferred_acts(life, harvest))


def inferred_acts(life: Plant, harvest: list[Row]) -> Iterator[tuple[Row, bool]]:
    """Rows of life for what nobody wrote down, each with whether that is a doubt."""
    for turn in life.turns:
        for act in turn.missed:
            event = "stored" if act == "stored_bare" else act
            by = _by(life, turn, act, harvest)
            yield _inferred(life, event, _waited_from(life, turn), by, turn.number, turn.act.entry.id), turn.doubt
    yield from ((row, True) for row in _regrown(life, harvest))


def _written(life: Plant, turn: Turn) -> Row:
    act, record = turn.act, turn.act.record
    mothers = act.mother is None
    row = {name: getattr(record, name, None) for name in _LIFE_FIELDS}
    into = getattr(record, "into", None)
    return row | {
        "plant": life.name, "label": life.label, "crop": life.crop, "event": act.entry.event,
        "on_from": act.entry.first, "on_to": act.entry.last, "on": turn.day, "ordinal": turn.number, "inferred": False,
        "state": turn.after, "bed": act.bed, "plants": getattr(record, "plants", None) if mothers else None,
        "into": list(into) if into else None, "record_id": act.entry.id,
        # work and money are the mother's, once
        "minutes": record.minutes if mothers else None, "cost": record.cost if mothers else None,
    }  # fmt: skip


def _inferred(life: Plant, event: str, first: date | None, last: date, number: int, shown_by: str) -> Row:
    row = dict.fromkeys((*_LIFE_FIELDS, "state", "bed", "plants", "into", "minutes", "cost"))
    return row | {
        "plant": life.name, "label": life.label, "crop": life.crop, "event": event, "on_from": first, "on_to": last,
        "on": last, "ordinal": number, "inferred": True, "record_id": shown_by,
    }  # fmt: skip


def _by(life: Plant, turn: Turn, missed: str, harvest: list[Row]) -> date:
    """The last day by which a missed act had happened: coming up shows in the first crop, else in the act after."""
    waited = _waited_from(life, turn)
    if missed in ("emerged", "regrew") and turn.before in ("sown", "dormant") and waited is not None:
        return min((row["on_to"] for row in _borne_between(life, harvest, waited, turn.day)), default=turn.day)
    return turn.day


def _waited_from(life: Plant, turn: Turn) -> date | None:
    """From when on a missed act can have happened: of seed from its sowing on, whatever was done about it since."""
    return life.first.day if turn.before == "sown" else turn.previous


def _borne_between(life: Plant, harvest: list[Row], after: date, before: date) -> list[Row]:
    return [
        row for row in harvest
        if row["plant"] == life.name and row["event"] == "picked" and row["crop_taken"]
        and row["on_from"] is not None and row["on_from"] > after and row["on_to"] < before
    ]  # fmt: skip


def _regrown(life: Plant, harvest: list[Row]) -> Iterator[Row]:
    for turn, after in zip(life.turns, [*life.turns[1:], None], strict=True):
        if turn.after != "dormant" or (after is not None and "regrew" in after.missed):
            continue
        within = _borne_between(life, harvest, turn.day, after.day if after else FAR)
        if within:
            shows = min(within, key=lambda row: (row["on"], row["record_id"]))
            yield _inferred(life, "regrew", turn.day, shows["on"], turn.number, shows["record_id"])
