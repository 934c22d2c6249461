"""What every question answers with: a table, and what must be known to read it rightly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import attrs
import pandas as pd

from perennia.analysis.shown import NOTHING_FOUND, as_html, as_renderables

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType


@attrs.frozen(kw_only=True, eq=False)
class Result:
    """Base of all results.

    table: the answer, nullable types, missing stays missing. n: units the answer rests on. method: how it was reached.
    units: what one unit is and in what the figures are measured. cautions: what stands against taking it at face
    value, a sentence each. findings: the answer in sentences, in the order of the table.
    """

    table: pd.DataFrame
    n: int
    method: str
    units: str
    cautions: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()

    @property
    def shown_rows(self) -> pd.DataFrame:
        """The rows of the table that are worth a line each where it is printed; the cautions count any others."""
        return self.table

    def summary(self) -> str:
        """The whole answer in plain sentences: findings, n, units, method, cautions."""
        lines = list(self.findings or (NOTHING_FOUND,))
        lines += [f"n: {self.n}.", f"Units: {self.units}", f"Method: {self.method}"]
        if self.cautions:
            lines += ["Cautions:", *(f"- {caution}" for caution in self.cautions)]
        else:
            lines.append("Cautions: none.")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        """What a notebook shows of it: findings, the first rows, cautions."""
        return as_html(self)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        """What rich prints of it: the first rows, findings, cautions."""
        yield from as_renderables(self)


def framed(rows: Sequence[Mapping[str, object]], columns: Mapping[str, str]) -> pd.DataFrame:
    """A table of exactly these columns and pandas types, in this order, with a plain index; None becomes missing."""
    filled = {name: pd.Series([row[name] for row in rows], dtype=kind) for name, kind in columns.items()}
    return pd.DataFrame(filled, columns=list(columns), index=pd.RangeIndex(len(rows)))
