"""Which signals stop rooms: once, and nothing comes between while the journal is closed.

The event loop's own handlers go with the loop, after which a second signal would kill the process
while the journal is written anew. So these are Python's, and they outlast it.
"""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

STOPPING: Final = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
"""A service manager's, a key's, and that of a terminal that is closed."""


class Signals:
    """What is known of how rooms have ended."""

    stopped = False
    """Whether a signal has ended them."""


@contextmanager
def signals_put_back_unless_stopped() -> Iterator[Signals]:
    """Let signals do what they did before, unless rooms were stopped: then none does anything.

    Whoever has stopped them may say so again up to the process's end, which is near.
    """
    before = {one: signal.getsignal(one) for one in STOPPING}
    signals = Signals()
    try:
        yield signals
    finally:
        if not signals.stopped:
            for one, handler in before.items():
                signal.signal(one, handler)


@contextmanager
def stopped_by_signals(stop: asyncio.Event) -> Iterator[None]:
    """Set `stop` where somebody ends the process; after the block its signals do nothing."""
    loop = asyncio.get_running_loop()

    def heard(*_: object) -> None:
        loop.call_soon_threadsafe(stop.set)

    # `nohup` lets rooms outlive their terminal.
    signals = [one for one in STOPPING if signal.getsignal(one) != signal.SIG_IGN]
    for one in signals:
        signal.signal(one, heard)
    try:
        yield
    finally:
        for one in signals:
            signal.signal(one, signal.SIG_IGN)
