"""The engine's face: one room, which receives events and replies to them.

`RoomEngine` keeps a room's State between events. It is a thin shell round `engine.step`, which
decides; what is kept here besides the State only saves work.
"""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.events import EVENT_TYPES, READINGS, Resumed, milliseconds
from engine.handlers import newest_known
from engine.refusal import Refused
from engine.room import Room
from engine.snapshot import SnapshotError, first_foreign_name
from engine.state import State, first_state, next_deadline
from engine.step import step

if TYPE_CHECKING:
    from engine.decisions import Decision
    from engine.events import Event


LAST_MOMENT: Final = milliseconds(datetime.max.replace(tzinfo=UTC))
"""The last moment that can be written as a date (ms UTC)."""
_SAID_BY: Final[dict[type[object], tuple[str, ...]]] = {
    kind: tuple(one.name for one in fields(kind) if one.name not in ("id", "at", "kind"))
    for kind in READINGS
}
"""What each kind of reading says of the picture."""


class Reply(NamedTuple):
    """What came of one event, or of time alone."""

    decisions: tuple[Decision, ...]
    """In their order: first what had fallen due, then what follows from the event."""
    refusal: Refused | None
    """Why the event was not taken. What had fallen due was done all the same."""
    deadline: int | None
    """When the room has something to do even if nothing is heard (ms UTC): receive None then."""
    before: State
    """The State that the event met: what had fallen due was done."""
    due: int = 0
    """How many of the decisions had fallen due before the event."""
    still_holds: bool = False
    """The event is the very reading that holds already: nothing has changed, nothing is worth
    keeping."""


class RoomEngine:
    """One room with its State: receives events in the order of time."""

    __slots__ = ("_latest", "_reading", "_same_reading", "deadline", "refusals", "room", "state")

    def __init__(self, room: Room, state: State | None = None) -> None:
        """Begin with a State that was kept, or with nothing known.

        Raises TypeError for anything but a compiled room and a State, and SnapshotError for a State
        that knows what the room does not have.
        """
        if not isinstance(room, Room):
            raise TypeError(
                "RoomEngine takes a compiled room: pass what rules.load_room(text, name) returns, "
                f"not {_type_name(room)}"
            )
        if not isinstance(state, State | None):
            raise TypeError(
                "RoomEngine goes on from a State: pass what engine.snapshot.decode(data) returns, "
                f"or nothing, not {_type_name(state)}"
            )
        self.room = room
        self.refusals: dict[str, int] = {}
        """How many events were refused, by code."""
        self._reading: Event | None
        """The reading that holds; None if what came since has to be read anew."""
        self._same_reading: Reply | None
        """The reply to hearing it again, once there was one: most readings are the last one."""
        self.state: State
        self.deadline: int | None
        """When there is something to do even if nothing is heard, in ms UTC."""
        self._latest: int
        """The last `now` since the State was handed in (ms UTC); 0 if there was none."""
        self._stand_in(first_state(room) if state is None else _of_this_room(room, state))
        self._latest = 0

    def receive(self, event: Event | None, now: int) -> Reply:
        """Let time pass up to `now` (ms UTC), then take one event, or none.

        An event that cannot be taken changes nothing: the reply says why. Raises TypeError for what
        is no event or no whole number, and ValueError for a `now` that goes back or is of another
        unit; both change nothing.
        """
        if type(now) is not int or not self._latest <= now <= LAST_MOMENT:
            raise _wrong_moment(now, self._latest)
        decisions: tuple[Decision, ...] = ()
        deadline = self.deadline
        waiting = deadline is None or now < deadline
        if waiting and event is not None and self.still_holds(event):
            if self._same_reading is None:
                self._same_reading = Reply((), None, deadline, self.state, still_holds=True)
            self._latest = now
            return self._same_reading
        if event is not None and type(event) not in EVENT_TYPES:
            raise _no_event(event)
        self._latest = now
        if not waiting and self.is_due_before(event, now):
            decisions = self._pass_time(now)
        due, before = len(decisions), self.state
        if event is None:
            return Reply(decisions, None, self.deadline, before, due)
        try:
            state, follows = step(self.room, before, event, now)
        except Refused as refused:
            self.refusals[refused.code] = self.refusals.get(refused.code, 0) + 1
            return Reply(decisions, refused, self.deadline, before, due)
        self._stand_in(state)
        if isinstance(event, READINGS) and event.id is None:
            self._reading = event
        return Reply(decisions + follows, None, self.deadline, before, due)

    def still_holds(self, event: Event) -> bool:
        """Tell whether hearing an event says nothing new, as long as nothing falls due."""
        held = self._reading
        if event is held or event == held:
            return True
        if held is None or type(event) is not type(held):
            return False
        return event.at is not held.at and self._says_no_more(event, held)

    def _says_no_more(self, event: Event, held: Event) -> bool:
        """Tell whether an event says what holds with another date, and nothing newer is known.

        That date is not remembered: a reading that holds is not kept, so no replay would know it.
        """
        if event.id is not None:
            return False  # It is entered each time.
        if any(getattr(event, name) != getattr(held, name) for name in _SAID_BY[type(event)]):
            return False
        if event.at is None:
            return True
        dated = milliseconds(event.at)
        newest = newest_known(self.state.tally, event, dated)
        return newest is None or dated >= newest

    def is_due_before(self, event: Event | None, now: int) -> bool:
        """Tell whether something has fallen due that comes before an event.

        `Resumed` says that nobody was there when it fell due, so it gives no orders then: `step`
        takes both together.
        """
        return self.deadline is not None and self.deadline <= now and type(event) is not Resumed

    def go_back(self, state: State) -> None:
        """Go back to an earlier State, because later ones could not be saved.

        What has happened since may then be handed in again, with its own times. Raises TypeError
        for anything but a State, and SnapshotError for one of another room.
        """
        if not isinstance(state, State):
            raise TypeError(
                "go_back takes a State that this room had before, such as room_engine.state, "
                f"not {_type_name(state)}"
            )
        self._stand_in(_of_this_room(self.room, state))
        self._latest = 0

    def _pass_time(self, now: int) -> tuple[Decision, ...]:
        """Do what has fallen due."""
        state, decisions = step(self.room, self.state, None, now)
        self._stand_in(state)
        return decisions

    def _stand_in(self, state: State) -> None:
        """Take on a State; which reading holds in it is not known yet."""
        self.state, self.deadline = state, next_deadline(state)
        self._reading = self._same_reading = None


