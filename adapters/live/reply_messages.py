"""Replies to people as messages: one for each answer, override, told fact and mark.

A reply is owed from the commit of the event that it replies to, with the address where it goes,
and waits in the outbox as an order does. So whoever hears "taken" can rely on it, and a message
that comes again after a crash needs no second reply: the first one still waits, or has been sent.
Its words follow from the event, so they are made once the order has left, and made anew at a start.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from adapters.live.messages import REPLY_SUBTOPIC, OutgoingMessage, body_of, rfc3339
from engine.replies import reply_of_refusal, reply_to_person

if TYPE_CHECKING:
    from adapters.live.return_address import ReturnAddress
    from engine.events import Event
    from engine.refusal import Refused
    from engine.replies import PersonReply
    from engine.room import Room
    from engine.room_engine import Reply
    from engine.state import State
    from engine.upcoming import Upcoming

REPLY_LIFETIME: Final = 60_000
"""Milliseconds for which a reply is worth sending: later, whoever asked looks at how it stands."""


class OwedReply(NamedTuple):
    """What a reply is made of: a person's event that the engine has heard, taken or not."""

    room: Room
    event: Event
    now: int
    """When it was heard (ms UTC)."""
    after: State
    came: Reply
    """What came of it."""
    to: ReturnAddress | None = None

    def message(self) -> OutgoingMessage:
        """Put it into words."""
        return reply_message(reply_data(self._reply(), self.event, self.now), self.to, self.now)

    def _reply(self) -> PersonReply:
        if self.came.refusal is not None:
            return reply_of_refusal(self.room, self.came.refusal)
        stood = self.came.before, self.after
        return reply_to_person(self.room, self.event, *stood, self.came.decisions[self.came.due :])


def reply_data(reply: PersonReply, event: Event, now: int) -> dict[str, object]:
    """Give a reply as it is said."""
    return _data(reply, event.kind, event.id, getattr(event, "who", None), now)


def unread_data(
    room: Room, refused: Refused, kind: str, event: str | None, now: int
) -> dict[str, object]:
    """Give the reply to what was no event and was to be one of this kind; `event` is its id."""
    return _data(reply_of_refusal(room, refused), kind, event, None, now)


def _data(
    reply: PersonReply, kind: str, event: str | None, who: str | None, now: int
) -> dict[str, object]:
    return {
        "kind": "reply",
        "to": kind,
        "event": event,
        "who": who,
        "taken": reply.taken,
        "code": reply.code,
        "words": reply.words,
        "hold": reply.hold,
        "help": reply.help,
        "next": [upcoming_data(one) for one in reply.next],
        "at": rfc3339(now),
    }


def reply_message(data: dict[str, object], to: ReturnAddress | None, now: int) -> OutgoingMessage:
    """Make the message of a reply. It is about nothing and in no slot: none outdates another."""
    return OutgoingMessage(REPLY_SUBTOPIC, body_of(data), now + REPLY_LIFETIME, to=to)


def response(said: OutgoingMessage, to: ReturnAddress, now: int) -> OutgoingMessage:
    """Say to whoever asked what else is said to all. Nothing keeps it: they may ask again."""
    return OutgoingMessage(said.subtopic, said.body, now + REPLY_LIFETIME, to=to)


def upcoming_data(one: Upcoming) -> dict[str, object]:
    """Give something that comes next as it is said."""
    at = None if one.at is None else rfc3339(one.at)
    return {"code": one.code, "words": one.words, "at": at, "number": one.number}
