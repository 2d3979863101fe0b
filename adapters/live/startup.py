"""Start a room where the journal left it, or for the first time."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from adapters.live.chapters import TakenUp, chapter_of, fitting_state, must_wait
from adapters.live.clock import Clock, clock_words
from adapters.live.durable_room import DurableRoom
from adapters.live.epochs import NO_ROOM, first_serial
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError, unusable_words
from adapters.live.journal_rows import KeptRoom, KeptState, Opening, Page
from adapters.live.kept_file import kept_room
from adapters.live.later_lines import THEN, TakenAgain, taken_again, waiting_after
from adapters.live.messages import QueuedMessage, question_message
from adapters.live.outbox import (
    Waiting,
    clock_followed,
    next_serial,
    outbox_json,
    outbox_read,
    with_message,
    without_orders,
)
from adapters.live.receipts import Receipts, receipts_bytes, receipts_read, with_receipts
from adapters.live.room_clock import ClockSet, RoomClock, begun_of, room_clock
from engine.clock_step import with_time_passed
from engine.room import Room
from engine.snapshot import SnapshotError, encode, first_foreign_name
from engine.state import State, Tally, first_state, night_at
from rules.room.load import load
from rules.text.findings import BadRoom

LATER_WORDS: Final = (
    "Somebody is at the screen, and the room file does not know how the room stands: "
    "the old one stays in force until they have left."
)
REPLACED_WORDS: Final = (
    "A room file that came as a message was not judged yet: the one named here has changed since, "
    "and takes its place. Publish the other one again if it is to be taken."
)
REPORTED: Final = (
    *("projector", "source", "playback", "locked", "columns", "title"),
    *("lens", "arrangement", "told", "asked", "override"),
)
"""What a hub or people tell, or are asked."""
TAKE_ITS_PLACE: Final = (
    "It came as a message; any change of the room file named here, such as a comment, puts that "
    "one in its place"
)


def take_up(journal: Journal, room: Room, clock: Clock, version: str, epoch: int = 0) -> TakenUp:
    """Take a room up where the journal left it, or anew, with ids that begin with `epoch`.

    A room file that came as a message stays in force until the file that is named at the start
    has changed.
    """
    with journal.together():
        return _taken_up(journal, room, clock, version, epoch)


def _taken_up(journal: Journal, room: Room, clock: Clock, version: str, epoch: int) -> TakenUp:
    kept, now = journal.kept(room.name), clock.now()
    if kept is None:
        return _taken_up_first(journal, room, clock, version, epoch)
    followed, clock_set = room_clock(clock, kept)
    again = _taken_again(kept)
    kept = _with_latest(journal, kept, again, clock_set.by)
    given, waiting, later = room.text, outbox_read(kept.waiting), None
    room, words = _room_in_force(kept, room, journal.path)
    try:
        state = _state_in(again, begun_of(clock, kept.mark), clock_set)
        words += [clock_words(clock_set.by)] if clock_set.by else []
        service = state.core.service
        room, later = _until_nobody_is_at_screen(journal, kept, room, state)
        if later is not None:
            given = kept.given  # so that the next start finds it changed as well
            words.append(LATER_WORDS)
        elif first_foreign_name(room, state) is not None:
            state, waiting = _leave_old_room(journal, kept, state, followed, version)
        old = None if kept.chapter.file == room.text else _room_of_then(kept)
        state, strange = fitting_state(room, state, old, now, service=service)
    except SnapshotError as error:
        tally = Tally(serial=max(journal.last_number(kept.id), first_serial(kept.epoch)))
        state, strange = first_state(room)._replace(tally=tally), str(error)
    chapter, night, replaced = chapter_of(room.text, version), kept.night, given != kept.given
    if replaced and journal.proposal(kept.id) is not None:
        words.append(REPLACED_WORDS)
    if strange:
        words.append(f"{strange}: the room begins anew, and the hub is asked how things stand.")
        waiting = _only_question(waiting, now)
    followed = followed.gone_on(kept.mark, state)
    if strange or chapter != kept.chapter or clock_set.by:
        night, waits = night_at(state.core, now), outbox_json(waiting)
        stands = (encode(state), waits, kept.receipts, followed.mark, replaced)
        journal.begin(Opening(room.name, chapter, given, now, night, *stands))
    else:
        _go_on(journal, kept._replace(given=given, mark=followed.mark), state)
    anew = bool(strange) or _nothing_is_known(room, state)
    begun = _as_kept(kept, room, state, followed)._replace(later=later, anew=anew)
    return begun._replace(night=night, given=given, waiting=waiting, words=(*words,))


def _only_question(waiting: Waiting, now: int) -> Waiting:
    """Let the hub be asked how everything is, and give no order that nobody knows of."""
    return with_message(
        without_orders(waiting), QueuedMessage(question_message(now), next_serial(waiting))
    )


def _nothing_is_known(room: Room, state: State) -> bool:
    """Tell whether nobody has said anything since the room began anew, as without a broker."""
    known, first = state.core, first_state(room).core
    nothing = all(getattr(known, name) == getattr(first, name) for name in REPORTED)
    return nothing and not state.tally.prompts


def _go_on(journal: Journal, kept: KeptRoom, state: State) -> None:
    """Go on with a room; the State to which its latest lines have led is written, once."""
    journal.go_on(kept.id, kept.given, kept.mark)
    if kept.since:
        page = (encode(state), None, kept.waiting, kept.receipts)
        journal.write(Page(kept.id, kept.now, kept.night, (), *page))


def _until_nobody_is_at_screen(
    journal: Journal, kept: KeptRoom, room: Room, state: State
) -> tuple[Room, str | None]:
    """Give the room under its old file where the new one must wait, and the new one's text."""
    if not must_wait(room, state):
        return room, None
    old = _room_of_then(kept)
    if old is None or must_wait(old, state):
        return room, None
    journal.decline(kept.id)  # a file that came as a message before is replaced
    return old, room.text


