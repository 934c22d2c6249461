"""A process that compacts a garden as if it were a very large one, and is killed while its answers are written.

Usage: killed_keeper.py GARDEN [NTH]: once bytes of the first answer, or the NTH, lie on the disk.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import perennia as pn
from perennia.queries import answer_files, connection, kept_parts


def main(root: str, nth: str = "1") -> None:
    """Compact, and die while the nth answer is written."""
    sync = os.fsync
    left = int(nth)

    def killing(descriptor: int) -> None:
        nonlocal left
        sync(descriptor)
        left -= answer_files.FOLDER in str(Path(f"/proc/self/fd/{descriptor}").readlink())
        if not left:
            os.kill(os.getpid(), signal.SIGKILL)

    os.fsync = killing
    connection._FEW_BYTES = connection._MANY_BYTES = 0
    kept_parts._ROWS_A_FILE = 100
    with pn.Garden.open(root) as garden:
        garden.compact()


if __name__ == "__main__":
    main(*sys.argv[1:])
