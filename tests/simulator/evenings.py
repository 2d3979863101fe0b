"""Evenings that nobody would wish for: whatever may be heard next, out of order, late or twice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from hypothesis import strategies as st

from engine.aspect import number_of
from engine.events import (
    Answer,
    Event,
    Mark,
    Outcome,
    Override,
    OverrideLook,
    RatioSeen,
    Signal,
)
from engine.refusal import Refused
from engine.room import PLAIN, WHOLE, Room
from engine.state import Core, State, Tally, Timers, next_deadline
from engine.step import step
from simulator.proof.alphabet import FRESH, possible_events
from simulator.proof.environments import Environment, entered
from simulator.proof.reachability import Explorer
from tests.engine.meetings import SHAPES, START

Move = tuple[int, int]
"""What kind of thing happens next, and which of its kind."""
moves: Final = st.lists(st.tuples(st.integers(0, 15), st.integers(0, 9_999)), max_size=40)
WAITS: Final = (100, 400, 2_000, 6_000, 12_000, 30_000, 130_000)
RASTERS: Final = ((1_920, 1_080), (3_840, 1_600), (1_280, 720), (1_440, 1_080), (720, 576))
OUTCOMES: Final = ("done", "done", "refused", "no answer")
LENGTHS: Final = Timers(
    travel=20_000,
    picture=4_000,
    cue=4_000,
    remind=120_000,
    give_up=600_000,
    pause=1_200_000,
    first_minutes=90_000,
    shape=6_000,
    linger=12_000,
    linger_people=12_000,
    longest=90_000,
    override=900_000,
    session=3_600_000,
    echo=18_000,
    flash=300,
)
"""How long each timer runs at most."""


def lived(room: Room, state: State, todo: list[Move], looks: list[OverrideLook]) -> Iterator[State]:
    """Live through an evening; gives the State after every step."""
    now = START
    for number, (kind, which) in enumerate(todo):
        due, event = next_deadline(state), None
        if kind < 5:
            now = now + WAITS[which % len(WAITS)] if due is None or kind == 4 else max(now, due)
        else:
            event = _event(room, state.core, kind, which, looks)
            if event.id == FRESH:
                event = replace(event, id=f"{FRESH} {number}")
        if due is not None and due <= now:
            now, event = due, None
        try:
            state = step(room, state, event, now)[0]
        except Refused:
            continue
        yield state


def _event(room: Room, core: Core, kind: int, which: int, looks: list[OverrideLook]) -> Event:
    orders = [core.picture, core.recall, *(cue.id for cue in core.open_cues)]
    still_open = [order for order in orders if order is not None]
    if kind in {5, 6} and still_open:
        outcome = OUTCOMES[which % len(OUTCOMES)]
        return Outcome(order=still_open[which % len(still_open)], outcome=outcome)  # type: ignore[arg-type]
    if kind == 7 and core.asked is not None:
        answers = ("ready", "ready", "done", "no")
        return Answer(prompt=core.asked.id, answer=answers[which % len(answers)])  # type: ignore[arg-type]
    if kind == 8:
        return RatioSeen(ratio=number_of(SHAPES[which % len(SHAPES)]))
    if kind == 9:
        columns, rows = RASTERS[which % len(RASTERS)]
        return Signal(locked=True, columns=columns, rows=rows)
    if kind == 10:
        return Override(taken=True, look=looks[which % len(looks)])
    every = list(possible_events(room, core))
    return every[which % len(every)]


def every_look(room: Room, *, wanted: tuple[str, ...] = (PLAIN, WHOLE)) -> list[OverrideLook]:
    """List all that a person may ask for at once, of these pictures."""
    return [
        OverrideLook(picture=picture, preset=preset, panels=panels)
        for picture in (None, *wanted)
        for preset in (None, *room.presets)
        for panels in (None, *room.panels)
    ]


def begun(explorer: Explorer, at: int, environment: Environment, hurry: int) -> State:
    """Begin an evening where the equipment stands as explored, timers at some point of theirs."""
    core = entered(explorer.cores[at], environment)
    if environment.service or environment.projector != "lit":
        core.shown = None
    running = {
        name: START + 1 + most * hurry // 100
        for name, most in LENGTHS._asdict().items()
        if getattr(core.timers, name) is not None
    }
    core.timers = core.timers._replace(**running)
    state = State(core, environment.settling, Tally(serial=1_000), core.timers.next())
    return step(explorer.room, state, Mark(), START)[0]
