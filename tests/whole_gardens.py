"""Strategies that draw gardens with any values in any field, legal by construction: plants that stood there all along.

Where tests.lives draws what plants can do, this draws what growers can write.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import attrs
from hypothesis import strategies as st

from perennia.records.base import Record
from perennia.records.care import CARE_EVENTS
from perennia.records.catalogue import rules_of
from perennia.records.flowering import FLOWERING_EVENTS
from perennia.records.harvest import HARVEST_EVENTS
from perennia.records.life import AlreadyHere
from perennia.records.places import Bed, Site
from perennia.records.seed import SEED_EVENTS
from perennia.records.weather import WEATHER_EVENTS
from tests.records.field_values import NAMES, records_of

TODAY = date(2101, 1, 1)
"""A day after all that is drawn here."""
_ENTRIES = (*HARVEST_EVENTS, *FLOWERING_EVENTS, *CARE_EVENTS, *WEATHER_EVENTS, *SEED_EVENTS)
_SIGNS = st.sampled_from("'=+-@\t\r\n\",; aé") | st.characters(exclude_categories=["Cs"], exclude_characters="\0")
_HARD = ("seen\nsown,B1", "x\r\nB1,sown,2024", " late ", "\ufeffsoft", "'=1", '"', "a,b")
TEXTS = st.text(_SIGNS, min_size=1, max_size=40).filter(str.strip) | st.sampled_from(_HARD)
"""Any text that a field may hold, those that are hard to write into a file among them."""


@st.composite
def any_gardens(draw: st.DrawFn, most: int = 36) -> list[Record]:
    """All records of a garden: one to four sites, two to eight beds, one to eight plants, and up to so many entries of
    any kind."""
    labels, names, at = draw(_names(1, 8)), draw(_names(2, 8)), draw(_names(1, 4))
    sites = [attrs.evolve(draw(records_of(Site)), name=name) for name in at]
    beds = [attrs.evolve(draw(records_of(Bed)), name=name, site=draw(st.sampled_from(at))) for name in names]
    plants = [AlreadyHere(label, "1949-06-01", crop="Rheum x hybridum", bed=names[0]) for label in labels]
    entries = [draw(st.sampled_from(_ENTRIES).flatmap(records_of)) for _ in range(draw(st.integers(0, most)))]
    placed = [draw(_placed(entry, labels, names, at)) for entry in entries]
    return [draw(with_any_texts(record)) for record in (*sites, *beds, *plants, *placed)]


def _names(least: int, most: int) -> st.SearchStrategy[list[str]]:
    # any number as likely as another; lists alone are mostly short
    return st.integers(least, most).flatmap(lambda n: st.lists(NAMES, min_size=n, max_size=n, unique=True))


@st.composite
def with_any_texts(draw: st.DrawFn, record: Record) -> Record:
    """The record with other free texts where it has any, and at times a note."""
    free = {
        name: draw(TEXTS)
        for name, rule in rules_of(type(record)).items()
        if rule.kind == "text" and not rule.choices and (name == "note" or getattr(record, name) is not None)
    }
    if record.note is None and draw(st.booleans()):
        free.pop("note")
    return attrs.evolve(record, **free)


@st.composite
def _placed(draw: st.DrawFn, record: Record, labels: list[str], beds: list[str], sites: list[str]) -> Record:
    """The record about plants and places that there are."""
    known: dict[str, st.SearchStrategy[Any]] = {
        "label": st.sampled_from(labels), "bed": st.sampled_from(beds), "site": st.sampled_from(sites),
        "labels": st.lists(st.sampled_from(labels), min_size=1, unique=True).map(tuple),
    }  # fmt: skip
    given = [name for name in known if getattr(record, name, None) is not None]
    return attrs.evolve(record, **{name: draw(known[name]) for name in given})
