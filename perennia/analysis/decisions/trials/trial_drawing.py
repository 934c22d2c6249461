"""A trial's plan to take into the garden: drawn as SVG, and as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import groupby

from perennia.analysis.decisions.trials.trial_boxes import (
    HEAD,
    HEIGHT,
    LETTERS,
    MARGIN,
    SCALE,
    SPARE,
    WIDTH,
    BlockFrame,
    Box,
    beds_from,
    page_width,
)
from perennia.analysis.decisions.trials.trial_layout import Arms, Place


def text_plan(places: Sequence[Place], arms: Arms) -> str:
    """The plan in plain text: a line a block, a place as its number, the arm's letter and the label."""
    lines = [f"{letter} = {arm}" for letter, arm in zip(LETTERS, arms, strict=True)]
    for bed, of_bed in groupby(places, key=lambda place: place.bed):
        lines.append(f"bed {bed}, places counted from its first end")
        for block, of_block in groupby(of_bed, key=lambda place: place.block):
            words = [" ".join([str(place.place), *_marks(place, arms)]) for place in of_block]
            lines.append(f"  {SPARE if block is None else f'block {block}'}: " + " | ".join(words))
    return "\n".join(lines)


def _marks(place: Place, arms: Arms) -> list[str]:
    letter = [] if place.arm is None else [LETTERS[arms.index(place.arm)]]
    return letter + ([place.label] if place.label else [])


def drawn_plan(places: Sequence[Place], arms: Arms, title: str, subtitle: str) -> str:
    """The plan as SVG text, whole in itself, to be read in black and white.

    A place is a box with its number, the letter of its arm and its label; the second arm is hatched as well, so that
    letter and pattern say the same. Blocks are framed. Not to scale: a box is one place, counted from the bed's first
    end, rows of ten.
    """
    beds, height = beds_from(MARGIN + 3 * HEAD, places, arms)
    body: list[str] = []
    for bed in beds:
        body.append(_text(MARGIN, bed.base, f"Bed {bed.name}", size=16, weight="bold"))
        for block in bed.blocks:
            body += _drawn_block(block)
    width = page_width()
    legend = _legend(arms, MARGIN + int(1.8 * HEAD))
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        'role="img" font-family="sans-serif">',
        f"<title>{_escaped(title)}</title>",
        f"<desc>{_escaped(text_plan(places, arms))}</desc>",
        '<defs><pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<rect width="8" height="8" fill="white"/><line x1="0" y1="0" x2="0" y2="8" stroke="#999" stroke-width="2"/>'
        "</pattern></defs>",
        f'<rect width="{width}" height="{height}" fill="white"/>',
        _text(MARGIN, MARGIN + 6, title, size=18, weight="bold"),
        _text(MARGIN, MARGIN + 26, subtitle, size=12),
        _text(MARGIN, MARGIN + 43, SCALE, size=12),
        *legend, *body, "</svg>", "",
    ])  # fmt: skip


def _legend(arms: Arms, top: int) -> list[str]:
    found: list[str] = []
    for number, (letter, arm) in enumerate(zip(LETTERS, arms, strict=True)):
        left = MARGIN + number * 4 * WIDTH
        found += [
            f'<rect x="{left}" y="{top}" width="22" height="18" fill="{_fill(number)}" stroke="black"/>',
            _backed(left + 11, top + 14, letter, size=13),
            _text(left + 30, top + 14, str(arm), size=13),
        ]
    return found


def _drawn_block(block: BlockFrame) -> list[str]:
    """The boxes of one block in their frame."""
    found = [_text(block.left, block.top - 6, block.name, size=12)]
    for box in block.boxes:
        found += _drawn_box(box)
    if not block.spare:
        found.append(
            f'<rect x="{block.left}" y="{block.top}" width="{block.width}" height="{block.height}" fill="none" '
            'stroke="black" stroke-width="3"/>'
        )
    return found


def _drawn_box(box: Box) -> list[str]:
    dashed = ' stroke-dasharray="4 4"' if box.arm is None else ""
    fill = "white" if box.arm is None else _fill(box.arm)
    found = [
        f"<g><title>{_escaped(box.said)}</title>",
        f'<rect x="{box.left}" y="{box.top}" width="{WIDTH}" height="{HEIGHT}" fill="{fill}" stroke="black"{dashed}/>',
        _backed(box.left + 14, box.top + 16, str(box.place.place), size=11),
    ]
    if box.arm is not None:
        found.append(_backed(box.left + WIDTH // 2, box.top + 34, LETTERS[box.arm], size=22))
    if box.label:
        found.append(_backed(box.left + WIDTH // 2, box.top + HEIGHT - 8, box.label, size=12))
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
