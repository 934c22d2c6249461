"""What became of a book that was taken in, and what was wrong in it, cell by cell."""

from __future__ import annotations

from pathlib import Path

import attrs
import pandas as pd

from perennia.checking import Doubt
from perennia.checking.words import counted
from perennia.errors import Problem


@attrs.frozen
class CellProblem(Problem):
    """One thing wrong with one row of a book.

    file and sheet (empty where a file is one table); row as a spreadsheet counts, the headings standing in row 1;
    column the heading, empty for what spans columns; value the cell as written, None where it is empty.
    """

    file: str = ""
    sheet: str = ""
    row: int = 0
    column: str = ""
    value: str | None = None

    def reason(self) -> str:
        """What is wrong and what would be right, without the place."""
        return f"{f'{self.column}: ' if self.column else ''}{self.wrong}; {self.remedy}"


@attrs.frozen
class IntakeReport:
    """What became of the rows of a book: rows = stored + already_known + corrected + set_aside.

    doubts is what the grower should look at; problems says of every row set aside what is wrong; aside_files are the
    files in which these rows lie, to be mended and read in again; aside_rows has them as a frame (cells as written,
    first the reason); notes are sentences on how the files were read and what they lack.
    """

    book: str
    files: tuple[str, ...]
    rows: int
    stored: int
    already_known: int
    corrected: int
    set_aside: int
    doubts: tuple[Doubt, ...]
    problems: tuple[CellProblem, ...]
    aside_files: tuple[Path, ...]
    aside_rows: pd.DataFrame
    notes: tuple[str, ...]

    def summary(self) -> str:
        """One plain sentence."""
        parts = [f"{self.stored} stored", f"{self.already_known} already known"]
        if self.corrected:
            parts.append(f"{self.corrected} corrected")
        parts.append(f"{self.set_aside} set aside")
        where = f" in {' and '.join(str(file) for file in self.aside_files)}" if self.aside_files else ""
        return (
            f"{counted(self.rows, 'row')} read from {counted(len(self.files), 'file')} of {self.book}: "
            f"{', '.join(parts)}{where}; {counted(len(self.doubts), 'doubt')}"
        )
