"""Ids are UUIDs of version 7, unique, and rise in the order they were made."""

from __future__ import annotations

import threading
import time
import uuid

import pytest

from perennia.store.identity import uuid7


def test_an_id_is_a_uuid_of_version_7_and_of_now() -> None:
    before = time.time_ns() // 1_000_000
    made = uuid.UUID(bytes=uuid7())
    # under a fast run of ids the clock part may be a few fractions of a millisecond ahead
    assert before <= made.int >> 80 <= time.time_ns() // 1_000_000 + 50
    assert made.version == 7
    assert made.variant == uuid.RFC_4122


def test_ids_rise_and_differ() -> None:
    ids = [uuid7() for _ in range(20_000)]
    assert ids == sorted(ids)
    assert len(set(ids)) == len(ids)


def test_ids_of_several_threads_differ_in_their_clock_part() -> None:
    ids: list[bytes] = []
    threads = [threading.Thread(target=lambda: ids.extend(uuid7() for _ in range(2_000))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({made[:8] for made in ids}) == 8_000


def test_ids_rise_while_the_clock_stands_still_or_goes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    now = time.time_ns()
    clock = iter([now] * 5_000 + [now - 10**9] * 10)
    with monkeypatch.context() as patched:
        patched.setattr(time, "time_ns", lambda: next(clock))
        ids = [uuid7() for _ in range(5_010)]
    assert ids == sorted(ids)
    assert len({made[:8] for made in ids}) == len(ids)
