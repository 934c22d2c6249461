"""A process that compacts a garden as if it were a large one, and is killed while its answers are written.

Usage: killed_keeper.py GARDEN
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import perennia as pn
from perennia.queries import connection, kept_answers


def main(root: str) -> None:
    """Compact, and die once bytes of an answer lie on the disk."""
    sync = os.fsync

    def killing(descriptor: int) -> None:
        sync(descriptor)
        if kept_answers.FOLDER in str(Path(f"/proc/self/fd/{descriptor}").readlink()):
            os.kill(os.getpid(), signal.SIGKILL)

    os.fsync = killing
    connection._FEW_BYTES = 0
    with pn.Garden.open(root) as garden:
        garden.compact()


if __name__ == "__main__":
    main(*sys.argv[1:])
