"""Cautions of the whole page, each said once, in the first place it belongs to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import attrs

from perennia.report.page.parts import Cautions, Group, Listed, Part, Said, Section

HOLD_TOO = "Cautions said elsewhere on this page hold here too, those for the crops among them."


def said_once(sections: Sequence[Section]) -> list[Section]:
    """The sections without a caution that stands earlier on the page, or in a sentence that is no caution of an answer,
    as those of the crops do; where some are left out, one line says that they hold."""
    said: dict[str, set[str]] = {}
    for section in sections:
        for name, line in _sentences(section.parts):
            said.setdefault(_key(line), set()).add(name)
    return [
        attrs.evolve(
            section, parts=tuple(_parts(section.parts, said)),
            sheets=tuple(attrs.evolve(sheet, parts=tuple(_parts(sheet.parts, said))) for sheet in section.sheets),
        )
        for section in sections
    ]  # fmt: skip


def _sentences(parts: Iterable[Part]) -> Iterator[tuple[str, str]]:
    """Sentences with the name of what each is about."""
    for part in parts:
        if isinstance(part, Said):
            yield "", part.text
        elif isinstance(part, Listed):
            yield from ((group.name, line) for group in part.groups for line in group.lines)


def _parts(parts: Iterable[Part], said: dict[str, set[str]]) -> Iterator[Part]:
    for part in parts:
        if not isinstance(part, Cautions):
            yield part
            continue
        groups = [Group(group.name, tuple(_new(group, said))) for group in part.groups]
        if groups != list(part.groups):
            groups.append(Group("", (HOLD_TOO,)))
        yield Cautions(tuple(group for group in groups if group.lines))


def _new(group: Group, said: dict[str, set[str]]) -> Iterator[str]:
    """The lines of a group that were not said of the same, or of nothing named; a line may itself begin with crops."""
    for line in group.lines:
        if not any(said.get(_key(text), set()) & {"", group.name} for text in (line, line.partition(": ")[2])):
            said.setdefault(_key(line), set()).add(group.name)
            yield line


def _key(line: str) -> str:
    """A sentence without its full stop, which a source in brackets may lack."""
    return line.removesuffix(".")
