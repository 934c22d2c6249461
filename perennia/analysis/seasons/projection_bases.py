"""Finished seasons that a running one can be held against: its own, those of its crop and stock, those of its crop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

import attrs

from perennia.analysis.seasons.picking_curves import Key, PickingCurve
from perennia.analysis.seasons.projecting import LEAST_SEASONS, Prospect, prospect
from perennia.analysis.units import Row

_ROUNDING = 1e-9
Place = tuple[str | None, str | None]
"""Site and cover."""


@attrs.frozen(eq=False)
class Basis:
    """Finished curves, gathered to units, and what they are. years: the season of each unit; places: where they stood.

    Running seasons that stand at one day are held against it alike, which is worked out once.
    """

    name: str
    units: Mapping[tuple[int, str], Sequence[PickingCurve]]
    years: Sequence[int]
    places: frozenset[Place]
    _totals: Sequence[float]
    _standings: dict[tuple[date, int], tuple[bool, Prospect | None]] = attrs.field(factory=dict, init=False)

    def standing(self, running: PickingCurve) -> tuple[bool, Prospect | None]:
        """Whether every unit had its whole crop in by the end of the running season's last day, and what the units say
        of a season by what each had in by then."""
        at = running.on(running.visits[-1]), int(running.row["season"])
        if at not in self._standings:
            shares = self._shares(*at)
            self._standings[at] = all(share > 1 - _ROUNDING for share in shares), prospect(shares, self.years)
        return self._standings[at]

    def _shares(self, day: date, season: int) -> list[float]:
        """What each unit had in by the end of a day of a season, of its whole crop."""
        return [
            sum(curve.by_day(day, season) for curve in unit) / total
            for unit, total in zip(self.units.values(), self._totals, strict=True)
        ]


class FinishedSeasons:
    """The finished curves of a garden, and the bases that running seasons share, each gathered once."""

    def __init__(self, curves: Mapping[Key, PickingCurve]) -> None:
        # a date that one half of the world picks on lies in the winter of the other
        self._by_crop: dict[tuple[object, object, object], list[PickingCurve]] = {}
        self._by_plant: dict[tuple[object, object, object], list[PickingCurve]] = {}
        self._bases: dict[tuple[object, ...], tuple[Basis, ...]] = {}
        for curve in curves.values():
            if curve.finished and curve.total > 0 and not curve.row["spans_left_out"]:
                crop, measure, plant = (curve.row[name] for name in ("crop", "measure", "plant"))
                self._by_crop.setdefault((crop, measure, curve.year_begins), []).append(curve)
                self._by_plant.setdefault((crop, measure, plant), []).append(curve)

    def bases(self, running: PickingCurve) -> Iterator[Basis]:
        """The finished seasons to go by, the nearest first: of earlier years, as those finished in this one are the
        ones that ended early, and of growing years that begin on the same day."""
        row = running.row
        own = _gathered([
            curve for curve in self._by_plant.get((row["crop"], row["measure"], row["plant"]), ())
            if _is_earlier(curve, row) and (row["stock"] is None or curve.row["stock"] == row["stock"])
        ])  # fmt: skip
        if len(own) >= LEAST_SEASONS:
            yield _basis("own seasons", own)
        alike = row["crop"], row["measure"], row["season"], row["stock"], running.year_begins
        if alike not in self._bases:
            self._bases[alike] = tuple(self._of_crop(row, running.year_begins))
        yield from self._bases[alike]

    def _of_crop(self, row: Row, year_begins: tuple[int, int]) -> Iterator[Basis]:
        of_crop = self._by_crop.get((row["crop"], row["measure"], year_begins), ())
        known = [curve for curve in of_crop if _is_earlier(curve, row)]
        units = _gathered(known)
        whole = {curve.unit for curve in known} - {curve.unit for curve in known if curve.row["stock"] != row["stock"]}
        if row["stock"] is not None and len(whole) >= LEAST_SEASONS:
            yield _basis(f"crop, {row['stock']}", {key: units[key] for key in sorted(whole)})
        yield _basis("crop", units)


def _gathered(curves: Sequence[PickingCurve]) -> dict[tuple[int, str], list[PickingCurve]]:
    """Curves by the unit they belong to."""
    units: dict[tuple[int, str], list[PickingCurve]] = {}
    for curve in curves:
        units.setdefault(curve.unit, []).append(curve)
    return units


def _is_earlier(curve: PickingCurve, row: Row) -> bool:
    return int(curve.row["season"]) < int(row["season"])


def _basis(name: str, units: Mapping[tuple[int, str], Sequence[PickingCurve]]) -> Basis:
    return Basis(
        name, units, years=[season for season, _ in units],
        places=frozenset((curve.row["site"], curve.row["cover"]) for unit in units.values() for curve in unit),
        totals=[sum(curve.total for curve in unit) for unit in units.values()],
    )  # fmt: skip
