"""The clock of live rooms: wall time, counted by a clock that nobody sets; or a staged one.

Wall time may be set, by hand or over the network, and a machine may sleep. So the time is read off
a clock that goes on while the machine sleeps and that nobody sets, and wall time only says by how
much it is ahead of that one. Where the two come apart, wall time was set: rooms then move all their
moments along (`engine.clock_step`).
"""

from __future__ import annotations

import time
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Final, Protocol
from zoneinfo import ZoneInfo

MINUTE_MS: Final = 60_000
"""A minute in milliseconds."""
LARGEST_SLIP: Final = 1_000
"""Wall time that is this many ms beside what was counted, or fewer, was not set: it only runs a
little otherwise, and that adds up until it is more."""
BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")
"""The file in which Linux says which start of the machine this is; others have none."""
STEADY_CLOCK: Final[int] = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)
"""The clock that nobody sets; where there is one, the one that goes on while the machine sleeps."""


def steady_ms() -> int:
    """Say how many ms have passed since the machine's start, asleep or awake."""
    return time.clock_gettime_ns(STEADY_CLOCK) // 1_000_000


def _boot_id() -> str:
    try:
        return BOOT_ID.read_text("ascii").strip()
    except (OSError, ValueError):
        return ""


class Clock(Protocol):
    """What a live room needs of a clock; tests use another one."""

    boot: str
    """Which start of the machine it counts from; "": nobody knows."""
    ahead: int
    """By how many ms its time is ahead of the time since then; other than before: it was set."""

    def now(self) -> int:
        """Say the time in ms UTC; never earlier than before, unless `ahead` has changed."""

    def minute(self, zone: ZoneInfo) -> int:
        """Say the local time of day in a zone, in minutes after midnight."""

    def next_minute(self) -> int:
        """Say when the next minute of the local time begins, in the time of `now` (ms UTC)."""

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds of the event loop pass up to a moment of `now` (ms UTC)."""


class WallClock:
    """Wall time, which goes back or leaps forward only where it was set by more than a second."""

    def __init__(self, not_before: int = 0) -> None:
        """Begin now, or at `not_before` (ms UTC), the journal's last time, if it is just ahead."""
        self.boot = _boot_id()
        begins, steady = time.time_ns() // 1_000_000, steady_ms()
        if 0 < not_before - begins <= LARGEST_SLIP:
            begins = not_before
        self.ahead = begins - steady

    def now(self) -> int:
        """Say the time in ms UTC."""
        steady = steady_ms()
        slipped = time.time_ns() // 1_000_000 - steady - self.ahead
        if not -LARGEST_SLIP <= slipped <= LARGEST_SLIP:
            self.ahead += slipped
        return steady + self.ahead

    def minute(self, zone: ZoneInfo) -> int:
        """Say the time of day in a zone, in minutes after midnight."""
        return _minute_there(int(time.time()) // 60, zone)

    def next_minute(self) -> int:
        """Say when the next minute of the machine's clock begins, in the time of `now`."""
        return self.now() + MINUTE_MS - time.time_ns() // 1_000_000 % MINUTE_MS

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds it is to a moment (ms UTC); 0: it is there, or past."""
        return max(0, moment - self.now()) / 1_000


def clock_words(by: int) -> str:
    """Say that the clock was set `by` so many ms, for the log."""
    way = "forward" if by > 0 else "back"
    return f"The clock was set {way} by {abs(by) / 1_000:g} s."


class RehearsalClock:
    """A clock that whoever rehearses a room moves on, `speed` times as fast as life."""

    boot = ""
    ahead = 0

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
