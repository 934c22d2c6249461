"""Make the invented demo garden: ``python datasets/make_demo_garden.py [FOLDER]``.

Writes the grower's books, one CSV a table, into perennia/demo_garden (or FOLDER) and prints the rows of each.
The same bytes every time: each draw has a seeded stream of its own. datasets/DATASHEET.md says what is planted.
"""

from __future__ import annotations

import sys
from pathlib import Path

from demo_garden.bean_beds import fence_bed, gate_and_tunnel, hill_bed, net_bed
from demo_garden.books import Books
from demo_garden.flowers_and_seed import flowers, seed
from demo_garden.rhubarb import rhubarb
from demo_garden.rocoto import rocotos
from demo_garden.surroundings import care, places, weather
from demo_garden.truth import TRUTH

SHIPPED = Path(__file__).resolve().parent.parent / "perennia" / "demo_garden"


def make(folder: Path) -> dict[str, int]:
    """Write the whole garden into folder; the number of rows of each table."""
    books = Books()
    places(books)
    rows, net, fence = gate_and_tunnel(books), net_bed(books), fence_bed(books)
    hill_bed(books)
    rocotos(books)
    rhubarb(books)
    flowers(books, rows)
    seed(books, rows, fence)
    care(books, rows, net)
    weather(books)
    return books.save(folder)


if __name__ == "__main__":
    for table, number in make(Path(sys.argv[1]) if len(sys.argv) > 1 else SHIPPED).items():
        print(f"{table}.csv: {number} rows")

__all__ = ["SHIPPED", "TRUTH", "make"]
