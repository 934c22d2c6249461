"""What the HTML standard asks of a page beyond its parsing, and WAI-ARIA of its names and references.

The rules are those that a page of this kind could break, so that it is held to them where no validator is at hand. A
validator looks at more, and is run by hand.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

from tests.report.page_reader import Read, said

HTML, SVG = "{http://www.w3.org/1999/xhtml}", "{http://www.w3.org/2000/svg}"
_REFERRING = ("aria-labelledby", "aria-describedby", "aria-controls", "headers", "for")
_PHRASING = frozenset({"a", "span", "em", "strong", "b", "i", "small", "abbr", "br", "svg", "sub", "sup"})
_HOLDS_PHRASES = frozenset({"p", "h1", "h2", "h3", "h4", "h5", "h6", "caption", "summary", "dt", "span", "a", "title"})
_CHILDREN = {
    "ul": {"li"}, "ol": {"li"}, "table": {"caption", "thead", "tbody"}, "thead": {"tr"}, "tbody": {"tr"},
    "tr": {"th", "td"}, "dl": {"div"}, "html": {"head", "body"},
}  # fmt: skip
_HTML_ATTRIBUTES = {
    "html": {"lang"}, "meta": {"charset", "name", "content"}, "a": {"href"}, "th": {"scope"}, "td": {"colspan"},
    "details": {"open"},
}  # fmt: skip
_ANYWHERE = {"id", "class", "role", "tabindex", "aria-label", "aria-labelledby"}
_NAMED = frozenset({"section", "article", "nav"})
_LABELLED_ONLY_WITH_ROLE = frozenset({"div", "span", "p"})
_SVG_ATTRIBUTES = {
    "svg": {"viewBox", "{http://www.w3.org/2000/xmlns/}xmlns"}, "g": {"clip-path"}, "path": {"d", "clip-path"},
    "use": {"href", "x", "y"}, "defs": set(), "text": {"x", "y"}, "tspan": {"x", "y"}, "clipPath": set(),
    "title": set(), "rect": {"x", "y", "width", "height"},
    "pattern": {"patternUnits", "x", "y", "width", "height"},
}  # fmt: skip
_SVG_ANYWHERE = {"id", "style", "transform", "role", "aria-labelledby", "fill", "stroke"}
_SVG_NUMBERS = frozenset({"d", "x", "y", "width", "height", "transform"})
_INTERACTIVE = frozenset({"a", "summary", "button", "input", "select", "textarea", "label"})


def broken_rules(page: Read) -> list[str]:
    """Each rule that the page breaks, with where."""
    rules: tuple[Callable[[Read], Iterator[str]], ...] = (
        _parsing, _ids, _references, _headings, _content, _attributes, _names, _tables, _interactive, _drawings,
    )  # fmt: skip
    return [words for rule in rules for words in rule(page)]


def _html(page: Read) -> Iterator[tuple[str, Any]]:
    for element in page.root.iter():
        if isinstance(element.tag, str) and element.tag.startswith(HTML):
            yield element.tag.removeprefix(HTML), element


def _parsing(page: Read) -> Iterator[str]:
    # a repeated attribute, an element left open or in a wrong place and the like
    yield from page.errors


def _ids(page: Read) -> Iterator[str]:
    yield from (f"id {name} is given {n} times" for name, n in Counter(page.ids()).items() if n > 1)
    yield from (f"id {name!r} is empty or has a blank in it" for name in page.ids() if name.split() != [name])


def _references(page: Read) -> Iterator[str]:
    there = set(page.ids())
    for element in page.root.iter():
        for name in _REFERRING:
            yield from (f"{name} refers to {one}, which is nowhere" for one in (element.get(name) or "").split()
                        if one not in there)  # fmt: skip
        for name, value in element.items():
            own = re.findall(r"url\(#([^)]+)\)", value) + ([value[1:]] if name == "href" and value[:1] == "#" else [])
            yield from (f"{name} leads to {one}, which is nowhere" for one in own if one not in there)


def _headings(page: Read) -> Iterator[str]:
    levels = [(int(tag[1]), element) for tag, element in _html(page) if re.fullmatch("h[1-6]", tag)]
    if [level for level, _ in levels].count(1) != 1:
        yield "there is not just one h1"
    for (before, _), (level, element) in zip([(0, None), *levels], levels, strict=False):
        if level > before + 1:
            yield f"h{level} {said(element)!r} comes after h{before}"
        if not said(element).strip():
            yield f"a h{level} is empty"


def _content(page: Read) -> Iterator[str]:
    for tag, element in _html(page):
        inside = [str(child.tag).rpartition("}")[2] for child in element if isinstance(child.tag, str)]
        if tag in _HOLDS_PHRASES:
            yield from (f"{one} stands in {tag}" for one in inside if one not in _PHRASING)
        if tag in _CHILDREN:
            yield from (f"{one} stands in {tag}" for one in inside if one not in _CHILDREN[tag])
            if not inside or (element.text or "").strip():
                yield f"{tag} is empty or has words of its own"
        if tag == "details" and inside[:1] != ["summary"]:
            yield "details does not begin with its summary"
        if tag == "figure" and inside.count("figcaption") > 1:
            yield "a figure has two captions"
        if tag == "dl":
            yield from ("a group of dl is not a dt and a dd" for child in element
                        if [str(one.tag) for one in child] != [f"{HTML}dt", f"{HTML}dd"])  # fmt: skip
    for once in ("title", "main", "h1"):
        if len([None for tag, _ in _html(page) if tag == once]) != 1:
            yield f"there is not just one {once}"
    if not page.root.get("lang"):
        yield "the page does not say its language"


def _attributes(page: Read) -> Iterator[str]:
    for tag, element in _html(page):
        yield from (f"{tag} has the attribute {name}" for name in element.attrib
                    if name not in _ANYWHERE | _HTML_ATTRIBUTES.get(tag, set()))  # fmt: skip


def _names(page: Read) -> Iterator[str]:
    for tag, element in _html(page):
        named = element.get("aria-label") or element.get("aria-labelledby")
        if tag in _NAMED and not named:
            yield f"{tag} has no name"
        if tag in _LABELLED_ONLY_WITH_ROLE and named and not element.get("role"):
            yield f"{tag} has a name and no role"
        if element.get("tabindex") not in (None, "0"):
            yield f"{tag} stands out of the order of the page"
        if tag == "a" and not said(element).strip():
            yield "a link has no words"


def _tables(page: Read) -> Iterator[str]:
    for table in page.all("table"):
        name = said(table.find(f"{HTML}caption")) if table.find(f"{HTML}caption") is not None else ""
        if not name.strip():
            yield "a table has no caption"
        heads = [cell.get("scope") for cell in table.iterfind(f"{HTML}thead/{HTML}tr/*")]
        if not heads or set(heads) != {"col"}:
            yield f"a column of the table {name!r} has no head"
        for row in table.iterfind(f"{HTML}tbody/{HTML}tr"):
            cells = list(row)
            if sum(int(cell.get("colspan", "1")) for cell in cells) != len(heads):
                yield f"a row of the table {name!r} has not as many cells as there are heads"
            if len(cells) > 1 and cells[0].get("scope") != "row":
                yield f"a row of the table {name!r} has no head"


def _interactive(page: Read) -> Iterator[str]:
    def within(element: Any, outer: str | None) -> Iterator[str]:
        for child in element:
            tag = str(child.tag).rpartition("}")[2]
            own = tag in _INTERACTIVE
            if own and outer:
                yield f"{tag} stands in {outer}"
            if tag == "a" and not child.get("href"):
                yield "a link leads nowhere"
            yield from within(child, tag if own else outer)

    yield from within(page.root, None)


def _drawings(page: Read) -> Iterator[str]:
    for drawing in page.drawings():
        if drawing.get("role") != "img" or not re.fullmatch(r"[\d.]+( [\d.]+){3}", drawing.get("viewBox") or ""):
            yield "a drawing has no role or no view box"
        for element in drawing.iter():
            tag = str(element.tag).removeprefix(SVG)
            if tag not in _SVG_ATTRIBUTES:
                yield f"{tag} stands in a drawing"
                continue
            yield from (f"{tag} of a drawing has the attribute {name}" for name in element.attrib
                        if name not in _SVG_ANYWHERE | _SVG_ATTRIBUTES[tag])  # fmt: skip
            yield from (f"{tag} of a drawing has {name}={value[:40]!r}" for name, value in element.items()
                        if name in _SVG_NUMBERS and re.search(r"(?i)nan|inf", value))  # fmt: skip
