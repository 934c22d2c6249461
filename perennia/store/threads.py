"""Work on one thing after another, two at a time: the libraries that do it let go of Python's lock."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Done = TypeVar("Done")
# more at once would need more memory than a large batch may take
_AT_ONCE = 2


def two_at_a_time(work: Callable[[Item], Done], items: Iterable[Item]) -> Iterator[Done]:
    """What work makes of each item, in their order; an item is asked for only when one before it is done."""
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        pending: deque[Future[Done]] = deque()
        for item in items:
            pending.append(pool.submit(work, item))
            if len(pending) == _AT_ONCE:
                yield pending.popleft().result()
        while pending:
            yield pending.popleft().result()
