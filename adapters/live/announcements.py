"""What a room tells besides orders: that it is there, what was not taken, a lens that is due."""

from __future__ import annotations

import json
from codecs import BOM_UTF8
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, NamedTuple

from pydantic import TypeAdapter, ValidationError

from adapters.live.messages import MOST_PAYLOAD_BYTES, OutgoingMessage, body_of, rfc3339
from engine.catalogue import Catalogue
from engine.decisions import NoteCode
from engine.event_fields import Name
from engine.refusal import Refused
from engine.replies import ReplyCode


class NotTaken(NamedTuple):
    """What was not taken, and why."""

    refused: Refused
    subtopic: str
    """The topic on which it came, after `in/`."""
    id: str | None = None
    """The event's own, if it had one that could be read."""


@dataclass(frozen=True, slots=True)
class _WithId:
    """Whatever may have an id, as an event has it."""

    id: Name | None = None


_WITH_ID: Final = TypeAdapter(_WithId)


def id_in(payload: bytes) -> str | None:
    """Read the id out of what may be no event at all; None: it has none."""
    if len(payload) > MOST_PAYLOAD_BYTES:
        return None
    try:
        return _WITH_ID.validate_json(payload.removeprefix(BOM_UTF8)).id
    except ValidationError:
        return None


def refusal_message(catalogue: Catalogue, one: NotTaken, now: int) -> OutgoingMessage:
    """Say what was not taken to people, in the room's language, and what is wrong to others."""
    shown, refused = one.subtopic[:80].encode("ascii", "backslashreplace").decode(), one.refused
    data = {
        "kind": "refused",
        "code": refused.code,
        "topic": f"in/{shown}",
        "id": one.id,
        "words": catalogue.say("refusal", refused.code),
        "details": refused.words,
        "at": rfc3339(now),
    }
    return OutgoingMessage("reason", body_of(data))


def taken_message(catalogue: Catalogue, now: int) -> OutgoingMessage:
    """Say that the room file that came is in force, in the room's language as it is now."""
    code: ReplyCode = "room_taken"
    data = {
        "kind": "taken",
        "words": catalogue.say("reply", code),
        "details": "The room file is in force until the one named at the start has changed.",
        "at": rfc3339(now),
    }
    return OutgoingMessage("reason", body_of(data))


def ailments(
    catalogue: Catalogue,
    fault: str | None,
    damage: str | None,
    muted: Sequence[tuple[str, str]] = (),
    *,
    full: bool,
) -> tuple[Ailment, ...]:
    """Say to people and to technicians what is wrong: with a journal, its `fault` and its `damage`.

    It is a fault of the disk where that is `full`. On topics that are `muted` the broker takes
    nothing from the room, each for its reason.
    """
    unwritable: OwnFaultCode = "disk_full" if full else "journal_unwritable"
    given: tuple[tuple[OwnFaultCode, str | None], ...] = (
        (unwritable, fault),
        ("journal_damaged", damage),
        ("broker_refuses", _muted_words(muted) if muted else None),
    )
    return tuple(
        Ailment(code, catalogue.say("fault", code), details)
        for code, details in given
        if details is not None
    )


def _muted_words(muted: Sequence[tuple[str, str]]) -> str:
    refused = ", ".join(f"{topic} ({reason})" for topic, reason in muted)
    return f"the broker takes nothing on {refused}: give roomcue the right to publish there"


def lens_due_message(catalogue: Catalogue, preset: str, details: str, now: int) -> OutgoingMessage:
    """Say that a preset is to be looked at, so that the hub can tell the owner."""
    code: NoteCode = "look_at_lens"
    data = {
        "kind": "wear",
        "preset": preset,
        "code": code,
        "words": catalogue.say("note", code, {"preset": preset}),
        "details": details,
        "at": rfc3339(now),
    }
    return OutgoingMessage("reason", body_of(data))


