"""Shipped nights as records, for tests of what went wrong, of sums and of reports."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from rules.room.load import load
from simulator.nights.night_file import read_head, read_lines
from simulator.nights.night_record import NightRecord, record_night
from simulator.nights.replay import engine_for, replay
from simulator.shipped import NIGHTS

if TYPE_CHECKING:
    from collections.abc import Iterable


@cache
def record_of(name: str) -> NightRecord:
    """Record a shipped night, with its own rules."""
    return record_of_lines((NIGHTS / f"{name}.jsonl").read_bytes().splitlines())


def record_of_lines(lines: Iterable[bytes]) -> NightRecord:
    """Record the night of these lines, the head first."""
    first, *rest = lines
    head = read_head(first)
    engine = engine_for(load(head.room_file, head.room), head)
    entries = read_lines(head.start, rest)
    return record_night(
        engine, head.start, entries, lambda heard, see: replay(engine, heard, None, see)
    )
