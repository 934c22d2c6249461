"""What was taken from the plants, what was left for seed, and when the books were complete."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record
from perennia.records.rules import AtLeastOne, NotAfter, RecordRule, ZeroTogether
from perennia.records.spans import Span, to_span


@attrs.frozen(field_transformer=f.enforce)
class Picked(Record):
    """A picking off one label, or one off several together (shared evenly between them in the views).

    grams=0 or count=0 means looked, nothing ripe. clearance=True is a strip before frost or lifting.
    """

    table: ClassVar[str] = "harvest"
    rules: ClassVar[tuple[RecordRule, ...]] = (AtLeastOne(("grams", "count")), ZeroTogether("grams", "count"))

    labels: tuple[str, ...] = field(converter=f.to_labels, metadata=f.labels("plants picked, together"))
    on: Span = field(converter=to_span, metadata=f.span("when"))
    grams: float | None = field(default=None, metadata=f.number("weight picked off all labels together", "g"))
    count: int | None = field(default=None, metadata=f.whole("pods, fruits, stalks ... off all labels together"))
    use: str | None = field(default=None, metadata=f.text("kitchen, sold, dried seed ..."))
    grade: str | None = field(default=None, metadata=f.text("the grower's own grade"))
    clearance: bool = field(
        default=False, metadata=f.flag("everything stripped, ripe or not, before frost or lifting", required=True)
    )


@attrs.frozen(field_transformer=f.enforce)
class LeftForSeed(Record):
    """Pods or fruits left hanging for seed: a treatment, shown beside the crop and never added to it."""

    table: ClassVar[str] = "harvest"

    label: str = field(metadata=f.label("the plant"))
    on: Span = field(converter=to_span, metadata=f.span("when"))
    count: int | None = field(default=None, metadata=f.whole("pods or fruits left", minimum=1))


@attrs.frozen(field_transformer=f.enforce)
class BooksKept(Record):
    """Between these days every picking in this bed was written down, so a plant without one cropped nothing."""

    table: ClassVar[str] = "harvest"
    rules: ClassVar[tuple[RecordRule, ...]] = (NotAfter("since", "until"),)

    bed: str = field(metadata=f.label("the bed"))
    since: date | None = field(converter=f.to_day_or_none, metadata=f.day("first day", required=True))
    until: date | None = field(converter=f.to_day_or_none, metadata=f.day("last day", required=True))


HARVEST_EVENTS: tuple[type[Record], ...] = (Picked, LeftForSeed, BooksKept)
