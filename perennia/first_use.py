"""Names that a package loads when they are first used, so that importing it stays light."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def names(package: str, homes: Mapping[str, tuple[str, ...]]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """The ``__getattr__`` and ``__dir__`` of a package whose names live in modules: homes has those of each module.

    No name may be that of a module of the package itself, which takes its place once it is imported.
    """
    home_of = {name: home for home, own in homes.items() for name in own}
    own = vars(sys.modules[package])

    def found(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"{package} has no {name!r}")
        own[name] = getattr(import_module(home_of[name]), name)
        return own[name]

    return found, lambda: sorted({*own, *home_of})
