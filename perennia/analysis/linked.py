"""Plants whose crops cannot be told apart, because in some season they went into one basket."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from perennia.analysis.units import Row


def linked_plants(rows: Sequence[Row]) -> list[list[str]]:
    """The plants of rows of season_summary, those linked by a shared picking in any of these seasons together.

    Plants in the order of the alphabet, groups in that of their first plant.
    """
    plants = sorted({str(row["plant"]) for row in rows})
    place = {plant: number for number, plant in enumerate(plants)}
    ties: dict[tuple[object, object], int] = {}
    edges = [
        (place[str(row["plant"])], ties.setdefault((row["season"], _tied_by(row)), len(ties)))
        for row in rows
    ]  # fmt: skip
    if not edges:
        return []
    one, other = np.transpose(edges)
    graph = sparse.coo_array((np.ones(one.size), (one, other + len(plants))), shape=(len(plants) + len(ties),) * 2)
    groups: dict[int, list[str]] = {}
    for plant, group in zip(plants, csgraph.connected_components(graph, directed=False)[1], strict=False):
        groups.setdefault(int(group), []).append(plant)
    return list(groups.values())


def _tied_by(row: Row) -> object:
    return row["unit"] if (row["sharing"] or 1) > 1 else row["plant"]
