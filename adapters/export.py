"""A night taken out of a journal: the lines, and the State that they go on from.

A night is one room under one room file. Where the file changed in between, the night ends there,
and what follows is a night of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from adapters.files import UnusableError
from adapters.journal import Line, Night, Past
from engine.events import EVENTS, Event, Title, event_json, milliseconds, moment_of
from engine.room import Room
from engine.snapshot import decode, encode
from engine.state import State
from engine.step import RoomEngine
from engine.turn import Refused
from rules.load import load
from simulator.nights import LONGEST, Head, Versions, head_line, seconds

NOON: Final = time(12)


class Exported(NamedTuple):
    """A night as JSON Lines, and what there is to say of it."""

    lines: tuple[bytes, ...]
    words: tuple[str, ...]


def exported(
    path: Path, name: str | None, begins: str | None, ends: str | None, *, without_titles: bool
) -> Exported:
    """Take a night out of a journal; raises `UnusableError`, JournalError or SnapshotError.

    `begins` and `ends` are RFC 3339 or dates, which mean noon; without `begins` it is the latest
    night, without `ends` it goes on to the journal's end.
    """
    with closing(Past(path)) as past:
        room_name = _room_of(past, name)
        nights = past.nights(room_name)
        room = load(nights[-1].chapter.file, f"{room_name} (in the journal)")
        first, last = _moment(begins, room.zone), _moment(ends, room.zone)
        if first is not None and last is not None and last <= first:
            raise UnusableError("--to lies before --from")
        night, end = _span(nights, first)
        taken = _Taken(night, first, last, LONGEST * 1_000)
        lines = taken.read(past.lines(room_name, night.serial, end))
    words = [f"{room_name}: {len(lines):,} lines from {moment_of(taken.begins):%Y-%m-%d %H:%M} UTC"]
    if end is not None and (last is None or last > taken.latest):
        words.append("The room file or roomcue itself changed after it: what follows is a night")
        words[-1] += " of its own, to be had with --from."
    kept = _unnamed(taken.state, lines) if without_titles else (taken.state, lines)
    head = _head(night, room_name, taken.begins, kept[0])
    return Exported((head_line(head), *_written(taken.begins, kept[1])), tuple(words))


def _room_of(past: Past, name: str | None) -> str:
    rooms = past.rooms()
    if name is None and len(rooms) == 1:
        return rooms[0]
    if name in rooms:
        return name or ""
    there = ", ".join(rooms) or "none"
    raise UnusableError(f"{past.path}: --room names one of its rooms: {there}")


def _moment(text: str | None, zone: str) -> int | None:
    """Read a moment, or a date's noon in the room's zone."""
    if text is None:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        try:
            read = datetime.fromisoformat(text)
        except ValueError:
            read = None
        if read is None or read.tzinfo is None:
            raise UnusableError(
                f"'{text}' is no moment: write 2026-11-20 or 2026-11-20T20:00:00+01:00"
            ) from None
        return milliseconds(read)
    return milliseconds(datetime.combine(day, NOON, ZoneInfo(zone)))


def _span(nights: list[Night], first: int | None) -> tuple[Night, int | None]:
    """Say where to begin, and the serial after which another chapter goes on (None: none does)."""
    at = len(nights) - 1
    if first is not None:
        at = max((i for i, night in enumerate(nights) if night.begins <= first), default=0)
    night = nights[at]
    others = [one.serial for one in nights[at:] if one.chapter != night.chapter]
    return night, (others[0] if others else None)


class _Taken:
    """Lives through the lines before the wanted moment, and keeps those after it."""

    def __init__(self, night: Night, first: int | None, last: int | None, longest: int) -> None:
        self._first, self._last = first, last
        self._longest = longest
        self._room: Room = load(night.chapter.file, "the journal's room file")
        self._engine = RoomEngine(self._room, decode(night.state))
        self.begins = self.latest = max(night.begins, first or 0)
        self.state: State = self._engine.state

    def read(self, lines: Iterable[Line]) -> list[Line]:
        """Give the lines from the wanted moment on; raises `UnusableError` if they are too many."""
        kept: list[Line] = []
        for line in lines:
            if self._first is not None and line.now < self._first:
                self._live(line)
                continue
            if self._last is not None and line.now > self._last:
                break
            if line.now - self.begins > self._longest:
                raise UnusableError("a night is at most ten days long: say --to as well")
            kept.append(line)
            self.latest = line.now
        return kept

    def _live(self, line: Line) -> None:
        """Let the engine live through a line that comes before."""
        engine = self._engine
        event = None if line.event is None else EVENTS.validate_json(line.event)
        if engine.due_before(event, line.now):
            engine.advance(line.now)
        if event is not None:
            with suppress(Refused):
                engine.handle(event, line.now)
        self.state = engine.state


def _head(night: Night, name: str, begins: int, state: State) -> Head:
    chapter = night.chapter
    return Head(
        night=1,
        room=name,
        begins=moment_of(begins),
        room_file=chapter.file,
        versions=Versions(
            roomcue=chapter.roomcue, state=chapter.state_version, room_file=chapter.file_version
        ),
        state=encode(state).decode(),
    )


def _written(begins: int, lines: Iterable[Line]) -> Iterator[bytes]:
    for line in lines:
        what, body = (b"event", line.event) if line.event else (b"decision", line.decision)
        yield b'{"t":%s,"%s":%s}' % (seconds(line.now - begins), what, body)


def _unnamed(state: State, lines: Iterable[Line]) -> tuple[State, list[Line]]:
    """Number the titles: one that comes again keeps its number, so the rules see no difference."""
    numbers: dict[str, str] = {}

    def number(name: str | None) -> str | None:
        if name is None:
            return None
        return numbers.setdefault(name, f"title {len(numbers) + 1}")

    core = state.core.copy()
    core.title_name = number(core.title_name)
    if core.interrupted is not None:
        core.interrupted = core.interrupted._replace(name=number(core.interrupted.name))
    unnamed = []
    for line in lines:
        event: Event | None = None if line.event is None else EVENTS.validate_json(line.event)
        if isinstance(event, Title) and event.name is not None:
            unnamed.append(line._replace(event=event_json(replace(event, name=number(event.name)))))
        else:
            unnamed.append(line)
    return state._replace(core=core), unnamed
