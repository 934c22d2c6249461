"""Cautions of several measures, each said once."""

from __future__ import annotations

from collections.abc import Iterable


def said_once(told: Iterable[tuple[str, str, str]], measures: int) -> list[str]:
    """Sentences from (what it is about, measure, text): a text that holds for all measures asked names none."""
    by_text: dict[tuple[str, str], list[str]] = {}
    for about, measure, text in told:
        named = by_text.setdefault((about, text), [])
        if measure not in named:
            named.append(measure)
    return [
        f"{', '.join([about, *(named if len(named) < measures else ())])}: {text}."
        for (about, text), named in by_text.items()
    ]
