"""No text is left that a spreadsheet would run, and every text comes back as it was."""

from __future__ import annotations

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from perennia.intake.formulas import guarded, unguarded

# signs often enough that they come first, behind apostrophes and behind each other
TEXTS = st.text(st.sampled_from("'=+-@\t\r\n＝ aé\"0") | st.characters(exclude_categories=["Cs"]), max_size=6)


def column(*texts: str | None) -> pa.Array:
    return pa.array(texts, pa.string())


@given(st.lists(st.none() | TEXTS))
def test_every_text_comes_back(texts: list[str | None]) -> None:
    assert unguarded(guarded(column(*texts))).to_pylist() == texts


@given(st.lists(TEXTS))
def test_no_guarded_text_begins_as_a_formula(texts: list[str]) -> None:
    assert [text for text in guarded(column(*texts)).to_pylist() if text[:1] in tuple("=+-@\t\r\n＝＋－＠")] == []


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("=1+2", "'=1+2"), ("+1", "'+1"), ("-1", "'-1"), ("@sum(a1)", "'@sum(a1)"), ("\t=1", "'\t=1"),
        ("\r=1", "'\r=1"), ("'=1", "''=1"), ("''=1", "'''=1"), ("＝1", "'＝1"), ("\n=1", "'\n=1"),
        ("'tis late", "'tis late"), ("'", "'"), ("B1=B2", "B1=B2"), (" =1", " =1"), ("a\n=1", "a\n=1"), ("", ""),
    ],
)  # fmt: skip
def test_only_what_would_run_gets_an_apostrophe(text: str, safe: str) -> None:
    assert guarded(column(text)).to_pylist() == [safe]
    assert unguarded(column(safe)).to_pylist() == [text]


def test_what_a_grower_wrote_with_an_apostrophe_is_left_alone() -> None:
    assert unguarded(column("'tis late", "it's", None, "''")).to_pylist() == ["'tis late", "it's", None, "''"]


def test_a_column_in_parts_is_one() -> None:
    parts = pa.chunked_array([column("=1"), column("'-1", None)])
    assert guarded(parts).to_pylist() == ["'=1", "''-1", None]
    assert unguarded(guarded(parts)).to_pylist() == parts.to_pylist()
