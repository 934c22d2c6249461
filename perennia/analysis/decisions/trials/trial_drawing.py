"""A trial's plan to take into the garden: drawn as SVG, and as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import groupby

from perennia.analysis.decisions.trials.trial_layout import Arms, Place

_ACROSS = 10
"""Places in one row of the drawing."""
_WIDTH, _HEIGHT, _MARGIN, _HEAD, _GAP = 88, 64, 24, 34, 14
_LONGEST = 12
"""Letters of a label that fit into a place; the whole of it is in its title."""
_LETTERS = ("A", "B")
SPARE = "left over"
_SCALE = "A box is one place, counted from the bed's first end; not to scale."


def text_plan(places: Sequence[Place], arms: Arms) -> str:
    """The plan in plain text: a line a block, a place as its number, the arm's letter and the label."""
    lines = [f"{letter} = {arm}" for letter, arm in zip(_LETTERS, arms, strict=True)]
    for bed, of_bed in groupby(places, key=lambda place: place.bed):
        lines.append(f"bed {bed}, places counted from its first end")
        for block, of_block in groupby(of_bed, key=lambda place: place.block):
            words = [" ".join([str(place.place), *_marks(place, arms)]) for place in of_block]
            lines.append(f"  {SPARE if block is None else f'block {block}'}: " + " | ".join(words))
    return "\n".join(lines)


def _marks(place: Place, arms: Arms) -> list[str]:
    letter = [] if place.arm is None else [_LETTERS[arms.index(place.arm)]]
    return letter + ([place.label] if place.label else [])


def drawn_plan(places: Sequence[Place], arms: Arms, title: str, subtitle: str) -> str:
    """The plan as SVG text, whole in itself, to be read in black and white.

    A place is a box with its number, the letter of its arm and its label; the second arm is hatched as well, so that
    letter and pattern say the same. Blocks are framed. Not to scale: a box is one place, counted from the bed's first
    end, rows of ten.
    """
    body: list[str] = []
    top = _MARGIN + 3 * _HEAD
    for bed, of_bed in groupby(places, key=lambda place: place.bed):
        body.append(_text(_MARGIN, top, f"Bed {bed}", size=16, weight="bold"))
        top += _GAP
        for block, of_block in groupby(of_bed, key=lambda place: place.block):
            row, high = _drawn_block(list(of_block), arms, block, top)
            body += row
            top += high
        top += _HEAD
    width = 2 * _MARGIN + _ACROSS * _WIDTH
    legend = _legend(arms, _MARGIN + int(1.8 * _HEAD))
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {top}" width="{width}" height="{top}" '
        'role="img" font-family="sans-serif">',
        f"<title>{_escaped(title)}</title>",
        f"<desc>{_escaped(text_plan(places, arms))}</desc>",
        '<defs><pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<rect width="8" height="8" fill="white"/><line x1="0" y1="0" x2="0" y2="8" stroke="#999" stroke-width="2"/>'
        "</pattern></defs>",
        f'<rect width="{width}" height="{top}" fill="white"/>',
        _text(_MARGIN, _MARGIN + 6, title, size=18, weight="bold"),
        _text(_MARGIN, _MARGIN + 26, subtitle, size=12),
        _text(_MARGIN, _MARGIN + 43, _SCALE, size=12),
        *legend, *body, "</svg>", "",
    ])  # fmt: skip


def _legend(arms: Arms, top: int) -> list[str]:
    found: list[str] = []
    for number, (letter, arm) in enumerate(zip(_LETTERS, arms, strict=True)):
        left = _MARGIN + number * 4 * _WIDTH
        found += [
            f'<rect x="{left}" y="{top}" width="22" height="18" fill="{_fill(number)}" stroke="black"/>',
            _backed(left + 11, top + 14, letter, size=13),
            _text(left + 30, top + 14, str(arm), size=13),
        ]
    return found


def _drawn_block(places: Sequence[Place], arms: Arms, block: str | None, top: int) -> tuple[list[str], int]:
    """The boxes of one block and the height they take."""
    rows = -(-len(places) // _ACROSS)
    across = min(len(places), _ACROSS)
    name = SPARE if block is None else f"Block {block}"
    found = [_text(_MARGIN, top + 12, name, size=12)]
    first = top + 18
    for number, place in enumerate(places):
        found += _box(place, arms, _MARGIN + (number % _ACROSS) * _WIDTH, first + (number // _ACROSS) * _HEIGHT)
    if block is not None:
        found.append(
            f'<rect x="{_MARGIN}" y="{first}" width="{across * _WIDTH}" height="{rows * _HEIGHT}" fill="none" '
            'stroke="black" stroke-width="3"/>'
        )
    return found, 18 + rows * _HEIGHT + _GAP


def _box(place: Place, arms: Arms, left: int, top: int) -> list[str]:
    number = None if place.arm is None else arms.index(place.arm)
    said = f"bed {place.bed}, place {place.place}, {place.arm or SPARE}" + (f", {place.label}" if place.label else "")
    dashed = ' stroke-dasharray="4 4"' if number is None else ""
    fill = "white" if number is None else _fill(number)
    found = [
        f"<g><title>{_escaped(said)}</title>",
        f'<rect x="{left}" y="{top}" width="{_WIDTH}" height="{_HEIGHT}" fill="{fill}" stroke="black"{dashed}/>',
        _backed(left + 14, top + 16, str(place.place), size=11),
    ]
    if number is not None:
        found.append(_backed(left + _WIDTH // 2, top + 34, _LETTERS[number], size=22))
    if place.label:
        shown = place.label if len(place.label) <= _LONGEST else place.label[: _LONGEST - 1] + "…"
        found.append(_backed(left + _WIDTH // 2, top + _HEIGHT - 8, shown, size=12))
    return [*found, "</g>"]


def _fill(number: int) -> str:
    return "white" if number == 0 else "url(#hatch)"


def _backed(middle: int, base: int, words: str, *, size: int) -> str:
    """Text with white behind its strokes, so that hatching does not run into it."""
    return (
        f'<text x="{middle}" y="{base}" font-size="{size}" text-anchor="middle" stroke="white" stroke-width="4" '
        f'paint-order="stroke" stroke-linejoin="round">{_escaped(words)}</text>'
    )


def _text(left: int, base: int, words: str, *, size: int, weight: str = "normal") -> str:
    return f'<text x="{left}" y="{base}" font-size="{size}" font-weight="{weight}">{_escaped(words)}</text>'


def _escaped(words: str) -> str:
    """Text for SVG: marked up signs escaped, and signs that XML cannot hold shown as a question mark."""
    return escape("".join(sign if sign in "\n\t" or sign.isprintable() else "?" for sign in words))
