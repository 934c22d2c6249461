"""Seed saved from the plants, and how it germinates."""

from __future__ import annotations

from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record
from perennia.records.rules import NotMoreThan, RecordRule
from perennia.records.spans import Span, to_span


@attrs.frozen(field_transformer=f.enforce)
class SeedSaved(Record):
    """Seed of one plant put by under a lot's name."""

    table: ClassVar[str] = "seed"

    label: str = field(metadata=f.label("the mother plant"))
    on: Span = field(converter=to_span, metadata=f.span("when"))
    lot: str = field(metadata=f.label("the seed lot"))
    grams: float | None = field(default=None, metadata=f.number("weight of clean seed", "g"))
    count: int | None = field(default=None, metadata=f.whole("seeds"))


@attrs.frozen(field_transformer=f.enforce)
class GerminationTest(Record):
    """Seeds of a lot tested."""

    table: ClassVar[str] = "seed"
    rules: ClassVar[tuple[RecordRule, ...]] = (NotMoreThan("germinated", "sown"),)

    lot: str = field(metadata=f.label("the seed lot"))
    on: Span = field(converter=to_span, metadata=f.span("when"))
    sown: int = field(metadata=f.whole("seeds sown", "seeds", required=True, minimum=1))
    germinated: int = field(metadata=f.whole("seeds germinated", "seeds", required=True))


SEED_EVENTS: tuple[type[Record], ...] = (SeedSaved, GerminationTest)
