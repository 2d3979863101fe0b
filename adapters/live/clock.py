"""The clock of a live room: wall time at the start, monotonic from then on; or a staged one."""

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

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds of the event loop pass up to a moment of `now` (ms UTC)."""


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

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds it is to a moment (ms UTC); 0: it is there, or past."""
        return max(0, moment - self.now()) / 1_000


class RehearsalClock:
    """A clock that whoever rehearses a room moves on, `speed` times as fast as life."""

    def __init__(self, begins: int, speed: float) -> None:
        """Stand at `begins` (ms UTC) until it is moved."""
        self._now, self.speed = begins, speed

    def move_to(self, moment: int) -> None:
        """Show a later moment (ms UTC)."""
        self._now = max(self._now, moment)

    def now(self) -> int:
        """Say the staged time in ms UTC."""
        return self._now

    def minute(self, zone: ZoneInfo) -> int:
        """Say the staged time of day in a zone, in minutes after midnight."""
        return _minute_there(self._now // MINUTE_MS, zone)

    def next_minute(self) -> int:
        """Say when the next minute begins (ms UTC)."""
        return self._now + MINUTE_MS - self._now % MINUTE_MS

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds of the event loop pass up to a moment (ms UTC)."""
        return max(0, moment - self._now) / 1_000 / self.speed


@lru_cache(256)
def _minute_there(minutes: int, zone: ZoneInfo) -> int:
    """Give a zone's local time of day, in minutes; `minutes` are counted from 1970, UTC.

    Whole minutes are enough, since no zone's offset has seconds today.
    """
    local = datetime.fromtimestamp(60 * minutes, zone)
    return local.hour * 60 + local.minute