def _room_in_force(kept: KeptRoom, room: Room, path: Path) -> tuple[Room, list[str]]:
    """Give the room by the file that is in force, and what there is to be said of it."""
    given, force = room.text, kept.chapter.file
    if given == kept.given and force != given:
        words = "The room file that came as a message is in force, not the one named here."
        return kept_room(force, room.name, path, TAKE_ITS_PLACE), [words]
    if force not in (given, kept.given):
        words = "The room file named here has changed: it takes the place of the one that came."
        return room, [words]
    return room, []


def _taken_again(kept: KeptRoom) -> TakenAgain | SnapshotError:
    """Take the lines since the State once more, or say why that leads nowhere."""
    try:
        return taken_again(KeptState(kept.chapter.file, kept.state, kept.since))
    except SnapshotError as error:
        return error


def _state_in(again: TakenAgain | SnapshotError, begun: State | None, clock_set: ClockSet) -> State:
    """Give the State as the clock was set; raises `SnapshotError` where there is none."""
    if isinstance(again, SnapshotError):
        raise again
    return with_time_passed(again.state, begun, *clock_set) if clock_set.by else again.state


def _waiting(journal: Journal, kept: KeptRoom, again: TakenAgain | SnapshotError) -> Waiting:
    """Read what waits for the broker; raises `JournalError` where that is damaged."""
    words = None if isinstance(again, SnapshotError) else again.words
    try:
        return waiting_after(outbox_read(kept.waiting), kept.since, kept.beside, words)
    except (ValueError, TypeError, LookupError, AttributeError) as error:
        what = f"what waits for the broker is damaged ({error})"
        raise JournalError(unusable_words(journal.path, what)) from error


def _with_latest(
    journal: Journal, kept: KeptRoom, again: TakenAgain | SnapshotError, by: int
) -> KeptRoom:
    """Give what waits, and the receipts, after the latest lines; the clock was set `by` ms."""
    waits, receipts = clock_followed(_waiting(journal, kept, again), by), _receipts(kept)
    return kept._replace(waiting=outbox_json(waits), receipts=receipts_bytes(receipts))


def _receipts(kept: KeptRoom) -> Receipts:
    """Give the receipts of the latest messages."""
    receipts = receipts_read(kept.receipts)
    for one in kept.beside:
        receipts = with_receipts(receipts, receipts_read(one.receipts or b""))
    return receipts


def _as_kept(kept: KeptRoom, room: Room, state: State, clock: RoomClock) -> TakenUp:
    waiting, receipts = outbox_read(kept.waiting), receipts_read(kept.receipts)
    night, given = kept.night, kept.given
    return TakenUp(
        *(room, state, kept.id, night, given, waiting, receipts),
        first=False,
        words=(),
        client=kept.client,
        epoch=kept.epoch,
        clock=clock,
        lines=kept.serial,
    )


def _taken_up_first(
    journal: Journal, room: Room, clock: Clock, version: str, epoch: int
) -> TakenUp:
    now = clock.now()
    state = first_state(room)._replace(tally=Tally(serial=first_serial(epoch)))
    night, chapter = night_at(state.core, now), chapter_of(room.text, version)
    followed = RoomClock(clock, clock.ahead)
    stands = (encode(state), outbox_json(()), b"", followed.mark)
    opening = Opening(room.name, chapter, room.text, now, night, *stands, epoch=epoch)
    number = journal.begin(opening)
    words = ("Nothing is known of this room yet.",)
    client = journal.client(number)
    return TakenUp(
        *(room, state, number, night, room.text, (), ()),
        first=True,
        words=words,
        client=client,
        epoch=epoch,
        clock=followed,
        lines=NO_ROOM,
        anew=True,
    )


def _room_of_then(kept: KeptRoom) -> Room | None:
    """Give the room under the file by which the journal stood; None: that is none any more."""
    try:
        return load(kept.chapter.file, THEN)
    except BadRoom:
        return None


def _leave_old_room(
    journal: Journal, kept: KeptRoom, state: State, clock: RoomClock, version: str
) -> tuple[State, Waiting]:
    """Withdraw all orders and prompts under the old room file, if that still loads."""
    old = _room_of_then(kept)
    if old is None:
        return state, outbox_read(kept.waiting)
    durable = DurableRoom(journal, _as_kept(kept, old, state, clock), version)
    if first_foreign_name(old, state) is None:
        durable.leave()
    return durable.engine.state, durable.record.waiting()
