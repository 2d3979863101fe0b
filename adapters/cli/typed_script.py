"""Read an evening that is written down in a few words a line, such as `20:30 source disc`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from adapters.cli.typed_words import EXAMPLES, TypedError, read_typed
from engine import RoomEngine
from engine.errors import UnusableError
from engine.events import Event, milliseconds
from engine.refusal import Refused
from engine.room import Room
from simulator.nights.stand_in_hub import TimedEvent

MOST_MISTAKES: Final = 20
"""How many mistakes are listed; of the others only the number is said."""
LINE: Final = re.compile(r"(?P<clock>[\d:.]+)\s+(?P<words>\S.*)")
CLOCK: Final = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d)(?:\.(\d{1,3}))?)?")
NOON: Final = 12
NEVER_SO: Final = frozenset({"unknown_name", "out_of_range"})
"""Why a room never takes an event, whatever has happened before it."""


class ScriptError(UnusableError):
    """A script that cannot be played, with every mistake in it and where it stands."""

    @property
    def mistakes(self) -> tuple[str, ...]:
        """Each mistake of the script."""
        return tuple(map(str, self.args))

    def __str__(self) -> str:
        return "\n".join(self.mistakes)


class _Line(NamedTuple):
    number: int
    clock: str
    words: str


def read_typed_script(name: str, lines: Iterable[bytes], room: Room, day: date) -> list[TimedEvent]:
    """Read a script; its times are the room's local times, on `day` or, past midnight, after it.

    Empty lines, and those that begin with `#`, are passed over. Raises `ScriptError`.
    """
    reading = _Reading(room, day)
    events: list[TimedEvent] = []
    mistakes: list[str] = []
    for number, line in enumerate(lines, 1):
        text = line.decode("utf-8", "replace").lstrip("\ufeff").strip()
        if not text or text.startswith("#"):
            continue
        try:
            events.append(reading.read(text))
        except TypedError as error:
            mistakes.append(f"{name}:{number}: {error}")
    if mistakes:
        raise ScriptError(*_listed(mistakes))
    if not events:
        raise ScriptError(f"{name}: nothing happens in this script: {_HOW}")
    return events


_HOW: Final = f"write a time and what happens, such as 20:30 {EXAMPLES.partition(';')[0]}"


def _listed(mistakes: list[str]) -> Iterator[str]:
    yield from mistakes[:MOST_MISTAKES]
    more = len(mistakes) - MOST_MISTAKES
    if more > 0:
        yield f"and {more} more"


class _Reading:
    """A script that is being read: at which time of which day it has come."""

    def __init__(self, room: Room, day: date) -> None:
        self._room, self._day, self._zone = room, day, ZoneInfo(room.time_zone)
        self._latest: time | None = None

    def read(self, text: str) -> TimedEvent:
        """Read a line; raises `TypedError`."""
        found = LINE.fullmatch(text)
        clock = None if found is None else CLOCK.fullmatch(found["clock"])
        if found is None or clock is None:
            raise TypedError(f"'{text[:40]}' does not begin with a time of day: {_HOW}")
        event = read_typed(found["words"])
        self._require_known(event)
        now = self._time(found["clock"], clock)
        return TimedEvent(now, event)

    def _time(self, words: str, clock: re.Match[str]) -> int:
        hour, minute, second, part = clock.groups()
        try:
            shown = time(int(hour), int(minute), int(second or 0), int((part or "").ljust(6, "0")))
        except ValueError:
            words = f"{words} is no time of day: hours go to 23, minutes and seconds to 59"
            raise TypedError(words) from None
        if self._latest is not None and shown < self._latest:
            if not shown.hour < NOON <= self._latest.hour:
                words = f"{words} lies before {self._latest:%H:%M:%S}, which stands above it"
                raise TypedError(f"{words}: write what happens in its order")
            self._day += timedelta(days=1)
        self._latest = shown
        return milliseconds(datetime.combine(self._day, shown, self._zone))

    def _require_known(self, event: Event) -> None:
        """Refuse what this room never takes, such as a source that it does not have."""
        refusal = RoomEngine(self._room).receive(event, 0).refusal
        if isinstance(refusal, Refused) and refusal.code in NEVER_SO:
            raise TypedError(refusal.words)
