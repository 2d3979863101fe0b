"""Export a night from a journal: its lines, and the State in which it begins.

A night belongs to one room and one room file, and in it time only goes on. A new room file ends it
and begins another, and so does a clock that is set.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Final, NamedTuple

from adapters.cli.moments import read_day
from adapters.live.journal_file import JournalError, unusable_words
from adapters.live.journal_reader import JournalReader
from adapters.live.journal_rows import JournalLine, NightStart
from adapters.live.kept_file import kept_room
from adapters.live.messages import rfc3339
from engine import RoomEngine
from engine.errors import UnusableError
from engine.events import EVENTS, Event, Forget, Title, event_json, moment_of
from engine.snapshot import SnapshotError, decode, encode
from engine.state import State
from engine.title_records import InterruptedTitle
from engine.told_words import without_words
from simulator.nights.night_file import (
    FORMAT,
    LONGEST,
    NightEntry,
    NightHead,
    Versions,
    head_line,
    seconds,
)
from simulator.nights.replay import replay

WITHOUT_IT: Final = (
    "Without it nobody can tell what the night means; SQLite's own .recover shows its lines"
)
NOTHING: Final = (
    "nothing happened in {} from {} on (a date means its noon): name an earlier --from, for {}"
)
FOREIGN: Final = (
    "{}: the night that begins at {} cannot be read by this roomcue: {}. Export it with the "
    "roomcue that wrote it, version {}; what comes once 'roomcue run' has taken the journal up can "
    "be exported with this one"
)
TOO_LONG: Final = "a night is at most ten days long: say --to as well"
NAMED: Final = 5
"""How many nights a message names at most."""


class Exported(NamedTuple):
    """A night as JSON Lines, and notes on it."""

    lines: tuple[bytes, ...]
    words: tuple[str, ...]


def export_night(
    path: Path, name: str | None, begins: str | None, ends: str | None, *, without_titles: bool
) -> Exported:
    """Take a night out of a journal; raises `UnusableError` or JournalError.

    `begins` and `ends` are RFC 3339 or dates, which mean noon; without `begins` it is the latest
    night, without `ends` it goes on to the journal's end.
    """
    with closing(JournalReader(path)) as past:
        room_name = _room_of(past, name)
        nights = past.nights(room_name)
        if not nights:
            raise JournalError(unusable_words(path, f"it has no night of {room_name}"))
        room = kept_room(nights[-1].chapter.file, room_name, path, WITHOUT_IT)
        first, last = _moment(begins, room.time_zone), _moment(ends, room.time_zone)
        if first is not None and last is not None and last <= first:
            raise UnusableError("--to lies before --from")
        night, after = _span(nights, first, last)
        begun = max(night.begins, first or 0)
        lines = past.lines(room_name, night.serial, after.serial if after else None)
        state, every = _from_moment(night, lines, begun, room_name, path)
    kept = every if last is None else every[: bisect_right(every, last, key=_when)]
    if kept and kept[-1].now - begun > LONGEST * 1_000:
        raise UnusableError(TOO_LONG)
    if not kept and first is not None and first > nights[-1].begins:
        raise UnusableError(NOTHING.format(room_name, rfc3339(first), _said(nights)))
    words = [f"{room_name}: {len(kept):,} lines from {moment_of(begun):%Y-%m-%d %H:%M} UTC"]
    reached = every[-1].now if every else begun
    changed = after is not None and after.chapter_id != night.chapter_id
    if after is not None and changed and (last is None or last > reached):
        words.append(
            "The room file or roomcue changed after it, or the clock was set: what follows is a "
            f"night of its own, to be had with --from {rfc3339(after.begins)}."
        )
    if begins is None and len(nights) > 1:
        words.append(f"There is more before it: {_said(nights[:-1])}")
    if without_titles:
        state, kept = _unnamed(state, kept)
    head = head_line(_head(night, room_name, begun, state))
    return Exported((head, *_written(begun, kept)), tuple(words))


def _said(nights: list[NightStart]) -> str:
    """List when the latest of some nights begin, to be given with --from."""
    shown = [rfc3339(one.begins) for one in nights[-NAMED:]]
    more = f" ({len(nights) - NAMED} older ones)" if len(nights) > NAMED else ""
    return f"nights begin at {', '.join(shown)}{more}"


def _when(line: JournalLine) -> int:
    return line.now


def _room_of(past: JournalReader, name: str | None) -> str:
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
    found = read_day(text, zone)
    if found is None:
        raise UnusableError(f"'{text}' is no moment: write 2026-11-20 or 2026-11-20T20:00:00+01:00")
    return found


def _span(
    nights: list[NightStart], first: int | None, last: int | None
) -> tuple[NightStart, NightStart | None]:
    """Find the night to begin with, and the one before which to stop reading, if any.

    That is where another chapter begins, or what is of no use any more.
    """
    at = len(nights) - 1
    if first is not None:
        # Where the clock was set back, a later night may begin at an earlier moment.
        begun = [(night.begins, i) for i, night in enumerate(nights) if night.begins <= first]
        at = max(begun, default=(0, 0))[1]
    night = nights[at]
    longest = max(night.begins, first or 0) + LONGEST * 1_000
    until = longest if last is None else min(last, longest)
    for one in nights[at + 1 :]:
        if one.chapter_id != night.chapter_id:
            return night, one
        if one.begins > until:
            if last is None or one.begins <= last:
                raise UnusableError(TOO_LONG)
            return night, one
    return night, None


def entries_of(lines: Iterable[JournalLine]) -> Iterator[NightEntry]:
    """Give a journal's lines as those of a night; decisions only let time pass."""
    for number, line in enumerate(lines, 1):
        event = None if line.event is None else EVENTS.validate_json(line.event)
        yield NightEntry(number, line.now, event, None)


