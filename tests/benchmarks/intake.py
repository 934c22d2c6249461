"""What taking in a large book costs, as ratios of things measured in the same run; nothing here is in bare seconds.

``python tests/benchmarks/intake.py [--rows N] [--runs N] [--repeats N] [--singles N]`` prints a line of JSON a figure:
name, value, bound, holds. A ratio is of the middle of several runs, each in a process and a folder of its own.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import multiprocessing.connection
import re
import resource
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet as pq
from deltalake import write_deltalake

import perennia as pn
from perennia.intake import read

TODAY = date(2025, 6, 1)
SEASONS, PICKINGS = 5, 20
FEW_ROWS = 5_000
RUNS, PLAIN_RUNS_MORE = 3, 2
BULK_BOUND, MEMORY_BOUND_GB, ONE_BOUND, RUN_BOUND = 6.0, 1.5, 2.0, 2.0


def labels_of(rows: int) -> list[str]:
    """The plants that bear so many rows."""
    return [f"P{number:05d}" for number in range(-(-rows // (SEASONS * PICKINGS)))]


def harvest_rows(rows: int) -> pa.Table:
    """Invented pickings day by day, as a grower writes them: event, labels, on, grams, count."""
    chance = np.random.default_rng(20_240_601)
    names = labels_of(rows)
    picking, plant = np.divmod(np.arange(rows), len(names))
    season, nth = np.divmod(picking, PICKINGS)
    first = np.array([f"{2019 + number}-07-01" for number in range(SEASONS)], "datetime64[D]")
    return pa.table({
        "event": pa.repeat(pa.scalar("picked"), rows),
        "labels": pa.array(names).take(pa.array(plant)),
        "on": pa.array(first[season] + nth * 4 + plant % 4),
        "grams": np.round(chance.gamma(3.0, 60.0, rows) + 5, 1),
        "count": chance.integers(1, 40, rows),
    })  # fmt: skip


def begun(folder: Path, rows: int) -> Path:
    """A garden in which all plants are sown and nothing is picked."""
    with pn.Garden.create(folder) as garden:
        sown = [pn.Sown(label, "2019-04-01", "Phaseolus coccineus", bed="b") for label in labels_of(rows)]
        garden.record(pn.Site("home", latitude=51.5), pn.Bed("b", "home"), *sown, today=TODAY)
    return folder


def plain(book: Path, folder: Path) -> None:
    """The least that reading and keeping the rows can cost."""
    rows = pq.read_table(book) if book.suffix == ".parquet" else pyarrow.csv.read_csv(book)
    write_deltalake(folder, rows.append_column("year", pc.year(rows["on"]).cast(pa.int32())), partition_by=["year"])


def take_in(book: Path, folder: Path) -> None:
    """The same rows as a grower's book, with every check."""
    with pn.Garden.open(folder) as garden:
        report = read(garden, book, book="invented", today=TODAY)
        if report.already_known or report.doubts:
            raise SystemExit("the invented rows are not all new and likely; the figures would be of something else")


def measured(work: Callable[..., None], *args: Path) -> tuple[float, float]:
    """Seconds and peak memory in GB of some work in a process of its own, libraries and all."""
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    child = multiprocessing.get_context("spawn").Process(target=_timed, args=(theirs, work, *args))
    child.start()
    theirs.close()
    seconds, peak_gb = ours.recv()
    child.join()
    return seconds, peak_gb


def _timed(answer: multiprocessing.connection.Connection, work: Callable[..., None], *args: Path) -> None:
    started = time.perf_counter()
    work(*args)
    answer.send((time.perf_counter() - started, _peak_gb()))


def _peak_gb() -> float:
    """The most memory this process has held; where only the system's account of it is to be had, it may be that of the
    process that began it."""
    status = Path("/proc/self/status")
    if status.exists():
        (kilobytes,) = re.findall(r"VmHWM:\s+(\d+) kB", status.read_text(encoding="ascii"))
        return int(kilobytes) / 1e6
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e9 if sys.platform == "darwin" else 1e6)


