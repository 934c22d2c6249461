"""Rows set aside: written beside the book with what is wrong, to be mended and read in again."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import attrs
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from perennia.checking.words import counted
from perennia.intake.columns import BECAUSE, EVENT, FROM_ROW, FROM_SHEET
from perennia.intake.formulas import guarded
from perennia.intake.report import CellProblem
from perennia.intake.rows import Place, Written
from perennia.intake.sheets import Part, Sheet, as_texts, kept

_LONGEST_REASON = 2000
_OURS = (BECAUSE, FROM_SHEET, FROM_ROW)
_MOST_FILES = 1000
_LONGEST_NAME_BYTES = 200
_ROW_NUMBER = re.compile(r"[0-9]{1,12}")
_NAME = re.compile(r"(.*) set aside(?: \d+)?")


@attrs.frozen
class Aside:
    """The rows of one sheet that were set aside: headings and cells, after what is wrong, its sheet and its row."""

    sheet: Sheet
    headings: tuple[str, ...]
    rows: tuple[tuple[str | None, ...], ...]


def is_aside(file: Path) -> bool:
    """Whether a file holds rows that were set aside from another."""
    return _NAME.fullmatch(file.stem) is not None


def rows_aside(places: Mapping[int, Place], problems: Sequence[CellProblem]) -> list[Aside]:
    """The rows that problems speak of, a sheet at a time, each with its reasons in one cell."""
    reasons: dict[int, list[str]] = {}
    for problem in problems:
        reasons.setdefault(problem.position, []).append(problem.reason())
    grouped: dict[int, tuple[Written, list[tuple[str | None, ...]]]] = {}
    for position in sorted(reasons):
        place = places[position]
        because = "; ".join(dict.fromkeys(reasons[position]))[:_LONGEST_REASON]
        row = (because, *_origin(place), *_own_event(place.written), *_cells(place))
        grouped.setdefault(id(place.written), (place.written, []))[1].append(row)
    return [
        Aside(written.sheet, _headings(written), tuple(rows)) for written, rows in grouped.values()
    ]  # fmt: skip


def _headings(written: Written) -> tuple[str, ...]:
    event = (EVENT,) if _own_event(written) else ()
    headings = [heading for heading in written.sheet.headings if heading.strip().lower() not in _OURS]
    return (BECAUSE, FROM_SHEET, FROM_ROW, *event, *headings)


def _origin(place: Place) -> tuple[str | None, str | None]:
    """Sheet and row of a row: those it was first set aside from, if it was."""
    headings = [heading.strip().lower() for heading in place.written.sheet.headings]
    if FROM_SHEET in headings and FROM_ROW in headings:
        return place.cells[headings.index(FROM_SHEET)], place.cells[headings.index(FROM_ROW)]
    return place.written.sheet.told, str(place.row)


def _cells(place: Place) -> list[str | None]:
    """The cells of a row as its book has them."""
    return [cell for heading, cell in zip(place.written.sheet.headings, place.cells, strict=True)
            if heading.strip().lower() not in _OURS]  # fmt: skip


def _own_event(written: Written) -> tuple[str, ...]:
    """The event of rows that have no cell for it, which the name of another file would not tell."""
    named = any(column.field == EVENT for column in written.columns)
    return () if named or written.event is None else (written.event,)


def aside_frame(asides: Sequence[Aside]) -> pd.DataFrame:
    """The rows set aside as one frame of text."""
    frames = [pd.DataFrame(list(aside.rows), columns=list(aside.headings), dtype="string") for aside in asides]
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=[BECAUSE], dtype="string")


def write_aside(folder: Path, asides: Sequence[Aside]) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write the rows of each sheet into a CSV file of its own beside the book: the files, and notes on what was not.

    No file is written over: what lies there may have been mended already. The good rows are stored by now, so that a
    file that cannot be written is no error but told; its rows are in the report, and still in the book.
    """
    files, notes = [], []
    for aside in asides:
        try:
            files.append(_write(folder, aside))
        except (OSError, _FullError) as error:
            notes.append(
                f"{counted(len(aside.rows), 'row')} of {aside.sheet.told} set aside could not be written to {folder} "
                f"({(error.strerror if isinstance(error, OSError) else None) or error}); the book still has them, and "
                "read again it sets them aside again"
            )
    return tuple(files), tuple(notes)


