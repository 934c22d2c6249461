"""What every record has in common."""

from __future__ import annotations

import re
from typing import ClassVar

import attrs
from attrs import field

from perennia.errors import RecordError
from perennia.records import fields as f
from perennia.records.rules import RecordRule

_CAPITAL = re.compile(r"(?<!^)(?=[A-Z])")


@attrs.frozen(field_transformer=f.enforce)
class Record:
    """Base of every record. table is the Delta table it goes to; rules span its fields.

    minutes (time spent), cost (the grower's own currency) and note may go with any record.
    """

    table: ClassVar[str] = ""
    rules: ClassVar[tuple[RecordRule, ...]] = ()

    minutes: float | None = field(default=None, kw_only=True, metadata=f.number("time spent", "min"))
    cost: float | None = field(default=None, kw_only=True, metadata=f.number("money spent, the grower's currency", ""))
    note: str | None = field(default=None, kw_only=True, metadata=f.text("anything else worth keeping"))

    def __attrs_post_init__(self) -> None:
        for rule in self.rules:
            if not rule.holds(self):
                raise RecordError(f"{type(self).__name__}: {rule.wrong}; {rule.remedy}")


def event_of(cls: type[Record]) -> str:
    """The event name a class is stored under: ``DiedBack`` is ``died_back``."""
    return _CAPITAL.sub("_", cls.__name__).lower()
