"""The rules that a page is held to find what breaks them."""

from __future__ import annotations

import pytest

from tests.report.page_reader import read
from tests.report.page_rules import broken_rules

TABLE = (
    "<table><caption>c</caption><thead><tr><th scope='col'>a</th><th scope='col'>b</th></tr></thead>"
    "<tbody><tr><th scope='row'>1</th><td>2</td></tr></tbody></table>"
)
DRAWING = (
    "<svg viewBox='0 0 9 9' role='img' aria-labelledby='t'><title id='t'>d</title>"
    "<defs><path id='m' d='M 0 0'></path></defs><g style='fill: url(#m)'><use href='#m' x='1' y='2'></use></g></svg>"
)
SECTION = (
    f"<section aria-labelledby='s'><h2 id='s'>s</h2><p>words <a href='#s'>there</a></p>{TABLE}"
    f"<figure>{DRAWING}</figure><details><summary>more</summary><ul><li>one</li></ul></details>"
    "<dl><div><dt>n</dt><dd>1</dd></div></dl></section>"
)
PAGE = (
    "<!DOCTYPE html><html lang='en'><head><meta charset='utf-8'><title>t</title></head>"
    f"<body><h1>h</h1><main>{SECTION}</main></body></html>"
)


def test_a_page_that_keeps_them_breaks_none() -> None:
    assert broken_rules(read(PAGE)) == []


@pytest.mark.parametrize(("written", "instead", "words"), [
    ("<h1>", "<h1 class='a' class='b'>", "duplicate-attribute"),
    ("<dt>", "<dt id='s'>", "id s is given 2 times"),
    ("<dt>", "<dt id='a b'>", "has a blank in it"),
    ("aria-labelledby='s'", "aria-labelledby='other'", "aria-labelledby refers to other, which is nowhere"),
    ("href='#s'", "href='#other'", "href leads to other, which is nowhere"),
    ("url(#m)", "url(#other)", "style leads to other, which is nowhere"),
    ("<h2 id='s'>s</h2>", "<h3 id='s'>s</h3>", "h3 's' comes after h1"),
    ("<h1>h</h1>", "", "there is not just one h1"),
    ("<h1>h</h1>", "<h1>h</h1><h1>again</h1>", "there is not just one h1"),
    ("<summary>more", "<summary><div>more</div>", "div stands in summary"),
    ("<li>one</li>", "<div>one</div>", "div stands in ul"),
    ("<summary>more</summary>", "", "details does not begin with its summary"),
    ("<dt>n</dt>", "", "a group of dl is not a dt and a dd"),
    (" lang='en'", "", "does not say its language"),
    ("<td>", "<td align='right'>", "td has the attribute align"),
    ("<section aria-labelledby='s'>", "<section>", "section has no name"),
    ("<dl><div>", "<dl><div aria-label='x'>", "div has a name and no role"),
    ("<dt>", "<dt tabindex='2'>", "out of the order"),
    (">there</a>", "></a>", "a link has no words"),
    ("<caption>c</caption>", "", "a table has no caption"),
    ("<th scope='col'>b</th>", "<th>b</th>", "has no head"),
    ("<td>2</td>", "<td>2</td><td>3</td>", "not as many cells"),
    ("<th scope='row'>1</th>", "<td>1</td>", "a row of the table 'c' has no head"),
    ("<summary>more", "<summary><a href='#s'>more</a>", "a stands in summary"),
    ("<a href='#s'>", "<a>", "a link leads nowhere"),
    (" role='img'", "", "a drawing has no role"),
    ("x='1'", "x='nan'", "use of a drawing has x='nan'"),
    ("<use ", "<use onload='y' ", "use of a drawing has the attribute onload"),
    ("<defs>", "<script>1</script><defs>", "script stands in a drawing"),
])  # fmt: skip
def test_a_page_that_breaks_one_is_told_where(written: str, instead: str, words: str) -> None:
    assert written in PAGE
    assert any(words in found for found in broken_rules(read(PAGE.replace(written, instead, 1))))
