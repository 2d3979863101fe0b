"""The clock as a room has followed it, and what it tells about the time in which nobody looked."""

from __future__ import annotations

from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from adapters.live.clock import LARGEST_SLIP, Clock
from adapters.live.journal_rows import ClockMark, KeptRoom
from engine.clock_step import with_clock_set
from engine.snapshot import SnapshotError, decode, encode
from engine.state import State

DOUBTED: Final = 86_400_000
"""For so many ms after the machine's start its clock may still be found to be slow."""


class ClockSet(NamedTuple):
    """What a look at a clock tells, in ms: how it was set, and the time."""

    by: int
    """How far it was set; 0: it was not."""
    moves: int
    """How far that moves what was to happen; less than `by`: the rest of it is time that passed."""
    now: int
    """The time as the clock shows it (ms UTC)."""


class RoomClock(NamedTuple):
    """The clock of one room. Until the room follows, a clock that was set shows the old time."""

    clock: Clock
    ahead: int
    """How far it was ahead of the time since the machine's start, as the room has followed it."""
    doubt: int | None = None
    """Whether the machine was off, and nothing tells how long: the ms by which its clock may have
    shown too little then. As far as it is set forward by more, it was off. None: it is known."""
    begun: State | None = None
    """The State as the room went on after that start, while there is such a doubt; None: nobody
    knows it. What has come since is no older for the time that the machine was off."""

    @property
    def behind(self) -> int:
        """By how many ms the clock was set since the room has followed it."""
        return self.clock.ahead - self.ahead

    @property
    def mark(self) -> ClockMark:
        """Say by which clock the room's moments are counted."""
        begun = None if self.begun is None else encode(self.begun)
        return ClockMark(self.clock.boot, self.ahead, self.doubt, begun)

    def now(self) -> int:
        """Say the time in ms UTC."""
        clock = self.clock
        return clock.now() - clock.ahead + self.ahead

    def was_set(self) -> bool:
        """Look whether the clock was set since the room has followed it."""
        self.clock.now()
        return self.behind != 0

    def minute(self, zone: ZoneInfo) -> int:
        """Say the local time of day, in minutes after midnight."""
        return self.clock.minute(zone)

    def next_minute(self) -> int:
        """Say when the next minute of the local time begins (ms UTC)."""
        return self.clock.next_minute() - self.behind

    def seconds_until(self, moment: int) -> float:
        """Say how many seconds of the event loop pass up to a moment (ms UTC)."""
        return self.clock.seconds_until(moment + self.behind)

    def followed(self) -> tuple[RoomClock, ClockSet]:
        """Give the clock once the room has followed it, and how it was set since."""
        now = self.clock.now()
        by = self.behind
        if not by:
            return self, ClockSet(0, 0, now)
        moves, doubt = _followed(by, self.doubt, now - self.clock.ahead)
        begun = None
        if doubt is not None and self.begun is not None:
            begun = with_clock_set(self.begun, moves, now)
        return RoomClock(self.clock, self.clock.ahead, doubt, begun), ClockSet(by, moves, now)

    def gone_on(self, mark: ClockMark, state: State) -> RoomClock:
        """Note how a room goes on, where the machine was started again since a mark."""
        known = self.doubt is None or same_start(self.clock, mark)
        return self if known else self._replace(begun=state)


def same_start(clock: Clock, mark: ClockMark) -> bool:
    """Tell whether the machine has not been started since."""
    return bool(mark.boot) and mark.boot == clock.boot


def begun_of(clock: Clock, mark: ClockMark) -> State | None:
    """Give the State as the room went on after this start of the machine; None: nobody knows it."""
    if mark.begun is None or not same_start(clock, mark):
        return None
    try:
        return decode(mark.begun)
    except SnapshotError:  # of another roomcue
        return None


def room_clock(clock: Clock, kept: KeptRoom) -> tuple[RoomClock, ClockSet]:
    """Give the clock of a room that goes on, and how it was set while nobody kept the room.

    Since the same start of the machine it is known how much time has passed. After another one the
    clock tells, unless it shows less than the room's last line; until it is set that may be wrong.
    """
    now, mark = clock.now(), kept.mark
    if same_start(clock, mark):
        before = RoomClock(clock, mark.ahead, mark.doubt, begun_of(clock, mark))
        if abs(before.behind) <= LARGEST_SLIP:
            return before._replace(ahead=clock.ahead), ClockSet(0, 0, now)
        return before.followed()
    by = min(0, now - kept.now)
    if abs(by) <= LARGEST_SLIP:
        by = 0
    return RoomClock(clock, clock.ahead, -by), ClockSet(by, by, now)


def _followed(by: int, doubt: int | None, since_start: int) -> tuple[int, int | None]:
    """Say how far what was to happen moves as a clock is set, and what is then in doubt (ms).

    A clock that nobody has set for long since the machine's start was right.
    """
    if doubt is None or since_start > DOUBTED:
        return by, None
    return min(by, doubt), max(0, doubt - by)
