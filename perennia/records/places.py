"""Where plants stand: sites and beds."""

from __future__ import annotations

from typing import ClassVar

import attrs
from attrs import field

from perennia.records import fields as f
from perennia.records.base import Record

COVERS = ("open", "net", "fleece", "tunnel", "glasshouse", "indoors")


@attrs.frozen(field_transformer=f.enforce)
class Site(Record):
    """A garden or field with one climate. season_starts is a month and day, ``07-01``; when missing it is
    1 January at latitude 0 and north of it, 1 July south of it."""

    table: ClassVar[str] = "sites"

    name: str = field(metadata=f.label("the site's name"))
    latitude: float | None = field(
        default=None, metadata=f.number("latitude, north positive", "degrees", minimum=-90, maximum=90)
    )
    longitude: float | None = field(
        default=None, metadata=f.number("longitude, east positive", "degrees", minimum=-180, maximum=180)
    )
    elevation_m: float | None = field(
        default=None, metadata=f.number("height above the sea", "m", minimum=-430, maximum=9000)
    )
    season_starts: str | None = field(
        default=None,
        metadata=f.text(
            "first day of the growing year, month-day",
            choices=[
                f"{month:02d}-{day:02d}"
                for month, days in enumerate((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31), start=1)
                for day in range(1, days + 1)
            ],
        ),
    )


@attrs.frozen(field_transformer=f.enforce)
class Bed(Record):
    """A bed, row, pot bench or other place at a site. area_m2 is its cropped area; container is given for pots."""

    table: ClassVar[str] = "beds"

    name: str = field(metadata=f.label("the bed's name"))
    site: str = field(metadata=f.label("the site it lies on"))
    cover: str = field(default="open", metadata=f.text("what is over it as a rule", required=True, choices=COVERS))
    area_m2: float | None = field(default=None, metadata=f.number("cropped area", "m2", minimum=0.01))
    container: str | None = field(default=None, metadata=f.text("kind of pot or tub; missing for open soil"))
    soil: str | None = field(default=None, metadata=f.text("kind of soil or compost"))
