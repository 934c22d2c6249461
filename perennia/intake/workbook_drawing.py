"""The sheets of a blank workbook drawn with openpyxl: formats, drop-downs, comments, shading, and the words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.formatting.rule import Rule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties, WorksheetProperties
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.xml.functions import tostring

from perennia.intake.example_lines import EXAMPLE, example_lines
from perennia.intake.headings import other_units
from perennia.intake.read_me_sheet import COLUMN_HEADS, EVENT_HEADS, FILLING_IN, column_rows, event_rows
from perennia.intake.sheet_columns import CHOICES, READ_ME, Column, Sheet, left_empty, sheets

# drop-downs and shading reach this far down; what is typed below is read all the same
LAST_ROW = 10_000
_AS_TYPED = "@"
_LARGEST = 10**12
_WIDTHS = {"text": 20, "label": 16, "labels": 18, "number": 12, "whole": 10, "flag": 10, "day": 14, "span": 22}

_THIN, _THICK = Side(style="thin"), Side(style="medium")
_FRAME = Border(left=_THIN, right=_THIN, top=_THIN, bottom=_THIN)
_HEADING_FILL = PatternFill("solid", fgColor="E4E4E4")
_NOT_FOR_THIS = PatternFill("solid", bgColor="CFCFCF")
_BOLD, _TITLE, _EXAMPLE = Font(bold=True), Font(bold=True, size=14), Font(italic=True, color="606060")
_WRAPPED = Alignment(wrap_text=True, vertical="top")


def blank_workbook() -> Workbook:
    """The whole workbook: Read me, the sheets to fill in, and the hidden lists behind their drop-downs."""
    workbook = Workbook()
    _draw_read_me(workbook.worksheets[0], sheets())
    lists = Lists(workbook.create_sheet(CHOICES))
    for sheet in sheets():
        _draw_sheet(workbook.create_sheet(sheet.title, len(workbook.sheetnames) - 1), sheet, lists)
    return workbook


def properties_part(workbook: Workbook) -> bytes:
    """The part of the file that tells its author and times."""
    part: bytes = tostring(workbook.properties.to_tree())
    return part


class Lists:
    """The hidden sheet of lists, one a column, each written once however many cells point at it."""

    def __init__(self, page: Worksheet) -> None:
        self._page = page
        self._at: dict[tuple[str, ...], str] = {}
        page.sheet_state = "hidden"

    def range_of(self, values: Iterable[str]) -> str:
        """Where the values stand, as a formula names it."""
        values = tuple(values)
        if values not in self._at:
            column = len(self._at) + 1
            for row, value in enumerate(values, start=1):
                self._page.cell(row, column, value).number_format = _AS_TYPED
            letter = get_column_letter(column)
            self._at[values] = f"{CHOICES}!${letter}$1:${letter}${len(values)}"
        return self._at[values]


def _draw_sheet(page: Worksheet, sheet: Sheet, lists: Lists) -> None:
    _heading(page, 1, "event", "What happened: one of the list.\n\nMust be given in every line.", always=True)
    _column_format(page, 1, 22, as_typed=True)
    _validate(page, 1, _event_choice(sheet, lists))
    for place, column in enumerate(sheet.columns, start=2):
        always = len(column.needed_by) == len(sheet.events)
        _heading(page, place, column.heading, _explained(column, sheet), always=always)
        kinds = [rule.kind for rule in column.rules.values()]
        width = 40 if column.name == "note" else max(_WIDTHS[kinds[0]], len(column.heading) + 4)
        # a spreadsheet turns 2024-04, a label 3-4 and a first day 07-01 into dates, unless the cell is text; numbers
        # stay General, since there a date shows itself and can be refused
        _column_format(page, place, width, as_typed=not {"number", "whole", "flag"} & set(kinds))
        _validate(page, place, _validation(column, lists))
        _shade(page, place, column, sheet, lists)
    _draw_examples(page, sheet)
    page.freeze_panes = "C2"
    page.row_dimensions[1].height = 32
    page.print_title_rows = "1:1"
    page.page_setup.orientation, page.page_setup.paperSize = "landscape", page.PAPERSIZE_A4


def _heading(page: Worksheet, place: int, words: str, explained: str, *, always: bool) -> None:
    cell = page.cell(1, place, words)
    cell.font, cell.fill, cell.alignment = _BOLD, _HEADING_FILL, Alignment(wrap_text=True, vertical="center")
    # a column that every line needs has a thick rule below its heading
    cell.border = Border(bottom=_THICK if always else _THIN)
    cell.number_format = _AS_TYPED
    cell.comment = Comment(explained, "perennia", height=40 + 18 * _lines(explained, 42), width=320)


def _lines(words: str, width: int) -> int:
    return sum(1 + len(line) // width for line in words.split("\n"))


def _column_format(page: Worksheet, place: int, width: int, *, as_typed: bool) -> None:
    dimension = page.column_dimensions[get_column_letter(place)]
    dimension.width = width
    if as_typed:
        dimension.number_format = _AS_TYPED


def _explained(column: Column, sheet: Sheet) -> str:
    """The comment on a heading: what the column means, for which events, what it holds, and who needs it."""
    every = len(column.rules) == len(sheet.events)
    if len(column.meanings) == 1:
        lines = [*column.meanings, "For every event." if every else f"For {', '.join(column.rules)}."]
    else:
        lines = [f"{words}: for {', '.join(events)}" for words, events in column.meanings.items()]
    lines.append(f"Write {column.allowed}.")
    empty = {event: left_empty(sheet.events[event]).get(column.name) for event in column.rules}
    lines += [f"An empty cell means {word}." for word in dict.fromkeys(filter(None, empty.values()))]
    if len(column.needed_by) == len(sheet.events):
        lines.append("Must be given in every line.")
    elif column.needed_by:
        lines.append(f"Must be given for {', '.join(column.needed_by)}.")
    return "\n\n".join(lines)


def _event_choice(sheet: Sheet, lists: Lists) -> DataValidation:
    # a warning only: the reader knows Died back as died_back, and example: lines are of use to keep
    return DataValidation(
        type="list", formula1=lists.range_of(sheet.events), errorStyle="warning", errorTitle="event",
        error=f"This is no event of the sheet {sheet.title}. Choose one of the list.",
    )  # fmt: skip


def _validation(column: Column, lists: Lists) -> DataValidation | None:
    """The drop-down, limits or input message of a column; None where text is free."""
    kinds = {rule.kind for rule in column.rules.values()}
    if column.choices:
        return _choice(column, lists.range_of(column.choices), "Choose one of the list, or leave the cell empty.")
    if kinds == {"flag"}:
        return _choice(column, lists.range_of(("yes", "no")), "Choose yes or no, or leave the cell empty.")
    if kinds <= {"number", "whole"}:
        return _limits(column)
    if kinds <= {"day", "span", "labels"}:
        return DataValidation(promptTitle=column.name, prompt=f"Write {column.allowed}.")
    return None


def _choice(column: Column, listed: str, error: str) -> DataValidation:
    return DataValidation(type="list", formula1=listed, errorStyle="stop", errorTitle=column.name, error=error)


def _limits(column: Column) -> DataValidation:
    rules = column.rules.values()
    least = min(-_LARGEST if rule.minimum is None else rule.minimum for rule in rules)
    most = max(_LARGEST if rule.maximum is None else rule.maximum for rule in rules)
    if any(other_units(rule) for rule in rules):
        # the grower may change the unit of the column, and of all limits only 0 is the same in each
        least, most = 0 if least == 0 else -_LARGEST, _LARGEST
    return DataValidation(
        type="whole" if all(rule.kind == "whole" for rule in rules) else "decimal", operator="between",
        formula1=f"{least:.15g}", formula2=f"{most:.15g}", errorStyle="stop", errorTitle=column.name,
        error=f"Write {column.allowed}. Write the number without its unit, or leave the cell empty.",
    )  # fmt: skip


def _validate(page: Worksheet, place: int, validation: DataValidation | None) -> None:
    if validation is None:
        return
    validation.allowBlank = True
    validation.showErrorMessage = validation.error is not None
    validation.showInputMessage = validation.prompt is not None
    validation.add(_cells(place))
    page.add_data_validation(validation)


def _shade(page: Worksheet, place: int, column: Column, sheet: Sheet, lists: Lists) -> None:
    """Grey for the cells that a line's event does not have, a frame round those it needs and that are empty."""
    cell = f"{get_column_letter(place)}2"
    event = f'SUBSTITUTE(TRIM(SUBSTITUTE(LOWER($A2),"{EXAMPLE}",""))," ","_")'
    if len(column.rules) < len(sheet.events):
        known = f"ISNUMBER(MATCH({event},{lists.range_of(sheet.events)},0))"
        here = f"ISNUMBER(MATCH({event},{lists.range_of(column.rules)},0))"
        _look(page, place, f"AND({known},NOT({here}))", DifferentialStyle(fill=_NOT_FOR_THIS))
    if column.needed_by:
        needs = f"ISNUMBER(MATCH({event},{lists.range_of(column.needed_by)},0))"
        _look(page, place, f'AND({needs},{cell}="")', DifferentialStyle(border=_FRAME))


