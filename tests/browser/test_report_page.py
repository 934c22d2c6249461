"""The season report in a real browser: on a desk, on a phone, by night, on paper; of the demo and of odd gardens."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from perennia.report.pdf import write_pdf
from tests.browser.views import DESKTOP, DESKTOP_DARK, PAPER, PHONE, PHONE_DARK, VIEWS, View
from tests.report.page_reader import read
from tests.report.page_rules import broken_rules

_HERE = Path(__file__).parent
_OVERLAPS = (_HERE / "overlaps.js").read_text(encoding="utf-8")
_WCAG_AA = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
_OPEN_ALL = "() => document.querySelectorAll('details').forEach((one) => { one.open = true; })"
_KINDS = """() => [...new Set([...document.body.querySelectorAll("*")].map((one) =>
  [one.parentElement, one].map((each) => `${each.tagName}.${each.getAttribute("class") || ""}`).join(" > ")))].sort()"""
_SOME_OF_EACH = """() => {
  const keep = (inside, what, n) => document.querySelectorAll(inside).forEach((one) =>
    [...one.querySelectorAll(`:scope > ${what}`)].slice(n).forEach((rest) => rest.remove()));
  keep("section", ".sheet", 2); keep("tbody", "tr", 4); keep("ul", "li", 5);
}"""
_BROKEN_WORDS = """() =>
[...document.querySelectorAll("td:not(.long), th:not(.long)")].slice(0, 4000).flatMap((cell) => {
  const text = cell.firstChild, found = [];
  for (const word of text ? text.data.matchAll(/[^\\s-]+/g) : []) {
    const range = document.createRange();
    range.setStart(text, word.index);
    range.setEnd(text, word.index + word[0].length);
    if (range.getClientRects().length > 1) found.push(word[0]);
  }
  return found;
})"""
_NAMES_MOVED = """() => [...document.querySelectorAll(".wide:not(.drawing)")].filter((wide) => {
  wide.scrollLeft = 90;
  const name = wide.querySelector("tbody th");
  return wide.scrollLeft > 0 && name && name.getBoundingClientRect().left !== wide.getBoundingClientRect().left;
}).length"""
_BY_VIEW = pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
_BY_GARDEN = pytest.mark.parametrize("garden", ["demo", "odd", "one plant", "empty"])
Opened = Callable[[str, View], Any]


@_BY_GARDEN
@_BY_VIEW
def test_nothing_runs_out_of_the_page_or_over_other_words(opened: Opened, garden: str, view: View) -> None:
    page = opened(garden, view)
    for state in ("closed", "open"):
        if state == "open":
            page.evaluate(_OPEN_ALL)
        assert page.evaluate("document.documentElement.scrollWidth") <= view.width_px, state
        assert page.evaluate(_OVERLAPS) == [], state
    assert page.said == []


@_BY_GARDEN
def test_the_page_is_valid(report_file: Callable[[str], Path], garden: str) -> None:
    assert broken_rules(read(report_file(garden).read_text(encoding="utf-8"))) == []


@_BY_GARDEN
def test_every_link_leads_to_a_place_on_the_page(opened: Opened, garden: str) -> None:
    page = opened(garden, DESKTOP)
    leading = page.evaluate("[...document.querySelectorAll('[href]')].map((one) => one.getAttribute('href'))")
    lost = page.evaluate("(all) => all.filter((one) => !one.startsWith('#') || !document.getElementById(one.slice(1)))",
                         leading)  # fmt: skip
    assert lost == []
    if garden == "demo":
        assert len(leading) > 50


@pytest.mark.parametrize(
    ("garden", "view"), [("demo", DESKTOP), ("demo", PHONE_DARK), ("odd", DESKTOP_DARK), ("odd", PHONE)]
)
def test_the_page_keeps_wcag_aa(opened: Opened, garden: str, view: View) -> None:
    """Of a page cut short: every section and in it every kind of part, but two plant pages, four rows of a table and
    five lines of a list, for the others are like them. On the demo's whole page axe takes one to two minutes a view;
    that is run by hand."""
    page = opened(garden, view)
    kinds = page.evaluate(_KINDS)
    page.evaluate(_SOME_OF_EACH)
    assert page.evaluate(_KINDS) == kinds
    page.evaluate(_OPEN_ALL)
    assert _violations(page) == []


@pytest.mark.parametrize("garden", ["demo", "odd"])
def test_the_page_prints(report_file: Callable[[str], Path], browser: Any, tmp_path: Path, garden: str) -> None:
    made = write_pdf(report_file(garden).read_text(encoding="utf-8"), tmp_path / "report.pdf")
    assert made.read_bytes().startswith(b"%PDF-")
    assert made.stat().st_size > 20_000


def test_a_plant_s_page_begins_a_sheet_of_paper(opened: Opened) -> None:
    page = opened("demo", PAPER)
    breaks = page.evaluate("[...document.querySelectorAll('.sheet')].map((one) => getComputedStyle(one).breakBefore)")
    assert len(breaks) > 20
    assert set(breaks) == {"page"}


def test_no_word_of_usual_length_is_broken_in_a_table_on_paper(opened: Opened) -> None:
    assert opened("demo", PAPER).evaluate(_BROKEN_WORDS) == []


def test_on_a_phone_the_names_of_rows_stay_while_a_table_is_moved(opened: Opened) -> None:
    page = opened("odd", PHONE)
    assert page.evaluate("[...document.querySelectorAll('.wide')].some((one) => one.scrollWidth > one.clientWidth)")
    assert page.evaluate(_NAMES_MOVED) == 0


def test_what_the_page_holds_from_the_records_is_never_an_element(opened: Opened) -> None:
    page = opened("odd", DESKTOP)
    assert page.evaluate("document.querySelectorAll('script, b').length") == 0
    assert "<script>alert('x')<b>" in page.inner_text("h1")


# ------------------------------------------------------------------ the checks find what they look for


@pytest.mark.parametrize(("second_y", "found"), [(14, 1), (40, 0)])
def test_words_on_words_in_a_figure_are_found(browser: Any, second_y: int, found: int) -> None:
    page = browser.new_page()
    page.set_content(
        f"<p>before</p><svg width='200' height='60'><text y='12'>first</text><text y='{second_y}'>second</text></svg>"
    )
    assert len(page.evaluate(_OVERLAPS)) == found
    page.close()


@pytest.mark.parametrize(("top", "found"), [("-1em", 1), ("0", 0)])
def test_words_on_words_on_the_page_are_found(browser: Any, top: str, found: int) -> None:
    page = browser.new_page()
    page.set_content(f"<p style='margin: 0'>first</p><p style='margin: {top} 0 0'>second</p>")
    assert len(page.evaluate(_OVERLAPS)) == found
    page.close()


def test_faint_words_are_found(browser: Any) -> None:
    page = browser.new_page()
    page.set_content("<html lang=en><title>t</title><main><p style='color: #aaa; background: #fff'>faint</p></main>")
    assert [name for name, *_ in _violations(page)] == ["color-contrast"]
    page.close()


def _violations(page: Any) -> list[tuple[str, str, str]]:
    """What axe-core finds: rule, element, why."""
    import axe_playwright_python  # carries axe.min.js; only a machine with a browser needs it

    page.evaluate((Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8"))
    found = page.evaluate(
        "(tags) => axe.run(document, {runOnly: tags, resultTypes: ['violations']})", _WCAG_AA
    )["violations"]  # fmt: skip
    return [(one["id"], node["html"][:200], node["failureSummary"]) for one in found for node in one["nodes"]]
