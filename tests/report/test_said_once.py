"""Cautions of the page are said once, and where one is left out a line says that it holds."""

from __future__ import annotations

from perennia.report.page.parts import Cautions, Group, Part, Said, Section, Sheet, listed
from perennia.report.page.said_once import HOLD_TOO, said_once


def section(anchor: str, *parts: Part) -> Section:
    return Section(anchor, anchor, parts)


def cautions(*lines: str, crop: str = "") -> Cautions:
    return Cautions((Group(crop, lines),))


def lines(found: Section) -> list[str]:
    parts = [*found.parts, *(part for sheet in found.sheets for part in sheet.parts)]
    return [line for part in parts if isinstance(part, Cautions) for group in part.groups for line in group.lines]


def test_a_caution_stands_in_its_first_place_only() -> None:
    first, second = said_once([section("a", cautions("One.", "Two.")), section("b", cautions("Two.", "Three."))])
    assert lines(first) == ["One.", "Two."]
    assert lines(second) == ["Three.", HOLD_TOO]


def test_the_same_words_of_another_crop_are_another_caution() -> None:
    found = said_once([section("a", cautions("2 seasons left out.", crop="bean"), cautions("2 seasons left out."),
                               cautions("2 seasons left out.", crop="pea"))])  # fmt: skip
    assert lines(found[0]) == ["2 seasons left out."] * 2 + [HOLD_TOO]


def test_what_can_hurt_someone_stands_with_the_cautions_of_the_crops() -> None:
    keep = cautions("bean, pea: Boil them (agency).", "Reminders, no advice.", "Look at it.")
    at_crops = section("crops", Said("Reminders, no advice."), listed(["Boil them (agency)"]))
    kept, crops = said_once([section("keep", keep), at_crops])
    assert lines(kept) == ["Look at it.", HOLD_TOO]
    assert crops == at_crops


def test_nothing_is_changed_where_nothing_is_said_twice() -> None:
    sections = [Section("a", "a", (cautions("One."), Said("Two.")), (Sheet("s", "s", (cautions("Three."),)),))]
    assert said_once(sections) == sections
