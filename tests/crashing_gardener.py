"""A grower's script in a process of its own that can kill itself at the n-th step of the Delta library.

Usage: crashing_gardener.py GARDEN intake FOLDER|correct RECORD_ID [before|after N]
It prints ``acknowledged`` when the garden says the work is done.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "store")]

from crashing_writer import kill_at  # noqa: E402  its folder is on the path now

import perennia as pn  # noqa: E402
from perennia.intake import read  # noqa: E402

TODAY = date(2025, 6, 1)
BOOK = "kitchen garden"


def main(root: str, action: str, what: str, when: str = "", number: str = "0") -> None:
    """Do one thing to the garden."""
    garden = pn.Garden.open(root)
    kill_at(when, int(number))
    if action == "intake":
        read(garden, what, book=BOOK, today=TODAY)
    else:
        garden.correct(what, pn.Picked(["A1", "A2"], "2024-07-02", 18), reason="one nought too many", today=TODAY)
    print("acknowledged")


if __name__ == "__main__":
    main(*sys.argv[1:])
