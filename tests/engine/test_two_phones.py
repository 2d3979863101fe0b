"""Two people at their phones, in random evenings of the shipped rooms: what each word is worth."""

from __future__ import annotations

import pytest

from engine import RoomEngine
from engine.decisions import Decision, PictureOrder
from engine.events import (
    Answer,
    Event,
    FindLens,
    Override,
    OverrideLook,
    ProjectorReport,
    Service,
    Undo,
)
from engine.replies import PEOPLES_EVENTS, PersonReply, reply_of_refusal, reply_to_person
from engine.room import DARK, Room
from engine.room_engine import Reply
from engine.state import Core, State
from rules.room.load import load
from simulator.shipped import ROOMS
from tests.engine.invariants import claims, violations
from tests.engine.meetings import START
from tests.engine.two_phones import Evening

SEEDS = range(100, 120)
EVENTS = 150
SHIPPED = {path.stem: load(path.read_text("utf-8"), path.name) for path in ROOMS}


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", SHIPPED)
def test_every_word_is_done_or_answered_and_lights_nobody_else(name: str, seed: int) -> None:
    lived_through(SHIPPED[name], seed)


def lived_through(room: Room, seed: int, events: int = EVENTS) -> None:
    """Live an evening, and hold every step of it against what must hold."""
    evening, engine, now = Evening(room, seed), RoomEngine(room), START
    for event in evening.beginning():
        engine.receive(event, now)
    for _ in range(events):
        now += evening.wait()
        while engine.deadline is not None and engine.deadline <= now:
            step(engine, None, engine.deadline)
        step(engine, evening.event(engine.state, now), now)


def step(engine: RoomEngine, event: Event | None, now: int) -> None:
    """Let one thing happen, and look at what came of it."""
    before = engine.state
    reply = engine.receive(event, now)
    told = f"{event} at {now - START} ms"
    assert violations(engine.room, before, reply.decisions, engine.state) == [], told
    if reply.refusal is not None:
        assert engine.state is before, told
    else:
        assert claims(engine.room, before, event, engine.state) == [], told
    assert lights(before.core, event, reply, engine.state.core) == [], told
    if isinstance(event, PEOPLES_EVENTS):
        said = spoken(engine.room, event, before, engine.state, reply)
        assert said.words, told
        assert all(one.words for one in said.next), told
        assert said.next, told
        assert wanting(event, before.core, engine.state, said) == [], (told, said)


def spoken(room: Room, event: Event, before: State, after: State, reply: Reply) -> PersonReply:
    """Give what the person hears."""
    if reply.refusal is not None:
        return reply_of_refusal(room, reply.refusal)
    return reply_to_person(room, event, before, after, reply.decisions)


# ---------------------------------------------------------------------------------- in the light


def lights(before: Core, event: Event | None, reply: Reply, after: Core) -> list[Decision]:
    """Give the pictures that light whoever was at the screen, though nobody might."""
    asked = before.asked
    if asked is None or not asked.at_screen or _may_light(before, event):
        return []
    still_there = after.asked is not None and after.asked.id == asked.id and after.asked.at_screen
    return [
        one
        for one in reply.decisions
        if not still_there or (isinstance(one, PictureOrder) and one.picture != DARK)
    ]


def _may_light(before: Core, event: Event | None) -> bool:
    """Tell whether what happens may bring the light back: their own word, or the warned end."""
    asked = before.asked
    assert asked is not None
    match event:
        case None:
            return before.timers.remind is None  # They have been warned.
        case Answer():
            own = event.answer == "done" if asked.who is None else event.who == asked.who
            return event.prompt == asked.id and (own or event.answer == "all_away")
        case Service() | ProjectorReport():
            return True
        case _:
            return False


# ------------------------------------------------------------------------------ done or answered


def wanting(event: Event, before: Core, state: State, said: PersonReply) -> list[str]:
    """Name what of a person's word is neither done nor answered with a reason."""
    after = state.core
    if not said.taken:
        return []
    match event:
        case Answer():
            return _of_answer(event, before, after)
        case Override(taken=False):
            return [] if event.look or after.override == "rules" else ["given back"]
        case Override() | Undo() | FindLens() if said.hold is None:
            look = event.look if isinstance(event, Override) else None
            return _of_look(look or OverrideLook(), after)
        case _:
            return []


def _of_answer(event: Answer, before: Core, after: Core) -> list[str]:
    """Hold an answer against what became of its prompt."""
    asked = before.asked
    if asked is None or asked.id != event.prompt:
        return [] if event.answer == "done" else ["a late answer that tells nothing"]
    over = after.asked is None or after.asked.id != asked.id
    match event.answer:
        case "done":
            met = over and after.arrangement == asked.panels
        case "ready":
            met = after.asked is not None and after.asked.at_screen
        case "no" | "not_tonight":
            met = over and after.panels == "refused"
        case "all_away":
            met = over or not asked.at_screen
        case _:
            met = not over
    return [] if met else [event.answer]


def _of_look(look: OverrideLook, core: Core) -> list[str]:
    """Name the parts of a look that are neither ordered nor asked for."""
    shown, asked_for = core.shown, None if core.asked is None else core.asked.panels
    cues = dict(core.cues) | {one.cue: one.value for one in core.open_cues}
    undone = {
        "preset": look.preset not in {None, core.preset},
        "panels": look.panels not in {None, core.arrangement, asked_for},
        "picture": look.picture not in {None, shown.picture if shown else None},
        "lift": look.lift not in {None, shown.lift / 10_000 if shown else None},
        "cues": any(cues.get(name) != value for name, value in (look.cues or {}).items()),
    }
    return [part for part, wanting in undone.items() if wanting]
