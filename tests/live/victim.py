"""roomcue with a place where it dies: `python -m tests.live.victim PLACE NTH run ...`.

At the n-th time that it comes to the place, it ends as by kill -9. Its journal packs a few lines at
a time and often, so that packs are cut short too.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from typing import Any

from adapters.cli.main import main
from adapters.live import journal, run_rooms
from adapters.live.connection import Connection
from adapters.live.journal import Journal
from adapters.live.room_record import RoomRecord

PLACES = (
    "before commit",
    "between commit and publish",
    "between publish and acknowledgement",
    "between acknowledgement and the broker's own",
    "at the outbox mark",
)


class _Countdown:
    def __init__(self, count: int) -> None:
        self._left = count

    def pass_by(self, first: Callable[[], object] = lambda: None) -> None:
        """Die at the n-th passage, after doing something first."""
        self._left -= 1
        if self._left == 0:
            first()
            os.kill(os.getpid(), signal.SIGKILL)


def _before(owner: type, name: str, here: Callable[[Any], None]) -> None:
    """Come by before a method runs."""
    method = getattr(owner, name)

    def passing(own: Any, *given: Any, **named: Any) -> Any:  # noqa: ANN401 - whatever it takes
        here(own)
        return method(own, *given, **named)

    setattr(owner, name, passing)


def _after(owner: type, name: str, here: Callable[[Any], None]) -> None:
    """Come by after a method has run."""
    method = getattr(owner, name)

    def passing(own: Any, *given: Any, **named: Any) -> Any:  # noqa: ANN401 - whatever it takes
        result = method(own, *given, **named)
        here(own)
        return result

    setattr(owner, name, passing)


def doom(place: str, count: int) -> None:
    """Lay out where to die."""
    left = _Countdown(count)

    def written(own: Connection) -> None:
        left.pass_by(own.write)

    match place:
        case "before commit":
            _before(Journal, "commit", lambda _: left.pass_by())
        case "between commit and publish":
            _after(Journal, "commit", lambda _: left.pass_by())
        case "between publish and acknowledgement":
            _before(Connection, "acknowledge", written)
        case "between acknowledgement and the broker's own":
            _after(Connection, "acknowledge", written)
        case "at the outbox mark":
            _before(RoomRecord, "sent", lambda _: left.pass_by())
        case _:
            raise SystemExit(f"no such place: {place}")


if __name__ == "__main__":
    setattr(journal, "LINES_A_PACK", 5)  # noqa: B010 - constants
    for constant in ("PACK_EVERY", "PACK_PAUSE"):
        setattr(run_rooms, constant, 0.01)
    doom(sys.argv[1], int(sys.argv[2]))
    del sys.argv[1:3]
    main()
