"""CSV as spreadsheets and people write it: any delimiter, encoding and line end; quotes strictly as in RFC 4180."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from itertools import chain, islice
from pathlib import Path
from typing import TextIO

import attrs
import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv

from perennia.errors import IntakeError
from perennia.intake.formulas import unguarded
from perennia.intake.sheets import Part, Sheet, blank_as_missing, checked_headings, filled
from perennia.records.catalogue import RECORDS
from perennia.store.threads import two_at_a_time

_QUOTES = "a cell that begins with a quotation mark must end with one, and marks inside it are doubled"
_DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe\0\0", "utf-32"), (b"\0\0\xfe\xff", "utf-32"),
          (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))  # fmt: skip
_WITH_ZEROS = ("utf-16", "utf-32")
_FALLBACK = "cp1252"
_LONGEST_HEADINGS = 2**20
_LONGEST_CELL = 2**24
_LONGEST_LINE = 2**24
_BLOCK = 2**23
# what is looked at byte by byte stays near the processor
_SMALL_BLOCK = 2**20
_SLOW_ROWS = 50_000


@attrs.frozen
class _Form:
    """How the text of a file is laid out. lines: a line of it is a row, whatever is quoted; Arrow can read it."""

    path: Path
    encoding: str
    delimiter: str
    lines: bool


def read_delimited(path: Path, *, encoding: str | None = None, decimal: str | None = None) -> Sheet:
    """One delimited text file as a sheet. Raises IntakeError when it is none.

    The delimiter is the one that parts its first row into most cells. Without a byte order mark the text is UTF-8 or,
    where it cannot be, Windows-1252, which the sheet's notes then say; encoding names another.
    """
    try:
        known = _surveyed(path, encoding)
        with path.open(encoding=known, newline="") as file:
            first = file.readline(_LONGEST_HEADINGS)
    except FileNotFoundError as error:
        raise IntakeError(f"there is no file {path}; check the name and the folder") from error
    except IntakeError:
        raise
    except (OSError, ValueError, LookupError) as error:
        raise IntakeError(f"{path} cannot be read as text ({error}); save it as CSV in UTF-8") from error
    if len(first) >= _LONGEST_HEADINGS:
        raise IntakeError(f"the first line of {path} has over a million letters; its first row must hold column names")
    delimiter = _delimiter(first)
    # headings in the first line, for Arrow's reader leaves out just that
    lines = known in ("utf-8", "utf-8-sig") and bool(first.replace(delimiter, "").strip())
    count = _lines_as_rows(path, delimiter) if lines else None
    form = _Form(path, known, delimiter, count is not None)
    headings = checked_headings(str(path), _headings(form))
    mark = decimal or ("." if form.delimiter == "," else _decimal_mark(form, headings))
    return Sheet(
        path.name, "", headings, lambda: _parts(form, headings), mark, _encoding_notes(form, encoding, headings),
        None if count is None else count - 1,
    )  # fmt: skip


def _surveyed(path: Path, encoding: str | None) -> str:
    """The encoding of a file: the one given, that of its byte order mark, UTF-8, or else Windows-1252."""
    with path.open("rb") as file:
        known = encoding or next((name for mark, name in _MARKS if file.peek(4).startswith(mark)), None)
        decoder = _Decoder()
        while block := file.read(_BLOCK):
            if b"\0" in block and not (known or "").startswith(_WITH_ZEROS):
                raise IntakeError(
                    f"{path} holds bytes of value 0, which no text has; save it from the spreadsheet as CSV or XLSX"
                )
            if known is None:
                decoder.take(block)
    return known or ("utf-8" if decoder.ends_well() else _FALLBACK)


class _Decoder:
    """Whether bytes that come in blocks are UTF-8."""

    def __init__(self) -> None:
        self._rest, self._well = b"", True

    def take(self, block: bytes) -> None:
        """One more block."""
        if not self._well:
            return
        if not self._rest and block.isascii():
            return
        data = self._rest + block
        try:
            data.decode()
            self._rest = b""
        except UnicodeDecodeError as error:
            # a letter cut in two by the end of the block is looked at with the next
            self._rest = data[error.start :]
            self._well = error.reason == "unexpected end of data"

    def ends_well(self) -> bool:
        """Whether all blocks together are UTF-8."""
        return self._well and not self._rest


def _lines_as_rows(path: Path, delimiter: str) -> int | None:
    """The number of lines of a file where every quoted cell begins and ends on one line, right at its edges, and no
    line is blank; None where one is not so."""
    count = 0
    for lines in two_at_a_time(partial(_straight, delimiter=delimiter.encode()), _blocks_of_lines(path, _SMALL_BLOCK)):
        if lines is None:
            return None
        count += lines
    return count


def _blocks_of_lines(path: Path, size: int) -> Iterator[bytes]:
    """The bytes of a file in blocks that end where a line does, without the byte order mark of UTF-8.

    Only of a line longer than any cell may be is a block a piece.
    """
    with path.open("rb") as file:
        if file.read(3) != _MARKS[0][0]:
            file.seek(0)
        while block := file.read(size):
            block += file.readline(_LONGEST_CELL)
            # the last line may want its end
            yield block if block.endswith(b"\n") or file.peek(1) else block + b"\n"


def _straight(block: bytes, delimiter: bytes) -> int | None:
    """The lines of a block where every quoted cell begins and ends on one line, at its edges, and none is blank."""
    letters = np.frombuffer(b"\n" + block, np.uint8)
    newlines, returns = letters == ord("\n"), letters == ord("\r")
    ends = newlines | returns
    if not newlines[-1] or (newlines[:-1] & ends[1:]).any() or (returns[:-1] & ~newlines[1:]).any():
        return None
    # that before the first was put there
    lines = int(np.count_nonzero(newlines)) - 1
    quotes = letters == ord('"')
    if not quotes.any():
        return lines
    marks = np.flatnonzero(quotes | ends)
    quoting = np.flatnonzero(quotes[marks])
    first, last = quoting[::2], quoting[1::2]
    # no line ends between the two marks of a cell: they follow each other
    if len(first) != len(last) or (last - first != 1).any():
        return None
    edges = ends | (letters == delimiter[0])
    return lines if edges[marks[first] - 1].all() and edges[marks[last] + 1].all() else None


def _delimiter(line: str) -> str:
    bare = re.sub(r'"(?:[^"]|"")*"', "", line)
    return max(_DELIMITERS, key=bare.count)


@contextmanager
def _rows(form: _Form) -> Iterator[Iterator[list[str]]]:
    """The rows of a file by the csv module, which takes longer cells for as long."""
    before = csv.field_size_limit(_LONGEST_CELL)
    try:
        with form.path.open(encoding=form.encoding, newline="") as file:
            yield _strict(form, file)
    finally:
        csv.field_size_limit(before)


def _strict(form: _Form, file: TextIO) -> Iterator[list[str]]:
    number = 0
    try:
        for cells in csv.reader(_lines(file), delimiter=form.delimiter, strict=True):
            number += 1
            yield cells
    except csv.Error as error:
        why = "a cell has over 16 million letters" if "field limit" in str(error) else error
        raise IntakeError(f"{form.path} row {number + 1} cannot be read ({why}); {_QUOTES}") from error
    except _TooLongError as error:
        raise IntakeError(
            f"{form.path} row {number + 1} has a line of over 16 million letters; a book has one row an event"
        ) from error
    except ValueError as error:
        raise IntakeError(
            f"{form.path} cannot be read as text after row {number} ({error}); save it as CSV in UTF-8"
        ) from error


class _TooLongError(Exception):
    """A line is longer than any row, and would fill the memory."""


def _lines(file: TextIO) -> Iterator[str]:
    while line := file.readline(_LONGEST_LINE):
        if len(line) == _LONGEST_LINE:
            raise _TooLongError
        yield line


def _headings(form: _Form) -> Sequence[str]:
    with _rows(form) as rows:
        cells: list[str] = next((cells for cells in rows if any(cell.strip() for cell in cells)), [])
    return list(unguarded(pa.array(cells, pa.string())).to_pylist())


def _parts(form: _Form, headings: Sequence[str]) -> Iterator[Part]:
    last = 0
    if form.lines:
        try:
            for part in _line_parts(form, len(headings)):
                last = part.rows[-1].as_py() if len(part.rows) else last
                yield part
            return
        except pa.ArrowException:
            # a row of too few or too many cells: the slow way, from there on, says which
            pass
    yield from _strict_parts(form, headings, last)


def _line_parts(form: _Form, width: int) -> Iterator[Part]:
    """Rows of a file in which a line is a row, by Arrow's reader, a block at a time."""
    first = 2
    for cells in two_at_a_time(partial(_cells, form, width), _blocks_below_headings(form.path)):
        rows = pa.array(np.arange(first, first + len(cells[0])))
        first += len(rows)
        yield filled(cells, rows)


