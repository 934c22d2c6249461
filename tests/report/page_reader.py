"""A page as a strict HTML parser reads it: what is wrong with it, and what stands where."""

from __future__ import annotations

from typing import Any

import attrs
import html5lib

_XHTML = "{http://www.w3.org/1999/xhtml}"
_SVG = "{http://www.w3.org/2000/svg}"


@attrs.frozen
class Read:
    """The tree of a page, and the errors of the HTML standard's parser in it."""

    root: Any
    errors: tuple[str, ...]

    def all(self, tag: str) -> list[Any]:
        """Every element of that HTML tag, in order."""
        return list(self.root.iter(f"{_XHTML}{tag}"))

    def cells(self, caption: str) -> list[list[str]]:
        """The cells of the table of that caption, row by row, its heads first."""
        (table,) = (one for one in self.all("table") if said(one.find(f"{_XHTML}caption")) == caption)
        return [[said(cell) for cell in row] for row in table.iter(f"{_XHTML}tr")]

    def drawings(self) -> list[Any]:
        """Every svg element."""
        return list(self.root.iter(f"{_SVG}svg"))

    def ids(self) -> list[str]:
        """The id of every element that has one."""
        return [element.get("id") for element in self.root.iter() if element.get("id") is not None]

    def targets(self) -> list[str]:
        """Where everything leads or refers to."""
        names = ("href", "src", "aria-labelledby", "{http://www.w3.org/1999/xlink}href")
        return [element.get(name) for element in self.root.iter() for name in names if element.get(name) is not None]

    def tags(self) -> set[str]:
        """The names of all elements, without their namespace."""
        return {str(element.tag).rpartition("}")[2] for element in self.root.iter() if isinstance(element.tag, str)}

    def text(self) -> str:
        """All words of the page, one space between."""
        return " ".join(said(self.root).split())


def read(page: str) -> Read:
    """A page by the parsing rules of the HTML standard."""
    parser = html5lib.HTMLParser()
    root = parser.parse(page)
    return Read(root, tuple(f"{place}: {code} {data}" for place, code, data in parser.errors))


def said(element: Any) -> str:
    """The text of an element, without styles."""
    if element.tag == f"{_XHTML}style" or not isinstance(element.tag, str):
        return ""
    inside = "".join(said(child) + (child.tail or "") for child in element)
    return (element.text or "") + inside
