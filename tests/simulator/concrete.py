"""The real engine, state by state: what can be lived through in a room with few facts and events.

Nothing is abstracted but the exact times: states of one finite shape count as one, and the first
that is found goes on for all. So whatever is found here can really happen, while not all that can
happen is found.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator
from heapq import heappop, heappush
from typing import Any, Final, NamedTuple

import networkx as nx

from engine.events import (
    Answer,
    Event,
    LensReport,
    Outcome,
    Override,
    OverrideLook,
    PanelReport,
    Playback,
    ProjectorReport,
    Resumed,
    Service,
    SourceChosen,
    ToldFact,
)
from engine.facts import facts_of, standing_of
from engine.refusal import Refused
from engine.room import PLAIN, Room
from engine.snapshot import finite_shape
from engine.state import Core, State, first_state, next_deadline
from engine.step import step
from engine.table import choose
from simulator.proof.equipment import state_key
from tests.engine.meetings import START

A_MOMENT: Final = 100
"""How long after each step the next event is heard, in ms."""


class Moment(NamedTuple):
    """A state and when it is, in ms UTC."""

    state: State
    now: int


def few_events(room: Room, core: Core) -> Iterator[Event]:
    """List events of every kind that lens, panels, people and told facts know, with few values."""
    yield from (SourceChosen(source=source) for source in room.sources)
    yield from (Playback(state=state) for state in ("playing", "paused", "stopped"))
    yield from (ToldFact(fact=name, value=value) for name in room.told for value in (True, False))
    yield from (ProjectorReport(state=state) for state in ("lit", "off"))
    yield from (Service(begun=begun) for begun in (True, False))
    for moving in (True, False):
        yield from (LensReport(moving=moving, preset=preset) for preset in (None, *room.presets))
    if len(room.panels) > 1:
        yield from (PanelReport(panels=panels) for panels in (None, *room.panels))
    yield Override(taken=False)
    yield from (Override(taken=True, look=OverrideLook(preset=preset)) for preset in room.presets)
    if len(room.panels) > 1:
        yield from (
            Override(taken=True, look=OverrideLook(panels=panels)) for panels in room.panels
        )
    yield Override(taken=True, look=OverrideLook(picture=PLAIN))
    yield Override(taken=True, look=OverrideLook(lift=0.5))
    for order in (core.picture, core.recall):
        if order is not None:
            for outcome in ("done", "refused", "no answer"):
                yield Outcome(order=order, outcome=outcome)
    if core.asked is not None:
        for answer in ("ready", "done", "no"):
            yield Answer(prompt=core.asked.id, answer=answer)
    yield Resumed()


class Concrete:
    """What can be lived through, as a graph: nodes are numbers, edges name what happened."""

    def __init__(self, room: Room, most: int) -> None:
        """Search until `most` states are found, first from where the equipment stands seldom."""
        self.room = room
        self.graph: nx.DiGraph[int] = nx.DiGraph()
        self.keys: list[Hashable] = []
        """For each node the equipment's state, as an exploration identifies it."""
        self.broken: list[frozenset[str]] = []
        """For each node the room's own promises that are broken in it."""
        self._known: dict[Any, int] = {}
        self._fresh: list[tuple[int, int, Moment]] = []
        """States to go on from: how many with this key there were before, number, state."""
        self._with_key: Counter[Hashable] = Counter()
        self._add(Moment(first_state(room), START))
        while self._fresh and len(self.keys) < most:
            _, at, moment = heappop(self._fresh)
            for what, after in self._steps(moment):
                self.graph.add_edge(at, self._add(after), what=what)

    def _steps(self, moment: Moment) -> Iterator[tuple[Event | None, Moment]]:
        """Let time pass until something falls due, or hear each event before that."""
        state, due = moment.state, next_deadline(moment.state)
        if due is not None:
            now = max(due, moment.now)
            yield None, Moment(step(self.room, state, None, now)[0], now)
        now = moment.now + A_MOMENT
        if due is not None and due <= now:
            return
        for event in few_events(self.room, state.core):
            try:
                yield event, Moment(step(self.room, state, event, now)[0], now)
            except Refused:
                continue

    def _add(self, moment: Moment) -> int:
        shape = finite_shape(moment.state)
        at = self._known.get(shape)
        if at is None:
            at = self._known[shape] = len(self.keys)
            key = state_key(self.room, moment.state.core)
            self.graph.add_node(at)
            self.keys.append(key)
            self.broken.append(frozenset(self._broken(moment.state)))
            heappush(self._fresh, (self._with_key[key], at, moment))
            self._with_key[key] += 1
        return at

    def _broken(self, state: State) -> Iterator[str]:
        if "flash" in state.core.holds:
            return  # The old picture stands on for a third of a second.
        facts = facts_of(self.room, state.core, state.settling) | standing_of(self.room, state.core)
        for promise in self.room.promises:
            if choose(promise.never, facts).output:
                yield promise.label