def _look(page: Worksheet, place: int, formula: str, style: DifferentialStyle) -> None:
    page.conditional_formatting.add(_cells(place), Rule(type="expression", formula=[formula], dxf=style))


def _cells(place: int) -> str:
    letter = get_column_letter(place)
    return f"{letter}2:{letter}{LAST_ROW}"


def _draw_examples(page: Worksheet, sheet: Sheet) -> None:
    names = ["event", *(column.name for column in sheet.columns)]
    for row, line in enumerate(example_lines(sheet.title), start=2):
        for name, value in line.items():
            cell = page.cell(row, names.index(name) + 1, value)
            cell.font = _EXAMPLE
            if isinstance(value, str):
                cell.number_format = _AS_TYPED


def _draw_read_me(page: Worksheet, every: Sequence[Sheet]) -> None:
    page.title = READ_ME
    for letter, width in zip("ABCD", (22, 70, 34, 60), strict=True):
        page.column_dimensions[letter].width = width
    page["A1"], page["A1"].font = "The garden's books: how to fill in this workbook", _TITLE
    for words in FILLING_IN:
        _words(page, words)
    for sheet in every:
        _title(page, f"Events of the sheet {sheet.title}")
        _table(page, EVENT_HEADS, event_rows(sheet))
    for sheet in every:
        _title(page, f"Columns of the sheet {sheet.title}")
        _table(page, COLUMN_HEADS, column_rows(sheet))
    page.page_setup.orientation, page.page_setup.paperSize = "landscape", page.PAPERSIZE_A4
    page.sheet_properties = WorksheetProperties(pageSetUpPr=PageSetupProperties(fitToPage=True))
    page.page_setup.fitToHeight = 0


def _title(page: Worksheet, words: str) -> None:
    page.cell(page.max_row + 2, 1, words).font = _TITLE


def _table(page: Worksheet, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    _words(page, heads)
    for place in range(1, len(heads) + 1):
        cell = page.cell(page.max_row, place)
        cell.font, cell.fill, cell.border = _BOLD, _HEADING_FILL, Border(bottom=_THIN)
    for row in rows:
        _words(page, row)


def _words(page: Worksheet, words: Sequence[str]) -> None:
    """One more row of words, the first of them bold."""
    row = page.max_row + 1
    for place, text in enumerate(words, start=1):
        cell = page.cell(row, place, text)
        cell.alignment, cell.number_format = _WRAPPED, _AS_TYPED
        cell.font = _BOLD if place == 1 else Font()