class _FullError(Exception):
    """There are as many files of rows set aside from one sheet as there can be."""


def _name(aside: Aside) -> str:
    stem = " ".join(part for part in (_stem(Path(aside.sheet.file)), aside.sheet.name) if part)
    # names of sheets may hold what names of files cannot, and be longer
    plain = re.sub(r'[\x00-\x1f\\/:*?"<>|]', "_", stem)
    return plain.encode()[:_LONGEST_NAME_BYTES].decode(errors="ignore").strip()


def _write(folder: Path, aside: Aside) -> Path:
    stem = _name(aside)
    text = _text(aside)
    for number in range(1, _MOST_FILES):
        path = folder / f"{stem} set aside{'' if number == 1 else f' {number}'}.csv"
        if os.path.lexists(path):
            # the same rows were set aside before, and nobody has mended them yet
            if path.is_file() and path.stat().st_size == len(text) and path.read_bytes() == text:
                return path
            continue
        _write_whole(path, text)
        return path
    raise _FullError("it is full of rows set aside; mend or delete them first")


def _write_whole(path: Path, text: bytes) -> None:
    with path.open("xb") as file:
        try:
            file.write(text)
            file.flush()
        except OSError:
            # half a file would be taken for all the rows
            path.unlink()
            raise


def _text(aside: Aside) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=";" if aside.sheet.decimal == "," else ",")
    writer.writerow(guarded(pa.array(aside.headings, pa.string())).to_pylist())
    columns = [guarded(pa.array(column, pa.string())).to_pylist() for column in zip(*aside.rows, strict=True)]
    writer.writerows(["" if cell is None else cell for cell in row] for row in zip(*columns, strict=True))
    return text.getvalue().encode("utf-8-sig")


def _stem(file: Path) -> str:
    named = _NAME.fullmatch(file.stem)
    return named[1] if named else file.stem


def originals(sheets: Sequence[Sheet], others: Sequence[Sheet]) -> list[Sheet]:
    """Those of the other sheets from which rows of the sheets were set aside, without these rows.

    They tell how many rows of a day come before those that were mended, so that each has the id it would have had if
    it had been mended in its place.
    """
    gone: dict[str, set[int]] = {}
    for sheet in sheets:
        for told, row in _taken(sheet):
            gone.setdefault(told, set()).add(row)
    return [_without(sheet, gone[sheet.told]) for sheet in others if sheet.told in gone]


def _taken(sheet: Sheet) -> Iterator[tuple[str, int]]:
    names = [heading.strip().lower() for heading in sheet.headings]
    if FROM_SHEET not in names or FROM_ROW not in names:
        return
    for part in sheet.parts():
        told, rows = (
            as_texts(part.cells[names.index(name)]).to_pylist() for name in (FROM_SHEET, FROM_ROW)
        )
        yield from ((of, int(row)) for of, row in zip(told, rows, strict=True)
                    if of and row and _ROW_NUMBER.fullmatch(row.strip()))  # fmt: skip


def _without(sheet: Sheet, rows: set[int]) -> Sheet:
    unwanted = pa.array(sorted(rows), pa.int64())

    def parts() -> Iterator[Part]:
        for part in sheet.parts():
            yield kept(part, pc.invert(pc.is_in(part.rows, value_set=unwanted)))

    return attrs.evolve(sheet, parts=parts)


def source_files(sheets: Sequence[Sheet]) -> list[str]:
    """The names of the files from which rows of the sheets were set aside; a way to another folder is none."""
    names = {told.split(", sheet ")[0] for sheet in sheets for told, _ in _taken(sheet)}
    return sorted(name for name in names if _is_a_name(name))


def _is_a_name(name: str) -> bool:
    return name not in (".", "..") and not set(name) & {"/", "\\", "\0"} and len(name.encode()) <= 255
