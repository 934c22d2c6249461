"""Names that a package loads when they are first used, so that importing it stays light."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

# packages import their own modules, so that two threads that load them at once would find each other's half done
_LOADING = threading.RLock()
# who waits in the middle of an import may be what the other waits for, and goes on in the end
_LONGEST_WAIT_S = 60.0


def names(package: str, homes: Mapping[str, tuple[str, ...]]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """The ``__getattr__`` and ``__dir__`` of a package whose names live in modules: homes has those of each module.

    No name may be that of a module of the package itself, which takes its place once it is imported.
    """
    home_of = {name: home for home, own in homes.items() for name in own}
    own = vars(sys.modules[package])

    def found(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"{package} has no {name!r}")
        waited = _LOADING.acquire(timeout=_LONGEST_WAIT_S)
        try:
            own[name] = getattr(import_module(home_of[name]), name)
        finally:
            if waited:
                _LOADING.release()
        return own[name]

    return found, lambda: sorted({*own, *home_of})
