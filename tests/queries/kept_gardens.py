"""The demo garden with answers kept beside it, how they are made to show where they are read, and what ends them."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

import perennia as pn
from perennia.queries.answer_files import FOLDER, _bytes_told
from tests.demo_gardens import demo_by_terminal

TODAY = date(2026, 1, 1)


def compacted(folder: Path) -> None:
    """The demo garden, compacted."""
    demo_by_terminal(folder)
    with pn.Garden.open(folder) as garden:
        garden.compact()


def answers(plot: Path, name: str = "*") -> list[Path]:
    """The files of the answers kept beside a garden: all, or those of one name."""
    return sorted((plot / FOLDER).glob(f"{name}-*.parquet"))


def falsify(file: Path, column: str, values: Sequence[Any]) -> Path:
    """Write other values into a column of an answer, one a row, as if they had been worked out. Gives the file, which
    has another name then."""
    rows = pq.read_table(file)
    place = rows.column_names.index(column)
    pq.write_table(rows.set_column(place, column, pa.array(values, rows.schema.field(place).type)), file)
    return file.rename(file.with_name(f"{file.stem.rpartition('-')[0]}-{_bytes_told(file)}.parquet"))


def recorded(plot: Path) -> None:
    """One more entry."""
    with pn.Garden.open(plot) as garden:
        label = garden.table("plants")["label"][0]
        garden.record(pn.Noted("2024-08-01", "windy", labels=[label]), today=TODAY)


def corrected(plot: Path) -> None:
    """One picking taken back."""
    with pn.Garden.open(plot) as garden:
        garden.correct(garden.table("harvest")["record_id"][0], reason="weighed with the bowl", today=TODAY)


def profiled(plot: Path) -> None:
    """A crop profile of the grower's own."""
    (plot / "crops").mkdir()
    profile = 'crop = "Phaseolus coccineus"\nusual_picking_gap_days = { value = 9, source = "my own books" }\n'
    (plot / "crops" / "beans.toml").write_text(profile, encoding="utf-8")


def called_otherwise(plot: Path) -> None:
    """A crop profile of the grower's own that only knows another name."""
    (plot / "crops").mkdir()
    profile = 'crop = "Phaseolus coccineus"\ncommon_names = ["runner bean", "climbing bean of the hedge"]\n'
    (plot / "crops" / "beans.toml").write_text(profile, encoding="utf-8")


def written_over(plot: Path) -> None:
    """One file of pickings put in place anew."""
    os.utime(sorted((plot / "harvest").glob("*/*.parquet"))[0], ns=(1, 1))


def of_another_size(plot: Path) -> None:
    """One file of pickings longer than it was, be it put in place at the same time."""
    file = sorted((plot / "harvest").glob("*/*.parquet"))[0]
    facts = file.stat()
    rows = pq.read_table(file)
    pq.write_table(rows, file, compression="none")
    os.utime(file, ns=(facts.st_atime_ns, facts.st_mtime_ns))


CHANGES: tuple[Callable[[Path], None], ...] = (
    recorded, corrected, profiled, called_otherwise, written_over, of_another_size
)  # fmt: skip
"""Each of these ends what was kept."""


def check_read_where_compacted(
    folder: Path, falsified: Callable[[Path], None], reads_them: Callable[[pn.Garden], bool]
) -> None:
    """Answers kept by a garden that was compacted are read by it, without its being opened again."""
    plot = demo_by_terminal(folder)
    with pn.Garden.open(plot) as garden:
        garden.compact()
        falsified(plot)
        assert reads_them(garden)


def check_ended_by(
    change: Callable[[Path], None], plot: Path, name: str, falsified: Callable[[Path], None],
    reads_them: Callable[[pn.Garden], bool],
) -> None:  # fmt: skip
    """After a change the answers kept under a name are not read, and a compaction keeps others beside them."""
    falsified(plot)
    change(plot)
    with pn.Garden.open(plot) as garden:
        assert not reads_them(garden)
        garden.compact()
        assert len(answers(plot, name)) == 2
        assert not reads_them(garden)
