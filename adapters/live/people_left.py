"""People at work of whom only the broker still knows: the room waits for them.

Where a journal is new, or begins anew as an older copy does, the room does not know that somebody
fits panels, or that a technician is at work. The broker has kept how the room stood.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from adapters.live.announcements import object_in
from adapters.live.durable_room import DurableRoom
from engine.event_fields import Name
from engine.events import milliseconds
from engine.people_at_work import PeopleAtWork, PersonAtScreen, with_people_at_work
from engine.room import Room

PEOPLE_LEFT_WORDS: Final = (
    "This journal does not know of anybody at work in the room, but by what the broker has kept "
    "somebody is: it waits until they are done, as it would have."
)
_NAME: Final = TypeAdapter[str | None](Name | None)


def wait_for_people(durable: DurableRoom, stood: Iterable[bytes]) -> bool:
    """Wait for whoever is at work by what the broker has kept; False: nobody, or it is known.

    What was said since the broker was first greeted is known. Raises `JournalError`.
    """
    if not durable.identity.is_new_to_broker:
        return False
    room, state, now = durable.room, durable.engine.state, durable.now()
    for at_screen, technician in [people_read(body, room, now) for body in stood]:
        unknown = PeopleAtWork(
            at_screen if state.core.asked is None else None,
            technician and not state.core.service,
        )
        if unknown != PeopleAtWork():
            durable.go_on_from(with_people_at_work(room, state, unknown, now))
            return True
    return False


def people_read(body: bytes, room: Room, now: int) -> PeopleAtWork:
    """Read out of a word on how a room stood (JSON) who was at work; nobody where it is no sense.

    Where it cannot be read until when it was to be dark, that is as long as it may be.
    """
    said = object_in(body)
    technician, prompt = said.get("service") is True, said.get("prompt")
    if not isinstance(prompt, dict) or prompt.get("at_screen") is not True:
        return PeopleAtWork(technician=technician)
    panels = prompt.get("panels")
    if not isinstance(panels, str) or panels not in room.panels:
        return PeopleAtWork(technician=technician)
    sent = prompt.get("stage") in ("at the screen", "light comes back")
    end = _end_in(prompt, now + room.pace.give_up)
    return PeopleAtWork(PersonAtScreen(panels, _name_in(prompt), sent, end), technician)


def _name_in(prompt: dict[str, Any]) -> str | None:
    try:
        return _NAME.validate_python(prompt.get("who"))
    except ValidationError:
        return None


def _end_in(prompt: dict[str, Any], latest: int) -> int:
    try:
        return milliseconds(datetime.fromisoformat(str(prompt.get("ends"))))
    except (TypeError, ValueError):  # the former: it names no zone
        return latest
