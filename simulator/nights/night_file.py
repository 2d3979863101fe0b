"""Nights as JSON Lines: a head, then one event or one decision a line.

    {"night": 2, "room": "hayloft", "begins": "2026-11-20T19:30:00Z", "room_file": "room: …", …}
    {"t": 12.5, "event": {"kind": "source", "source": "disc"}}
    {"t": 12.5, "decision": {"kind": "recall", …}}

`t` is seconds since the head's `begins`, to the millisecond, and never goes back. A night that was
taken out of the middle of a room's life carries the State it began with.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Annotated, Final, Literal, NamedTuple

from pydantic import AwareDatetime, Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from engine.decisions import AnyDecision, Decision, decision_json
from engine.errors import UnusableError
from engine.events import (
    READINGS,
    STRICT_WHEN_NEEDED,
    AnyEvent,
    Event,
    event_json,
    milliseconds,
    moment_of,
)
from engine.malformed import describe_line
from engine.snapshot import VERSION as STATE_VERSION
from rules.room.schema import VERSION as FILE_VERSION
from simulator import HEAD_BEGINS

FORMAT: Final = 2
LONGEST: Final = 10 * 86_400
"""The length of the longest night, in seconds: ten days."""

FIRST_YEAR: Final = 1970
LAST_YEAR: Final = 2200
LATEST: Final = milliseconds(datetime(LAST_YEAR + 1, 1, 1, tzinfo=UTC))
"""No night begins so late, ms UTC; the first may begin at 0."""
_BEFORE: Final = b'{"t":'
_STAMP: Final = re.compile(_BEFORE + rb"(\d{1,5}(?:\.\d{1,3})?)")
_STAMPS: Final = re.compile(rb"%s(?:\n%s)*" % (_STAMP.pattern, _STAMP.pattern))
_NO_TAIL: Final = b"\n\n"
"""An ending that no line has."""
MOST_REPEATS: Final = 1_000
"""How many repeated lines are handed on together at most."""
MOST_KNOWN: Final = 1_000
"""How many readings are kept at most, so that their lines need not be parsed again."""


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


class Repeats(NamedTuple):
    """Lines in a row that only repeat the reading of the line before them, each at its own time."""

    number: int
    """The first line's."""
    event: Event
    start: int
    """The night's, in ms UTC."""
    seconds: list[float]
    """The time of each line, counted from the night's start."""
    last: int
    """The last one's time, in ms UTC."""

    def time(self, index: int) -> int:
        """Give the time of one of the lines, in ms UTC."""
        return self.start + round(self.seconds[index] * 1_000)

    def entry(self, index: int) -> NightEntry:
        """Give one of the lines by itself."""
        return NightEntry(self.number + index, self.time(index), self.event, None)

    def first_at(self, now: int, index: int) -> int:
        """Find the first line from an index on that is not before `now` (ms UTC)."""
        return bisect_left(range(len(self.seconds)), now, index, key=self.time)


class BadLine(NamedTuple):
    """A line that cannot be used, with its number, counted from 1, and what is wrong with it."""

    number: int
    words: str

    def __str__(self) -> str:
        return f"line {self.number}: {self.words}"


NightPart = NightEntry | Repeats | BadLine
"""What a night's file is read as: nearly all lines of a long night are repeats."""
NIGHT_HEADS: Final[TypeAdapter[NightHead]] = TypeAdapter(NightHead)
NIGHT_LINES: Final[TypeAdapter[NightLine]] = TypeAdapter(NightLine)
_VALIDATE: Final = NIGHT_LINES.validator.validate_json  # saves a call for each line


def read_head(line: bytes) -> NightHead:
    """Read a night's first line; raises `NightError`."""
    try:
        head = NIGHT_HEADS.validate_json(line)
    except ValidationError as error:
        if other := _other_format(error):
            raise NightError(other) from error
        words = describe_line(line, error)
        raise NightError(
            f"line 1 is no head of a night: {words}; 'roomcue export' and 'invent' write nights"
        ) from error
    if not 0 <= head.start < LATEST:
        raise NightError(f"line 1: begins lies outside the years {FIRST_YEAR} to {LAST_YEAR}")
    return head


def _other_format(error: ValidationError) -> str | None:
    """Say which format a night has, if it has another one; None: that is not what is wrong."""
    for one in error.errors(include_url=False):
        if one["loc"] == ("night",) and isinstance(one["input"], int):
            return (
                f"this night has format {one['input']}, with other names for some things; "
                f"this roomcue reads format {FORMAT} only; read it with the roomcue that wrote it"
            )
    return None


