"""Nights as JSON Lines: a head, then one event or one decision a line.

    {"night": 2, "room": "hayloft", "begins": "2026-11-20T19:30:00Z", "room_file": "room: …", …}
    {"t": 12.5, "event": {"kind": "source", "source": "disc"}}
    {"t": 12.5, "decision": {"kind": "recall", …}}

`t` is seconds since the head's `begins`, to the millisecond, and never goes back. A night that was
taken out of the middle of a room's life carries the State it began with.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Annotated, Final, Literal, NamedTuple

from pydantic import AwareDatetime, Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from engine.decisions import AnyDecision, Decision, decision_json
from engine.errors import UnusableError
from engine.events import STRICT_WHEN_NEEDED, AnyEvent, Event, event_json, milliseconds, moment_of
from engine.malformed import describe_mistakes
from engine.snapshot import VERSION as STATE_VERSION
from rules.room.schema import VERSION as FILE_VERSION

FORMAT: Final = 2
LONGEST: Final = 10 * 86_400
"""The length of the longest night, in seconds: ten days."""


FIRST_YEAR: Final = 1970
LAST_YEAR: Final = 2200
_TIMED: Final = re.compile(rb'\{"t":(\d{1,5}(?:\.\d{1,3})?),(?="event":)')


class NightError(UnusableError):
    """Raised for a night that cannot be read at all."""


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT_WHEN_NEEDED)
class Versions:
    """The versions that recorded a night; a replay by others may decide otherwise."""

    roomcue: str
    state: int
    """The version of the State's fields (`engine.snapshot`)."""
    room_file: int
    """The version of the room file's sections (`rules.room.schema`)."""


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT_WHEN_NEEDED)
class NightHead:
    """A night's first line."""

    night: Literal[2]
    room: str
    begins: AwareDatetime
    room_file: str
    versions: Versions
    state: str | None = None
    """The State it began with, as `engine.snapshot.encode` writes it; None: nothing was known."""

    @property
    def start(self) -> int:
        """The time at which the night begins, in ms UTC."""
        return milliseconds(self.begins)


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT_WHEN_NEEDED)
class NightLine:
    """A line after the head: an event or a decision."""

    t: Annotated[float, Field(ge=0, le=LONGEST)]
    event: AnyEvent | None = None
    decision: AnyDecision | None = None


class NightEntry(NamedTuple):
    """An event or a recorded decision, with its line's number and its time in ms UTC."""

    number: int
    now: int
    event: Event | None
    decision: Decision | None


class BadLine(NamedTuple):
    """A line that cannot be used, with its number, counted from 1, and what is wrong with it."""

    number: int
    words: str

    def __str__(self) -> str:
        return f"line {self.number}: {self.words}"


NIGHT_HEADS: Final[TypeAdapter[NightHead]] = TypeAdapter(NightHead)
NIGHT_LINES: Final[TypeAdapter[NightLine]] = TypeAdapter(NightLine)


def read_head(line: bytes) -> NightHead:
    """Read a night's first line; raises `NightError`."""
    try:
        head = NIGHT_HEADS.validate_json(line)
    except ValidationError as error:
        words = _other_format(error) or describe_mistakes(error)
        raise NightError(
            f"line 1 is no head of a night: {words}; 'roomcue export' and 'invent' write nights"
        ) from error
    if not FIRST_YEAR <= head.begins.year <= LAST_YEAR:
        raise NightError(f"line 1: begins lies in the year {head.begins.year}: no night did")
    return head


def _other_format(error: ValidationError) -> str | None:
    """Say which format a night has, if it has another one; None: that is not what is wrong."""
    for one in error.errors(include_url=False):
        if one["loc"] == ("night",) and isinstance(one["input"], int):
            return (
                f"this night has format {one['input']}, with other names for some things; "
                f"this roomcue reads format {FORMAT} only. Read it with the roomcue that wrote it."
            )
    return None


def read_lines(
    start: int, lines: Iterable[bytes], first: int = 2
) -> Iterator[NightEntry | BadLine]:
    """Read the lines after the head, one by one; `start` is the head's, in ms UTC.

    `first` is the number of the first of these lines. Most lines of a night repeat the event of
    the line before with another `t`: they are not parsed again and yield the very same event.
    """
    parse = NIGHT_LINES.validator.validate_json  # saves a call for each line
    timed = _TIMED.match
    latest, tail = start, b""
    event: Event | None = None
    decision: Decision | None = None
    for number, line in enumerate(lines, first):
        stamp = timed(line)
        if stamp is not None and line[stamp.end() :] == tail:
            t = float(stamp[1])
        else:
            try:
                read = parse(line)
            except ValidationError as error:
                if line.strip():
                    yield BadLine(number, describe_mistakes(error))
                continue
            t, event, decision = read.t, read.event, read.decision
            if (event is None) is (decision is None):
                yield BadLine(number, "a line holds one of 'event' and 'decision'")
                tail = b""
                continue
            tail = b"" if stamp is None else line[stamp.end() :]
        now = start + round(t * 1_000)
        if now < latest:
            yield BadLine(number, f"t goes back from {(latest - start) / 1_000:g} to {t:g}")
            continue
        latest = now
        yield NightEntry(number, now, event, decision)


def head_line(head: NightHead) -> bytes:
    """Write a head as a line."""
    return NIGHT_HEADS.dump_json(head, exclude_none=True)


def event_line(start: int, now: int, event: Event) -> bytes:
    """Write one event as a line of a night that began at `start`, both in ms UTC."""
    return b'{"t":%s,"event":%s}' % (seconds(now - start), event_json(event))


def decision_line(start: int, decision: Decision, now: int | None = None) -> bytes:
    """Write one decision as a line of a night that began at `start`, in ms UTC.

    `now` is when it was made, if that is later than its own time, as after a restart.
    """
    body = decision_json(decision)
    return b'{"t":%s,"decision":%s}' % (seconds(max(decision.at, now or 0) - start), body)


def seconds(milliseconds_passed: int) -> bytes:
    """Write milliseconds as seconds, as briefly as possible: 12500 is 12.5."""
    return f"{milliseconds_passed / 1_000:.3f}".rstrip("0").rstrip(".").encode()


def new_head(room: str, begins: int, room_file: str, version: str, state: str | None) -> NightHead:
    """Make the head of a night that begins at `begins` (ms UTC)."""
    return NightHead(
        night=FORMAT,
        room=room,
        begins=moment_of(begins),
        room_file=room_file,
        versions=Versions(roomcue=version, state=STATE_VERSION, room_file=FILE_VERSION),
        state=state,
    )
