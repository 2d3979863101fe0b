"""Time as a live room knows it."""

from __future__ import annotations

import time
from datetime import datetime
from functools import lru_cache
from typing import Final, Protocol
from zoneinfo import ZoneInfo

MINUTE_MS: Final = 60_000


class Clock(Protocol):
    """What a live room asks of time."""

    def now(self) -> int:
        """Say the time in ms UTC; never earlier than before."""

    def minute(self, zone: ZoneInfo) -> int:
        """Say the time of day there, in minutes after midnight, as its clocks show it."""

    def next_minute(self) -> int:
        """Say when clocks show another minute, in the time that `now` says."""


class WallClock:
    """Wall time at the start, and from then on the monotonic clock: it never goes back.

    Whoever sets the machine's clock changes the time of day, and nothing else.
    """

    def __init__(self, not_before: int = 0) -> None:
        """Begin now, or at `not_before` (ms UTC) if that is later: when the journal was written."""
        begins = max(time.time_ns(), not_before * 1_000_000)
        self._offset = begins - time.monotonic_ns()

    def now(self) -> int:
        """Say the time in ms UTC."""
        return (time.monotonic_ns() + self._offset) // 1_000_000

    def minute(self, zone: ZoneInfo) -> int:
        """Say the time of day in a zone, in minutes after midnight."""
        return _minute_there(int(time.time()) // 60, zone)

    def next_minute(self) -> int:
        """Say when the machine's clock shows another minute."""
        return self.now() + MINUTE_MS - time.time_ns() // 1_000_000 % MINUTE_MS


@lru_cache(256)
def _minute_there(minutes: int, zone: ZoneInfo) -> int:
    """Say what a zone's clocks show so many whole minutes after 1970; no zone is off by seconds."""
    local = datetime.fromtimestamp(60 * minutes, zone)
    return local.hour * 60 + local.minute
