"""The invented garden: remade to the byte, every row a record, every life legal, its mess as the datasheet says."""

from __future__ import annotations

import csv
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from perennia.lifecycle import BEGINNINGS
from perennia.records import (
    Acquired,
    AlreadyHere,
    BooksKept,
    Counted,
    Covered,
    CutBack,
    CuttingTaken,
    Died,
    DiedBack,
    Divided,
    FlowerFate,
    GerminationTest,
    LeftForSeed,
    Moved,
    Mulched,
    Neighbour,
    Picked,
    Removed,
    SeedSaved,
    Sown,
    StoreChecked,
    Stored,
    TrussCount,
    Uncovered,
    Visits,
    Watered,
)
from tests.datasets.shipped import (
    CUT_OFF,
    DATASHEET,
    ILLEGAL,
    LIFE,
    LIVES,
    PICKINGS,
    READ,
    RECORDS,
    ROOT,
    ROWS,
    SHIPPED,
    TABLES,
)


def test_the_generator_makes_the_shipped_files_byte_for_byte(tmp_path: Path) -> None:
    script = ROOT / "datasets" / "make_demo_garden.py"
    subprocess.run([sys.executable, str(script), str(tmp_path)], check=True, capture_output=True, cwd=tmp_path)
    made = {path.name: path.read_bytes() for path in tmp_path.glob("*.csv")}
    assert made == {path.name: path.read_bytes() for path in SHIPPED.glob("*.csv")}
    assert set(made) == {f"{table}.csv" for table in TABLES}


@pytest.mark.parametrize("table", TABLES)
def test_every_row_is_a_record_of_its_own_table(table: str) -> None:
    assert {type(one).table for one in RECORDS[table]} == {table}


