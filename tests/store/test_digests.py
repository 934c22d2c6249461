"""Hashes of fields: the same for the same, another for anything else, whatever the shape of the column."""

from __future__ import annotations

from datetime import date

import numpy as np
import pyarrow as pa
from hypothesis import given
from hypothesis import strategies as st

from perennia.store.digests import halves_of, hashes, identities, sums_within

TEXTS = st.lists(st.text(max_size=40) | st.none(), max_size=12)


def said(name: str, values: pa.Array) -> list[tuple[int, ...]]:
    """The hash of each value."""
    return [tuple(pair) for pair in hashes(name, values).T.tolist()]


@given(TEXTS, st.integers(0, 3))
def test_texts_hash_alike_exactly_when_they_are_alike(texts: list[str | None], skipped: int) -> None:
    column = pa.array(["before"] * skipped + texts, pa.string()).slice(skipped)
    found = said("note", column)
    assert found == [one for text in texts for one in said("note", pa.array([text], pa.string()))]
    assert len(set(found)) == len(set(texts))
    assert all((pair == (0, 0)) == (text is None) for pair, text in zip(found, texts, strict=True))


def test_a_text_of_noughts_differs_from_a_shorter_one() -> None:
    texts = ["", "\0", "\0\0", "a", "a\0", "a" * 8, "a" * 8 + "\0", "a" * 16, "b" + "a" * 15]
    assert len(set(said("note", pa.array(texts)))) == len(texts)


@given(st.lists(st.floats() | st.none(), max_size=12))
def test_numbers_hash_alike_exactly_when_their_bits_do(numbers: list[float | None]) -> None:
    column = pa.array(numbers, pa.float64())
    bits = {None if number is None else np.float64(number + 0.0).tobytes() for number in numbers}
    assert len(set(said("grams", column))) == len(bits)


def test_the_name_of_a_field_counts_and_so_does_each_value() -> None:
    ones = [pa.array([1]), pa.array([1.0]), pa.array([date(1970, 1, 2)]), pa.array([True]), pa.array(["1"])]
    assert len({pair for name in ("grams", "count") for one in ones for pair in said(name, one)}) >= 6
    assert said("into", pa.array([["a", "b"], ["b", "a"]])) [0] == said("into", pa.array([["b", "a"]]))[0]


def test_sums_are_of_the_whole_group_in_every_row_of_it() -> None:
    parts = np.array([[1, 2, 4], [1, 2, 4]], np.uint64)
    assert sums_within(np.array([7, 3, 7]), parts).tolist() == [[5, 2, 5], [5, 2, 5]]
    assert sums_within(np.array([1, 2, 3]), parts).tolist() == parts.tolist()


@given(st.lists(st.binary(min_size=16, max_size=16), max_size=6), st.integers(0, 2))
def test_ids_come_apart_and_together_again(ids: list[bytes], skipped: int) -> None:
    column = pa.array([bytes(16)] * skipped + ids, pa.binary()).slice(skipped)
    assert identities(halves_of(column)).to_pylist() == ids
