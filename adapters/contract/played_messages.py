"""Collect examples for the document by playing nights that are shipped."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from prometheus_client import generate_latest

from adapters.live.announcements import (
    Condition,
    NotTaken,
    ailments,
    alive_message,
    gone_message,
    lens_due_message,
    refusal_message,
    taken_message,
)
from adapters.live.messages import (
    EVENTS_FROM_OUTSIDE,
    ROOM_FILE_TOPIC,
    OutgoingMessage,
    messages_of,
    nothing_asked_message,
    payload_of,
    question_message,
)
from adapters.live.metrics import registry_of
from adapters.live.redating import with_time_left
from adapters.live.reply_messages import reply_data, reply_message
from adapters.live.standing import standing_data, standing_message
from engine.decisions import Withdrawn
from engine.events import (
    FindLens,
    Forget,
    FormatCode,
    Helper,
    Override,
    OverrideLook,
    RatioSeen,
    Service,
    ToldFact,
    Undo,
)
from engine.replies import reply_to_person
from engine.room import Room
from engine.state import State
from engine.step import step
from rules.room.load import load
from rules.words.fluent_catalogue import DEFAULT_LANGUAGE, catalogue_in
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import NIGHTS

PLAYED: Final = ("evening", "bad-start", "binge", "longroom")
"""Nights that hold nearly every kind of message."""
NOT_PLAYED: Final = (
    RatioSeen(ratio=2.39),
    FormatCode(code=10, frame="16:9"),
    Service(begun=True),
    Undo(who="Ana"),
    FindLens(preset="broad", who="Ana"),
    Forget(name="an episode", who="Ana"),
    Helper(free=True, who="Ana"),
    ToldFact(fact="guests", value=True),
)
"""Events that come in none of these nights, or need not."""

DUE: Final = "tall: it is due: measure it, and align it if that does not help."
"""What a forecast says. None is made here: that takes months of nights and the extra `wear`."""


class PlayedMessages(NamedTuple):
    """Messages that were heard and said."""

    heard: Mapping[str, Sequence[tuple[str, bytes]]]
    """Leaves and payloads by the kind of event, or `room`."""
    said: Mapping[str, Sequence[OutgoingMessage]]
    """By the names of the messages in the document."""


def played_messages() -> PlayedMessages:
    """Play the nights, and keep the messages that go in and out."""
    heard: dict[str, list[tuple[str, bytes]]] = defaultdict(list)
    said: dict[str, list[OutgoingMessage]] = defaultdict(list)
    for event in NOT_PLAYED:
        heard[event.kind].append(payload_of(event))
    for night in PLAYED:
        first, *rest = (NIGHTS / f"{night}.jsonl").read_bytes().splitlines()
        head = read_head(first)
        engine = engine_for(load(head.room_file, head.room), head)
        heard[ROOM_FILE_TOPIC].append((ROOM_FILE_TOPIC, head.room_file.encode()))
        entries = [one for one in read_lines(head.start, rest) if isinstance(one, NightEntry)]
        for entry in entries:
            if entry.event is not None and entry.event.kind in EVENTS_FROM_OUTSIDE:
                heard[entry.event.kind].append(payload_of(entry.event))
        for happening in replay(engine, entries):
            if isinstance(happening, ReplayStep):
                for name, one in _said_of(happening, engine.room, engine.state):
                    said[name].append(one)
        for name, one in _said_anyway(head.start):
            said[name].append(one)
    return PlayedMessages(heard, said)


def _said_of(
    happening: ReplayStep, room: Room, state: State
) -> Iterator[tuple[str, OutgoingMessage]]:
    """Give what is said of one happening, by the names of the messages.

    Imagines as well that service begins at that moment, so that open orders are withdrawn, and
    that somebody wishes the lens elsewhere, so that they get a reply.
    """
    now, event = happening.entry.now, happening.entry.event
    _, stopped = step(room, state, Service(begun=True), now)
    withdrawn = [one for one in stopped if isinstance(one, Withdrawn)]
    for decision in (*happening.decisions, *withdrawn):
        for said in messages_of(decision):
            sent = said._replace(body=with_time_left(said, now))
            yield message_name(said.subtopic, json.loads(said.body)["kind"]), sent
    preset = next(iter(room.presets), None)
    wish = Override(taken=True, look=OverrideLook(preset=preset), until="title")
    after, decisions = step(room, state, wish, now)
    reply = reply_to_person(room, wish, state, after, decisions)
    yield "out.reply", reply_message(reply_data(reply, wish, now), None, now)
    if happening.refused is not None and event is not None:
        refusal = NotTaken(happening.refused, event.kind, event.id)
        said = refusal_message(room.catalogue, refusal, now)
        yield "out.reason.refused", said
    yield "out.standing", standing_message(standing_data(room, state), now)


def _said_anyway(now: int) -> Iterator[tuple[str, OutgoingMessage]]:
    """Give the messages that come of no event, by their names."""
    yield "out.ask.question", question_message(now)
    yield "out.ask.nothing_asked", nothing_asked_message(now)
    yield "out.reason.wear", lens_due_message(catalogue_in(DEFAULT_LANGUAGE), "tall", DUE, now)
    yield "out.reason.taken", taken_message(catalogue_in(DEFAULT_LANGUAGE), now)
    nothing_counted = generate_latest(registry_of(lambda: ())).decode()
    truths = {"proven": True, "file_waits": False}
    condition = Condition(now, epoch=0, run=0, faults=(), metrics=nothing_counted, **truths)
    yield "out.alive", alive_message(now + 60_000, condition)
    full = "roomcue.journal: cannot be written: database or disk is full"
    wrong = ailments(catalogue_in(DEFAULT_LANGUAGE), full, None, full=True)
    yield "out.alive", alive_message(now + 80_000, condition._replace(faults=wrong))
    yield "out.alive.gone", gone_message(0, 0)


def message_name(subtopic: str, kind: str) -> str:
    """Name the message on `out/<subtopic>` that is of a kind."""
    return f"out.{subtopic}.{kind.replace(' ', '_')}"
