"""Look after the journal while rooms live, and say at once what is wrong with it."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Final

from adapters.live.journal import Journal
from adapters.live.journal_file import DamageCheck, JournalError, is_checked_at_start
from adapters.live.live_room import LiveRoom

LOOK_EVERY: Final = 1.0
"""Seconds between two looks at the journal."""
CHECK_AFTER: Final = 60.0
"""Seconds after the start for which a large journal, not checked then, waits for its check."""
CHECK_EVERY: Final = 86_400.0
"""Seconds between two checks of a whole journal for damage."""


async def watch_journal(journal: Journal, rooms: Sequence[LiveRoom]) -> None:
    """Look after the journal, and say in every room what has changed with it; never returns.

    Raises `JournalError` where another roomcue writes it too: no room may go on then.
    """
    said = None
    while True:
        if journal.fault == said:  # else that is said first, for mending would hide it
            journal.look_after()
        journal.make_room()
        if journal.fault != said:
            said = journal.fault
            for room in rooms:
                if said is None:
                    room.log.info("journal can be written again")
                else:
                    room.log.warning("journal cannot be written", why=said)
                room.say_alive()
        if said is not None and journal.taken:
            raise JournalError(said)
        await asyncio.sleep(LOOK_EVERY)


async def look_for_damage(journal: Journal, rooms: Sequence[LiveRoom]) -> None:
    """Look through the whole journal for damage once a day, beside the rooms; never returns."""
    await asyncio.sleep(CHECK_EVERY if is_checked_at_start(journal.path) else CHECK_AFTER)
    while True:
        before, journal.damage = journal.damage, await _damage_of(journal)
        if journal.damage != before:
            for room in rooms:
                if journal.damage is None:
                    room.log.info("journal is sound again")
                else:
                    room.log.error("journal is damaged", why=journal.damage)
                room.say_alive()
        await asyncio.sleep(CHECK_EVERY)


async def _damage_of(journal: Journal) -> str | None:
    """Say what is damaged in a journal; it is read in a thread, which holds up no room."""
    try:
        check = DamageCheck(journal.path)
    except JournalError:
        return journal.damage  # that it is not there is said already
    try:
        return await asyncio.to_thread(check.found)
    finally:
        check.stop()  # where roomcue ends meanwhile
