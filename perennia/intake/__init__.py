"""Taking a grower's books into a garden."""

from perennia.intake.plain_csv import IntakeReport, read_csv

__all__ = ["IntakeReport", "read_csv"]
