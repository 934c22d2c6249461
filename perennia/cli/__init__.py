"""perennia from a terminal: the same questions, for those who would rather look than script."""

from perennia.cli import (
    books,
    demo,
    due,
    explain,
    keeping,
    pedigree,
    questions,
    reporting,
    seasons,
    setting,
    survival,
    trials,
    warmth,
    water,
)
from perennia.cli.group import main

__all__ = [
    "books", "demo", "due", "explain", "keeping", "main", "pedigree", "questions", "reporting", "seasons", "setting",
    "survival", "trials", "warmth", "water",
]  # fmt: skip
