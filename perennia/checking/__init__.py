"""Whether a batch may be stored: field rules and record rules on columns, references and lifecycle in SQL."""

from perennia.checking.batch import Checked, Doubt, check

__all__ = ["Checked", "Doubt", "check"]
