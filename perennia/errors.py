"""One family of exceptions: everything perennia raises on purpose is a PerenniaError."""

from __future__ import annotations

from collections.abc import Sequence

import attrs

_SHOWN = 20


class PerenniaError(Exception):
    """Base of every error that perennia raises on purpose; its text is written for the grower."""


class RecordError(PerenniaError, ValueError):
    """A single record breaks one of its own rules."""


class UnknownLabelError(PerenniaError, LookupError):
    """A label, bed, site, record id, view or column that this garden does not know."""


class StoreError(PerenniaError):
    """The garden's folder cannot be read or written as it is."""


class ReadOnlyError(StoreError):
    """A write was asked of a garden that was opened for reading."""


class QueryRefusedError(PerenniaError):
    """A query is not a plain SELECT over the garden's own views."""


class QueryLimitError(PerenniaError):
    """A query ran into its time or memory limit."""


class AnalysisError(PerenniaError, ValueError):
    """A question cannot be asked in this form (an unknown measure, an empty choice)."""


class IntakeError(PerenniaError, ValueError):
    """A file cannot be taken in, or an export written."""


class ArgumentError(PerenniaError, TypeError):
    """What a call was given is of another kind than it can be."""


@attrs.frozen
class Problem:
    """One thing wrong with one record of a batch.

    position is the record's place in the batch (0 for the first) or, for a correction without
    replacement, -1; where says what the record is in words; field is empty for a rule that spans
    fields; wrong, remedy are sentences without a full stop; rule is the rule's number in
    DEVELOPERS.md.
    """

    position: int
    where: str
    field: str
    wrong: str
    remedy: str
    rule: str

    def line(self) -> str:
        """The problem as one line: record, field, what is wrong, what would be right."""
        field = f", {self.field}" if self.field else ""
        return f"{self.where}{field}: {self.wrong}; {self.remedy} [{self.rule}]"


class RefusedError(PerenniaError):
    """A batch was refused whole; nothing of it was stored.

    problems holds one Problem a fault, in the order of the batch.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(self._text())

    def _text(self) -> str:
        records = len({problem.position for problem in self.problems})
        noun = "record is" if records == 1 else "records are"
        lines = [f"nothing was stored: {records} {noun} wrong"]
        lines += [problem.line() for problem in self.problems[:_SHOWN]]
        if len(self.problems) > _SHOWN:
            lines.append(f"... and {len(self.problems) - _SHOWN} more")
        return "\n  ".join(lines)

    def __reduce__(self) -> tuple[type[RefusedError], tuple[tuple[Problem, ...]]]:
        return (type(self), (self.problems,))