def _cells(form: _Form, width: int, block: bytes) -> list[pa.Array]:
    """The cells of a block of lines, a column each."""
    names = [str(place) for place in range(width)]
    table = pa_csv.read_csv(
        pa.BufferReader(block),
        read_options=pa_csv.ReadOptions(column_names=names, block_size=len(block), use_threads=False),
        parse_options=pa_csv.ParseOptions(delimiter=form.delimiter, ignore_empty_lines=False),
        convert_options=pa_csv.ConvertOptions(
            column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=True, null_values=[""]
        ),
    )
    return [_texts(column.combine_chunks()) for column in table.columns]


def _blocks_below_headings(path: Path) -> Iterator[bytes]:
    """The lines below the headings, in blocks."""
    blocks = _blocks_of_lines(path, _BLOCK)
    _, _, first = next(blocks, b"").partition(b"\n")
    return (block for block in chain([first], blocks) if block)


def _strict_parts(form: _Form, headings: Sequence[str], after: int) -> Iterator[Part]:
    """The rows that stand after a row, by the csv module."""
    with _rows(form) as rows:
        numbered = ((number, cells) for number, cells in enumerate(rows, start=1))
        numbered = (row for row in numbered if any(cell and not cell.isspace() for cell in row[1]))
        next(numbered, None)
        numbered = (row for row in numbered if row[0] > after)
        while some := list(islice(numbered, _SLOW_ROWS)):
            yield _strict_part(form, headings, some)


