"""What the seasons of a large garden cost, as ratios of things measured in the same run; nothing here is bare seconds.

``python tests/benchmarks/curves.py [--rows N] [--runs N] [--steps N ...]`` makes a garden of N invented pickings (100
off every plant, over 5 seasons) in its own compacted store and prints a line of JSON a figure: name, value, bound,
holds. Every figure is of the middle of several runs, each in a process of its own. Seasons and a history are asked
twice: as they were kept when the garden was compacted, and worked out anew, as after any new record. The pandas and
polars scripts stand beside in sums_by_hand.py; polars is only measured where it is installed.
"""

from __future__ import annotations

import argparse
import importlib.util
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from statistics import median

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa

import perennia as pn
from perennia.queries.answer_files import FOLDER
from perennia.store.schemas import POSITION, TABLES, with_missing

sys.path.insert(0, str(Path(__file__).parent))
from intake import begun, labels_of, measured, told
from sums_by_hand import pandas_seasons, polars_seasons

TODAY = date(2025, 6, 1)
SEASONS, PICKINGS = 5, 20
SCAN_BOUND, GROUP_BOUND, PANDAS_BOUND, POLARS_BOUND = 1.5, 8.0, 1 / 5, 1 / 2
MEMORY_BOUND_GB, HISTORY_BOUND, LINE_BOUND = 1.5, 3.0, 1.2
SMALL_MEMORY = "512MB"


def filled(folder: Path, rows: int) -> Path:
    """A garden of so many invented pickings, compacted."""
    begun(folder, rows)
    with pn.Garden.open(folder) as garden:
        garden.record_tables(_parts(labels_of(rows)), today=TODAY)
        garden.compact()
    return folder


def filled_and_kept(folder: Path, rows: int) -> Path:
    """The same, so large that its seasons were kept."""
    if not (filled(folder, rows) / FOLDER).is_dir():
        raise SystemExit(f"a garden of {rows} pickings is too small to keep its seasons; give more rows")
    return folder


def _parts(names: list[str]) -> Iterator[dict[str, pa.Table]]:
    """One round of picking after another: each plant once."""
    chance = np.random.default_rng(20_240_602)
    schema, count = TABLES["harvest"].append(pa.field(POSITION, pa.int64())), len(names)
    for turn in range(SEASONS * PICKINGS):
        season, nth = divmod(turn, PICKINGS)
        days = pa.array(np.datetime64(f"{2019 + season}-07-01") + nth * 4 + np.arange(count) % 4)
        columns = {
            "event": pa.repeat(pa.scalar("picked"), count), "on_from": days, "on_to": days, "label": pa.array(names),
            "shared_by": pa.repeat(pa.scalar(1, pa.int64()), count), "clearance": pa.repeat(False, count),
            "grams": pa.array(np.round(chance.gamma(3.0, 60.0, count) + 5, 1)),
            "count": pa.array(chance.integers(1, 40, count)),
            POSITION: pa.array(np.arange(turn * count, (turn + 1) * count)),
        }  # fmt: skip
        yield {"harvest": with_missing(columns, schema, count)}


def files_of(folder: Path) -> list[str]:
    """The garden's own files of pickings."""
    return sorted(map(str, folder.glob("harvest/*/*.parquet")))


def summary(folder: Path) -> None:
    """The seasons of all plants, peak included."""
    with pn.Garden.open(folder, read_only=True) as garden:
        pn.season_summary(garden)


def summary_in_little(folder: Path) -> None:
    """The same with little memory for the queries, held against the answer with plenty."""
    with pn.Garden.open(folder, read_only=True, memory_limit=SMALL_MEMORY) as garden:
        little = pn.season_summary(garden).table
    with pn.Garden.open(folder, read_only=True) as garden:
        pd.testing.assert_frame_equal(little, pn.season_summary(garden).table)


def sorted_scan(folder: Path) -> None:
    """The same files by label and day, as Arrow."""
    with duckdb.connect() as connection:
        connection.sql(
            "select label, on_to, grams, count from read_parquet($files) order by label, on_to",
            params={"files": files_of(folder)},
        ).to_arrow_table()


