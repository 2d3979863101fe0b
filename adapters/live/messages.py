"""What goes over the broker: what a topic and its payload mean, and what is said on which topic.

roomcue/<room>/in/<kind>     what happens: an event without its `kind`, as a JSON object
roomcue/<room>/in/told/<fact>   {"value": ...}
roomcue/<room>/in/room       a new room file, as it is
roomcue/<room>/in/state      a question how everything stands, to which a response goes out
roomcue/<room>/out/order     what the hub shall do
roomcue/<room>/out/ask       what people, and now and then the hub, are asked
roomcue/<room>/out/reply     what a person hears of their word, unless they name a topic for it
roomcue/<room>/out/standing  how things stand (retained)
roomcue/<room>/out/reason    every decision in full, and every refusal
roomcue/<room>/out/alive     whether roomcue is there (retained, and the last will)

Topics say what kind of thing is meant, so a payload need not; everything else is refused with
a reason before anything sees it.
"""

from __future__ import annotations

import json
from codecs import BOM_UTF8
from collections.abc import Callable, Mapping
from dataclasses import fields
from functools import lru_cache
from operator import attrgetter
from typing import Any, Final, NamedTuple, get_args

from pydantic import TypeAdapter, ValidationError
from pydantic_core import to_json

from adapters.live.receipts import Receipt
from adapters.live.return_address import ROOT_OF_ROOMS, ReturnAddress
from engine.decisions import (
    CueOrder,
    Decision,
    Note,
    Order,
    Prompt,
    PromptOver,
    Withdrawn,
)
from engine.events import (
    KINDS,
    Event,
    LensReport,
    PanelReport,
    Playback,
    Reading,
    Resumed,
    TimeOfDay,
    ToldFact,
    adapter_of,
    event_json,
    moment_of,
)
from engine.malformed import describe_mistakes
from engine.refusal import Refused, nearest_name
from engine.replies import PEOPLES_EVENTS
from rules.text.yaml_nodes import MOST_FILE_BYTES

TOPIC_ROOT: Final = ROOT_OF_ROOMS
CONTRACT: Final = 1
"""The version of the contract between room and hub, which every message names. It rises when
something that a hub relies on goes or means something else, not when something is added."""
TOLD_TOPIC: Final = "told"
ROOM_FILE_TOPIC: Final = "room"
STATE_TOPIC: Final = "state"
REPLY_SUBTOPIC: Final = "reply"
STANDING_SUBTOPIC: Final = "standing"
MOST_PAYLOAD_BYTES: Final = 1 << 16
"""No payload but a room file is longer than this, in bytes."""
MOST_ROOM_FILE_BYTES: Final = MOST_FILE_BYTES
"""A room file that goes over the broker may be as long as one that is read from a disk."""

BOOK_SUFFIX: Final = ".alignments.jsonl"
"""What the name of a room's book of measurements ends in; it lies beside the journal."""


EVENTS_FROM_OUTSIDE: Final[dict[str, type[Event]]] = {
    kind: event for kind, event in KINDS.items() if event not in (Resumed, TimeOfDay)
}
"""The events that may come from outside. Restarts and the time of day are roomcue's own to tell."""
READING_TOPICS: Final = frozenset(
    kind for kind, event in KINDS.items() if event in get_args(Reading)
)
RETAINABLE_TOPICS: Final = frozenset(
    {"source", "playback", "title", "signal", "lens", "panels", TOLD_TOPIC, "projector", "service"}
)
"""Topics that state how things are: these may be retained."""
PEOPLES_TOPICS: Final = frozenset(
    str(event.__dataclass_fields__["kind"].default) for event in PEOPLES_EVENTS
)
"""What is said here is a person's word, and gets a reply."""
ANSWERED_TOPICS: Final = PEOPLES_TOPICS | {STATE_TOPIC}
"""What is said here is answered, on the response topic that it names."""
ASKED_OF_HUB: Final = (
    *("projector", "service", "source", "playback", "title", "signal"),
    *("lens", "panels", TOLD_TOPIC),
    *("bars", "black", "ratio", "format"),
)
"""What the hub is asked for when messages may have been lost; readings are, in every gap."""

WITHOUT_ANSWER: Final = (
    "Until it is told, the room stays as it last stood; nothing is recalled while something plays "
    "and the lens is unknown."
)


_OWN_TOPIC: Final[TypeAdapter[dict[str, Any]]] = TypeAdapter(dict[str, Any])


class NewRoom(NamedTuple):
    """A room file that came as a message."""

    text: str


