"""Whether a batch may be stored: field rules and record rules on columns, references and lifecycle in SQL."""

from perennia.checking.batch import Checked, Doubt, check, check_against_books, row_problems

__all__ = ["Checked", "Doubt", "check", "check_against_books", "row_problems"]
