"""Names that a package loads when they are first used, so that importing it stays light."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from importlib import import_module
from typing import Any

# packages import their own modules, so that two threads that load them at once would find each other's half done
_LOADING = threading.RLock()


def names(package: str, homes: Mapping[str, tuple[str, ...]]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """The ``__getattr__`` and ``__dir__`` of a package whose names live in modules: homes has those of each module.

    No name may be that of a module of the package itself, which takes its place once it is imported.
    """
    home_of = {name: home for home, own in homes.items() for name in own}
    own = vars(sys.modules[package])

    def found(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"{package} has no {name!r}")
        # who is in the middle of an import holds what the other thread may wait for, and must not wait in turn
        with nullcontext() if _is_importing() else _LOADING:
            own[name] = getattr(import_module(home_of[name]), name)
        return own[name]

    return found, lambda: sorted({*own, *home_of})


def _is_importing() -> bool:
    """Whether this thread is in the middle of importing some module."""
    frame = sys._getframe()
    while (above := frame.f_back) is not None:
        frame = above
        if frame.f_code.co_name == "_find_and_load" and frame.f_globals.get("__name__") == "importlib._bootstrap":
            return True
    return False
