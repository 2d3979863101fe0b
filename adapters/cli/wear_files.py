"""Make ledgers out of journals and nights; read books of measurements and add to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from adapters.cli.book_files import MOST_SAID
from adapters.cli.files import lines_of, open_input
from adapters.cli.night_export import entries_of
from adapters.cli.night_files import head_of
from adapters.cli.remembered_nights import RememberedNights
from adapters.live.journal_reader import JournalReader
from adapters.live.journal_rows import NightStart
from engine import RoomEngine
from engine.errors import UnusableError
from engine.events import moment_of
from engine.room import Room
from engine.snapshot import SnapshotError, decode
from rules.room.load import load
from rules.text.findings import BadRoom
from simulator.nights.night_file import NightHead, read_lines
from simulator.nights.replay import engine_for
from simulator.wear.ledger import Ledger, LedgerWriter, ledger_of_night


class NightsRead(NamedTuple):
    """The ledger of nights, and what could not be read of them."""

    ledger: Ledger
    missing: tuple[str, ...]
    """Why what is not in it is missing, in sentences; (): every line of every night is counted."""


def ledger_of_journal(path: Path, name: str) -> NightsRead:
    """Make the ledger of a room out of a journal; nights that cannot be read are passed over."""
    keeper, said = LedgerWriter(), list[str]()
    with closing(JournalReader(path)) as past:
        if name not in past.rooms():
            there = ", ".join(past.rooms()) or "none"
            raise UnusableError(f"{path}: there is no room '{name}' in it, but {there}")
        nights = past.nights(name)
        remembered = RememberedNights(path, name)
        for night, after in zip(nights, [*nights[1:], None], strict=True):
            added = remembered.recall(night, after)
            if added is None:
                try:
                    engine = _engine_of(night)
                except (SnapshotError, BadRoom) as error:
                    begun = f"{moment_of(night.begins):%Y-%m-%d %H:%M}"
                    words = f"the night of {begun} is passed over: {str(error).splitlines()[0]}"
                    said.append(f"{words}. {_by_its_own(night.chapter.roomcue)}")
                    continue
                lines = past.lines(name, night.serial, after.serial if after else None)
                added, _ = ledger_of_night(engine, night.begins, entries_of(lines))
                remembered.remember(night, after, added)
            keeper.enter(added)
        remembered.forget_others()
    return NightsRead(keeper.ledger(), tuple(said))


def _engine_of(night: NightStart) -> RoomEngine:
    """Make the engine as it stood when a night began; raises BadRoom, SnapshotError."""
    return RoomEngine(load(night.chapter.file, "the journal's room file"), decode(night.state))


class _Night(NamedTuple):
    start: int
    path: Path
    head: NightHead
    room: Room


def ledger_of_nights(paths: Sequence[Path], name: str) -> NightsRead:
    """Make the ledger of a room out of night files, in the order in which the nights begin.

    What cannot be read is passed over, as long as there is a night that can; else it raises
    `UnusableError` or BadRoom.
    """
    found, said = _readable(paths, name)
    keeper, old = LedgerWriter(), list[str]()
    for night in found:
        path = night.path
        try:
            engine = engine_for(night.room, night.head)
        except SnapshotError as error:
            words = f"{path}: this night is passed over: {error}"
            old.append(f"{words}. {_by_its_own(night.head.versions.roomcue)}")
            continue
        with open_input(path) as file:
            lines = _up_to_damage(lines_of(file, path), said)
            next(lines, b"")
            bad = keeper.enter_night(engine, night.start, read_lines(night.start, lines))
        said += [f"{path}, {line}: passed over" for line in bad[:MOST_SAID]]
        if len(bad) > MOST_SAID:
            said.append(f"{path}: {len(bad) - MOST_SAID} more lines are passed over")
    return NightsRead(keeper.ledger(), (*said, *old))


def _by_its_own(version: str) -> str:
    """Say what reads a night that this roomcue cannot."""
    return f"Count it with the roomcue that wrote it, version {version}"


def _readable(paths: Sequence[Path], name: str) -> tuple[list[_Night], list[str]]:
    """Open nights by their heads, in order of time; say which cannot be used, and why."""
    rooms: dict[str, Room] = {}  # most nights were recorded under the same room file
    found, said, reasons = list[_Night](), list[str](), list[UnusableError | BadRoom]()
    for path in paths:
        try:
            found.append(_opened(path, name, rooms))
        except (UnusableError, BadRoom) as error:
            reasons.append(error)
            said.append(f"this night is passed over: {error}")
    if not found:
        raise reasons[0]
    found.sort(key=lambda one: one.start)
    for earlier, later in pairwise([*found]):
        if earlier.start == later.start:
            words = f"{earlier.path} and {later.path} begin at the same moment: name one of them"
            if earlier.path.resolve() == later.path.resolve():
                raise UnusableError(words)
            found.remove(later)
            said.append(f"{words}; the latter is passed over")
    return found, said


def _opened(path: Path, name: str, rooms: dict[str, Room]) -> _Night:
    with open_input(path) as file:
        head = head_of(lines_of(file, path), path)
    if head.room != name:
        raise UnusableError(f"{path}: a night of room '{head.room}', not of '{name}'")
    if head.room_file not in rooms:
        rooms[head.room_file] = load(head.room_file, f"{path} (room_file)")
    return _Night(head.start, path, head, rooms[head.room_file])


def _up_to_damage(lines: Iterator[bytes], said: list[str]) -> Iterator[bytes]:
    """Give the lines of a night as far as it can be read, and say where that ends."""
    number = 0
    try:
        for number, line in enumerate(lines, 1):  # noqa: B007 - told below
            yield line
    except UnusableError as error:
        said.append(f"{error}. What comes after line {number} is passed over")
