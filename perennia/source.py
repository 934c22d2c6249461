"""What can be asked: the protocol of a garden, and of several taken together."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Literal, Protocol, overload, runtime_checkable

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

    from perennia.crops import CropProfile

As = Literal["pandas", "arrow"]


@runtime_checkable
class Source(Protocol):
    """Whatever the questions in perennia.analysis can be asked of."""

    @property
    def profiles(self) -> Mapping[str, CropProfile]:
        """The crop profiles in force, by botanical name."""
        ...

    @overload
    def sql(
        self, query: str, params: Sequence[Any] | Mapping[str, Any] | None = ..., *, as_: Literal["pandas"] = ...
    ) -> pd.DataFrame: ...
    @overload
    def sql(
        self, query: str, params: Sequence[Any] | Mapping[str, Any] | None = ..., *, as_: Literal["arrow"]
    ) -> pa.Table: ...
    def sql(
        self, query: str, params: Sequence[Any] | Mapping[str, Any] | None = None, *, as_: As = "pandas"
    ) -> pd.DataFrame | pa.Table:
        """One SELECT over the views, params bound to the ``?`` or ``$name`` of query; as_ is pandas or arrow."""
        ...

    @overload
    def table(
        self, view: str, *, labels: Collection[str] | None = ..., years: Collection[int] | None = ...,
        as_: Literal["pandas"] = ...,
    ) -> pd.DataFrame: ...  # fmt: skip
    @overload
    def table(
        self, view: str, *, labels: Collection[str] | None = ..., years: Collection[int] | None = ...,
        as_: Literal["arrow"],
    ) -> pa.Table: ...  # fmt: skip
    def table(
        self, view: str, *, labels: Collection[str] | None = None, years: Collection[int] | None = None,
        as_: As = "pandas",
    ) -> pd.DataFrame | pa.Table:  # fmt: skip
        """One view, whole or for some labels and years; as_ is pandas or arrow."""
        ...

    def history(self, label: str | Collection[str]) -> pd.DataFrame:
        """The whole life of one plant by its label or address, one row an entry; or of several, in their order."""
        ...

    def views(self) -> pd.DataFrame:
        """Every view and column with its description."""
        ...

    def up_to(self, day: date) -> Source:
        """The same as if the books ended with that day: what happened later is not seen."""
        ...
