"""What the grower and the weather's small helpers did: each on a bed or on labels."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record
from perennia.records.places import COVERS
from perennia.records.rules import ExactlyOne, NotAfter, RecordRule
from perennia.records.spans import Span, to_span

_BED_OR_LABELS = ExactlyOne("bed", "labels")
DAMAGE = ("frost", "wind", "hail", "heat", "slugs", "insects", "mites", "birds", "mammals", "fungus", "virus",
          "bacteria", "spray", "other")  # fmt: skip


@attrs.frozen(field_transformer=f.enforce)
class CareEvent(Record):
    """Base of care records: a day or span, and either one bed or one or more labels."""

    table: ClassVar[str] = "care"
    rules: ClassVar[tuple[RecordRule, ...]] = (_BED_OR_LABELS,)

    on: Span = field(converter=to_span, metadata=f.span("when"))
    bed: str | None = field(default=None, kw_only=True, metadata=f.label("the bed", required=False))
    labels: tuple[str, ...] | None = field(
        default=None, kw_only=True, converter=f.to_labels_or_none, metadata=f.labels("the plants", required=False)
    )


@attrs.frozen(field_transformer=f.enforce)
class Watered(CareEvent):
    """Water given: litres in all, or mm over the bed."""

    rules: ClassVar[tuple[RecordRule, ...]] = (_BED_OR_LABELS, ExactlyOne("litres", "mm"))

    litres: float | None = field(default=None, metadata=f.number("water given in all", "l"))
    mm: float | None = field(default=None, metadata=f.number("water given as depth", "mm"))


@attrs.frozen(field_transformer=f.enforce)
class Fed(CareEvent):
    """Fertiliser or compost given."""

    what: str = field(metadata=f.text("what was given", required=True))
    amount_g: float | None = field(default=None, metadata=f.number("amount in all", "g"))


@attrs.frozen(field_transformer=f.enforce)
class HandPollinated(CareEvent):
    """Flowers pollinated or tripped by hand."""

    trusses: tuple[str, ...] | None = field(
        default=None, converter=f.to_labels_or_none, metadata=f.labels("trusses treated", required=False)
    )


@attrs.frozen(field_transformer=f.enforce)
class Covered(CareEvent):
    """A cover put on."""

    cover: str = field(metadata=f.text("what was put on", required=True, choices=COVERS[1:]))


@attrs.frozen(field_transformer=f.enforce)
class Uncovered(CareEvent):
    """The cover last put on taken off."""


@attrs.frozen(field_transformer=f.enforce)
class Visits(CareEvent):
    """Flower visitors counted: visits seen in ``watched_minutes``, and flowers found slit at the base."""

    watched_minutes: float = field(metadata=f.number("time watched", "min", required=True, minimum=0.1))
    visits: int = field(metadata=f.whole("visits seen", "visits", required=True))
    robbed: int | None = field(default=None, metadata=f.whole("flowers found robbed", "flowers"))


@attrs.frozen(field_transformer=f.enforce)
class Damage(CareEvent):
    """Harm done to the plants."""

    cause: str = field(metadata=f.text("done by", required=True, choices=DAMAGE))
    extent: float | None = field(
        default=None, metadata=f.number("share of the top growth harmed", "fraction", minimum=0, maximum=1)
    )


@attrs.frozen(field_transformer=f.enforce)
class SoilMoisture(CareEvent):
    """Volumetric soil water measured."""

    theta: float = field(
        metadata=f.number("volume of water per volume of soil", "m3/m3", required=True, minimum=0, maximum=1)
    )
    depth_cm: float | None = field(default=None, metadata=f.number("depth measured at", "cm"))


@attrs.frozen(field_transformer=f.enforce)
class Neighbour(CareEvent):
    """Another crop standing close by, from ``on`` until a day if known."""

    rules: ClassVar[tuple[RecordRule, ...]] = (_BED_OR_LABELS, NotAfter("on", "until"))

    crop: str = field(metadata=f.text("what stands close by", required=True))
    until: date | None = field(default=None, converter=f.to_day_or_none, metadata=f.day("last day"))


@attrs.frozen(field_transformer=f.enforce)
class Noted(CareEvent):
    """An observation that fits nowhere else; the text goes in ``note``."""

    what: str = field(metadata=f.text("what was seen", required=True))


@attrs.frozen(field_transformer=f.enforce)
class Allotted(Record):
    """Plants allotted to one arm of a trial, in one block: by lot, or chosen.

    An arm is one of the things compared. A block is a group of places as alike as can be, each of which holds every
    arm; without one, the trial is one block. Of several records of one plant in one trial the latest counts.
    """

    table: ClassVar[str] = "care"

    labels: tuple[str, ...] = field(converter=f.to_labels, metadata=f.labels("the plants"))
    on: Span = field(converter=to_span, metadata=f.span("when"))
    trial: str = field(metadata=f.label("the trial's name"))
    arm: str = field(metadata=f.label("the arm of the trial, such as fresh or overwintered"))
    by_lot: bool = field(metadata=f.flag("drawn by lot, not chosen", required=True))
    block: str | None = field(
        default=None, metadata=f.label("the block of the trial; missing where it is one block", required=False)
    )


CARE_EVENTS: tuple[type[Record], ...] = (
    Watered, Fed, HandPollinated, Covered, Uncovered, Visits, Damage, SoilMoisture, Neighbour, Noted,
    Allotted,
)  # fmt: skip
