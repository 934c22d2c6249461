"""Bytes, texts and values of any kind: read, or told in words, and nothing half-stored."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import perennia as pn
from perennia.intake.columns import FIELDS
from tests.intake.bad_books import HEAD, ROW, good, outcome, text, workbook


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Sound files of each kind."""
    folder = tmp_path_factory.mktemp("whole")
    pq.write_table(pa.table(good()), folder / "picked.parquet")
    return {
        "csv": (HEAD + ROW + '"B1, B2",2023-08,"1.5 kg"\r\n').encode(),
        "xlsx": workbook(lambda book, sheet: None)(folder).read_bytes(),
        "parquet": (folder / "picked.parquet").read_bytes(),
    }


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("scratch")


KINDS = st.sampled_from(["csv", "xlsx", "parquet"])
CHANGES = st.lists(
    st.tuples(st.sampled_from(["flip", "insert", "delete", "cut"]), st.floats(0, 1), st.binary(min_size=1, max_size=8)),
    min_size=1, max_size=4,
)  # fmt: skip


def changed(content: bytes, changes: list[tuple[str, float, bytes]]) -> bytes:
    for how, place, some in changes:
        at = int(place * len(content))
        rest = {
            "flip": content[at + len(some) :],
            "insert": content[at:],
            "delete": content[at + len(some) :],
            "cut": b"",
        }
        content = content[:at] + (some if how in ("flip", "insert") else b"") + rest[how]
    return content


@settings(max_examples=30)
@given(kind=KINDS, content=st.binary(max_size=300))
def test_bytes_of_any_kind_are_read_or_told(garden: pn.Garden, scratch: Path, kind: str, content: bytes) -> None:
    outcome(garden, text(content, f"picked.{kind}")(scratch))


@settings(max_examples=60)
@given(kind=KINDS, changes=CHANGES)
def test_broken_files_are_read_or_told(
    garden: pn.Garden, scratch: Path, whole: dict[str, bytes], kind: str, changes: list[tuple[str, float, bytes]]
) -> None:
    outcome(garden, text(changed(whole[kind], changes), f"picked.{kind}")(scratch))


TROUBLE = st.text(
    st.sampled_from("\0\t\n\r \"'=+-@,;|/.:()[]0123456789eEBkg\ufeff\u2028\u00a0\u200f٣½é\U0001f331"), max_size=12
)
CELLS = st.one_of(
    TROUBLE, st.sampled_from(["B1", "2023-08-01", "5", "picked", "sown", "", "1.8.", "2 kg", "nan", "1e308"])
)
HEADINGS = st.lists(st.sampled_from([*FIELDS, "event", "record_id", "Grams (kg)"]), min_size=1, max_size=6, unique=True)


@st.composite
def tables(draw: st.DrawFn) -> dict[str, list[str]]:
    headings = draw(HEADINGS)
    rows = draw(st.lists(st.lists(CELLS, min_size=len(headings), max_size=len(headings)), max_size=4))
    return {heading: [row[place] for row in rows] for place, heading in enumerate(headings)}


@settings(max_examples=40)
@given(table=tables(), how=st.sampled_from(["stop", "set aside"]), dates=st.sampled_from([None, "day first"]))
def test_texts_of_any_kind_are_read_or_told(
    garden: pn.Garden, table: dict[str, list[str]], how: str, dates: str | None
) -> None:
    outcome(garden, pd.DataFrame(table, dtype=object), on_error=how, dates=dates, event=None)
    outcome(garden, pa.table({name: pa.array(cells, pa.string()) for name, cells in table.items()}), on_error=how)


VALUES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.binary(max_size=5), st.dates(),
    st.datetimes(), st.times(), st.timedeltas(), st.decimals(), st.complex_numbers(),
    st.lists(st.integers(), max_size=3), st.dictionaries(st.text(max_size=2), st.integers(), max_size=2),
    st.tuples(st.text(max_size=2)),
)  # fmt: skip


@settings(max_examples=40)
@given(values=st.lists(st.tuples(VALUES, VALUES, VALUES), max_size=4))
def test_values_of_any_kind_are_read_or_told(garden: pn.Garden, values: list[tuple[object, ...]]) -> None:
    outcome(garden, pd.DataFrame(values, columns=["labels", "on", "grams"], dtype=object))
