"""Measures by what they mean: on the page a grower reads no name of a column."""

from __future__ import annotations

import re

from perennia.analysis.measures import MEASURES

IN_WORDS = {name: measure.meaning for name, measure in MEASURES.items()}
_NAMED = re.compile(rf"(?<=, )({'|'.join(MEASURES)})(?=[:,]| is missing)")
"""A measure where the sentences of the comparisons name one; count is a word elsewhere too."""


def in_words(text: str) -> str:
    """A sentence of a comparison with its measure in words."""
    return _NAMED.sub(lambda found: IN_WORDS[found[1]], text)
