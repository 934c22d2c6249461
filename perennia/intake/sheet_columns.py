"""Which columns a grower's sheet has: one sheet a table of the garden, one column a field of any of its events."""

from __future__ import annotations

import attrs

from perennia.intake.headings import heading_of, other_units
from perennia.records.base import Record
from perennia.records.catalogue import RECORDS, rules_of
from perennia.records.fields import FieldRule
from perennia.records.rules import AtLeastOne, ExactlyOne

READ_ME, CHOICES = "Read me", "Choices"
"""The sheets of a workbook that explain; they are no part of a book."""
_FIRST = ("labels", "label", "on")
_LAST = ("minutes", "cost", "note")
# longer lists of choices are told by their ends
_CHOICES_TOLD = 20


@attrs.frozen
class Column:
    """One column of a sheet: a field's name and, for each event that has the field, its rule there."""

    name: str
    rules: dict[str, FieldRule]
    needed_by: tuple[str, ...]

    @property
    def heading(self) -> str:
        """What stands above the column."""
        return heading_of(self.name, next(iter(self.rules.values())))

    @property
    def choices(self) -> tuple[str, ...]:
        """Everything that some event takes here; none when an event takes free text."""
        if not all(rule.choices for rule in self.rules.values()):
            return ()
        return tuple(dict.fromkeys(choice for rule in self.rules.values() for choice in rule.choices))

    @property
    def meanings(self) -> dict[str, tuple[str, ...]]:
        """Each meaning the field has on this sheet, with the events in which it has it."""
        events: dict[str, tuple[str, ...]] = {}
        for event, rule in self.rules.items():
            events[rule.meaning] = (*events.get(rule.meaning, ()), event)
        return events

    @property
    def allowed(self) -> str:
        """What a cell may hold, in words, and the units its heading may name."""
        words = "; or ".join(dict.fromkeys(_allowed(rule) for rule in self.rules.values()))
        units = other_units(next(iter(self.rules.values())))
        return f"{words}; the heading may say {' or '.join(units)} instead" if units else words


def _allowed(rule: FieldRule) -> str:
    if rule.kind == "flag":
        return "yes or no"
    if rule.kind == "labels":
        return "one or more names, parted by commas"
    if rule.kind == "text" and not rule.choices:
        return "what you like"
    if len(rule.choices) > _CHOICES_TOLD:
        return f"one of the list from {rule.choices[0]} to {rule.choices[-1]}"
    return rule.allowed()


@attrs.frozen
class Sheet:
    """One sheet: its title, its events in their usual order, and its columns after the first, ``event``."""

    title: str
    events: dict[str, type[Record]]
    columns: tuple[Column, ...]


def sheets() -> tuple[Sheet, ...]:
    """Every sheet, one a table of the garden."""
    tables: dict[str, dict[str, type[Record]]] = {}
    for event, cls in RECORDS.items():
        tables.setdefault(cls.table, {})[event] = cls
    return tuple(Sheet(table.capitalize(), events, _columns(events)) for table, events in tables.items())


def needed(cls: type[Record]) -> tuple[str, ...]:
    """The fields that have to be given: those that must be there and have no value of their own."""
    return tuple(
        name
        for name, rule in rules_of(cls).items()
        if rule.required and getattr(attrs.fields(cls), name).default is attrs.NOTHING
    )


def needed_together(cls: type[Record]) -> tuple[str, ...]:
    """What has to be given of several fields, in words."""
    words = []
    for rule in cls.rules:
        if isinstance(rule, AtLeastOne):
            words.append(f"at least one of {', '.join(rule.fields)}")
        elif isinstance(rule, ExactlyOne):
            words.append(f"either {rule.first} or {rule.second}")
    return tuple(words)


def left_empty(cls: type[Record]) -> dict[str, str]:
    """The fields whose empty cell has a meaning of its own, and that meaning."""
    words = {True: "yes", False: "no"}
    filled = {name: getattr(attrs.fields(cls), name).default for name, rule in rules_of(cls).items() if rule.required}
    return {
        name: words[default] if isinstance(default, bool) else str(default)
        for name, default in filled.items()
        if default is not attrs.NOTHING
    }


def _columns(events: dict[str, type[Record]]) -> tuple[Column, ...]:
    rules: dict[str, dict[str, FieldRule]] = {}
    needs: dict[str, tuple[str, ...]] = {}
    # a sheet on which some event has several labels has one column for them and for the single ones
    plants = "labels" if any("labels" in rules_of(cls) for cls in events.values()) else "label"
    for event, cls in events.items():
        for field, rule in rules_of(cls).items():
            name = plants if field in ("label", "labels") else field
            rules.setdefault(name, {})[event] = rule
            needs[name] = (*needs.get(name, ()), *([event] if field in needed(cls) else []))
    return tuple(Column(name, rules[name], needs[name]) for name in sorted(rules, key=_place))


def _place(name: str) -> int:
    """Where a field stands on its sheet; between the first and the last ones in the order of the records."""
    if name in _FIRST:
        return _FIRST.index(name)
    return len(_FIRST) + (1 + _LAST.index(name) if name in _LAST else 0)