def _from_moment(
    night: NightStart, lines: Iterable[JournalLine], begun: int, name: str, path: Path
) -> tuple[State, list[JournalLine]]:
    """Replay lines of a night up to a moment; give the State there, and the lines from it on."""
    room = kept_room(night.chapter.file, name, path, WITHOUT_IT)
    try:
        engine, rest = RoomEngine(room, decode(night.state)), list[JournalLine]()
    except SnapshotError as error:
        version = night.chapter.roomcue
        raise JournalError(FOREIGN.format(path, rfc3339(night.begins), error, version)) from error
    for is_later, some in groupby(lines, lambda line: line.now >= begun):
        if is_later:
            rest += some
        else:
            for _ in replay(engine, entries_of(some), judged=False):
                pass
    return engine.state, rest


def _head(night: NightStart, name: str, begins: int, state: State) -> NightHead:
    chapter = night.chapter
    return NightHead(
        night=FORMAT,
        room=name,
        begins=moment_of(begins),
        room_file=chapter.file,
        versions=Versions(
            roomcue=chapter.roomcue, state=chapter.state_version, room_file=chapter.file_version
        ),
        state=encode(state).decode(),
    )


def _written(begins: int, lines: Iterable[JournalLine]) -> Iterator[bytes]:
    for line in lines:
        what, body = (b"event", line.event) if line.event else (b"decision", line.decision)
        yield b'{"t":%s,"%s":%s}' % (seconds(line.now - begins), what, body)


def _unnamed(state: State, lines: Iterable[JournalLine]) -> tuple[State, list[JournalLine]]:
    """Replace names of titles by numbers; equal names get equal numbers, so decisions stay."""
    numbers: dict[str, str] = {}

    def number(name: str | None) -> str | None:
        if name is None:
            return None
        return numbers.setdefault(name, f"title {len(numbers) + 1}")

    core = state.core.copy()
    core.title_name, core.series = number(core.title_name), number(core.series)
    if core.interrupted is not None:
        core.interrupted = _numbered(core.interrupted, number)
    core.left = tuple(_numbered(one, number) for one in core.left)
    core.titles = tuple(one._replace(name=str(number(one.name))) for one in core.titles)
    unnamed = []
    for line in lines:
        event: Event | None = None if line.event is None else EVENTS.validate_json(line.event)
        if isinstance(event, Title) and (event.name is not None or event.series is not None):
            told = replace(event, name=number(event.name), series=number(event.series))
            unnamed.append(line._replace(event=event_json(told)))
        elif isinstance(event, Forget):
            forgotten = replace(event, name=number(event.name))
            unnamed.append(line._replace(event=event_json(forgotten)))
        else:
            unnamed.append(line)
    return state._replace(core=core, tally=without_words(state.tally)), unnamed


def _numbered(
    title: InterruptedTitle, number: Callable[[str | None], str | None]
) -> InterruptedTitle:
    return title._replace(name=number(title.name), series=number(title.series))
