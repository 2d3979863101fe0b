"""Start a room where the journal left it, or for the first time."""

from __future__ import annotations

from adapters.live.chapters import TakenUp, chapter_of, fitting_state
from adapters.live.clock import Clock
from adapters.live.durable_room import DurableRoom
from adapters.live.epochs import first_serial
from adapters.live.journal import Journal
from adapters.live.journal_rows import KeptRoom, Opening
from adapters.live.messages import QueuedMessage, question_message
from adapters.live.outbox import Waiting, next_serial, outbox_json, outbox_read, with_message
from adapters.live.receipts import receipts_read
from engine.room import Room
from engine.snapshot import SnapshotError, decode, encode, first_foreign_name
from engine.state import State, Tally, first_state, night_at
from rules.room.load import load
from rules.text.findings import BadRoom


def take_up(journal: Journal, room: Room, clock: Clock, version: str, epoch: int = 0) -> TakenUp:
    """Take a room up where the journal left it, or anew, with ids that begin with `epoch`.

    A room file that came as a message stays in force until the file that is named at the start
    has changed.
    """
    with journal.together():
        return _taken_up(journal, room, clock, version, epoch)


def _taken_up(journal: Journal, room: Room, clock: Clock, version: str, epoch: int) -> TakenUp:
    kept, now = journal.kept(room.name), clock.now()
    words: list[str] = []
    if kept is None:
        return _taken_up_first(journal, room, now, version, epoch)
    given, waiting = room.text, outbox_read(kept.waiting)
    if given == kept.given and kept.chapter.file != given:
        room = load(kept.chapter.file, f"{room.name} (in the journal)")
        words.append("The room file that came as a message is in force, not the one named here.")
    elif kept.chapter.file not in (given, kept.given):
        words.append(
            "The room file named here has changed: it is in force again, not the one that came."
        )
    try:
        state = decode(kept.state)
        if first_foreign_name(room, state) is not None:
            state, waiting = _leave_old_room(journal, kept, state, clock, version)
        state, strange = fitting_state(room, state)
    except SnapshotError as error:
        tally = Tally(serial=max(journal.last_number(kept.id), first_serial(kept.epoch)))
        state, strange = first_state(room)._replace(tally=tally), str(error)
    if strange:
        words.append(f"{strange}: the room begins anew, and the hub is asked how things stand.")
    chapter, night = chapter_of(room.text, version), kept.night
    if strange or chapter != kept.chapter:
        if strange:
            waiting = with_message(
                waiting, QueuedMessage(question_message(now), next_serial(waiting))
            )
        night, waits = night_at(state.core, now), outbox_json(waiting)
        opening = Opening(room.name, chapter, given, now, night, encode(state), waits)
        journal.begin(opening)
    else:
        journal.name_file(kept.id, given)
    begun = _as_kept(kept, room, state)
    return begun._replace(night=night, given=given, waiting=waiting, words=tuple(words))


def _as_kept(kept: KeptRoom, room: Room, state: State) -> TakenUp:
    waiting, receipts = outbox_read(kept.waiting), receipts_read(kept.receipts)
    night, given = kept.night, kept.given
    return TakenUp(
        *(room, state, kept.id, night, given, waiting, receipts),
        first=False,
        words=(),
        client=kept.client,
        epoch=kept.epoch,
    )


def _taken_up_first(journal: Journal, room: Room, now: int, version: str, epoch: int) -> TakenUp:
    state = first_state(room)._replace(tally=Tally(serial=first_serial(epoch)))
    night, chapter = night_at(state.core, now), chapter_of(room.text, version)
    encoded, nothing = encode(state), outbox_json(())
    opening = Opening(room.name, chapter, room.text, now, night, encoded, nothing, epoch)
    number = journal.begin(opening)
    words = ("Nothing is known of this room yet.",)
    client = journal.client(number)
    return TakenUp(
        *(room, state, number, night, room.text, (), ()),
        first=True,
        words=words,
        client=client,
        epoch=epoch,
    )


def _leave_old_room(
    journal: Journal, kept: KeptRoom, state: State, clock: Clock, version: str
) -> tuple[State, Waiting]:
    """Withdraw all orders and prompts under the old room file, if that still loads."""
    try:
        old = load(kept.chapter.file, "the journal's room file")
    except BadRoom:
        return state, outbox_read(kept.waiting)
    durable = DurableRoom(journal, clock, _as_kept(kept, old, state), version)
    if first_foreign_name(old, state) is None:
        durable.leave()
    return durable.engine.state, durable.waiting()
