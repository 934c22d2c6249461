"""What was asked for by a name that nothing here has."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from perennia.checking import arguments
from perennia.checking.words import nearest

if TYPE_CHECKING:
    from perennia.source import Source

_PLANTS = "select label, plant, crop from plants"


def unknown_names(
    source: Source, labels: Collection[str] | None, crops: Collection[str] | None
) -> tuple[str, ...]:
    """A caution for each of the labels (or addresses) and crops asked for that no plant has, with those near it.

    Raises ArgumentError when either is of another kind.
    """
    if labels is None and crops is None:
        return ()
    plants = source.sql(_PLANTS)
    called, grown = {*plants["label"], *plants["plant"]}, {*plants["crop"].dropna()}
    said = [
        f"No plant here has the label {name}{nearest(name, called)}."
        for name in dict.fromkeys(arguments.names(labels or (), "labels")) if name not in called
    ]  # fmt: skip
    said += [
        f"No plant here is of the crop {name}{nearest(name, grown)}."
        for name in dict.fromkeys(arguments.names(crops or (), "crops")) if name not in grown
    ]  # fmt: skip
    return tuple(said)
