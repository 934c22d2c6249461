"""Blank pages to print and write on in the garden; their columns are those of the workbook's sheets."""

from __future__ import annotations

from html import escape
from pathlib import Path

import attrs

from perennia.intake.new_file import new_path, write_new
from perennia.intake.page_style import STYLE
from perennia.intake.read_me_sheet import meaning
from perennia.intake.sheet_columns import Column, sheets
from perennia.records.catalogue import class_of

_REMINDERS = (
    "Write the year at the head of the page.",
    "One line is one event: one line a picking.",
    "0 = looked and found nothing; empty = not written down.",
    "No ditto marks: write every line whole.",
    "Names as on the sticks.",
)
_DAYS = 31
# a column that means something else for every event explains itself no further on paper
_MEANINGS_TOLD = 2


@attrs.frozen
class BookPage:
    """One kind of page: the sheet and events it is for, and the width of each column in mm.

    head is what is written once for the whole page; lines is the number of lines to write on. A page with days has
    a line for each day of a month instead, whose number stands in the column ``on``.
    """

    title: str
    sheet: str
    events: tuple[str, ...]
    widths: dict[str, int]
    head: tuple[str, ...] = ("garden", "book", "year", "bed")
    lines: int = 28
    days: bool = False


PAGES = (
    BookPage(
        "Pickings", "Harvest", ("picked",),
        {"on": 26, "labels": 38, "grams": 20, "count": 16, "use": 24, "clearance": 20, "note": 44},
    ),
    BookPage(
        "Plants begun and planted", "Life",
        ("sown", "already_here", "acquired", "emerged", "planted", "moved", "replanted", "divided", "cutting_taken"),
        {"event": 22, "label": 17, "on": 21, "crop": 28, "cultivar": 20, "bed": 16, "plants": 12, "kind": 11,
         "into": 18, "note": 23},
        lines=26,
    ),
    BookPage(
        "Lifting and wintering", "Life", ("lifted", "stored", "store_checked", "mulched"),
        {"event": 23, "label": 17, "on": 21, "root_g": 16, "roots_broken": 16, "condition": 18, "place": 18,
         "protection": 19, "box": 14, "note": 26},
    ),
    BookPage(
        "Regrowth, dieback and death", "Life", ("regrew", "flowered", "cut_back", "died_back", "died", "removed"),
        {"event": 24, "label": 20, "on": 24, "shoots": 16, "to_cm": 15, "extent": 18, "cause": 24, "reason": 20,
         "note": 27},
    ),
    BookPage(
        "Trusses", "Flowering", ("truss_count",),
        {"label": 24, "truss": 28, "on": 26, "opened": 18, "set": 16, "dropped": 18, "full_size": 18, "note": 40},
    ),
    BookPage(
        "Flowers one by one", "Flowering", ("flower_fate",),
        {"label": 20, "truss": 24, "position": 17, "opened_on": 25, "set_on": 25, "ended_on": 25, "end": 24,
         "note": 28},
    ),
    BookPage(
        "Watering and care", "Care",
        ("watered", "fed", "hand_pollinated", "covered", "uncovered", "damage", "noted"),
        {"event": 23, "on": 19, "bed": 16, "labels": 22, "litres": 14, "what": 22, "amount_g": 17, "cover": 15,
         "cause": 15, "note": 25},
        head=("garden", "book", "year"), lines=26,
    ),
    BookPage(
        "Weather of a month", "Weather", ("weather",),
        {"on": 12, "t_min_c": 22, "t_max_c": 22, "rain_mm": 24, "rh_pct": 20, "wind_m_s": 22, "solar_mj_m2": 26,
         "note": 40},
        head=("garden", "book", "year", "month", "site or bed"), days=True,
    ),
)  # fmt: skip


