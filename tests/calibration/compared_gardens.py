"""Gardens of known truth for the comparisons, and how often these are right about them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

import attrs
import numpy as np
import pandas as pd

from perennia.analysis.decisions.comparing.change import changes_of
from perennia.analysis.decisions.comparing.effect import asked_for
from perennia.analysis.decisions.comparing.pairs import PairQuestion, pair_answers
from perennia.analysis.decisions.comparing.stock import compare_units
from perennia.analysis.decisions.comparing.stock_rows import Question, answer_rows
from perennia.analysis.measures import MEASURES, Measure
from perennia.analysis.units import units_of
from perennia.analysis.values import Row
from tests.analysis.seasons_frame import frame, overwintered, row

Random = np.random.Generator
Draw = Callable[[Random, int], np.ndarray]
DRAWS: dict[str, Draw] = {
    "normal": lambda random, n: random.normal(0, 200, n),
    # Student's t of 3 degrees of freedom: now and then a plant far from all others
    "heavy tails": lambda random, n: 120 * random.standard_t(3, n),
    # to the nearest 250 g, as of baskets
    "ties": lambda random, n: 250 * np.round(random.normal(0, 200, n) / 250),
}
LEVEL = 800.0


@attrs.frozen
class Held:
    """What came of the gardens of one case: shares of p at most 0.05 and of intervals that held the truth, the least
    level an interval named, and the mean width of bounded ones."""

    case: str
    gardens: int
    rejected: float
    covered: float
    level: float
    width: float


def stock_case(kind: str, n: int, truth: float, gardens: int, seed: int) -> Held:
    """Overwintered against fresh plants in two beds 300 g apart, unequally filled; one plant in ten of either arm bears
    nothing where zeros are asked for."""
    random = np.random.default_rng([seed, n])
    drawn = (_stock_row(_stock_rows(kind, n, truth, random), MEASURES["total_g"]) for _ in range(gardens))
    return _held(f"stock, {kind}, n {n}, truth {truth:g}", truth, drawn)


def _stock_rows(kind: str, n: int, truth: float, random: Random) -> list[dict[str, Any]]:
    draw = DRAWS["normal" if kind == "zeros" else kind]
    rows: list[dict[str, Any]] = []
    for bed, base, old, new in (("B1", 0.0, n - n // 3, n // 3 or 1), ("B2", 300.0, n // 3 or 1, n - n // 3)):
        crops = LEVEL + base + draw(random, old + new)
        if kind == "zeros":
            crops[random.random(old + new) < 0.1] = 0.0
        crops[:old] += truth
        rows += [overwintered(f"{bed}O{i}", total_g=value, bed=bed) for i, value in enumerate(crops[:old])]
        rows += [row(f"{bed}F{i}", total_g=value, bed=bed) for i, value in enumerate(crops[old:])]
    return rows


def earliness_case(n: int, late: float, gardens: int, seed: int) -> Held:
    """First pickings of arms alike, of which a share of all plants never crops: the date is right-censored."""
    random = np.random.default_rng([seed, n])

    def table() -> Iterator[Row]:
        for _ in range(gardens):
            days = random.normal(200, 10, 2 * n)
            never = random.random(2 * n) < late
            rows = [
                {**(overwintered if i < n else row)(f"P{i}"), "total_g": 0.0 if never[i] else 300.0,
                 "first_pick": None if never[i] else pd.Timestamp(2022, 1, 1) + pd.Timedelta(days=round(days[i]))}
                for i in range(2 * n)
            ]  # fmt: skip
            yield _stock_row(rows, MEASURES["first_pick"])

    return _held(f"earliness, {late:.0%} never crop, n {n}", 0.0, table())


def pairs_case(kind: str, n: int, truth: float, gardens: int, seed: int) -> Held:
    """The same plants in two seasons; half of the spread between plants is their own and comes again."""
    random = np.random.default_rng([seed, n])
    draw = DRAWS[kind]

    def table() -> Iterator[Row]:
        question = PairQuestion(MEASURES["total_g"], asked_for("ranks", 0.95))
        for _ in range(gardens):
            own = LEVEL + random.normal(0, 200, n)
            firsts, laters = own + draw(random, n), own + draw(random, n) + truth
            rows = [row(f"P{i}", 2021, total_g=value) for i, value in enumerate(firsts)]
            rows += [overwintered(f"P{i}", 2022, total_g=value) for i, value in enumerate(laters)]
            yield pair_answers(_not_below_nothing(rows), "bean", question, None)[0].row

    return _held(f"pairs, {kind}, n {n}, truth {truth:g}", truth, table())


def change_case(kind: str, n: int, truth: float, gardens: int, seed: int) -> Held:
    """Roots that gain, and fresh stock of both seasons, of which the second is 300 g better for all."""
    random = np.random.default_rng([seed, n])
    draw = DRAWS[kind]

    def table() -> Iterator[Row]:
        for _ in range(gardens):
            own = LEVEL + 600 + random.normal(0, 200, n)
            firsts, laters = own + draw(random, n), own + draw(random, n) + 300 + truth
            rows = [row(f"P{i}", 2021, total_g=value) for i, value in enumerate(firsts)]
            rows += [overwintered(f"P{i}", 2022, total_g=value) for i, value in enumerate(laters)]
            for year, better in ((2021, 0.0), (2022, 300.0)):
                crops = LEVEL + 600 + better + random.normal(0, 200, n) + draw(random, n)
                rows += [row(f"F{year}{i}", year, total_g=value) for i, value in enumerate(crops)]
            found = changes_of(frame(_not_below_nothing(rows))).table.iloc[0]
            yield found.rename({"gap_low": "shift_low", "gap_high": "shift_high"}).to_dict()

    return _held(f"change, {kind}, n {n}, truth {truth:g}", truth, table())


def confounded_p(gardens: int, seed: int) -> int:
    """Of gardens in which the arms share no bed, no cover or no cultivar, in how many there was a p."""
    random = np.random.default_rng(seed)
    given = 0
    for garden in range(gardens):
        factor = ("bed", "cover", "cultivar")[garden % 3]
        rows = [{**overwintered(f"O{i}", total_g=random.normal(LEVEL, 200)), factor: "that"} for i in range(5)]
        rows += [{**row(f"F{i}", total_g=random.normal(LEVEL, 200)), factor: "this"} for i in range(5)]
        given += int(compare_units(frame(rows)).table["p"].notna().sum())
    return given


def _not_below_nothing(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{**entry, "total_g": max(0.0, float(entry["total_g"]))} for entry in rows]


def _stock_row(rows: list[dict[str, Any]], measure: Measure) -> Row:
    """The row of the comparison as compare_stock has it, without the table about it."""
    question = Question(measure, ("overwintered", "fresh"), frozenset(), asked_for("ranks", 0.95), pooled=False)
    return answer_rows(units_of(rows, measure), question)[0].row


def _held(case: str, truth: float, found: Iterator[Row]) -> Held:
    rejected: list[bool] = []
    covered: list[bool] = []
    levels: list[float] = []
    widths: list[float] = []
    gardens = 0
    for entry in found:
        gardens += 1
        if pd.isna(entry["p"]):
            # nothing is claimed where nothing is tested
            rejected.append(False)
            continue
        low, high = entry["shift_low"], entry["shift_high"]
        rejected.append(bool(entry["p"] <= 0.05))
        covered.append((low is None or low <= truth + 1e-9) and (high is None or truth - 1e-9 <= high))
        levels.append(float(entry["level"]))
        if low is not None and high is not None and math.isfinite(high - low):
            widths.append(float(high - low))
    return Held(
        case, gardens, float(np.mean(rejected)), float(np.mean(covered)), min(levels),
        float(np.mean(widths)) if widths else float("nan"),
    )  # fmt: skip
