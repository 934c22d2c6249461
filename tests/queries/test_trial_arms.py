"""Which arm a plant was allotted to: the latest record counts; gardens written before there were any can be read."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import perennia as pn
from perennia.analysis.units import rows_of
from perennia.garden import Garden

ADDED = ["trial", "arm", "by_lot", "block"]


@pytest.fixture
def garden(tmp_path: Path) -> Garden:
    made = Garden.create(tmp_path / "plot")
    made.record(
        pn.Site("Home", latitude=48.0), pn.Bed("north", "Home"),
        *(pn.Sown(label, "2023-05-01", crop="Phaseolus coccineus", bed="north") for label in ("A1", "A2")),
    )  # fmt: skip
    return made


def test_the_latest_allotment_of_a_plant_in_a_trial_counts(garden: Garden) -> None:
    garden.record(
        pn.Allotted(("A1", "A2"), "2023-05-02", trial="stock", arm="fresh", by_lot=True, block="north 1"),
        pn.Allotted("A1", "2023-05-04", trial="stock", arm="overwintered", by_lot=False, block="north 1"),
        pn.Allotted("A1", "2023-05-01", trial="cover", arm="bare", by_lot=True),
        pn.Allotted("A2", "2023-05-01", trial="cover", arm="bare", by_lot=True, block="1"),
        pn.Allotted("A2", "2023-05-01", trial="cover", arm="bare", by_lot=True, block="2"),
    )
    rows = rows_of(garden.sql("select * from trial_arms order by plant, trial"))
    moved = rows.pop(2)
    assert (moved["trial"], moved["arm"], moved["changed"]) == ("cover", "bare", True)
    assert [(row["label"], row["trial"], row["arm"], row["block"], row["by_lot"], row["changed"]) for row in rows] == [
        ("A1", "cover", "bare", None, True, False),
        ("A1", "stock", "overwintered", "north 1", False, True),
        ("A2", "stock", "fresh", "north 1", True, False),
    ]  # fmt: skip
    assert [row["records"] for row in rows] == [1, 2, 1]
    told = garden.history("A1").query("event == 'allotted'")["what"].tolist()
    assert told == [
        "trial cover, arm bare, by lot",
        "trial stock, arm fresh, block north 1, by lot, with 1 other label",
        "trial stock, arm overwintered, block north 1, chosen",
    ]


def test_an_allotment_names_plants_arm_and_whether_by_lot() -> None:
    with pytest.raises(pn.PerenniaError, match="labels: names no label"):
        pn.Allotted((), "2023-05-02", trial="stock", arm="fresh", by_lot=True)
    with pytest.raises(pn.PerenniaError, match="by_lot: 'yes' is neither true nor false"):
        pn.Allotted("A1", "2023-05-02", trial="stock", arm="fresh", by_lot="yes")  # type: ignore[arg-type]
    with pytest.raises(pn.PerenniaError, match="arm: is missing"):
        pn.Allotted("A1", "2023-05-02", trial="stock", arm=None, by_lot=True)  # type: ignore[arg-type]


def test_care_written_before_there_were_trials_is_read_and_added_to(garden: Garden) -> None:
    garden.record(pn.Noted("2023-06-01", labels=("A1",), what="in bud"))
    path = Path(garden.path)
    for file in (path / "care").rglob("*.parquet"):
        _without(file, ADDED)
    with Garden.open(path) as old:
        (row,) = rows_of(old.table("care"))
        assert (row["what"], [row[name] for name in ADDED]) == ("in bud", [None] * 4)
        assert old.sql("select * from trial_arms").empty
        old.record(pn.Allotted("A1", "2023-06-02", trial="stock", arm="fresh", by_lot=True))
        assert old.sql("select arm from trial_arms")["arm"].tolist() == ["fresh"]
        assert set(old.table("care")["event"]) == {"noted", "allotted"}


def _without(file: Path, columns: list[str]) -> None:
    """The file as it would have been before it had these columns."""
    rows: pa.Table = pq.ParquetFile(file).read()
    pq.write_table(rows.drop_columns([name for name in columns if name in rows.column_names]), file)
