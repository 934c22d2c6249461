"""What in the books should be confirmed, completed or mended?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import attrs

from perennia.analysis.result import Result
from perennia.analysis.units import rows_of
from perennia.checking.words import question

if TYPE_CHECKING:
    from perennia.source import Source

_ROWS = "select * from open_questions order by on_to, label, kind, event, record_id"
_KINDS = {
    "gap": ("act must have happened unrecorded", "acts must have happened unrecorded"),
    "silent": ("season shows nothing of a plant's growth", "seasons show nothing of a plant's growth"),
    "unplaced": ("plant came out of its pot winter without a bed", "plants came out of their pot winter without a bed"),
    "unchecked": ("root in store without a look for two months", "roots in store without a look for two months"),
    "heavy": ("picking is heavier than its crop makes likely", "pickings are heavier than their crop makes likely"),
    "light": ("weight looks like kilograms", "weights look like kilograms"),
    "crop": ("crop has no profile but a name like one with", "crops have no profile but a name like one with"),
    "allotted": (
        "plant is allotted to more than one arm or block of a trial",
        "plants are allotted to more than one arm or block of a trial",
    ),
    "twin": ("picking is written twice", "pickings are written twice"),
}


@attrs.frozen(kw_only=True, eq=False)
class BooksCheck(Result):
    """What to look at in the books. The table is the view open_questions with text, the question in a sentence."""


def check(source: Source) -> BooksCheck:
    """Everything in the books to confirm, complete or mend, oldest first.

    One row is one thing: columns of the view open_questions (Garden.views() describes them), then text. kind is gap,
    silent, unplaced, unchecked, heavy, light, twin, allotted or crop; record_id finds what can be corrected. Nothing
    here is an error: what contradicts itself was refused when it was recorded.
    """
    table = source.sql(_ROWS)
    rows = rows_of(table)
    texts = [
        question(
            row["label"], row["kind"], row["event"], None if row["on_from"] is None else row["on_from"].date(),
            row["on_to"].date(), row["grams"], row["likely_grams"], row["crop"], row["near"],
        )
        for row in rows
    ]  # fmt: skip
    table["text"] = texts
    table["text"] = table["text"].astype("string")
    kinds = [row["kind"] for row in rows]
    return BooksCheck(
        table=table, n=len(rows),
        method="Gaps from the order of each plant's acts, weights against crop profiles, our own rules for the rest.",
        units="one question to the grower; weights in g",
        findings=tuple(
            f"{kinds.count(kind)} {one if kinds.count(kind) == 1 else several}."
            for kind, (one, several) in _KINDS.items() if kind in kinds
        )
        or ("Nothing in the books asks for a look.",),
    )  # fmt: skip
