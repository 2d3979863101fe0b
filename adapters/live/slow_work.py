"""What takes long beside the rooms: checking room files, asking whether a lens is due.

All rooms share one turn, for each of these is a process of its own that fills a processor and needs
some 40 MB: forty at once would take the machine from the rooms.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from pathlib import Path
from typing import Final

from adapters.live.announcements import (
    NotTaken,
    lens_due_message,
    refusal_message,
    taken_message,
)
from adapters.live.chapters import must_wait
from adapters.live.child_commands import DuePreset, WearUnknownError, due_presets, faults_of
from adapters.live.journal_file import JournalError
from adapters.live.live_room import RETRY_AFTER, LiveRoom
from adapters.live.messages import BOOK_SUFFIX, ROOM_FILE_TOPIC
from engine.refusal import Refused
from engine.room import Room
from rules.room.load import load
from rules.text.findings import BadRoom

AT_SCREEN_WORDS: Final = (
    "Somebody is at the screen, and this file does not know how the room stands: "
    "it is taken once they have left."
)
UNJUDGED_WORDS: Final = (
    "roomcue itself failed as it judged this file ({what}), so the room goes on with its own: "
    "'roomcue check' may say more, and the log shows where"
)
LENS_UNKNOWN: Final = "nobody can say whether the lens is due"
SECONDS_A_DAY: Final = 86_400.0


class SlowWork:
    """Runs the slow commands of all rooms, one process at a time."""

    def __init__(self, journal: Path) -> None:
        self._journal = journal
        self._turn = asyncio.Lock()
        """Whoever has it may run a process."""
        self._lens_turn = asyncio.Lock()
        """One lens after another: a room file waits for one of them at most."""

    # ------------------------------------------------------------------------- room files

    async def check_proposals(self, room: LiveRoom) -> None:
        """Check room files that come as messages, and take those that hold; never returns."""
        while True:
            try:
                room.proposed.clear()
                text = room.durable.record.proposal()
                room.note_file(waits=text is not None)
                if text is None:
                    await room.proposed.wait()
                else:
                    await self._judge(room, text)
            except (JournalError, OSError) as error:
                room.log.warning(
                    "room file waits to be checked", why=str(error), again_in=RETRY_AFTER
                )
                await asyncio.sleep(RETRY_AFTER)

    async def _judge(self, room: LiveRoom, text: str) -> None:
        """Take a room file or refuse it; raises `JournalError` or OSError where it must wait.

        One that roomcue itself fails at is refused as well, and the room lives on.
        """
        try:
            faults = await self._faults_unless_newer(room, text)
            if faults is not None:
                checked, faults = await _compiled(text, faults)
                await _until_it_may_be_taken(room, text, checked)
                if room.durable.record.proposal() == text:  # no newer one has come meanwhile
                    _adopt_or_refuse(room, checked, faults)
        except (JournalError, OSError):
            raise
        except Exception as error:  # noqa: BLE001 - no file may end a room
            _show_where("a room file could not be judged", error)
            if room.durable.record.proposal() == text:
                _refuse(room, (UNJUDGED_WORDS.format(what=type(error).__name__),))

    async def _faults_unless_newer(self, room: LiveRoom, text: str) -> tuple[str, ...] | None:
        """Check a room file; None: a newer one has come, and the check has been ended."""
        check = asyncio.create_task(self._faults(room, text))
        try:
            while True:
                newer = asyncio.create_task(room.proposed.wait())
                await asyncio.wait((check, newer), return_when=asyncio.FIRST_COMPLETED)
                newer.cancel()
                if check.done():
                    return check.result()
                room.proposed.clear()
                if room.durable.record.proposal() != text:
                    room.log.info("room file is replaced by a newer one")
                    return None
        finally:
            check.cancel()
            await asyncio.gather(check, return_exceptions=True)

    async def _faults(self, room: LiveRoom, text: str) -> tuple[str, ...]:
        if text == room.unproven:
            return ()  # Whoever named it at the start insists: it is compiled, and not proven.
        async with self._turn:
            room.log.info("room file is being checked")
            return await faults_of(text)

    # ------------------------------------------------------------------------------ lenses

    async def report_due_presets(self, room: LiveRoom) -> None:
        """Say once a day which presets are due, where somebody has measured any."""
        await room.greeted.wait()
        while True:
            book = self._journal.with_name(f"{room.durable.room.name}{BOOK_SUFFIX}")
            if book.exists():
                try:
                    for due in await self._due(room, book):
                        room.log.warning("lens is due", preset=due.preset, words=due.words)
                        catalogue, now = room.durable.room.catalogue, room.durable.now()
                        room.say(lens_due_message(catalogue, due.preset, due.words, now))
                except (WearUnknownError, OSError) as error:
                    room.log.warning(LENS_UNKNOWN, why=str(error))
                except Exception as error:  # noqa: BLE001 - no lens may end a room
                    room.log.warning(LENS_UNKNOWN, why=f"roomcue has failed ({error!r})")
                    _show_where(LENS_UNKNOWN, error)
            await asyncio.sleep(SECONDS_A_DAY)

    async def _due(self, room: LiveRoom, book: Path) -> tuple[DuePreset, ...]:
        async with self._lens_turn, self._turn:
            return await due_presets(room.durable.room.text, self._journal, book)


def _show_where(what: str, error: Exception) -> None:
    """Show a fault of roomcue's own with its place in the code, for whoever mends it."""
    context = {"message": what, "exception": error}
    asyncio.get_running_loop().call_exception_handler(context)


async def _compiled(text: str, faults: tuple[str, ...]) -> tuple[Room | None, tuple[str, ...]]:
    """Compile a room file without a fault beside the loop, and say so if it has one after all."""
    if faults:
        return None, faults
    try:
        return await asyncio.to_thread(load, text, "in/room"), ()
    except BadRoom as error:
        return None, (str(error),)


async def _until_it_may_be_taken(room: LiveRoom, text: str, checked: Room | None) -> None:
    """Wait while the new file would forget who is at the screen, or until a newer one comes."""
    durable, waits = room.durable, False
    while checked is not None and must_wait(checked, durable.engine.state):
        if durable.record.proposal() != text:
            return
        if not waits:
            room.log.info("room file waits", words=AT_SCREEN_WORDS)
        waits = True
        room.proposed.clear()
        with suppress(TimeoutError):
            async with asyncio.timeout(RETRY_AFTER):
                await room.proposed.wait()


def _adopt_or_refuse(room: LiveRoom, checked: Room | None, faults: tuple[str, ...]) -> None:
    """Take a room file that was checked, or say why not."""
    durable = room.durable
    if checked is not None:
        if room.outlet is not None:
            durable.record.outbox.note_left(room.outlet.last_sent)
        try:
            room.publish(durable.adopt(checked))
        except ValueError as error:
            faults = (str(error),)
        else:
            room.say(taken_message(checked.catalogue, durable.now()))
            if room.unproven is not None:
                if durable.room.text != room.unproven:
                    room.unproven = None
                room.say(room.alive())
            room.log.info("room file is taken")
            return
    _refuse(room, faults)


def _refuse(room: LiveRoom, faults: tuple[str, ...]) -> None:
    """Drop a room file, and say why."""
    durable = room.durable
    durable.record.decline()
    refused = Refused("bad_room", "; ".join(faults))
    durable.counts.refusals[refused.code] += 1
    room.log.warning("refused", topic="in/room", code=refused.code, words=refused.words)
    refusal = NotTaken(refused, ROOM_FILE_TOPIC)
    room.say(refusal_message(durable.room.catalogue, refusal, durable.now()))
