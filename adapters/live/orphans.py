"""End a child process with its parent, however that ends: nobody is left to wait for its work.

A parent that is killed can end nobody. So it keeps the one end of a pipe, and its child watches the
other: the system closes the parent's end with the parent, on every system alike.
"""

from __future__ import annotations

import os
import signal
from threading import Thread


def end_with_parent(watched: int) -> None:
    """End this process and its group as soon as nobody has the other end of a pipe any more.

    `watched` is the number of the end that is read, on which nothing ever comes.
    """
    Thread(target=_end_at_its_end, args=(watched,), daemon=True).start()


def _end_at_its_end(watched: int) -> None:
    os.read(watched, 1)
    os.killpg(0, signal.SIGKILL)
