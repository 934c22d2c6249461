"""How many flowers set, and what became of the others: by plant, truss, day of opening, day of loss and position."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any

import attrs
import pandas as pd
from scipy.special import expit

from perennia.analysis.causes.setting import pod_set_tables as tables
from perennia.analysis.causes.setting.flowers import FlowerBooks, read_books
from perennia.analysis.causes.setting.pod_set_wording import pod_set_cautions, pod_set_findings
from perennia.analysis.causes.setting.proportions import (
    BETA_BINOMIAL_ABOVE,
    beta_binomial_interval,
    mean_share,
)
from perennia.analysis.name_order import ordered
from perennia.analysis.result import Result, framed
from perennia.errors import AnalysisError

if TYPE_CHECKING:
    from perennia.source import Source

_UNITS = (
    "a unit is a plant (a label) in one season; flowers of one plant share its roots, leaves and weather and are no "
    "units of their own. Shares are of flowers whose fate is decided: those still open, growing, lost to view or "
    "damaged are no failures and are counted apart."
)
_METHOD = (
    "Flowers followed one by one; where a truss was only counted, its latest count, a drop being taken as that of a "
    "flower wherever a flower had not set. A share of a season is the mean of plants' shares, each plant counting "
    f"alike, with a t interval on plants - 1 degrees of freedom; above {BETA_BINOMIAL_ABOVE} plants also a "
    "beta-binomial by maximum likelihood with its profile likelihood interval. Shares by position are also fitted by "
    "the isotonic regression that never rises."
)

COLUMNS = {
    "crop": "string", "season": "Int64", "season_name": "string", "plant": "string", "trusses": "Int64",
    "counted_trusses": "Int64", **dict.fromkeys(tables.TALLY, "Int64"), "set_share": "Float64",
    "full_share": "Float64",
}  # fmt: skip
SHARES = {
    "crop": "string", "season": "Int64", "season_name": "string", "stage": "string", "n_plants": "Int64",
    "decided": "Int64", "share": "Float64", "low": "Float64", "high": "Float64", "level": "Float64",
    "note": "string", "beta_binomial": "Float64", "beta_binomial_low": "Float64", "beta_binomial_high": "Float64",
    "phi": "Float64",
}  # fmt: skip
"""Columns of PodSet.shares; one row a crop, season and stage (set, full size).

share: mean of the shares of n_plants with its interval low to high at level; note: why there is none. decided: flowers
whose fate is decided. beta_binomial: mean chance by the beta-binomial with its interval; phi: correlation of two
flowers of one plant.
"""


@attrs.frozen(kw_only=True, eq=False)
class PodSet(Result):
    """What flowers came to. n counts plants in a season. shares: mean shares of a season (columns in SHARES). trusses,
    by_opening_day, by_loss_day, by_position: columns in pod_set_tables. books: the flowers themselves.

    Columns of the table: one row a plant in one season.

    trusses: how many are on record; counted_trusses: those of them that were only counted. opened, set: flowers
    opened, and those that set a pod or fruit. set_decided: flowers of which it is known whether they set;
    full_decided: of which it is known whether they came to full size. flowers_dropped, pods_dropped: told apart only
    flower by flower; dropped: both. full_size: grown to full size or picked; picked: those of them that were picked.
    damaged, lost_to_view, still_open, growing: ends that are no failure to set. set_share, full_share: of decided
    flowers, from trusses where they are known. A number that no truss of the plant has is missing.
    """

    shares: pd.DataFrame
    trusses: pd.DataFrame
    by_opening_day: pd.DataFrame
    by_loss_day: pd.DataFrame
    by_position: pd.DataFrame
    books: FlowerBooks


def pod_set(
    source: Source,
    *,
    crop: str | None = None,
    season: int | None = None,
    labels: Collection[str] | None = None,
    level: float = 0.95,
) -> PodSet:
    """Flowers opened, set, dropped and carried to full size, with losses by the day of opening and the day of loss.

    A failure of pollination follows the day on which flowers opened, a sudden stress the day on which they were lost.
    One row is one plant in one season; columns as help(perennia.PodSet) tells. crop: by botanical name; season: the
    first calendar year of a growing year; labels may name plants, as ``A1/2021``. level: of the intervals
    (McCullagh and Nelder 1989; Crowder 1978 for the beta-binomial).

    Raises AnalysisError for a level outside (0, 1), ArgumentError for what is of another kind.
    """
    if not isinstance(level, float) or not 0 < level < 1:
        raise AnalysisError(f"level {level!r} is not between 0 and 1; 0.95 is usual")
    return pod_set_of(read_books(source, crop, season, labels), level)


def pod_set_of(books: FlowerBooks, level: float = 0.95) -> PodSet:
    """pod_set on books that are read already."""
    trusses = [row for book in books.books for row in tables.truss_rows(book)]
    plants = [
        row for book in books.books
        for row in tables.plant_rows(book, [one for one in trusses if _of(one) == (book.crop, book.season)])
    ]  # fmt: skip
    shares = [row for book in books.books
              for row in _shares([one for one in plants if _of(one) == (book.crop, book.season)], level)]  # fmt: skip
    frames = {
        name: framed([{column: row.get(column) for column in columns} for book in books.books for row in rows(book)],
                     columns)
        for name, rows, columns in (
            ("by_opening_day", tables.opening_rows, tables.BY_OPENING_DAY),
            ("by_loss_day", tables.loss_rows, tables.BY_LOSS_DAY),
            ("by_position", tables.position_rows, tables.BY_POSITION),
        )
    }  # fmt: skip
    return PodSet(
        table=ordered(framed(plants, COLUMNS), ["crop", "season", "plant"]),
        n=len(plants),
        method=_METHOD,
        units=_UNITS,
        cautions=pod_set_cautions(books, trusses, shares),
        findings=pod_set_findings(plants, shares),
        shares=framed(shares, SHARES),
        trusses=framed(trusses, tables.BY_TRUSS),
        books=books,
        **frames,
    )


def _of(row: dict[str, Any]) -> tuple[str, int]:
    return row["crop"], row["season"]


def _shares(plants: Sequence[dict[str, Any]], level: float) -> list[dict[str, Any]]:
    """The mean shares of one season."""
    rows = []
    for stage, part, whole in (("set", "set_of_decided", "set_decided"),
                               ("full size", "full_of_decided", "full_decided")):  # fmt: skip
        counts = [(int(row[part]), int(row[whole])) for row in plants if row[part] is not None and row[whole]]
        found = mean_share([k for k, _ in counts], [n for _, n in counts], level)
        head = {name: plants[0][name] for name in ("crop", "season", "season_name")}
        row = {**dict.fromkeys(SHARES), **head, "stage": stage, "n_plants": len(counts), "level": level,
               "decided": sum(n for _, n in counts)}  # fmt: skip
        if found is None:
            row["note"] = "no flower of it is decided"
        else:
            row |= {"share": found.mean, "low": found.low, "high": found.high, "note": found.why}
        if len(counts) > BETA_BINOMIAL_ABOVE:
            fit, low, high = beta_binomial_interval([k for k, _ in counts], [n for _, n in counts], level)
            row |= {"beta_binomial": float(expit(fit.coefficients[0])), "beta_binomial_low": low,
                    "beta_binomial_high": high, "phi": fit.phi}  # fmt: skip
        rows.append(row)
    return rows
