"""Night files: open one with its rooms, play it, report the lines that cannot be read."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import typer
from rich.console import Console
from rich.progress import Progress
from rich.text import Text

from adapters.cli.console import console
from adapters.cli.exit_status import PROBLEMS, UNUSABLE
from adapters.cli.file_kinds import LOOKED_AT, lines_of_kind, other_kind
from adapters.cli.files import lines_of, open_input, text_of
from adapters.cli.moments import written_in_full
from adapters.render.night_text import clock
from adapters.safe_text import escaped
from engine import RoomEngine
from engine.errors import UnusableError
from engine.room import Room
from engine.snapshot import SnapshotError, decode, first_foreign_name
from rules.room.load import load
from simulator.nights import replay as replays
from simulator.nights.night_file import (
    BadLine,
    NightEntry,
    NightError,
    NightHead,
    NightPart,
    Repeats,
    line_by_line,
    read_head,
    read_parts,
)
from simulator.nights.what_if import replay_with_other_rules

LONG_NIGHT: Final = 50_000
"""How many lines are read before progress is shown, and between two times."""
A_MINUTE: Final = 60_000


@dataclass
class OpenNight:
    """A night file that is being read, and the room that it is played with."""

    name: str
    head: NightHead
    room: Room
    own: Room | None
    """The room that was recorded, if the night is played with another; else None."""
    parts: Iterator[NightPart]
    latest: int
    """The time of the latest line that was read, in ms UTC."""


class NightPlay(NamedTuple):
    """A night that is being played, and the engine that plays it."""

    engine: RoomEngine
    happenings: Iterator[replays.ReplayStep | BadLine]


@contextmanager
def open_night(path: Path, other: Path | None) -> Iterator[OpenNight]:
    """Open a night with its own room, or with the room of another file in its place.

    Raises BadRoom or `UnusableError` for a night or a room file that cannot be used.
    """
    with open_input(path) as file:
        lines = lines_of(file, path)
        head = head_of(lines, path)
        own = load(head.room_file, f"{path} (room_file)")
        _require_readable_state(path, head)
        text = None if other is None else text_of(other)
        if text is None or text == head.room_file:
            yield OpenNight(str(path), head, own, None, read_parts(head.start, lines), head.start)
        else:
            room = load(text, str(other))
            yield OpenNight(str(path), head, room, own, read_parts(head.start, lines), head.start)


def head_of(lines: Iterator[bytes], path: Path) -> NightHead:
    """Read the head of a night from its first line; raises `NightError`, which names the file."""
    first = next(lines, b"")
    if not first.strip():
        raise NightError(f"{path}: this file is empty, or begins with an empty line")
    try:
        return read_head(first)
    except NightError as error:
        other = other_kind(first + b"".join(islice(lines, LOOKED_AT)), "a night")
        raise NightError(f"{path}: {other or error}") from error


def _require_readable_state(path: Path, head: NightHead) -> None:
    """Raise `NightError` for a night that begins with a State of another version, or with none."""
    if head.state is None:
        return
    try:
        decode(head.state)
    except SnapshotError as error:
        words = f"{path}: line 1: state: {error}. Read this night with the roomcue that wrote it"
        raise NightError(f"{words}, version {head.versions.roomcue}") from error


def strange_room(night: OpenNight, other: Path | None) -> Iterator[str]:
    """Say where a night was recorded in another room than it is played in."""
    own = night.room if night.own is None else night.own
    if night.head.room != own.name:
        yield f"The night names the room {night.head.room}, its room file {own.name}."
    if night.own is not None and night.room.name != own.name:
        yield (
            f"This night was recorded in another room: {own.name}. It is played in "
            f"{night.room.name}{'' if other is None else f' ({other})'}, whose sources, lens and "
            "panels it never had."
        )


def play(night: OpenNight, until: int | None, *, skip: bool) -> NightPlay:
    """Play a night up to `until` (ms UTC), with its own rules or with those of another room."""
    entries = good_entries(night, skip=skip)
    if night.own is None:
        engine = replays.engine_for(night.room, night.head)
        return NightPlay(engine, replays.replay(engine, entries, until))
    recorded = replays.engine_for(night.own, night.head)
    stranger = first_foreign_name(night.room, recorded.state)
    known = night.head.state is not None and stranger is None
    engine = RoomEngine(night.room, recorded.state if known else None)
    return NightPlay(engine, replay_with_other_rules(engine, recorded, entries, until))


def good_entries(night: OpenNight, *, skip: bool | None) -> Iterator[NightEntry | BadLine]:
    """Give a night's lines one by one, otherwise as `good_parts` does."""
    return line_by_line(good_parts(night, skip=skip))