def _of_this_room(room: Room, state: State) -> State:
    """Give the State if it is one that the room can stand in; raises SnapshotError if it is not."""
    stranger = first_foreign_name(room, state)
    if stranger is not None:
        raise SnapshotError(
            f"the State knows {stranger}, which room '{room.name}' does not have: pass a State of "
            "this room, or begin without one"
        )
    return state


def _no_event(given: object) -> TypeError:
    """Make the error for what is no event, with what to pass instead."""
    instead = ""
    if isinstance(given, str | bytes):
        instead = ": read it with engine.read_event(it)"
    elif isinstance(given, dict):
        instead = ": read it with engine.read_event(json.dumps(it))"
    elif isinstance(given, list | tuple):
        instead = ": hand its events in one by one"
    elif isinstance(given, type) and given in EVENT_TYPES:
        instead = f": build one: {given.__name__}(...)"
    return TypeError(
        f"receive takes an event, such as Playback(state='playing'), or None, not "
        f"{_type_name(given)}{instead}"
    )


def _wrong_moment(now: object, latest: int) -> TypeError | ValueError:
    """Make the error for a `now` that is no whole number, of another unit, or that goes back."""
    right = "now is a whole number of milliseconds UTC since 1970: pass int(time.time() * 1000)"
    if type(now) is not int:
        return TypeError(f"{right}, not {_type_name(now)}")
    if now < 0:
        return ValueError(f"{right}, not {now}, which is before 1970")
    if now > LAST_MOMENT:
        return ValueError(f"{right}, not {now}, which is after the year 9999: is it in ns or us?")
    return ValueError(
        f"now goes back from {latest} to {now} (ms UTC): hand events in in the order of time, or "
        "go_back(state) to a State of that time first"
    )


def _type_name(given: object) -> str:
    """Name what was given: a class by its own name, anything else by its type's."""
    return f"the class {given.__name__}" if isinstance(given, type) else type(given).__name__
