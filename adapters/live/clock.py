"""The clock of a live room: wall time at the start, monotonic from then on."""

from __future__ import annotations

import time
from datetime import datetime
from functools import lru_cache
from typing import Final, Protocol
from zoneinfo import ZoneInfo

MINUTE_MS: Final = 60_000
"""A minute in milliseconds."""


class Clock(Protocol):
    """What a live room needs of a clock; tests use another one."""

    def now(self) -> int:
        """Say the time in ms UTC; never earlier than before."""

    def minute(self, zone: ZoneInfo) -> int:
        """Say the local time of day in a zone, in minutes after midnight."""

    def next_minute(self) -> int:
        """Say when the next minute of the local time begins, in the time of `now` (ms UTC)."""


class WallClock:
    """Wall time at the start, plus the monotonic clock from then on, so it never goes back.

    Setting the machine's clock changes the time of day only.
    """

    def __init__(self, not_before: int = 0) -> None:
        """Begin now, or at `not_before` (ms UTC), the journal's last time, if that is later."""
        begins = max(time.time_ns(), not_before * 1_000_000)
        self._offset = begins - time.monotonic_ns()

    def now(self) -> int:
        """Say the time in ms UTC."""
        return (time.monotonic_ns() + self._offset) // 1_000_000

    def minute(self, zone: ZoneInfo) -> int:
        """Say the time of day in a zone, in minutes after midnight."""
        return _minute_there(int(time.time()) // 60, zone)

    def next_minute(self) -> int:
        """Say when the next minute of the machine's clock begins, in the time of `now`."""
        return self.now() + MINUTE_MS - time.time_ns() // 1_000_000 % MINUTE_MS


@lru_cache(256)
def _minute_there(minutes: int, zone: ZoneInfo) -> int:
    """Give a zone's local time of day, in minutes; `minutes` are counted from 1970, UTC.

    Whole minutes are enough, since no zone's offset has seconds today.
    """
    local = datetime.fromtimestamp(60 * minutes, zone)
    return local.hour * 60 + local.minute