def good_parts(night: OpenNight, *, skip: bool | None) -> Iterator[NightPart]:
    """Give a night's parts, and report its bad lines; unless `skip`, the first ends the run."""
    for part in _with_progress(night.parts):
        if isinstance(part, BadLine):
            report_bad_line(night.name, part, skip=skip)
        else:
            night.latest = part.last if isinstance(part, Repeats) else part.now
        yield part


def check_moment(night: OpenNight, now: int | None) -> None:
    """Raise `UnusableError` for a moment (ms UTC) before the night or over a minute after it."""
    if now is None:
        return
    check_begun(night, now)
    zone = ZoneInfo(night.room.time_zone)
    if now > night.latest + A_MINUTE:
        begins, ends = clock(night.head.start, zone), clock(night.latest, zone)
        raise UnusableError(
            f"{night.name}: this night ends at {ends}; name a moment from {begins} to then"
        )


def check_day(night: OpenNight, text: str, now: int) -> None:
    """Raise `UnusableError` for a time of day before the night begins that comes again in it."""
    in_full = written_in_full(text, now, night.head.start, night.room.time_zone)
    if in_full is not None:
        begins = clock(night.head.start, ZoneInfo(night.room.time_zone))
        raise UnusableError(
            f"{night.name}: this night begins at {begins}; name a later moment. For {text.strip()} "
            f"of the next day write {in_full}"
        )


def check_begun(night: OpenNight, now: int) -> None:
    """Raise `UnusableError` for a moment (ms UTC) before the night begins."""
    if now < night.head.start:
        begins = clock(night.head.start, ZoneInfo(night.room.time_zone))
        raise UnusableError(f"{night.name}: this night begins at {begins}; name a later moment")


def report_bad_line(name: str, line: BadLine, *, skip: bool | None) -> int:
    """Print what is wrong with a line; unless `skip`, end the run with status 2.

    None: the command has no option to skip it.
    """
    err = console(stderr=True)
    err.print(
        Text(escaped(f"{'skipped' if skip else 'error'}: {name}, {line}"), "red"), soft_wrap=True
    )
    if not skip:
        if skip is not None:
            err.print("--skip-bad-lines goes on past it.")
        raise typer.Exit(UNUSABLE)
    return PROBLEMS


def with_decisions(
    night: OpenNight, entries: Iterator[NightEntry | BadLine], path: Path, *, skip: bool
) -> Iterator[NightEntry | BadLine]:
    """Merge the decisions of another file into a night, each after the events of its time."""
    with open_input(path) as file:
        lines = lines_of_kind(lines_of(file, path), path, "a file of decisions")
        parts = read_parts(night.head.start, lines, 1)
        other = replace(night, name=str(path), parts=parts)
        yield from heapq.merge(entries, good_entries(other, skip=skip), key=_moment)


def _moment(entry: NightEntry | BadLine) -> int:
    return entry.now if isinstance(entry, NightEntry) else 0


def _with_progress(parts: Iterator[NightPart]) -> Iterator[NightPart]:
    """Give the parts; on a terminal, show how many lines of a long night have been read."""
    err = console(stderr=True)
    return _counted(parts, err) if err.is_terminal else parts


def _counted(parts: Iterator[NightPart], err: Console) -> Iterator[NightPart]:
    with Progress(console=err, transient=True) as progress:
        task, shown = None, 0
        for part in parts:
            if part.number >= shown + LONG_NIGHT:
                shown = part.number // LONG_NIGHT * LONG_NIGHT
                task = progress.add_task("", total=None) if task is None else task
                progress.update(task, description=f"replaying, {shown:,} lines")
            yield part