KEPT_TWICE_WORDS: Final = (
    "Another roomcue says that it has kept this room since {since}, which lies more than a day "
    "ahead: if it still runs, stop one of the two, and set the clock that is wrong."
)
OLDER_COPY_WORDS: Final = (
    "The broker has heard ids that this journal has yet to give: it is an older copy. So nothing "
    "but what is remembered of titles counts as known, ids begin anew, and the hub is asked."
)
TWIN_WORDS: Final = (
    "Another roomcue has gone on with a copy of this journal. So nothing but what is remembered of "
    "titles counts as known here, ids begin anew, and the hub is asked."
)


class Keeper(NamedTuple):
    """Who says that a room is alive."""

    since: str
    """Since when they keep it, as RFC 3339."""
    run: int
    """Which run of roomcue it is; 0: it does not say."""


class Run(NamedTuple):
    """A run of roomcue: with which journal, and which of its runs."""

    epoch: int
    run: int


def run_read(body: bytes) -> Run | None:
    """Read which run says that it is alive, or that it has gone; None: nobody knows."""
    said = object_in(body)
    epoch, run = said.get("epoch"), said.get("run")
    return Run(epoch, run) if isinstance(epoch, int) and isinstance(run, int) else None


def keeper_read(body: bytes) -> Keeper | None:
    """Read who says that a room is alive; None: nobody keeps it, or it makes no sense."""
    said = object_in(body)
    if said.get("alive") is not True:
        return None
    since, run = said.get("since"), said.get("run", 0)
    return Keeper(since, run) if isinstance(since, str) and isinstance(run, int) else None


def last_id_read(body: bytes) -> int:
    """Read out of a word on how a room stands which id was the last that it had given; 0: none."""
    last = object_in(body).get(LAST_ID)
    return last if isinstance(last, int) else 0


def object_in(body: bytes) -> dict[str, Any]:
    """Read a JSON object that anybody may have published; empty: it is none."""
    try:
        said = json.loads(body)
    except (ValueError, RecursionError):  # the latter: it is nested without end
        return {}
    return said if isinstance(said, dict) else {}


LAST_ID: Final = "last_id"
ALIVE_HOLDS: Final = 60
"""Seconds for which the word that roomcue is there holds, and the broker keeps it."""


OwnFaultCode = Literal["disk_full", "journal_unwritable", "journal_damaged", "broker_refuses"]
"""What may be wrong with roomcue itself."""
NOTHING_TAKEN: Final[frozenset[OwnFaultCode]] = frozenset({"disk_full", "journal_unwritable"})
"""The faults with which nothing is taken or ordered."""


class Ailment(NamedTuple):
    """Something that is wrong with roomcue itself."""

    code: OwnFaultCode
    words: str
    """The same for people, in the room's language."""
    details: str
    """For a technician."""


class Condition(NamedTuple):
    """How roomcue itself is, as it keeps a room."""

    since: int
    """Since when it keeps the room, in ms UTC."""
    proven: bool
    """Whether the room's rules are."""
    file_waits: bool
    """Whether other rules wait to be proven, and to take their place."""
    epoch: int
    """What the ids of orders and prompts begin with."""
    run: int
    """Which run of roomcue with its journal it is."""
    faults: tuple[Ailment, ...]
    """What is wrong with it."""
    metrics: str
    """What it has counted, in the Prometheus text format."""


def alive_message(now: int, condition: Condition) -> OutgoingMessage:
    """Say that roomcue is there; a process that stands still cannot say so again in time."""
    data = {"alive": True, "at": rfc3339(now), "holds_for": ALIVE_HOLDS, **condition._asdict()}
    data["since"] = rfc3339(condition.since)
    data["faults"] = [one._asdict() for one in condition.faults]
    ends = now + 1_000 * ALIVE_HOLDS
    return OutgoingMessage("alive", body_of(data), ends, retained=True, stays=ALIVE_HOLDS)


def gone_message(epoch: int, run: int) -> OutgoingMessage:
    """Say that roomcue is not there; it is left with the broker for that as well.

    `epoch` and `run` say who has gone: whoever goes on with a copy of the journal is to know.
    """
    body = body_of({"alive": False, "epoch": epoch, "run": run})
    return OutgoingMessage("alive", body, retained=True)
