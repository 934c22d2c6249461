"""Strategies shared by the tests: whole records, one strategy an event class, built from the field rules."""

from __future__ import annotations

from hypothesis import strategies as st

from perennia.records.base import Record
from perennia.records.catalogue import RECORDS
from tests.records.field_values import records_of


def records(cls: type[Record] | None = None) -> st.SearchStrategy[Record]:
    """Records of one class, or of any."""
    classes = tuple(RECORDS.values()) if cls is None else (cls,)
    return st.sampled_from(classes).flatmap(records_of)