def bare_groups(folder: Path) -> None:
    """Only the sums, first and last days of the same files."""
    with duckdb.connect() as connection:
        connection.sql(
            "select label, year, sum(grams), min(on_to), max(on_to) from read_parquet($files) group by label, year",
            params={"files": files_of(folder)},
        ).to_arrow_table()


def in_pandas(folder: Path) -> None:
    """The same columns by a script of pandas."""
    pandas_seasons(files_of(folder))


def in_polars(folder: Path) -> None:
    """The same columns by a script of polars."""
    polars_seasons(files_of(folder))


def one_history(folder: Path) -> None:
    """One plant's whole life."""
    with pn.Garden.open(folder, read_only=True) as garden:
        garden.history("P00005")


def bare_filter(folder: Path) -> None:
    """One label's rows of the same files."""
    with duckdb.connect() as connection:
        connection.sql(
            "select * from read_parquet($files) where label = 'P00005'", params={"files": files_of(folder)}
        ).to_arrow_table()


def in_turns(folder: Path, works: list[Callable[[Path], None]], runs: int) -> list[tuple[float, float]]:
    """Middle seconds and peak GB of each work, by turns, so that a busy minute of the machine bears on all."""
    found: list[list[tuple[float, float]]] = [[] for _ in works]
    for _ in range(runs):
        for place, work in enumerate(works):
            found[place].append(measured(work, folder))
    return [(median(seconds for seconds, _ in own), max(gb for _, gb in own)) for own in found]


def forgotten(folder: Path) -> Path:
    """The garden without what was kept beside its books, so that all is worked out anew."""
    shutil.rmtree(folder / FOLDER, ignore_errors=True)
    return folder


def main() -> None:
    """Measure all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=10_000_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--steps", type=int, nargs="*", default=[1_000_000, 3_000_000])
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="perennia-benchmark-") as name:
        started = time.perf_counter()
        plot = filled_and_kept(Path(name) / "plot", given.rows)
        print(f"made in {time.perf_counter() - started:.0f} s", file=sys.stderr)
        works = [summary, sorted_scan, bare_groups, one_history, bare_filter]
        kept, scan, groups, history, bare = in_turns(plot, works, given.runs)
        # of a scan of the same minutes
        anew, scan_then, groups_then, history_anew, bare_then = in_turns(forgotten(plot), works, given.runs)
        told("history of one plant kept, of a bare filter", history[0] / bare[0], HISTORY_BOUND)
        told("history of one plant worked out anew, of a bare filter", history_anew[0] / bare_then[0], HISTORY_BOUND)
        scripts = [("pandas", in_pandas, PANDAS_BOUND)]
        if importlib.util.find_spec("polars"):
            scripts.append(("polars", in_polars, POLARS_BOUND))
        theirs = [(library, in_turns(plot, [script], 1)[0][0], bound) for library, script, bound in scripts]
        for how, (own, peak_gb), scanned, grouped in (
            ("kept", kept, scan, groups), ("worked out anew", anew, scan_then, groups_then)
        ):  # fmt: skip
            told(f"season_summary {how}, of a sorted scan of its pickings", own / scanned[0], SCAN_BOUND)
            told(f"season_summary {how}, of bare sums by label and year", own / grouped[0], GROUP_BOUND)
            told(f"season_summary {how}, peak memory in GB", peak_gb, MEMORY_BOUND_GB)
            for library, script, bound in theirs:
                told(f"season_summary {how}, of a script of {library}", own / script, bound)
        ((_, little_gb),) = in_turns(plot, [summary_in_little], 1)
        told(f"season_summary in {SMALL_MEMORY}, right, with both answers in GB", little_gb, 3 * MEMORY_BOUND_GB)
        for rows in given.steps:
            part = filled_and_kept(Path(name) / str(rows), rows)
            for how, (own, _) in (("kept", kept), ("worked out anew", anew)):
                ((less, _),) = in_turns(part, [summary], given.runs)
                ratio = (own / given.rows) / (less / rows)
                told(f"season_summary {how}, a picking, of what it is at {rows}", ratio, LINE_BOUND)
                forgotten(part)


if __name__ == "__main__":
    main()