class StateAsked(NamedTuple):
    """Somebody asks how everything stands. Nothing is entered: it is no event.

    `id`, `at` and whatever else a client puts on all that it sends are passed over.
    """


class OutgoingMessage(NamedTuple):
    """One message to send."""

    subtopic: str
    """The topic after `out/`."""
    body: bytes
    expires: int | None = None
    """After this moment (ms UTC) it is worth nothing; None: it does not expire."""
    about: int | None = None
    """The id of the order or prompt that it is about: of these only the latest message waits."""
    slot: str | None = None
    """Of these only the latest waits: one open order of each kind."""
    retained: bool = False
    to: ReturnAddress | None = None
    """Of a reply: where it goes, where the asker has said so."""
    stays: int | None = None
    """Seconds for which the broker has it; None: until it expires."""

    @property
    def kept(self) -> bool:
        """Whether it waits in the journal until the broker has taken it."""
        is_reply = self.subtopic == REPLY_SUBTOPIC
        return is_reply or self.about is not None or self.slot is not None

    def outdates(self, earlier: OutgoingMessage) -> bool:
        """Tell whether nobody needs an earlier message once this one is said."""
        if self.kept:
            return earlier.kept and (
                earlier.about == self.about is not None or earlier.slot == self.slot is not None
            )
        return self.retained and earlier.retained and earlier.subtopic == self.subtopic


class InboundMessage(NamedTuple):
    """A message as it came: the topic after `in/`, and what the broker says of it."""

    subtopic: str
    payload: bytes
    retained: bool = False
    receipt: Receipt | None = None
    """A fingerprint by which a redelivery is known; None at quality of service 0."""
    repeated: bool = False
    """Whether the broker says that it may have been here before."""
    reply_to: ReturnAddress | None = None
    """Of a person's word: where its reply goes, where they have said so."""
    packet: int = 0
    """The packet id and the quality of service, by which it is acknowledged."""
    qos: int = 0

    @property
    def is_kept(self) -> bool:
        """Whether the broker has kept it, for a time that nobody knows."""
        return self.retained and bool(self.payload)  # nobody keeps what empties a topic


class QueuedMessage(NamedTuple):
    """A message to send, with its number in the outbox if it waits there."""

    message: OutgoingMessage
    serial: int | None = None


def payload_of(event: Event) -> tuple[str, bytes]:
    """Put an event as a hub publishes it: the topic after `in/`, and the payload."""
    data = json.loads(event_json(event))
    subtopic = data.pop("kind")
    if isinstance(event, ToldFact):
        subtopic = f"{subtopic}/{data.pop('fact')}"
        data.setdefault("value", None)
    return subtopic, json.dumps(data, ensure_ascii=False).encode()


def read_message(
    subtopic: str, payload: bytes, *, retained: bool = False
) -> Event | NewRoom | StateAsked | None:
    """Read what came on `roomcue/<room>/in/<subtopic>`; None for a cleared topic that says nothing.

    Raises `Refused`.
    """
    kind, _, fact = subtopic.partition("/")
    if subtopic == ROOM_FILE_TOPIC:
        return _new_room(payload.removeprefix(BOM_UTF8), retained=retained)
    if subtopic == STATE_TOPIC:
        return _state_asked(payload.removeprefix(BOM_UTF8), retained=retained)
    if kind not in EVENTS_FROM_OUTSIDE or not (fact if kind == TOLD_TOPIC else subtopic == kind):
        raise _unknown(subtopic)
    if not payload and kind not in RETAINABLE_TOPICS:
        raise Refused("malformed", f"in/{kind}: a payload is expected, and this is empty")
    if not payload:
        return _cleared(kind, fact)
    if len(payload) > MOST_PAYLOAD_BYTES:
        raise Refused(
            "too_long", f"a payload of {len(payload)} bytes; up to {MOST_PAYLOAD_BYTES} are taken"
        )
    if retained and kind not in RETAINABLE_TOPICS:
        raise Refused("retained", f"in/{kind} is not taken from a retained message: clear it there")
    # Some programs write a mark before UTF-8; whoever reads JSON may pass over it (RFC 8259, 8.1).
    payload = _of_this_contract(kind, payload.removeprefix(BOM_UTF8))
    event = _told(fact, payload) if kind == TOLD_TOPIC else _event(kind, payload)
    if retained and isinstance(event, LensReport) and event.moving:
        raise Refused("retained", "a lens on its way is not taken from a retained message")
    return event


