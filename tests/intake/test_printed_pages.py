"""The book pages: the words of the workbook on paper, room for a pencil, valid and complete in one file."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import attrs
import openpyxl
import pytest

from perennia.errors import IntakeError
from perennia.intake import book_pages, template
from perennia.records.catalogue import class_of
from perennia.records.rules import AtLeastOne, ExactlyOne

_EMPTY = {"meta", "col", "wbr"}
# what the printed pages are for; a page more or less is a choice to make here too
EVENTS = {
    "Pickings": ["picked"],
    "Plants begun and planted": ["sown", "already_here", "acquired", "emerged", "planted", "moved", "replanted",
                                 "divided", "cutting_taken"],
    "Lifting and wintering": ["lifted", "stored", "store_checked", "mulched"],
    "Regrowth, dieback and death": ["regrew", "flowered", "cut_back", "died_back", "died", "removed"],
    "Trusses": ["truss_count"],
    "Flowers one by one": ["flower_fate"],
    "Watering and care": ["watered", "fed", "hand_pollinated", "covered", "uncovered", "damage", "noted"],
    "Weather of a month": ["weather"],
}  # fmt: skip


@attrs.define
class Page:
    """One section as it is read."""

    title: str = ""
    sheet: str = ""
    blanks: list[str] = attrs.Factory(list)
    headings: list[str] = attrs.Factory(list)
    days: list[str] = attrs.Factory(list)
    widths: list[int] = attrs.Factory(list)
    rows: list[int] = attrs.Factory(list)
    legend: dict[str, str] = attrs.Factory(dict)
    foot: str = ""


class Pages(HTMLParser):
    """Reads the document, holding that every element is closed in its turn."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[tuple[str, dict[str, str | None]]] = []
        self.pages: list[Page] = []
        self.attributes: list[tuple[str, str, str | None]] = []
        self.ids: list[str] = []
        self.words: list[str] = []
        self.term = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        assert len(known) == len(attrs)
        self.attributes += [(tag, name, value) for name, value in attrs]
        if "id" in known:
            self.ids.append(str(known["id"]))
        if tag == "section":
            self.pages.append(Page())
        if tag == "col":
            self.pages[-1].widths.append(int(re.findall(r"width: (\d+)mm", str(known["style"]))[0]))
        if tag == "tr" and self.open[-1][0] == "tbody":
            self.pages[-1].rows.append(0)
        if tag in ("td", "th") and any(name == "tbody" for name, _ in self.open):
            self.pages[-1].rows[-1] += 1
        if tag not in _EMPTY:
            self.open.append((tag, known))
        if tag in ("th", "dt", "dd", "h2", "p", "li"):
            self.words = []

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_endtag(self, tag: str) -> None:
        opened, known = self.open.pop()
        assert opened == tag
        text = "".join(self.words)
        if not self.pages:
            return
        page = self.pages[-1]
        if tag == "th":
            assert known["scope"] in ("col", "row")
            (page.headings if known["scope"] == "col" else page.days).append(text)
        elif tag == "h2":
            page.title = text
        elif tag == "li":
            page.blanks.append(text)
        elif tag == "dt":
            self.term = text
        elif tag == "dd":
            page.legend[self.term] = text
        elif tag == "p" and known.get("class") == "foot":
            page.foot = text
        elif tag == "p":
            page.sheet = text.removeprefix("sheet ")


