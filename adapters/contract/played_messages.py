"""Collect examples for the document by playing nights: of no room in particular those shipped.

For rooms that are named, nights are invented, so that examples have their names and no others.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import chain
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
from engine.decisions import Decision, PromptOver, Withdrawn
from engine.events import (
    Answer,
    BlackSeen,
    Event,
    FindLens,
    Forget,
    FormatCode,
    Helper,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    RatioSeen,
    Service,
    Title,
    ToldFact,
    Undo,
)
from engine.refusal import Refused
from engine.replies import reply_to_person
from engine.room import Room
from engine.state import State
from engine.step import step
from rules.room.load import load
from simulator.nights.invention import USUAL, invented_night
from simulator.nights.night_file import NightEntry, read_head, read_lines
from simulator.nights.replay import ReplayStep, engine_for, replay
from simulator.shipped import DEMO_ROOM, NIGHTS

PLAYED: Final = ("evening", "bad-start", "binge", "longroom")
"""Nights that hold nearly every kind of message."""
INVENTED: Final = 2
"""So many nights are invented for each room that is named."""
DUE: Final = "it is due: measure it, and align it if that does not help."
"""What a forecast says. None is made here: that takes months of nights and the extra `wear`."""


def _not_played(room: Room) -> Iterator[Event]:
    """Give events that come in none of the nights, or need not, with a room's own names."""
    preset, panels = next(iter(room.presets)), next(iter(room.panels))
    yield RatioSeen(ratio=2.39)
    yield FormatCode(code=10, frame="16:9")
    yield BlackSeen()
    yield Title(begun=True, name="an episode", declared=1.78)
    yield Service(begun=True)
    yield Undo(who="Ana")
    yield FindLens(preset=preset, who="Ana")
    yield Forget(name="an episode", who="Ana")
    yield Helper(free=True, who="Ana")
    yield Mark(words="that was wrong", who="Ana")
    yield Answer(prompt=9, answer="ready", who="Ana")
    yield Outcome(order=12, outcome="done")
    yield Override(taken=True, look=OverrideLook(preset=preset, panels=panels), until="title")
    for fact in room.told.values():
        yield ToldFact(fact=fact.name, value=fact.values[0] if fact.values else fact.least)


class PlayedMessages(NamedTuple):
    """Messages that were heard and said."""

    heard: defaultdict[str, list[tuple[str, bytes]]]
    """Leaves and payloads by the kind of event, or `room`."""
    said: defaultdict[str, list[OutgoingMessage]]
    """By the names of the messages in the document."""


def played_messages(rooms: Sequence[Room] = ()) -> PlayedMessages:
    """Play nights of some rooms, and keep the messages that go in and out; else those shipped."""
    played = PlayedMessages(defaultdict(list), defaultdict(list))
    for first, *rest in _invented(rooms) if rooms else _shipped():
        _play(played, first, rest)
    shown = rooms or [load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)]
    for event in chain.from_iterable(map(_not_played, shown)):
        if event.kind not in played.heard:
            played.heard[event.kind].append(payload_of(event))
    return played


def _play(played: PlayedMessages, first: bytes, rest: Sequence[bytes]) -> None:
    """Play one night, and keep its messages."""
    head = read_head(first)
    engine = engine_for(load(head.room_file, head.room), head)
    played.heard[ROOM_FILE_TOPIC].append((ROOM_FILE_TOPIC, head.room_file.encode()))
    entries = [one for one in read_lines(head.start, rest) if isinstance(one, NightEntry)]
    for entry in entries:
        if entry.event is not None and entry.event.kind in EVENTS_FROM_OUTSIDE:
            played.heard[entry.event.kind].append(payload_of(entry.event))
    for happening in replay(engine, entries):
        if isinstance(happening, ReplayStep):
            for name, one in _said_of(happening, engine.room, engine.state):
                played.said[name].append(one)
    for name, one in _said_anyway(engine.room, head.start):
        played.said[name].append(one)