def _of_this_contract(kind: str, payload: bytes) -> bytes:
    """Take the contract's version out of a payload that names it; another one is refused."""
    if b'"contract"' not in payload:
        return payload
    try:
        said = _OWN_TOPIC.validate_json(payload)
    except ValidationError:
        return payload  # whoever reads it will say what is wrong
    _require_this_contract(kind, said)
    said.pop("contract", None)
    return to_json(said, inf_nan_mode="constants")


def _require_this_contract(kind: str, said: dict[str, Any]) -> None:
    named = said.get("contract", CONTRACT)
    if isinstance(named, bool) or named != CONTRACT:
        words = f"in/{kind}: contract: this roomcue keeps contract {CONTRACT}; name that or none"
        raise Refused("contract", words)


def _event(kind: str, payload: bytes) -> Event:
    try:
        event: Event = adapter_of(KINDS[kind]).validator.validate_json(payload)
    except ValidationError as error:
        raise Refused("malformed", f"in/{kind}: {describe_mistakes(error)}") from None
    return event


def _told(fact: str, payload: bytes) -> Event:
    """Read a told fact, whose name stands in its topic so that each can be retained."""
    if payload.startswith(b"{"):
        told: ToldFact | None
        try:
            told = adapter_of(ToldFact).validator.validate_json(_named(fact) + payload[1:])
        except ValidationError:
            told = None  # it is looked at more closely
        if told is not None and told.fact == fact:
            return told
    try:
        said = _OWN_TOPIC.validate_json(payload)
    except ValidationError as error:
        words = f'{describe_mistakes(error)}; write {{"value": ...}}'
        raise Refused("malformed", f"in/{TOLD_TOPIC}/{fact[:64]}: {words}") from None
    try:
        if said.setdefault("fact", fact) != fact:
            words = f"in/{TOLD_TOPIC}/{fact[:64]}: fact: the topic names another; leave it out"
            raise Refused("malformed", words)
        return adapter_of(ToldFact).validate_json(to_json(said, inf_nan_mode="constants"))
    except ValidationError as error:
        raise Refused(
            "malformed", f"in/{TOLD_TOPIC}/{fact[:64]}: {describe_mistakes(error)}"
        ) from None


@lru_cache(64)
def _named(fact: str) -> bytes:
    """Begin the payload of a told fact with its name; one that stands in it as well comes later."""
    return b'{"fact":%s,' % to_json(fact)


def _cleared(kind: str, fact: str) -> Event | None:
    """Say what an emptied topic means: that nobody says so any more."""
    if kind == TOLD_TOPIC:
        return _event(TOLD_TOPIC, json.dumps({"fact": fact, "value": None}).encode())
    if kind == "panels":
        return PanelReport(panels=None)
    return Playback(state="unknown") if kind == "playback" else None


def _new_room(payload: bytes, *, retained: bool) -> NewRoom:
    if retained:
        raise Refused("retained", "a room file is not taken from a retained message")
    if not payload:
        raise Refused("malformed", "in/room: a room file is expected, and this is empty")
    if len(payload) > MOST_ROOM_FILE_BYTES:
        raise Refused(
            "too_long", f"a room file of {len(payload)} bytes; up to {MOST_ROOM_FILE_BYTES} go"
        )
    try:
        return NewRoom(payload.decode())
    except UnicodeDecodeError:
        raise Refused("malformed", "in/room: a room file is UTF-8 text") from None


def _state_asked(payload: bytes, *, retained: bool) -> StateAsked:
    if retained:
        raise Refused("retained", f"in/{STATE_TOPIC} is not taken from a retained message")
    try:
        said = _OWN_TOPIC.validate_json(payload[:MOST_PAYLOAD_BYTES] or b"{}")
    except ValidationError as error:
        raise Refused("malformed", f"in/{STATE_TOPIC}: {describe_mistakes(error)}") from None
    _require_this_contract(STATE_TOPIC, said)
    return StateAsked()


def _unknown(subtopic: str) -> Refused:
    names = [*EVENTS_FROM_OUTSIDE, ROOM_FILE_TOPIC, STATE_TOPIC]
    shown = subtopic[:64].encode("ascii", "backslashreplace").decode()
    if subtopic == TOLD_TOPIC:
        hint = "each told fact has a topic of its own, in/told/ and its name"
    elif near := nearest_name(subtopic, names):
        hint = f"did you mean in/{near}?"
    else:
        hint = "there are in/" + ", ".join(names)
    return Refused("unknown_topic", f"nothing is heard on in/{shown}: {hint}")


