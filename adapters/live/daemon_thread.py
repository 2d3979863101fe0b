"""What may wait for somebody else for long, in a thread that nobody has to wait for.

The event loop's own threads are joined as the process ends: one that waits for a broker in vain
would hold that up.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from threading import Thread


def in_daemon_thread(work: Callable[[], None]) -> asyncio.Future[None]:
    """Begin some work; what is given comes true when it is done, or has what it raised.

    Whoever no longer waits for it leaves it to itself: it ends with the process at the latest.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[None] = loop.create_future()

    def tell(error: Exception | None) -> None:
        if done.done():
            return  # nobody waits any more
        if error is None:
            done.set_result(None)
        else:
            done.set_exception(error)

    def run() -> None:
        failed: Exception | None = None
        try:
            work()
        except Exception as error:  # noqa: BLE001 - it is raised where somebody waits
            failed = error
        with suppress(RuntimeError):  # the loop is closed
            loop.call_soon_threadsafe(tell, failed)

    Thread(target=run, daemon=True).start()
    return done
