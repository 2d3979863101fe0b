"""Epochs: what the ids of a journal's orders and prompts begin with.

A journal may be moved away while a hub still remembers the ids of its orders. So each journal draws
a number when it begins with a room, and every id is that number followed by six digits that count.
"""

from __future__ import annotations

import secrets
from typing import Final

from engine.state import IDS_OF_EPOCH

LARGEST_FIRST: Final = 999_999_999
"""The largest epoch that a new journal draws. The ids of those that follow stay below 2 ** 53 as
well, up to which every reader of JSON is exact (RFC 8259, 6), if it is begun anew a million times.
"""
LONGEST_STEP: Final = 1_000
"""By no more than this does an epoch rise when a journal goes on with another one."""
RUNS_OF_LINE: Final = 1_000_000
"""How many numbers there are for runs that begin with one line."""
NO_ROOM: Final = -1
"""In place of how many lines a journal has of a room: it did not know the room."""
NEAR: Final = 1_000_000
"""Epochs that lie no further above a journal's own are taken to have followed from it."""


def new_epoch() -> int:
    """Draw the epoch of a new journal; two of them are as good as never the same."""
    return 1 + secrets.randbelow(LARGEST_FIRST)


def epoch_after(epoch: int) -> int:
    """Draw the epoch with which a journal goes on: a little higher, for ids only rise."""
    return epoch + 1 + secrets.randbelow(LONGEST_STEP)


def has_gone_on(last_id: int, ours: int) -> bool:
    """Tell whether an id is one that follows from our own last one: a copy has given it."""
    return 0 < last_id - ours < NEAR * IDS_OF_EPOCH


def new_run(lines: int) -> int:
    """Draw the number of a run that begins with so many lines of a room in the journal.

    It counts from there, so that no clock has a say in which of two runs came first, and two that
    begin with copies of one journal have as good as never the same. That of the first run of all,
    which finds no room there (`NO_ROOM`), is the smallest.
    """
    return (lines + 1) * RUNS_OF_LINE + 1 + secrets.randbelow(RUNS_OF_LINE - 1)


def began_after(run: int, lines: int) -> bool:
    """Tell whether a run began with as many lines of a room in the journal, or with more.

    A run writes one before anybody hears of it, but for the first, which may be over before.
    """
    return run // RUNS_OF_LINE > lines


def first_serial(epoch: int) -> int:
    """Give the number before the first id of an epoch."""
    return epoch * IDS_OF_EPOCH