# --------------------------------------------------------------------------------- what is said


def body_of(data: Mapping[str, object]) -> bytes:
    """Write what is said as JSON; every message names the contract's version first."""
    return b'{"contract":%d,' % CONTRACT + to_json(data)[1:]


ActionDecision = Order | Withdrawn | Prompt | PromptOver
"""Decisions that lead to something being done."""
DEFAULT_LIFETIME: Final = 600_000
"""Milliseconds for which a message without an end of its own is worth sending."""


def messages_of(decision: Decision) -> tuple[OutgoingMessage, ...]:
    """Give all messages that a decision leads to: what is to be done, if anything, and why."""
    return (*errands_of(decision), reason_message(decision_data(decision)))


def errands_of(decision: Decision) -> tuple[OutgoingMessage, ...]:
    """Say what is to be done, and that nothing is asked any more once a prompt is over."""
    errand = order_message(decision)
    if errand is None:
        return ()
    over = isinstance(decision, PromptOver)
    return (errand, nothing_asked_message(decision.at)) if over else (errand,)


def order_message(decision: Decision) -> OutgoingMessage | None:
    """Say what is to be done; None: a note moves nothing."""
    if isinstance(decision, Note):
        return None
    data = decision_data(decision)
    del data["facts"]
    subtopic, expires, about, slot = _addressing(decision)
    open_ = isinstance(decision, Prompt)
    return OutgoingMessage(subtopic, body_of(data), expires, about, slot, retained=open_)


def reason_message(data: dict[str, Any]) -> OutgoingMessage:
    """Say a decision in full, as `decision_data` gives it."""
    return OutgoingMessage("reason", body_of(data))


def _addressing(decision: ActionDecision) -> tuple[str, int, int, str | None]:
    """Give where it is said, until when, of which number, and in which slot it waits."""
    later = decision.at + DEFAULT_LIFETIME
    match decision:
        case Prompt():
            return ("ask", decision.ends, decision.id, None)
        case PromptOver():
            return ("ask", later, decision.prompt, None)
        case Withdrawn():
            return ("order", later, decision.order, None)
        case CueOrder():
            return ("order", decision.ends, decision.id, f"cue {decision.cue}")
        case _:
            return ("order", decision.ends, decision.id, decision.kind)


def _fields_of(kind: type[Decision]) -> tuple[tuple[str, ...], Callable[[Decision], Any]]:
    """Give the names of a decision's fields, its kind first, and what reads them all."""
    names = ("kind", *(field.name for field in fields(kind) if field.name != "kind"))
    return names, attrgetter(*names)


_FIELDS: Final = {
    str(kind.__dataclass_fields__["kind"].default): _fields_of(kind) for kind in get_args(Decision)
}


def decision_data(decision: Decision) -> dict[str, Any]:
    """Give a decision as it is said and logged: its kind first, moments as RFC 3339."""
    names, values_of = _FIELDS[decision.kind]
    data: dict[str, Any] = dict(zip(names, values_of(decision), strict=True))
    data["at"] = rfc3339(decision.at)
    if "ends" in data:
        data["ends"] = rfc3339(data["ends"])
    return data


def question_message(now: int) -> OutgoingMessage:
    """Ask the hub how everything is, for messages may have been lost."""
    data = {
        "kind": "question",
        "about": ASKED_OF_HUB,
        "otherwise": WITHOUT_ANSWER,
        "at": rfc3339(now),
    }
    return OutgoingMessage("ask", body_of(data), now + DEFAULT_LIFETIME, slot="question")


def nothing_asked_message(now: int) -> OutgoingMessage:
    """Take the place of a prompt that is over, which the broker would retain until its end.

    It stays for a second, so that nothing is retained. An empty message would do the same, but
    hubs rely on objects that name the contract.
    """
    body = body_of({"kind": "nothing asked", "at": rfc3339(now)})
    return OutgoingMessage("ask", body, now + DEFAULT_LIFETIME, retained=True, stays=1)


@lru_cache(64)
def rfc3339(now: int) -> str:
    """Write a moment (ms UTC) as RFC 3339."""
    minute, milliseconds = divmod(now, 60_000)
    seconds, milliseconds = divmod(milliseconds, 1_000)
    return f"{_minute(minute)}:{seconds:02}.{milliseconds:03}Z"


@lru_cache(64)
def _minute(minutes: int) -> str:
    """Write so many minutes after 1970 down to the minute."""
    return moment_of(60_000 * minutes).isoformat(timespec="minutes").removesuffix("+00:00")
