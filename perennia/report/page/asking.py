"""Asking for the page: an answer becomes parts, and a question that cannot be answered a sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import TypeVar

import attrs

from perennia.analysis.result import Result
from perennia.errors import PerenniaError
from perennia.report.page.parts import Part, Said
from perennia.source import Source

_Answer = TypeVar("_Answer", bound=Result)


@attrs.frozen
class Answered:
    """A question by its name on the page, and its answer."""

    name: str
    result: Result


@attrs.frozen
class Books:
    """What a page is made of: whose books, of which season, on which day; whom to say how far it is; and what was
    answered so far, in order."""

    source: Source
    season: int
    season_name: str
    today: date
    say: Callable[[str], None]
    answers: list[Answered] = attrs.field(factory=list, init=False)

    def told(
        self, name: str, question: Callable[[], _Answer], parts: Callable[[_Answer], Iterable[Part]]
    ) -> tuple[Part, ...]:
        """The parts of an answer; where the question fails in words, one sentence with them."""
        try:
            result = question()
            found = tuple(parts(result))
        except PerenniaError as error:
            return (Said(f"{name}: this cannot be answered here. {sentence(str(error))}"),)
        if not any(answer.name == name for answer in self.answers):
            self.answers.append(Answered(name, result))
        return found

    def crops(self) -> tuple[str, ...]:
        """The crops of the books, also those that an answer has no row of."""
        found = self.source.sql("select distinct crop from plants where crop is not null order by crop")
        return tuple(map(str, found["crop"]))

    def answer(self, kind: type[_Answer]) -> _Answer | None:
        """The answer of a kind that an earlier section of the page got, if it did."""
        return next((one.result for one in self.answers if isinstance(one.result, kind)), None)


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "!", "?")) else ".")