def _shipped() -> Iterator[list[bytes]]:
    for night in PLAYED:
        yield (NIGHTS / f"{night}.jsonl").read_bytes().splitlines()


def _invented(rooms: Sequence[Room]) -> Iterator[list[bytes]]:
    for room in rooms:
        for seed in range(INVENTED):
            yield [*invented_night(room, seed, USUAL, "")]


def _said_of(
    happening: ReplayStep, room: Room, state: State
) -> Iterator[tuple[str, OutgoingMessage]]:
    """Give what is said of one happening, by the names of the messages.

    Imagines as well that service begins at that moment, so that open orders are withdrawn, and
    that somebody wishes lens and panels elsewhere, so that they get a reply.
    """
    now, event = happening.entry.now, happening.entry.event
    imagined = [*_in_service(room, state, now)]
    imagined += step(room, state, Mark(words="that was wrong", who="Ana"), now)[1]
    for look in _elsewhere(room, state):
        wish = Override(taken=True, look=look, until="title")
        after, wished = step(room, state, wish, now)
        imagined += [*wished, *_in_service(room, after, now)]
        reply = reply_to_person(room, wish, state, after, wished)
        yield "out.reply", reply_message(reply_data(reply, wish, now), None, now)
    for decision in (*happening.decisions, *imagined):
        for said in messages_of(decision):
            sent = said._replace(body=with_time_left(said, now))
            yield message_name(said.subtopic, json.loads(said.body)["kind"]), sent
    if happening.refused is not None and event is not None:
        refusal = NotTaken(happening.refused, event.kind, event.id)
        said = refusal_message(room.catalogue, refusal, now)
        yield "out.reason.refused", said
    yield "out.standing", standing_message(standing_data(room, state), now)


def _elsewhere(room: Room, state: State) -> Iterator[OverrideLook]:
    """Give looks for which the lens or the panels would move, as far as the room has others."""
    core = state.core
    yield OverrideLook(preset=next((one for one in room.presets if one != core.preset), None))
    for panels in room.panels:
        if panels != core.arrangement:
            yield OverrideLook(panels=panels)


def _in_service(room: Room, state: State, now: int) -> Iterator[Decision]:
    """Give what is withdrawn and over once a technician begins."""
    for decision in step(room, state, Service(begun=True), now)[1]:
        if isinstance(decision, Withdrawn | PromptOver):
            yield decision


def _said_anyway(room: Room, now: int) -> Iterator[tuple[str, OutgoingMessage]]:
    """Give the messages that come of no event, by their names."""
    preset = next(iter(room.presets))
    yield "out.ask.question", question_message(now)
    yield "out.ask.nothing_asked", nothing_asked_message(now)
    due = lens_due_message(room.catalogue, preset, f"{preset}: {DUE}", now)
    yield "out.reason.wear", due
    yield "out.reason.taken", taken_message(room.catalogue, now)
    unread = NotTaken(Refused("malformed", "in/source: source: it is missing"), "source", "hub-7")
    yield "out.reason.refused", refusal_message(room.catalogue, unread, now)
    nothing_counted = generate_latest(registry_of(lambda: ())).decode()
    truths = {"proven": True, "file_waits": False}
    condition = Condition(now, epoch=0, run=0, faults=(), metrics=nothing_counted, **truths)
    yield "out.alive", alive_message(now + 60_000, condition)
    full = "roomcue.journal: cannot be written: database or disk is full"
    wrong = ailments(room.catalogue, full, None, full=True)
    yield "out.alive", alive_message(now + 80_000, condition._replace(faults=wrong))
    yield "out.alive.gone", gone_message(0, 0)


def message_name(subtopic: str, kind: str) -> str:
    """Name the message on `out/<subtopic>` that is of a kind."""
    return f"out.{subtopic}.{kind.replace(' ', '_')}"