def told(name: str, value: float, bound: float) -> None:
    """Print one figure."""
    figure = {"name": name, "value": round(value, 3), "bound": bound, "holds": value <= bound}
    print(json.dumps(figure), flush=True)


def one_picking_s(folder: Path, repeats: int) -> float:
    """Seconds to record one picking, the middle of several."""
    with pn.Garden.open(folder) as garden:
        return statistics.median(_single_s(garden, number) for number in range(repeats))


def _single_s(garden: pn.Garden, number: int) -> float:
    started = time.perf_counter()
    garden.record(pn.Picked(f"P{number % 10:05d}", f"2024-08-{1 + number % 28:02d}", 100 + number), today=TODAY)
    return time.perf_counter() - started


def bulk(folder: Path, rows: int, runs: int) -> None:
    """Bulk intake: time against the plain read and write, and memory; leaves the filled garden in folder/plot."""
    written = harvest_rows(rows)
    pq.write_table(written, folder / "book.parquet")
    pyarrow.csv.write_csv(written, folder / "book.csv")
    del written
    empty = begun(folder / "begun", rows)
    for form in ("Parquet", "CSV"):
        book = folder / f"book.{form.lower()}"
        # by turns, so that a busy minute of the machine bears on both
        plainly: list[float] = []
        ours: list[tuple[float, float]] = []
        for run in range(runs + PLAIN_RUNS_MORE):
            plainly.append(measured(plain, book, emptied(folder / "plain"))[0])
            if run < runs:
                ours.append(measured(take_in, book, shutil.copytree(empty, emptied(folder / "plot"))))
        with pn.Garden.open(folder / "plot") as garden:
            stored = int(garden.sql("select count(*) as rows from harvest")["rows"][0])
        if stored != rows:
            raise SystemExit(f"{stored} of {rows} rows were stored; the figures would be of something else")
        peak_gb = max(gb for _, gb in ours)
        ratio = statistics.median(seconds for seconds, _ in ours) / statistics.median(plainly)
        told(f"bulk intake of {form}, of reading and writing it plainly", ratio, BULK_BOUND)
        told(f"bulk intake of {form}, peak memory in GB", peak_gb, MEMORY_BOUND_GB)


def emptied(folder: Path) -> Path:
    """A folder that is not there, whatever was in it before."""
    shutil.rmtree(folder, ignore_errors=True)
    return folder


def one_picking(folder: Path, repeats: int) -> None:
    """One picking in the filled garden against one in a garden of few rows; both came in one batch, so in as many
    files."""
    few = begun(folder / "few", FEW_ROWS)
    pq.write_table(harvest_rows(FEW_ROWS), folder / "few.parquet")
    take_in(folder / "few.parquet", few)
    ratio = one_picking_s(folder / "plot", repeats) / one_picking_s(few, repeats)
    told("one picking, of what it costs among 5,000 rows", ratio, ONE_BOUND)


def many_singles(folder: Path, singles: int) -> None:
    """The last tenth of many single records against the first tenth."""
    plot = begun(folder / "singles", FEW_ROWS)
    with pn.Garden.open(plot) as garden:
        seconds = [_single_s(garden, number) for number in range(singles)]
    tenth = max(singles // 10, 1)
    told("single records, last tenth of the first", sum(seconds[-tenth:]) / sum(seconds[:tenth]), RUN_BOUND)


def main() -> None:
    """Measure all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=5_000_000)
    parser.add_argument("--runs", type=int, default=RUNS)
    parser.add_argument("--singles", type=int, default=1_000)
    parser.add_argument("--repeats", type=int, default=15)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="perennia-benchmark-") as name:
        bulk(Path(name), given.rows, given.runs)
        one_picking(Path(name), given.repeats)
        many_singles(Path(name), given.singles)


if __name__ == "__main__":
    main()
