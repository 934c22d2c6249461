"""Root weights and the box map: roots out of the ground that lack the figures a later choice will ask for."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from perennia.analysis.causes.due.matters import Found, Matter
from perennia.analysis.causes.due.today import Today
from perennia.analysis.causes.due.wording import beds_of, listed
from perennia.analysis.units import Row
from perennia.checking.words import counted

_LIFTED = (
    'select plant, root_g, "on" from life where event = \'lifted\' '
    "qualify row_number() over (partition by plant order by ordinal desc, inferred) = 1 order by plant"
)

_FORGOTTEN_AFTER = timedelta(days=365)


def root_weights(today: Today) -> Found:
    """One matter a crop and site: roots lifted, and not planted again, whose weight is not written down."""
    resting = _resting(today)
    if not resting:
        return Found()
    lifted = {str(row["plant"]): row for row in today.rows(_LIFTED)}
    lacking: dict[tuple[object, object], list[Row]] = defaultdict(list)
    for row in resting:
        own = lifted.get(str(row["plant"]))
        if own is not None and own["root_g"] is None:
            lacking[row["site"], row["crop"]].append({**row, "lifted_on": own["on"]})
    return Found(tuple(_weigh(rows, today.day) for rows in lacking.values()))


def box_map(today: Today) -> Found:
    """One matter a crop and site: bare roots out of the ground of which no box is written down."""
    lacking: dict[tuple[object, object], list[Row]] = defaultdict(list)
    for row in _resting(today):
        if row["box"] is None:
            lacking[row["site"], row["crop"]].append(row)
    return Found(tuple(_box(rows, today.day) for rows in lacking.values()))


def _resting(today: Today) -> list[Row]:
    """Roots out of the ground, but those of which the books say nothing for a year: no scales help them, and whether
    they live is asked by the check of the books."""
    return [
        row for row in today.in_state("lifted", "stored") if row["state_since"] + _FORGOTTEN_AFTER > today.day
    ]  # fmt: skip


def _weigh(rows: list[Row], day: date) -> Matter:
    # a half-remembered day may end after the day asked about
    labels, first = tuple(str(row["label"]) for row in rows), min(day, *(row["lifted_on"] for row in rows))
    return Matter(
        kind="root weight", site=rows[0]["site"], place=beds_of(row["box"] for row in rows), labels=labels,
        crop=rows[0]["crop"], since=first,
        why=(
            f"{rows[0]['crop']}: no weight is written down of {counted(len(rows), 'root')} lifted from {first} on, "
            f"{listed(labels)}; roots lose weight in store, so one taken later says less."
        ),
        do="Weigh them, and write it down (event lifted, column root_g), or correct the lifting that is there; give "
           "the day of weighing in its note where that was later.",
    )  # fmt: skip


def _box(rows: list[Row], day: date) -> Matter:
    labels, first = tuple(str(row["label"]) for row in rows), min(day, *(row["state_since"] for row in rows))
    return Matter(
        kind="box map", site=rows[0]["site"], labels=labels, crop=rows[0]["crop"], since=first,
        why=(
            f"{rows[0]['crop']}: {counted(len(rows), 'root')} out of the ground by {first} without a box on record, "
            f"{listed(labels)}; roots of one box live or die together, and only the box map shows which."
        ),
        do="Put each in its box, and write the box down (event stored, column box).",
    )  # fmt: skip
