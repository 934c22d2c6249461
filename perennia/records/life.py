"""What happens to a plant: every event of its life. ``label`` and ``on`` come first in each."""

from __future__ import annotations

from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record
from perennia.records.rules import NotAfter, NotOwnDaughter, RecordRule
from perennia.records.spans import Span, to_span, to_span_or_none

CONDITIONS = ("sound", "soft", "shrivelled", "rotten", "damaged", "sprouting")
STORE_PLACES = ("pot", "bare root")
PROTECTIONS = ("none", "mulch", "fleece", "tunnel", "frost-free", "heated")
EXTENTS = ("partial", "whole")
ACQUIRED = ("plant", "root")


@attrs.frozen(field_transformer=f.enforce)
class LifeEvent(Record):
    """Base of the life events: one plant, one day or span."""

    table: ClassVar[str] = "life"

    label: str = field(metadata=f.label("the plant"))
    on: Span = field(converter=to_span, metadata=f.span("when"))


@attrs.frozen(field_transformer=f.enforce)
class Sown(LifeEvent):
    """Seed sown, in place or to be raised and planted out. A stand has plants > 1."""

    crop: str = field(metadata=f.text("botanical name of the crop", required=True))
    cultivar: str | None = field(default=None, metadata=f.text("cultivar"))
    bed: str | None = field(
        default=None, metadata=f.label("bed sown in; missing when raised elsewhere", required=False)
    )
    plants: int = field(default=1, metadata=f.whole("plants under this label", required=True, minimum=1))
    lot: str | None = field(default=None, metadata=f.label("seed lot", required=False))
    space_m2: float | None = field(default=None, metadata=f.number("ground given to the label", "m2", minimum=0.0001))


@attrs.frozen(field_transformer=f.enforce)
class AlreadyHere(LifeEvent):
    """A plant that stood here before the books began. ``since`` is when it began, as far as known."""

    rules: ClassVar[tuple[RecordRule, ...]] = (NotAfter("since", "on"),)

    crop: str = field(metadata=f.text("botanical name of the crop", required=True))
    since: Span | None = field(
        default=None, converter=to_span_or_none, metadata=f.span("when the plant began", required=False)
    )
    cultivar: str | None = field(default=None, metadata=f.text("cultivar"))
    bed: str | None = field(default=None, metadata=f.label("bed it stands in", required=False))
    plants: int = field(default=1, metadata=f.whole("plants under this label", required=True, minimum=1))
    plant_season: int | None = field(
        default=None, metadata=f.whole("its season of life in the season of this entry, 1 for the first", minimum=1)
    )
    space_m2: float | None = field(default=None, metadata=f.number("ground given to the label", "m2", minimum=0.0001))


@attrs.frozen(field_transformer=f.enforce)
class Acquired(LifeEvent):
    """A young plant or a dormant root bought or given."""

    crop: str = field(metadata=f.text("botanical name of the crop", required=True))
    kind: str = field(metadata=f.text("young plant or dormant root", required=True, choices=ACQUIRED))
    cultivar: str | None = field(default=None, metadata=f.text("cultivar"))
    bed: str | None = field(default=None, metadata=f.label("bed planted into at once", required=False))
    plants: int = field(default=1, metadata=f.whole("plants under this label", required=True, minimum=1))
    plant_season: int | None = field(
        default=None, metadata=f.whole("its season of life in the season of this entry, 1 for the first", minimum=1)
    )
    origin: str | None = field(default=None, metadata=f.text("where it came from"))
    space_m2: float | None = field(default=None, metadata=f.number("ground given to the label", "m2", minimum=0.0001))


@attrs.frozen(field_transformer=f.enforce)
class Emerged(LifeEvent):
    """Seedlings seen above ground."""

    alive: int | None = field(default=None, metadata=f.whole("seedlings up", "plants", minimum=1))


@attrs.frozen(field_transformer=f.enforce)
class Planted(LifeEvent):
    """Planted out for the first time (a raised seedling, an acquired plant or root)."""

    bed: str = field(metadata=f.label("bed planted into"))
    space_m2: float | None = field(default=None, metadata=f.number("ground given to the label", "m2", minimum=0.0001))


@attrs.frozen(field_transformer=f.enforce)
class Counted(LifeEvent):
    """Plants of a stand found alive."""

    alive: int = field(metadata=f.whole("plants alive", "plants", required=True, minimum=1))


@attrs.frozen(field_transformer=f.enforce)
class Moved(LifeEvent):
    """Moved to another bed with the rootball, or its pot carried there."""

    bed: str = field(metadata=f.label("bed moved to"))