@pytest.fixture(scope="module")
def html(tmp_path_factory: pytest.TempPathFactory) -> str:
    return book_pages(tmp_path_factory.mktemp("paper") / "pages.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def read(html: str) -> Pages:
    pages = Pages()
    pages.feed(html)
    pages.close()
    assert not pages.open
    return pages


def test_there_is_a_page_for_each_kind_of_work(read: Pages) -> None:
    assert [page.title for page in read.pages] == list(EVENTS)


def test_every_heading_is_one_of_the_workbooks_sheet(read: Pages, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(template(tmp_path / "books.xlsx"))
    for page in read.pages:
        known = [cell.value for cell in workbook[page.sheet][1]]
        assert set(page.headings) <= set(known), page.title
        assert len(set(page.headings)) == len(page.headings)
        assert page.headings[-1] == "note"


def test_what_an_event_needs_can_be_written_down(read: Pages) -> None:
    for page in read.pages:
        there = {re.sub(r" \(.*\)$", "", heading) for heading in page.headings}
        there |= {"label"} if "labels" in there else set()
        there |= {"site", "bed"} if "site or bed" in page.blanks else set()
        for event in EVENTS[page.title]:
            cls = class_of(event)
            own = attrs.fields(cls)
            assert {field.name for field in own if field.default is attrs.NOTHING} <= there, (page.title, event)
            for rule in cls.rules:
                if isinstance(rule, AtLeastOne):
                    assert there & set(rule.fields), (page.title, event)
                if isinstance(rule, ExactlyOne):
                    assert there & {rule.first, rule.second}, (page.title, event)


def test_every_event_and_choice_is_explained_on_its_page(read: Pages) -> None:
    for page in read.pages:
        events = EVENTS[page.title]
        if len(events) == 1:
            assert page.legend["event"] == f"{events[0]} in every line"
            assert "event" not in page.headings
        else:
            assert set(events) <= set(page.legend)
            assert page.headings[0] == "event"
    legend = {page.title: page.legend for page in read.pages}
    assert legend["Lifting and wintering"]["place"] == "how it is kept: pot, bare root"
    assert legend["Lifting and wintering"]["roots_broken"] == "roots broken in lifting: yes or no"
    assert legend["Pickings"]["grams (g)"] == "weight picked off all labels together"
    assert legend["Watering and care"]["cause"].startswith("done by: frost, wind")
    assert "bed" not in legend["Plants begun and planted"], "it means something else for each event"


def test_each_line_has_a_cell_a_heading_and_the_sheet_fits_the_paper(read: Pages) -> None:
    for page in read.pages:
        assert set(page.rows) == {len(page.headings)}
        assert len(page.widths) == len(page.headings)
        # A4 is 210 mm wide, of which the margins take 22
        assert sum(page.widths) == 188
        assert len(page.rows) == 31 if page.days else 26 <= len(page.rows) <= 28


def test_the_weather_has_the_days_of_a_month(read: Pages) -> None:
    days = {page.title: page.days for page in read.pages}
    assert days.pop("Weather of a month") == [str(day) for day in range(1, 32)]
    assert not any(days.values())


def test_a_pencil_has_room_and_the_page_is_of_a4(html: str) -> None:
    heights = [float(height) for height in re.findall(r"tbody tr { height: ([\d.]+)mm", html)]
    assert len(heights) == 2
    assert min(heights) >= 7
    assert "@page { size: A4 portrait;" in html


def test_the_head_asks_for_the_year_and_the_foot_reminds(read: Pages) -> None:
    for page in read.pages:
        assert page.blanks[:3] == ["garden", "book", "year"]
        for said in ("Write the year", "one line a picking", "0 = looked and found nothing", "No ditto marks"):
            assert said in page.foot


def test_the_file_needs_nothing_from_elsewhere(html: str, read: Pages) -> None:
    used = {(tag, name) for tag, name, _ in read.attributes}
    assert not {name for _, name in used} & {"src", "href", "srcset", "action", "data"}
    assert not [name for _, name in used if name.startswith("on")]
    assert not re.search(r"https?:|url\(|@import|<script|<link", html)
    colours = set(re.findall(r"#[0-9a-f]{3,6}\b", html))
    assert colours == {"#000", "#fff"}, "it prints in black and white"


def test_it_is_marked_up_for_all_readers(html: str, read: Pages) -> None:
    assert html.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert re.search(r"<title>[^<]+</title>", html)
    assert '<meta charset="utf-8">' in html
    assert 'name="viewport"' in html
    assert len(set(read.ids)) == len(read.ids)
    named = [value for _, name, value in read.attributes if name == "aria-labelledby"]
    assert set(named) == set(read.ids)


def test_it_is_the_same_twice_and_never_written_over(tmp_path: Path) -> None:
    first, second = (book_pages(tmp_path / name) for name in ("first.html", "second.html"))
    assert first.read_bytes() == second.read_bytes()
    with pytest.raises(IntakeError, match=r"first.html is there already"):
        book_pages(first)
    with pytest.raises(IntakeError, match=r"ends in .html; write pages.html"):
        book_pages(tmp_path / "pages.pdf")
    with pytest.raises(IntakeError, match="there is no folder"):
        book_pages(tmp_path / "shed" / "pages.html")
