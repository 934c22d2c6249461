"""Every record class, by the event it is stored under."""

from __future__ import annotations

from typing import Any

import attrs

from perennia.errors import RecordError
from perennia.records.base import Record, event_of
from perennia.records.care import CARE_EVENTS
from perennia.records.fields import FieldRule, rule_of
from perennia.records.flowering import FLOWERING_EVENTS
from perennia.records.harvest import HARVEST_EVENTS
from perennia.records.life import LIFE_EVENTS
from perennia.records.places import Bed, Site
from perennia.records.seed import SEED_EVENTS
from perennia.records.weather import WEATHER_EVENTS

RECORDS: dict[str, type[Record]] = {
    event_of(cls): cls
    for cls in (
        Site, Bed, *LIFE_EVENTS, *HARVEST_EVENTS, *FLOWERING_EVENTS, *CARE_EVENTS, *WEATHER_EVENTS, *SEED_EVENTS
    )
}  # fmt: skip


def class_of(event: object) -> type[Record]:
    """The class stored under an event's name. Raises RecordError for an unknown one."""
    if not isinstance(event, str) or event not in RECORDS:
        raise RecordError(f"{event!r} is no event; known are {', '.join(RECORDS)}")
    return RECORDS[event]


def rules_of(cls: type[Record]) -> dict[str, FieldRule]:
    """Each field of a class with its rule, the class's own fields first, then minutes, cost and note."""
    attributes: list[attrs.Attribute[Any]] = list(attrs.fields(cls))
    attributes.sort(key=lambda attribute: attribute.name in ("minutes", "cost", "note"))
    return {attribute.name: rule_of(attribute) for attribute in attributes}