def read_lines(
    start: int, lines: Iterable[bytes], first: int = 2
) -> Iterator[NightEntry | BadLine]:
    """Read the lines after the head as `read_parts` does, but each by itself."""
    return line_by_line(read_parts(start, lines, first))


def line_by_line(parts: Iterable[NightPart]) -> Iterator[NightEntry | BadLine]:
    """Give each repeated line by itself."""
    for part in parts:
        if isinstance(part, Repeats):
            yield from map(part.entry, range(len(part.seconds)))
        else:
            yield part


def read_parts(start: int, lines: Iterable[bytes], first: int = 2) -> Iterator[NightPart]:
    """Read the lines after the head; `start` is the head's, in ms UTC.

    `first` is the number of the first of these lines. Most lines of a night repeat the reading of
    the line before with another `t`: they are not parsed again, and are handed on together with the
    very same event.
    """
    reader = _Reader(start)
    run, number = list[bytes](), first - 1
    for number, line in enumerate(lines, first):
        if line.endswith(reader.tail) and len(run) < MOST_REPEATS:
            run.append(line)
            continue
        if run:
            yield from reader.read_run(number - len(run), run)
            run = []
        part = reader.read(number, line)
        if part is not None:
            yield part
    if run:
        yield from reader.read_run(number + 1 - len(run), run)


def _bad_line(number: int, line: bytes, error: ValidationError) -> BadLine | None:
    """Say what is wrong with a line; None: it is empty."""
    if line.startswith(HEAD_BEGINS):
        return BadLine(number, "another night begins here; give each a file of its own")
    return BadLine(number, describe_line(line, error)) if line.strip() else None


class _Reader:
    """Reads lines, and remembers what the last of them said."""

    def __init__(self, start: int) -> None:
        self._start = self._latest = start
        self._known: dict[bytes, Event] = {}
        self._held: Event | None = None
        self.tail = _NO_TAIL
        """What follows the time in a line that repeats the last reading."""

    def read(self, number: int, line: bytes) -> NightEntry | BadLine | None:
        """Read a line; None: it is empty."""
        stamp = _STAMP.match(line)
        tail = b"" if stamp is None else line[stamp.end() :]
        event = self._known.get(tail)
        if event is not None and stamp is not None:
            t, decision = float(stamp[1]), None
        else:
            try:
                read = _VALIDATE(line)
            except ValidationError as error:
                return _bad_line(number, line, error)
            t, event, decision = read.t, read.event, read.decision
            if (event is None) is (decision is None):
                return BadLine(number, "a line holds one of 'event' and 'decision'")
            if isinstance(event, READINGS) and tail.startswith(b',"event":'):
                self._remember(tail, event)
        now = self._start + round(t * 1_000)
        if now < self._latest:
            return BadLine(number, self._goes_back(t))
        self._latest, self._held = now, event
        self.tail = tail if tail in self._known else _NO_TAIL
        return NightEntry(number, now, event, decision)

    def _remember(self, tail: bytes, event: Event) -> None:
        """Keep a reading, which will often be told again."""
        if len(self._known) == MOST_KNOWN:
            self._known.clear()
        self._known[tail] = event

    def _goes_back(self, t: float) -> str:
        before = (self._latest - self._start) / 1_000
        return f"t goes back from {before:g} to {t:g}: sort the lines behind the head by their t"

    def read_run(self, number: int, run: list[bytes]) -> Iterator[NightPart]:
        """Read lines that end like the one before them; one by one if something is wrong with one.

        `number` is the first one's.
        """
        same = self._repeats(number, run)
        if same is not None:
            yield same
            return
        for at, line in enumerate(run, number):
            part = self.read(at, line)
            if part is not None:
                yield part

    def _repeats(self, number: int, run: list[bytes]) -> Repeats | None:
        """Read lines as repeats of the last reading; None: something is wrong with one of them."""
        size, held = -len(self.tail), self._held
        stamps = b"\n".join([line[:size] for line in run])
        if held is None or not _STAMPS.fullmatch(stamps):
            return None
        passed = [*map(float, stamps[len(_BEFORE) :].split(b"\n" + _BEFORE))]
        first = self._start + round(passed[0] * 1_000)
        if first < self._latest or sorted(passed) != passed:
            return None
        self._latest = self._start + round(passed[-1] * 1_000)
        return Repeats(number, held, self._start, passed, self._latest)


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
