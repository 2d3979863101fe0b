"""Make ledgers out of journals and nights; read books of measurements and add to them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from itertools import pairwise
from pathlib import Path
from typing import Final

from adapters.cli.files import lines_of, open_input
from adapters.cli.night_export import entries_of
from adapters.cli.night_files import head_of
from adapters.live.journal_reader import JournalReader
from adapters.live.journal_rows import NightStart
from engine import RoomEngine
from engine.errors import UnusableError
from engine.events import moment_of
from engine.room import Room
from engine.snapshot import SnapshotError, decode
from rules.room.load import load
from rules.text.findings import BadRoom
from simulator.nights.night_file import read_lines
from simulator.nights.replay import engine_for
from simulator.wear.ledger import Ledger, LedgerWriter

MOST_SAID: Final = 5
"""Of the lines of a night that cannot be used, so many are told one by one."""


def ledger_of_journal(path: Path, name: str) -> tuple[Ledger, tuple[str, ...]]:
    """Make the ledger of a room out of a journal; give notes on nights that cannot be read."""
    keeper, said = LedgerWriter(), list[str]()
    with closing(JournalReader(path)) as past:
        if name not in past.rooms():
            there = ", ".join(past.rooms()) or "none"
            raise UnusableError(f"{path}: there is no room '{name}' in it, but {there}")
        nights = past.nights(name)
        ends = [night.serial for night in nights[1:]]
        for night, end in zip(nights, [*ends, None], strict=True):
            try:
                engine = _engine_of(night)
            except (SnapshotError, BadRoom) as error:
                begun = f"{moment_of(night.begins):%Y-%m-%d %H:%M}"
                said.append(f"the night of {begun} is passed over: {error}")
                continue
            lines = past.lines(name, night.serial, end)
            keeper.enter_night(engine, night.begins, entries_of(lines))
    return keeper.ledger(), tuple(said)


def _engine_of(night: NightStart) -> RoomEngine:
    """Make the engine as it stood when a night began; raises BadRoom, SnapshotError."""
    return RoomEngine(load(night.chapter.file, "the journal's room file"), decode(night.state))


def ledger_of_nights(paths: Sequence[Path], name: str) -> tuple[Ledger, tuple[str, ...]]:
    """Make the ledger of a room out of night files, in the order in which the nights begin.

    Gives notes on the nights and lines that cannot be used; raises `UnusableError`, NightError.
    """
    found = []
    for path in paths:
        with open_input(path) as file:
            head = head_of(lines_of(file, path), path)
        if head.room != name:
            raise UnusableError(f"{path}: a night of room '{head.room}', not of '{name}'")
        found.append((head.start, path, head))
    keeper, said = LedgerWriter(), list[str]()
    found.sort(key=lambda one: one[0])
    for (_, earlier, head), (_, later, other) in pairwise(found):
        if head.start == other.start:
            raise UnusableError(f"{earlier} and {later} begin at the same moment: name one of them")
    rooms: dict[str, Room] = {}  # most nights were recorded under the same room file
    for start, path, head in found:
        if head.room_file not in rooms:
            rooms[head.room_file] = load(head.room_file, f"{path} (room_file)")
        try:
            engine = engine_for(rooms[head.room_file], head)
        except SnapshotError as error:
            said.append(f"{path}: this night is passed over: {error}")
            continue
        with open_input(path) as file:
            lines = lines_of(file, path)
            next(lines)
            bad = keeper.enter_night(engine, start, read_lines(start, lines))
        said += [f"{path}, {line}: passed over" for line in bad[:MOST_SAID]]
        if len(bad) > MOST_SAID:
            said.append(f"{path}: {len(bad) - MOST_SAID} more lines are passed over")
    return keeper.ledger(), tuple(said)
