"""A figure as SVG that stands in a page: its ink the page's own, its text text, and the same every time."""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from perennia.checking import arguments
from perennia.report.look import INK, ON_DARK, in_our_look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SVG, _XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}"
_TAG = re.compile(r"<[^>]*>")
_GROUP_ID = re.compile(r'<g id="[^"]*"')
_DECIMALS = re.compile(r"\d+\.\d{3,}")
_BETWEEN_TAGS = re.compile(r">\s+<")
_ID = re.compile(r"""( id="|href="#|url\(#)([^")]+)""")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_WRITING: dict[Any, Any] = {"svg.fonttype": "none", "svg.hashsalt": "perennia", "font.sans-serif": ["DejaVu Sans"]}
_MEASURED, _SHOWN = "'DejaVu Sans', sans-serif", "'DejaVu Sans', Verdana, sans-serif"
"""The font that widths are taken of, and the fonts that may stand in for it, of the same width or narrower."""
_COLOUR = re.compile("|".join(ON_DARK))
_ASKED = re.compile(r"var\(--figure-[0-9a-f]+, (#[0-9a-f]{6})\)")


def as_svg(figure: Figure, alt: str, *, name: str = "") -> str:
    """A figure as an svg element to stand in an HTML page, the same text for the same figure every time.

    alt: what it shows, in words, for who cannot see it. name: tells two figures apart that are alike to the letter on
    one page. Text stays text. The background is the page's, and so is the colour of text and axes (currentColor). Other
    colours are those for light paper unless the page sets them (colours_on_dark). It is as wide as its place lets it
    be, up to its own size. Every id begins with a mark of the figure's own. Raises ArgumentError for an alt or name
    that is no text.
    """
    alt, name = arguments.a_name(alt, "alt"), arguments.a_name(name, "name")
    drawn = _drawn(figure)
    mark = "f" + hashlib.sha256(f"{name}\0{alt}\0{drawn}".encode()).hexdigest()[:10]
    root = ElementTree.fromstring(drawn)
    _drop_what_is_the_page_s(root)
    for element in root.iter():
        _own(element, mark)
    _head(root, alt, mark)
    return _plain(root)


def colours_on_dark() -> str:
    """CSS declarations with which a page gives figures their colours for dark paper, one custom property a colour: text
    to stand in a rule such as ``@media (prefers-color-scheme: dark) { :root { … } }``.
    """
    return " ".join(f"{_property(colour)}: {on_dark};" for colour, on_dark in ON_DARK.items())


def in_plain_colours(svg: str) -> str:
    """The text of a figure that stands in no page: its colours as they are on light paper, no custom property asked."""
    return _ASKED.sub(r"\1", svg)


def _drawn(figure: Figure) -> str:
    from perennia.report.writing import settle, write  # needs matplotlib, which is loaded when a figure is drawn

    written = io.StringIO()
    with in_our_look(_WRITING), warnings.catch_warnings():
        # the browser has letters that the font of the measuring lacks
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        settle(figure)
        write(figure, written)
    return _lean(_NOT_XML.sub("\ufffd", written.getvalue()).replace(_MEASURED, _SHOWN))


def _lean(drawn: str) -> str:
    """The same drawing in half the letters: to hundredths of a point, which is as fine as a printer goes and coarser
    than what two layouts of one figure differ by, without ids of groups, which nothing refers to and of which several
    may be alike, and with nothing between tags."""
    plain = _TAG.sub(lambda tag: _DECIMALS.sub(_hundredths, _GROUP_ID.sub("<g", tag[0])), drawn)
    return _BETWEEN_TAGS.sub("><", _TAG.sub(_numbered_ids(), plain))


def _numbered_ids() -> Callable[[re.Match[str]], str]:
    """Names ids by their order: matplotlib makes them of coordinates down to the last digit, where layouts differ."""
    numbers: dict[str, str] = {}

    def named(found: re.Match[str]) -> str:
        return found[1] + numbers.setdefault(found[2], f"n{len(numbers)}")

    return lambda tag: _ID.sub(named, tag[0])


def _hundredths(number: re.Match[str]) -> str:
    return f"{float(number[0]):.2f}"


def _drop_what_is_the_page_s(root: ElementTree.Element) -> None:
    """Out with metadata, and with the style sheet, which would hold for the whole page; it says what _head says."""
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{_SVG}metadata", f"{_SVG}style"):
                parent.remove(child)


def _own(element: ElementTree.Element, mark: str) -> None:
    """Ids and references with the mark of the figure, ink as currentColor."""
    for name, value in list(element.attrib.items()):
        if name == "id":
            element.set(name, f"{mark}-{value}")
        elif name == f"{_XLINK}href":
            del element.attrib[name]
            element.set("href", f"#{mark}-{value[1:]}" if value.startswith("#") else value)
        else:
            own = _REFERENCE.sub(rf"url(#{mark}-\1)", value)
            element.set(name, _of_page(own) if name in ("style", "fill", "stroke") else own)


def _of_page(value: str) -> str:
    """A style in the ink of the page, and in its colours where it has them."""
    return _COLOUR.sub(lambda colour: f"var({_property(colour[0])}, {colour[0]})", value.replace(INK, "currentColor"))


def _property(colour: str) -> str:
    return f"--figure-{colour.removeprefix('#')}"


def _head(root: ElementTree.Element, alt: str, mark: str) -> None:
    width = root.attrib.pop("width", "")
    root.attrib.pop("height", None)
    root.attrib.pop("version", None)
    root.set("role", "img")
    root.set("aria-labelledby", f"{mark}-title")
    limit = f"max-width: {width}; " if width else ""
    root.set("style", f"width: 100%; {limit}height: auto; stroke-linejoin: round; stroke-linecap: butt")
    named = ElementTree.Element(f"{_SVG}title", {"id": f"{mark}-title"})
    named.text = _NOT_XML.sub("\ufffd", alt)
    root.insert(0, named)


def _plain(root: ElementTree.Element) -> str:
    """Without prefixes, which an HTML page does not know."""
    for element in root.iter():
        element.tag = element.tag.removeprefix(_SVG)
    root.set("xmlns", _SVG.strip("{}"))
    return ElementTree.tostring(root, encoding="unicode")
