"""What a section of the page is made of. Texts are plain; the template escapes every one of them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Literal

import attrs


@attrs.frozen
class Said:
    """A paragraph."""

    kind: ClassVar[str] = "said"
    text: str


@attrs.frozen
class Group:
    """Sentences about one thing, by its name, or about no one thing where the name is empty."""

    name: str
    lines: tuple[str, ...]


@attrs.frozen
class Listed:
    """Sentences, one a line, in groups. The first ``shown`` of a group stand open, the others behind a line that says
    how many they are."""

    kind: ClassVar[str] = "listed"
    groups: tuple[Group, ...]
    shown: int = 12


@attrs.frozen
class Cautions:
    """What stands against taking an answer at face value, all of it in sight."""

    kind: ClassVar[str] = "cautions"
    groups: tuple[Group, ...]


def listed(lines: Iterable[str], shown: int = 12) -> Listed:
    """Sentences in one group without a name."""
    return Listed((Group("", tuple(lines)),), shown)


@attrs.frozen
class Column:
    """The head of a column, and what its cells are: numbers stand to the right, days are never broken."""

    heading: str
    holds: Literal["text", "number", "day"] = "text"


@attrs.frozen
class Tabled:
    """A table, its cells as they are read. note: what was left out of it. folded: behind a line with its caption."""

    kind: ClassVar[str] = "tabled"
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    folded: bool = False


@attrs.frozen
class Drawn:
    """A figure as SVG of our own making, with the table behind it."""

    kind: ClassVar[str] = "drawn"
    svg: str
    caption: str
    table: Tabled


@attrs.frozen
class Headed:
    """A heading within a section, to which links may lead."""

    kind: ClassVar[str] = "headed"
    anchor: str
    title: str


@attrs.frozen
class Link:
    """A place on the page by its name."""

    anchor: str
    text: str


@attrs.frozen
class Linked:
    """Links in a row, under the name of what they have in common."""

    kind: ClassVar[str] = "linked"
    name: str
    links: tuple[Link, ...]


@attrs.frozen
class Facts:
    """Names and what is said of them."""

    kind: ClassVar[str] = "facts"
    pairs: tuple[tuple[str, str], ...]


Part = Said | Listed | Cautions | Tabled | Drawn | Headed | Linked | Facts


@attrs.frozen
class Section:
    """A section with its heading; a sheet begins a page of its own when printed."""

    anchor: str
    title: str
    parts: tuple[Part, ...]
    sheets: tuple[Sheet, ...] = ()


@attrs.frozen
class Sheet:
    """One plant's page within a section."""

    anchor: str
    title: str
    parts: tuple[Part, ...]
