"""Plants whose crops cannot be told apart, because in some season they went into one basket."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Sequence

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from perennia.analysis.permutation import Integers
from perennia.analysis.units import Row


def linked_plants(rows: Sequence[Row]) -> list[list[str]]:
    """The plants of rows of season_summary, those linked by a shared picking in any of these seasons together.

    Plants in the order of the alphabet, groups in that of their first plant.
    """
    ties: dict[str, set[Hashable]] = {plant: set() for plant in sorted({str(row["plant"]) for row in rows})}
    for row in rows:
        ties[str(row["plant"])].add((row["season"], _tied_by(row)))
    groups: dict[int, list[str]] = {}
    for plant, group in zip(ties, linked(list(ties.values())).tolist(), strict=True):
        groups.setdefault(group, []).append(plant)
    return list(groups.values())


def linked(ties: Sequence[Collection[Hashable]]) -> Integers:
    """The number of the group of each, from 0 in the order of their first: those with a tie in common are one."""
    places: dict[Hashable, int] = {}
    edges = [(one, places.setdefault(tie, len(places))) for one, own in enumerate(ties) for tie in own]
    if not edges:
        return np.arange(len(ties))
    one, other = np.array(edges, dtype=np.int64).reshape(-1, 2).T
    graph = sparse.coo_array((np.ones(one.size), (one, other + len(ties))), shape=(len(ties) + len(places),) * 2)
    groups = csgraph.connected_components(graph, directed=False)[1][: len(ties)]
    return np.asarray(groups, dtype=np.int64)


def _tied_by(row: Row) -> Hashable:
    return str(row["unit"] if (row["sharing"] or 1) > 1 else row["plant"])
