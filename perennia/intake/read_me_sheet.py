"""The words of a blank workbook's first sheet: how to fill it in, then every event and every column."""

from __future__ import annotations

from collections.abc import Iterator

from perennia.intake.sheet_columns import Sheet, left_empty, needed, needed_together
from perennia.records.base import Record
from perennia.records.catalogue import rules_of

FILLING_IN = (
    (
        "One line",
        "One line is one event: what happened, to which plant or place, and when. Choose the event in the first "
        "column, then fill in what belongs to it. Once the event is chosen, cells that do not belong to it turn "
        "grey, and cells that must not stay empty get a frame. Each heading has a comment that explains its "
        "column.",
    ),
    (
        "Where to begin",
        "Write the garden into Sites and each bed into Beds, then the beginning of each plant into Life: sown, "
        "acquired or already_here. All else refers to these names.",
    ),
    (
        "Examples",
        "Lines whose event begins with the word example: are invented and are never taken in. Leave them or delete "
        "them.",
    ),
    (
        "Headings",
        "Leave the words of the headings as they are; columns may stand in any order, and those you do not use may "
        "be deleted. A unit in brackets may be another for the whole column: grams (kg), litres (US gallons), "
        "rain_mm (inches), t_min_c (F). All other units are fixed; the list of columns below gives them.",
    ),
    (
        "Dates",
        "The year comes first: 2024-04-15. The columns for dates are formatted as text so that your words stay as "
        "typed. In a cell of another format a spreadsheet turns 2024-04 into the first of April, a day that nobody "
        "wrote down. What you paste brings its own format along: paste as text or values only, then look at the "
        "dates again.",
    ),
    (
        "Half-remembered days",
        "2024-04 is some day of that month, 2024 some day of that year, 2024-04~ about that month, "
        "2024-04-02/2024-04-09 some day from the first to the last, ../2018 by the end of 2018. Write what you "
        "know and no more. A column for a single day takes only a whole date.",
    ),
    (
        "Names",
        "A plant's label is the name on its stick, written alike each time, without comma or stroke (/). Where a "
        "column is called labels, several that were picked or treated together stand in one cell with commas "
        "between: B1, B2. left_for_seed takes one label only.",
    ),
    (
        "Zero and empty",
        "0 says that you looked and found nothing. An empty cell says that it was not written down. They are not "
        "the same: never fill empty cells with 0.",
    ),
    (
        "Numbers",
        "Only the number, without its unit, with the decimal sign of your spreadsheet. If a number turns into a "
        "date as you type it, you have used the other decimal sign: set the cell's format back to General and type "
        "it again.",
    ),
    (
        "Every line whole",
        "No ditto marks and no empty cell for the same as above: each line is read by itself.",
    ),
    (
        "Plain cells",
        "No formulas and no merged cells; each cell holds what it says. Colours and fonts are not read. Sheets of "
        "your own go into another workbook. Empty lines do no harm.",
    ),
    (
        "The book's name",
        "When the workbook is taken into the garden it is given under the name of the book, such as kitchen "
        "garden. Keep one name from year to year, and the file's name may change: rows taken in before are known "
        "again and stored once.",
    ),
    (
        "Old lines",
        "Lines are told apart by the book's name, the event, the plant or place, the day, and their order among "
        "lines that are alike in these. So do not change, reorder or delete lines that have been taken in; with "
        "another date a line would count as a new one. Mend a mistake with perennia correct, and add new lines "
        "below.",
    ),
)
EVENT_HEADS = ("event", "what it means", "must be given", "may be given")
COLUMN_HEADS = ("column", "what it means", "must be given for", "what a cell may hold")


def event_rows(sheet: Sheet) -> Iterator[tuple[str, str, str, str]]:
    """For each event of a sheet its name, meaning, needed fields and other fields, under the sheet's own headings."""
    headings = {name: column.heading for column in sheet.columns for name in _fields_of(column.name)}
    for event, cls in sheet.events.items():
        must = [headings[name] for name in needed(cls)]
        empty = left_empty(cls)
        may = [
            f"{headings[name]} (empty: {empty[name]})" if name in empty else headings[name]
            for name in rules_of(cls)
            if name not in needed(cls)
        ]
        yield event, meaning(cls), "; ".join([", ".join(must), *needed_together(cls)]), ", ".join(may)


def column_rows(sheet: Sheet) -> Iterator[tuple[str, str, str, str]]:
    """For each column of a sheet its heading, meaning, the events that need it and what a cell may hold."""
    for column in sheet.columns:
        several = len(column.meanings) > 1
        means = "\n".join(
            f"{words} ({', '.join(events)})" if several else words for words, events in column.meanings.items()
        )
        yield column.heading, means, ", ".join(column.needed_by), column.allowed


def meaning(cls: type[Record]) -> str:
    """What an event means, in the words of its class on one line; its true is a cell's yes."""
    return " ".join((cls.__doc__ or "").replace("``", '"').replace("=True", "=yes").split())


def _fields_of(column: str) -> tuple[str, ...]:
    """The fields a column is for: that of labels or label is one column."""
    return ("labels", "label") if column in ("labels", "label") else (column,)
