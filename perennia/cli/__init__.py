"""perennia from a terminal: the same questions, for those who would rather look than script."""

from perennia.cli.group import main

__all__ = ["main"]
