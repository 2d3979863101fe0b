"""People at work of whom the broker knows more than the journal: the room waits for them.

Where a journal is new, or begins anew as an older copy does, the room does not know that somebody
fits panels, or that a technician is at work. The broker has kept how the room stood.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from adapters.live.announcements import last_id_read, object_in
from adapters.live.durable_room import DurableRoom
from engine.event_fields import Name
from engine.events import milliseconds
from engine.people_at_work import PeopleAtWork, PersonAtScreen
from engine.room import Room
from engine.state import Core

PEOPLE_LEFT_WORDS: Final = (
    "This journal does not know of anybody at work in the room, but by what the broker has kept "
    "somebody is: it waits until they are done, as it would have."
)
_NAME: Final = TypeAdapter[str | None](Name | None)


def people_left(stood: Sequence[bytes], durable: DurableRoom, *, is_copy: bool) -> PeopleAtWork:
    """Give who is at work, as far as room and broker know together.

    The room knows of everybody since it has greeted the broker. Where its journal `is_copy`, what
    the broker has retained is newer, if it says how the room stood.
    """
    known, identity = people_known(durable.engine.state.core), durable.identity
    now, room = durable.now(), durable.room
    told = [people_read(body, room, now) for body in stood if last_id_read(body)]
    if not told or not (is_copy or identity.is_new_to_broker):
        return known
    if is_copy:
        return told[-1]
    at_screen, technician = told[-1]
    both = PeopleAtWork(known.at_screen or at_screen, known.technician or technician)
    return known if both == identity.people_taken else both


def people_known(core: Core) -> PeopleAtWork:
    """Give who is at work as far as a room knows."""
    asked, ends = core.asked, core.timers.give_up
    if asked is None or ends is None or not asked.at_screen:
        return PeopleAtWork(technician=core.service)
    return PeopleAtWork(PersonAtScreen(asked.panels, asked.who, asked.sent, ends), core.service)


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
        panels = None  # Light would be no better for them than for others.
    sent = prompt.get("stage") in ("at the screen", "light comes back")
    end = _end_in(prompt, now + room.pace.give_up)
    return PeopleAtWork(PersonAtScreen(panels, _name_in(prompt), sent, end), technician)


def _name_in(prompt: dict[str, Any]) -> str | None:
    try:
        return _NAME.validate_python(prompt.get("who"))
    except ValidationError:
        return None


def _end_in(prompt: dict[str, Any], latest: int) -> int:
    ends = prompt.get("ends")
    try:
        return milliseconds(datetime.fromisoformat(ends)) if isinstance(ends, str) else latest
    except (TypeError, ValueError):  # the former: it names no zone
        return latest
