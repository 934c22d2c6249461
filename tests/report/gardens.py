"""A garden of a dozen beans over three years for the tests of figures, and what every question answers of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import attrs
import pandas as pd

from perennia.analysis import (
    Result,
    bearing,
    compare_change,
    compare_seasons,
    compare_stock,
    fit_curves,
    flushes,
    group_curves,
    keep_list,
    plant_lives,
    project_totals,
    season_curves,
    season_summary,
    survival,
)
from perennia.records.base import Record
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import Died, Lifted, Removed, Replanted, Sown, Stored

BEAN = "Phaseolus coccineus"
ODD = "A0 <script>$x$"
"""A label that would do harm if it were not taken as text."""

QUESTIONS: dict[str, Callable[[Any], Result]] = {
    "season_curves": season_curves, "season_summary": season_summary, "group_curves": group_curves,
    "flushes": flushes, "project_totals": project_totals, "fit_curves": fit_curves, "bearing": bearing,
    "compare_stock": compare_stock, "compare_seasons": compare_seasons, "compare_change": compare_change,
    "survival": survival, "keep_list": lambda source: keep_list(source, 2024), "plant_lives": plant_lives,
}  # fmt: skip


def _cropped(label: str, year: int, days_in: int, grams: int, times: int = 6) -> list[Record]:
    first = date(year, 7, 10) + timedelta(days_in)
    return [Picked(label, first + timedelta(4 * number), grams=float(grams + 10 * number)) for number in range(times)]


def records() -> list[Record]:
    """Eight roots from 2021 on, half of them in each of two beds, one of which dies; four fresh plants each later year;
    a season 2024 that still runs."""
    made: list[Record] = []
    for number in range(8):
        label, bed = (ODD if number == 0 else f"A{number}"), ("B1", "B3")[number % 2]
        made += [Sown(label, date(2021, 5, 1), crop=BEAN, bed=bed), *_cropped(label, 2021, number, 40 + 5 * number)]
        for year in (2022, 2023, 2024):
            if number == 7 and year == 2023:
                made += [Lifted(label, date(2022, 11, 5)), Died(label, date(2023, 2, 1))]
                break
            made += [
                Lifted(label, date(year - 1, 11, 5)), Stored(label, date(year - 1, 11, 9), place="bare root"),
                Replanted(label, date(year, 5, 1), bed=bed),
                *_cropped(label, year, number - 8, 60 + 5 * number, 6 if year < 2024 else 3),
            ]  # fmt: skip
    for year in (2022, 2023):
        for number in range(4):
            label = f"F{year}-{number}"
            made += [
                Sown(label, date(year, 5, 3), crop=BEAN, bed=("B1", "B3")[number % 2]),
                *_cropped(label, year, 3 + number, 30 + 7 * number), Removed(label, date(year, 10, 20)),
            ]
    made += [Sown("L1", date(2024, 5, 1), crop=BEAN, bed="B1"), *_cropped("L1", 2024, 2, 40, 3)]
    return [*made, Noted(date(2024, 7, 23), bed="B1", what="hoed")]


def multiplied(result: Any, times: int) -> Any:
    """The same answer as of so many times the plants; of a comparison only its units are more."""

    def every(frame: pd.DataFrame) -> pd.DataFrame:
        named = [name for name in ("plant", "label", "unit") if name in frame]
        copies = pd.concat([frame] * times, ignore_index=True)
        number = pd.Series(range(times)).repeat(len(frame)).reset_index(drop=True).astype("string")
        return copies.assign(**{name: copies[name] + "-" + number for name in named})

    there = {field.name for field in attrs.fields(type(result))}
    growing = {"by_unit"} if "by_unit" in there else {"table", "pickings"} & there
    return attrs.evolve(result, **{name: every(getattr(result, name)) for name in growing})
