"""What many tests begin from, made once in a process and then copied: to record a garden takes ten times as long.

A copy is as good as what it was copied from: a garden names its files by their places in its own folder.
"""

from __future__ import annotations

import atexit
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory


def copied(make: Callable[[Path], object], folder: Path) -> Path:
    """The folder, new or there already, with all that make puts into an empty one."""
    shutil.copytree(_made(make), folder, symlinks=True, dirs_exist_ok=True)
    return folder


@cache
def _made(make: Callable[[Path], object]) -> Path:
    kept = TemporaryDirectory(prefix="perennia-copied-")
    atexit.register(kept.cleanup)
    folder = Path(kept.name, "made")
    folder.mkdir()
    made = make(folder)
    if hasattr(made, "close"):
        made.close()
    return folder