def _strict_part(form: _Form, headings: Sequence[str], some: list[tuple[int, list[str]]]) -> Part:
    width = len(headings)
    event = next((place for place, name in enumerate(headings) if name.strip().lower() == "event"), None)
    own = any(name.strip().lower() == "record_id" for name in headings)
    for number, cells in some:
        if any(cell.strip() for cell in cells[width:]):
            raise IntakeError(
                f"{form.path} row {number} has more cells than headings; "
                f"put a cell with one of the {_DELIMITERS[form.delimiter]} in it in quotation marks"
            )
        if event is not None and not own and any(_holds_a_row(cell, form.delimiter, event, width) for cell in cells):
            raise IntakeError(f"{form.path} row {number} has a cell that holds whole rows; {_QUOTES}")
        cells[width:] = [""] * (width - len(cells))
    numbers = [number for number, _ in some]
    try:
        columns = [_texts(pa.array(column, pa.string())) for column in zip(*(cells for _, cells in some), strict=True)]
    except UnicodeEncodeError as error:
        raise IntakeError(
            f"{form.path} has half a character in one of the rows {numbers[0]} to {numbers[-1]}; give another encoding"
        ) from error
    return Part(tuple(columns), pa.array(numbers, pa.int64()))


def _texts(cells: pa.Array) -> pa.Array:
    """Cells as they were before they were made safe for a spreadsheet, blank ones missing."""
    return blank_as_missing(unguarded(cells))


def _holds_a_row(cell: str, delimiter: str, event: int, width: int) -> bool:
    """Whether a later line of a cell is a row of its own: a forgotten mark has joined rows to one cell."""
    if "\n" not in cell and "\r" not in cell:
        return False
    for line in cell.splitlines()[1:]:
        parts = [part.strip().lower().replace(" ", "_") for part in line.split(delimiter)]
        if len(parts) == width and parts[event] in RECORDS:
            return True
    return False


_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_GROUPED = re.compile(r"[+-]?\d{1,3}(,\d{3})+")


def _decimal_mark(form: _Form, headings: Sequence[str]) -> str:
    """Whether numbers of a file not parted by commas have a decimal comma. Raises IntakeError where none can tell."""
    seen: set[str] = set()
    for part in _parts(form, headings):
        for column in part.cells:
            texts = column.dictionary_encode().dictionary.to_pylist()
            seen.update(text.strip() for text in texts if _COMMA_NUMBER.fullmatch(text.strip()))
    if not seen:
        return "."
    if all(_GROUPED.fullmatch(text) for text in seen):
        raise IntakeError(
            f"{form.path} has numbers such as {min(seen)}, which can mean thousands or thousandths; "
            "say which sign parts tenths, decimal=',' or decimal='.'"
        )
    return ","


def _encoding_notes(form: _Form, given: str | None, headings: Sequence[str]) -> tuple[str, ...]:
    if given is not None or form.encoding != _FALLBACK:
        return ()
    odd = next(_odd_words(form, headings), "")
    return (
        f"{form.path.name} is not UTF-8 and was read as Windows-1252; check words such as {odd!r}, "
        "and give encoding=... if they are wrong",
    )


def _odd_words(form: _Form, headings: Sequence[str]) -> Iterator[str]:
    texts = chain(headings, (text for part in _parts(form, headings) for column in part.cells
                             for text in column.to_pylist() if text is not None))  # fmt: skip
    for text in texts:
        yield from (word for word in text.split() if not word.isascii())
