"""Look after the journal while rooms live, and say at once what is wrong with it."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Final

from adapters.live.journal import Journal
from adapters.live.live_room import LiveRoom

LOOK_EVERY: Final = 1.0
"""Seconds between two looks at the journal."""


async def watch_journal(journal: Journal, rooms: Sequence[LiveRoom]) -> None:
    """Look after the journal, and say in every room what has changed with it; never returns."""
    said = None
    while True:
        if journal.fault == said:  # else that is said first, for mending would hide it
            journal.look_after()
        if journal.fault != said:
            said = journal.fault
            for room in rooms:
                if said is None:
                    room.log.info("journal can be written again")
                else:
                    room.log.warning("journal cannot be written", why=said)
                room.say_alive()
        await asyncio.sleep(LOOK_EVERY)