@pytest.mark.parametrize("table", TABLES)
def test_no_column_is_empty_or_foreign(table: str) -> None:
    with (SHIPPED / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        columns = next(csv.reader(file))
    assert columns[0] == "event"
    assert set(columns) == {name for row in ROWS[table] for name in row}


def test_the_garden_is_marked_invented() -> None:
    (site,) = ROWS["sites"]
    assert "invented" in site["name"]
    assert "INVENTED" in site["note"]
    assert "INVENTED" in (SHIPPED / "README.txt").read_text(encoding="utf-8")
    assert "invented" in DATASHEET.splitlines()[0]


def test_every_bed_site_and_label_named_is_known() -> None:
    beds = {row["name"] for row in ROWS["beds"]}
    named = [row for table in TABLES if table not in ("sites", "beds") for row in ROWS[table]]
    assert {row["bed"] for row in named if "bed" in row} <= beds
    assert {row["site"] for row in named + ROWS["beds"] if "site" in row} == {ROWS["sites"][0]["name"]}
    labels = set(LIVES)
    assert {part for row in ROWS["care"] if "labels" in row for part in READ["labels"](row["labels"])} <= labels
    assert {
        row["label"] for table in ("harvest", "flowering", "seed") for row in ROWS[table] if "label" in row
    } <= labels


def test_the_books_stop_at_the_cut_off_in_the_middle_of_the_bean_harvest() -> None:
    assert max(one.on.end for one in PICKINGS) <= CUT_OFF
    running = [one for one in PICKINGS if one.on.end.year == CUT_OFF.year and one.labels[0].startswith("P")]
    assert CUT_OFF - max(one.on.end for one in running) <= timedelta(days=5)
    last = Counter(one.on.end.year for one in PICKINGS if one.labels[0].startswith("P") and not one.clearance)
    assert last[CUT_OFF.year] < 0.7 * last[CUT_OFF.year - 1]


# --- legality ---------------------------------------------------------------------------------------------------------


def test_every_life_is_legal_and_every_label_begun() -> None:
    assert ILLEGAL == []
    assert all(lived[0][0] in BEGINNINGS for lived in LIVES.values())


def test_crops_are_named_botanically() -> None:
    crops = {one.crop for one in LIFE if isinstance(one, Sown | AlreadyHere | Acquired)}
    assert crops == {"Phaseolus coccineus", "Capsicum pubescens", "Rheum x hybridum"}


# --- (c): the counts and the mess promised in the datasheet -----------------------------------------------------------


def late_rows(table: str) -> int:
    """Rows whose day lies more than a fortnight before that of a row above them."""
    latest, late = date(1900, 2, 1), 0
    for one in RECORDS[table]:
        span = getattr(one, "on", None)
        if span is None:
            continue
        late += span.end < latest - timedelta(days=14)
        latest = max(latest, span.start or latest)
    return late


def how_many(records: Iterable[Any], kind: type | tuple[type, ...], **fields: object) -> int:
    """Records of a kind with the field values given."""
    return sum(
        isinstance(one, kind) and all(getattr(one, name) == value for name, value in fields.items()) for one in records
    )


def begun_again(ending: str | None = None) -> int:
    """Lives begun under a label that had one before; with ending, only after such an end."""
    again = 0
    for lived in LIVES.values():
        names = [name for name, _ in lived]
        later = [place for place, name in enumerate(names) if name in BEGINNINGS and place > 0]
        again += sum(ending is None or names[place - 1] == ending for place in later)
    return again


def forgotten(*acts: str) -> int:
    """Times the lives need these acts although nobody wrote them down."""
    return sum(inferred == acts for lived in LIVES.values() for _, inferred in lived)


def spans(pattern: str) -> int:
    """Rows of all tables with a date written so."""
    return sum(
        bool(re.fullmatch(pattern, row[name]))
        for rows in ROWS.values()
        for row in rows
        for name in ("on", "since")
        if name in row
    )


CARE, HARVEST, FLOWERING, SEED = RECORDS["care"], RECORDS["harvest"], RECORDS["flowering"], RECORDS["seed"]
FOUND: dict[str, Callable[[], int]] = {
    **{f"rows of {table}.csv": (lambda table=table: len(ROWS[table])) for table in TABLES},
    "rows without weather": lambda: sum(len(rows) for table, rows in ROWS.items() if table != "weather"),
    "labels": lambda: len(LIVES),
    "lives": lambda: len(LIVES) + begun_again(),
    "labels begun again after a death": lambda: begun_again("died"),
    "labels begun again after a removal": lambda: begun_again("removed"),
    "stands": lambda: len({one.label for one in LIFE if getattr(one, "plants", 1) > 1}),
    "stands counted": lambda: how_many(LIFE, Counted),
    "entries written late, life": lambda: late_rows("life"),
    "entries written late, harvest": lambda: late_rows("harvest"),
    "dates known to the month": lambda: spans(r"\d{4}-\d{2}"),
    "dates known about the month": lambda: spans(r"\d{4}-\d{2}~"),
    "dates between two months": lambda: spans(r"\d{4}-\d{2}/\d{4}-\d{2}"),
    "dates open at the start": lambda: spans(r"\.\./\d{4}"),
    "pickings": lambda: len(PICKINGS),
    "pickings shared": lambda: sum(len(one.labels) > 1 for one in PICKINGS),
    "pickings with nothing ripe": lambda: how_many(PICKINGS, Picked, grams=0),
    "pickings weighed only": lambda: how_many(PICKINGS, Picked, count=None),
    "pickings counted only": lambda: how_many(PICKINGS, Picked, grams=None),
    "clearance pickings": lambda: how_many(PICKINGS, Picked, clearance=True),
    "pickings with minutes": lambda: sum(one.minutes is not None for one in PICKINGS),
    "pickings with a forgotten day": lambda: sum(one.on.days != 1 for one in PICKINGS),
    "pickings in July": lambda: sum(one.on.end.month == 7 for one in PICKINGS),
    "books kept": lambda: how_many(HARVEST, BooksKept),
    "left for seed": lambda: how_many(HARVEST, LeftForSeed),
    "roots stored bare": lambda: how_many(LIFE, Stored, place="bare root"),
    "pots stored in leaf": lambda: how_many(LIFE, Stored, place="pot"),
    "roots looked at in store": lambda: how_many(LIFE, StoreChecked),
    "roots rotted in store": lambda: how_many(LIFE, Died, cause="rot"),
    "roots found dead in the ground": lambda: how_many(LIFE, Died, cause="rotted in the wet ground"),
    "deaths of other kinds": lambda: how_many(LIFE, Died) - FOUND["roots rotted in store"]() - 5,
    "removed": lambda: how_many(LIFE, Removed),
    "replantings forgotten": lambda: forgotten("replanted"),
    "regrowths forgotten": lambda: forgotten("regrew"),
    "died back as a whole": lambda: how_many(LIFE, DiedBack, extent="whole"),
    "died back in part": lambda: how_many(LIFE, DiedBack, extent="partial"),
    "mulched": lambda: how_many(LIFE, Mulched),
    "cut back": lambda: how_many(LIFE, CutBack),
    "cuttings taken": lambda: sum(len(one.into) for one in LIFE if isinstance(one, CuttingTaken)),
    "divisions, mother going on": lambda: how_many(LIFE, Divided, mother_continues=True),
    "moved": lambda: how_many(LIFE, Moved),
    "covered": lambda: how_many(CARE, Covered),
    "uncovered": lambda: how_many(CARE, Uncovered),
    "watered in litres": lambda: how_many(CARE, Watered, mm=None),
    "watered in mm": lambda: how_many(CARE, Watered, litres=None),
    "visits watched": lambda: how_many(CARE, Visits),
    "neighbours": lambda: how_many(CARE, Neighbour),
    "flowers followed": lambda: how_many(FLOWERING, FlowerFate),
    "truss counts": lambda: how_many(FLOWERING, TrussCount),
    "seed saved": lambda: how_many(SEED, SeedSaved),
    "germination tests": lambda: how_many(SEED, GerminationTest),
}


def promised() -> dict[str, int]:
    """The counts in the datasheet's tables."""
    return {
        name: int(number.replace(",", ""))
        for name, number in re.findall(r"^\| ([^|`]+?) \| ([\d,]+) \|", DATASHEET, re.M)
    }


def test_the_datasheet_promises_every_kind_of_mess() -> None:
    assert set(promised()) == set(FOUND)
    assert all(number > 0 for number in promised().values())


@pytest.mark.parametrize("kind", FOUND)
def test_the_counts_of_the_datasheet_are_really_there(kind: str) -> None:
    assert FOUND[kind]() == promised()[kind]