def book_pages(path: str | Path) -> Path:
    """Write one HTML file of blank pages, A4, to print and write on in the garden, and return its path.

    It needs no network and no script and prints in black and white; the headings are the words of the workbook that
    template writes. Raises IntakeError when the file is there already or cannot be written.
    """
    path = new_path(path, ".html", "the book pages")
    write_new(path, _document().encode())
    return path


def _document() -> str:
    pages = "\n".join(_section(page) for page in PAGES)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Book pages for the garden</title>
<style>{STYLE}</style>
</head>
<body>
<header class="screen">
<h1>Book pages for the garden</h1>
<p>Print as many of each page as the season needs, on A4, at full size. At home each line becomes a row of the
workbook: the sheet is named on the page, and the headings are the same.</p>
</header>
<main>
{pages}
</main>
</body>
</html>
"""


def _section(page: BookPage) -> str:
    name = page.title.lower().replace(",", "").replace(" ", "-")
    head = "".join(f'<li>{escape(word)}<span class="blank"></span></li>' for word in page.head)
    return f"""<section aria-labelledby="{name}">
<div class="head"><h2 id="{name}">{escape(page.title)}</h2><p>sheet {escape(page.sheet)}</p></div>
<ul class="blanks">{head}</ul>
<div class="wide" tabindex="0">
{_table(page, name)}
</div>
{_legend(page)}
<p class="foot">{escape(" ".join(_REMINDERS))}</p>
</section>"""


def _table(page: BookPage, name: str) -> str:
    columns = _columns(page)
    widths = "".join(f'<col style="width: {width}mm">' for width in page.widths.values())
    heads = "".join(
        f'<th scope="col">{_breakable(columns[field].heading if field in columns else field)}</th>'
        for field in page.widths
    )
    blank = "<td></td>" * len(page.widths)
    if page.days:
        numbered = "<td></td>" * (len(page.widths) - 1)
        rows = [f'<tr><th scope="row">{day}</th>{numbered}</tr>' for day in range(1, _DAYS + 1)]
    else:
        rows = [f"<tr>{blank}</tr>"] * page.lines
    body = "\n".join(rows)
    kind = ' class="days"' if page.days else ""
    return f"""<table{kind} aria-labelledby="{name}">
<colgroup>{widths}</colgroup>
<thead><tr>{heads}</tr></thead>
<tbody>
{body}
</tbody>
</table>"""


def _breakable(heading: str) -> str:
    """A heading that may go on in a second line after a low line, still read as one word."""
    return escape(heading).replace("_", "_<wbr>")


def _columns(page: BookPage) -> dict[str, Column]:
    """The columns of the page's sheet by name, each with the rules of the page's events alone."""
    sheet = next(sheet for sheet in sheets() if sheet.title == page.sheet)
    return {
        column.name: attrs.evolve(
            column, rules={event: rule for event, rule in column.rules.items() if event in page.events}
        )
        for column in sheet.columns
        if set(column.rules) & set(page.events)
    }


def _legend(page: BookPage) -> str:
    """What the events and columns of a page mean."""
    columns = _columns(page)
    words = []
    if len(page.events) == 1:
        words.append(("event", f"{page.events[0]} in every line"))
    else:
        words += [(event, _first_sentence(event)) for event in page.events]
    words += [
        (columns[name].heading, _told(columns[name]))
        for name in page.widths
        if name in columns and len(columns[name].meanings) <= _MEANINGS_TOLD
    ]
    parts = "".join(f"<div><dt>{escape(term)}</dt><dd>{escape(told)}</dd></div>" for term, told in words)
    return f'<dl class="legend">{parts}</dl>'


def _first_sentence(event: str) -> str:
    return meaning(class_of(event)).partition(". ")[0].removesuffix(".")


def _told(column: Column) -> str:
    means = " / ".join(column.meanings)
    if column.choices:
        return f"{means}: {', '.join(column.choices)}"
    flag = all(rule.kind == "flag" for rule in column.rules.values())
    return f"{means}: yes or no" if flag else means