@attrs.frozen(field_transformer=f.enforce)
class Lifted(LifeEvent):
    """The root taken out of the ground or out of its pot."""

    root_g: float | None = field(default=None, metadata=f.number("weight of the root", "g"))
    roots_broken: bool | None = field(default=None, metadata=f.flag("roots broken in lifting"))
    condition: str | None = field(default=None, metadata=f.text("state of the root", choices=CONDITIONS))
    kept_because: str | None = field(default=None, metadata=f.text("why this root is kept"))


@attrs.frozen(field_transformer=f.enforce)
class Stored(LifeEvent):
    """Put away for the winter: a lifted root bare or boxed, or a plant in its pot under cover."""

    place: str = field(metadata=f.text("how it is kept", required=True, choices=STORE_PLACES))
    protection: str | None = field(default=None, metadata=f.text("kept from frost by", choices=PROTECTIONS))
    box: str | None = field(default=None, metadata=f.label("box or shelf", required=False))


@attrs.frozen(field_transformer=f.enforce)
class StoreChecked(LifeEvent):
    """Looked at in store."""

    condition: str = field(metadata=f.text("state of the root", required=True, choices=CONDITIONS))


@attrs.frozen(field_transformer=f.enforce)
class Mulched(LifeEvent):
    """Covered in the ground against frost."""

    depth_cm: float | None = field(default=None, metadata=f.number("depth of the mulch", "cm"))
    material: str | None = field(default=None, metadata=f.text("mulch of"))


@attrs.frozen(field_transformer=f.enforce)
class Replanted(LifeEvent):
    """A wintered root or pot planted again."""

    bed: str | None = field(default=None, metadata=f.label("bed planted into; missing for the same", required=False))
    space_m2: float | None = field(default=None, metadata=f.number("ground given to the label", "m2", minimum=0.0001))


@attrs.frozen(field_transformer=f.enforce)
class Regrew(LifeEvent):
    """New shoots seen from an old root."""

    shoots: int | None = field(default=None, metadata=f.whole("shoots standing", "shoots", minimum=1))


@attrs.frozen(field_transformer=f.enforce)
class Flowered(LifeEvent):
    """First flowers open."""


@attrs.frozen(field_transformer=f.enforce)
class CutBack(LifeEvent):
    """Top growth cut back by the grower; the plant lives on."""

    to_cm: float | None = field(default=None, metadata=f.number("height left standing", "cm"))


@attrs.frozen(field_transformer=f.enforce)
class DiedBack(LifeEvent):
    """Top growth died, in part or as a whole; the root may live."""

    extent: str = field(default="whole", metadata=f.text("how much", required=True, choices=EXTENTS))
    cause: str | None = field(default=None, metadata=f.text("frost, drought, age ..."))


@attrs.frozen(field_transformer=f.enforce)
class Died(LifeEvent):
    """Found dead, root and all."""

    cause: str | None = field(default=None, metadata=f.text("frost, rot, slugs ..."))


@attrs.frozen(field_transformer=f.enforce)
class Removed(LifeEvent):
    """Taken out alive on purpose: composted, given away, sold."""

    reason: str | None = field(default=None, metadata=f.text("why"))


@attrs.frozen(field_transformer=f.enforce)
class Divided(LifeEvent):
    """The root divided; each part in ``into`` begins a life of its own."""

    rules: ClassVar[tuple[RecordRule, ...]] = (NotOwnDaughter(),)

    into: tuple[str, ...] = field(converter=f.to_labels, metadata=f.labels("labels of the new plants"))
    mother_continues: bool = field(
        default=False, metadata=f.flag("whether a plant goes on under the old label", required=True)
    )
    bed: str | None = field(default=None, metadata=f.label("bed the parts were planted in at once", required=False))


@attrs.frozen(field_transformer=f.enforce)
class CuttingTaken(LifeEvent):
    """Cuttings taken; each in ``into`` begins a life of its own, the mother goes on."""

    rules: ClassVar[tuple[RecordRule, ...]] = (NotOwnDaughter(),)

    into: tuple[str, ...] = field(converter=f.to_labels, metadata=f.labels("labels of the new plants"))
    bed: str | None = field(default=None, metadata=f.label("bed the cuttings were struck in", required=False))


LIFE_EVENTS: tuple[type[LifeEvent], ...] = (
    Sown, AlreadyHere, Acquired, Emerged, Planted, Counted, Moved, Lifted, Stored, StoreChecked, Mulched,
    Replanted, Regrew, Flowered, CutBack, DiedBack, Died, Removed, Divided, CuttingTaken,
)  # fmt: skip
