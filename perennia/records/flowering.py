"""What became of flowers, one by one or counted by the truss."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record
from perennia.records.rules import AtLeastOne, NotAfter, NotMoreThan, RecordRule
from perennia.records.spans import Span, to_span

ENDS = ("flower dropped", "pod dropped", "picked", "full size", "damaged", "lost to view")


@attrs.frozen(field_transformer=f.enforce)
class FlowerFate(Record):
    """One flower followed from opening to its end. position 1 is the lowest on the truss."""

    table: ClassVar[str] = "flowering"
    rules: ClassVar[tuple[RecordRule, ...]] = (
        AtLeastOne(("opened_on", "set_on", "ended_on")),
        NotAfter("opened_on", "set_on"),
        NotAfter("set_on", "ended_on"),
        NotAfter("opened_on", "ended_on"),
    )

    label: str = field(metadata=f.label("the plant"))
    truss: str = field(metadata=f.label("the truss, as the grower marks it"))
    position: int = field(metadata=f.whole("place on the truss, 1 the lowest", required=True, minimum=1))
    opened_on: date | None = field(default=None, converter=f.to_day_or_none, metadata=f.day("flower open"))
    set_on: date | None = field(default=None, converter=f.to_day_or_none, metadata=f.day("pod or fruit first seen"))
    ended_on: date | None = field(default=None, converter=f.to_day_or_none, metadata=f.day("end seen"))
    end: str | None = field(default=None, metadata=f.text("what became of it", choices=ENDS))


@attrs.frozen(field_transformer=f.enforce)
class TrussCount(Record):
    """Flowers and pods of one truss counted on one day, each number since the truss began."""

    table: ClassVar[str] = "flowering"
    rules: ClassVar[tuple[RecordRule, ...]] = (
        AtLeastOne(("opened", "set", "dropped", "full_size")),
        NotMoreThan("set", "opened"),
        NotMoreThan("full_size", "opened"),
    )

    label: str = field(metadata=f.label("the plant"))
    truss: str = field(metadata=f.label("the truss, as the grower marks it"))
    on: Span = field(converter=to_span, metadata=f.span("when"))
    opened: int | None = field(default=None, metadata=f.whole("flowers opened so far", "flowers"))
    set: int | None = field(default=None, metadata=f.whole("pods or fruits set so far", "pods"))
    dropped: int | None = field(default=None, metadata=f.whole("flowers and pods dropped so far"))
    full_size: int | None = field(default=None, metadata=f.whole("pods or fruits grown to full size so far"))


FLOWERING_EVENTS: tuple[type[Record], ...] = (FlowerFate, TrussCount)
