"""A room with an obedient hub comes to rest, whatever has happened."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, target
from hypothesis import strategies as st

from engine import Reply, RoomEngine
from engine.decisions import Prompt, PromptOver, RecallOrder
from engine.events import Event, ProjectorReport, SourceChosen
from engine.room import Room
from engine.snapshot import finite_shape
from rules.room.load import load
from simulator.nights.invention import NightPlan, invent_events
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.shipped import DEMO_ROOM
from tests.engine.invariants import violations
from tests.engine.meetings import START, begun, evenings, events

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
A_DAY = 86_400_000

people = st.builds(
    Person,
    ready=st.none() | st.just(15_000),
    answer=st.none() | st.just(40_000),
    says_no=st.booleans(),
)


class Watched(RoomEngine):
    """An engine that is watched at every step."""

    __slots__ = ("counts", "faults")

    def __init__(self, room: Room) -> None:
        self.faults: list[str] = []
        self.counts: Counter[str] = Counter()
        super().__init__(room)

    def receive(self, event: Event | None, now: int) -> Reply:
        before, reply = self.state, super().receive(event, now)
        self.faults += violations(self.room, before, reply.decisions, self.state)
        self.counts.update(decision.kind for decision in reply.decisions)
        return reply


def lived(evening: list[tuple[int, Event]], person: Person) -> Watched:
    """Live an evening through with a hub, and let a day pass."""
    engine = Watched(HAYLOFT)
    now, script = START, []
    for wait, event in evening:
        now += wait
        script.append(TimedEvent(now, event))
    for _ in play_script(engine, Hub(HAYLOFT, person), script):
        pass
    while engine.deadline is not None and engine.deadline <= now + A_DAY:
        engine.receive(None, engine.deadline)
    return engine


@given(evening=evenings(HAYLOFT), person=people)
def test_what_must_always_hold_holds_with_a_hub_that_answers(
    evening: list[tuple[int, Event]], person: Person
) -> None:
    """Orders answered by a lost signal and a repeated source, prompts by people or by nobody."""
    engine = lived(evening, person)
    target(engine.counts["recall"] + engine.counts["prompt"])
    assert engine.faults == []


@given(evening=evenings(HAYLOFT), person=people)
def test_the_room_comes_to_rest(evening: list[tuple[int, Event]], person: Person) -> None:
    """With nothing new to handle no timer runs for ever, and a second day decides nothing."""
    engine = lived(evening, person)
    before = finite_shape(engine.state)
    assert engine.deadline is None or before[-1]
    assert engine.state.core.asked is None
    assert engine.state.core.recall is None
    assert engine.receive(None, START + 3 * A_DAY).decisions == ()
    assert finite_shape(engine.state) == before


@given(
    evening=st.lists(
        st.tuples(st.sampled_from([5_000, 15_000, 60_000]), events(HAYLOFT)), max_size=25
    ),
    person=people,
)
def test_every_prompt_ends(evening: list[tuple[int, Event]], person: Person) -> None:
    """Answered, withdrawn or expired: as many ends as beginnings."""
    engine = Watched(HAYLOFT)
    now, script = START, []
    for wait, event in [*begun(HAYLOFT), *evening]:
        now += wait
        script.append(TimedEvent(now, event))
    asked, over = set(), []
    made = [
        one
        for lived in play_script(engine, Hub(HAYLOFT, person), script)
        for one in lived.decisions
    ]
    for decision in [*made, *engine.receive(None, now + A_DAY).decisions]:
        if isinstance(decision, Prompt):
            asked.add(decision.id)
        if isinstance(decision, PromptOver):
            over.append(decision.prompt)
    assert sorted(over) == sorted(asked)


@pytest.mark.parametrize("seed", range(12))
def test_a_made_night_runs_clean(seed: int) -> None:
    """Nothing is broken in it, the travels are counted, and orders are few."""
    engine = Watched(HAYLOFT)
    script = invent_events(HAYLOFT, seed, START, NightPlan(titles=5, slips=0.5))
    recalls = [
        one
        for lived in play_script(engine, Hub(HAYLOFT), script)
        for one in lived.decisions
        if isinstance(one, RecallOrder)
    ]
    assert engine.faults == []
    assert len(recalls) == sum(one.ordered for one in engine.state.tally.travels)
    assert len(recalls) <= HAYLOFT.pace.per_night
    assert set(engine.refusals) <= {"not_open", "not_asked"}


@pytest.mark.parametrize("seed", range(3))
def test_the_same_seed_makes_the_same_night(seed: int) -> None:
    """And another one another."""
    one = list(invent_events(HAYLOFT, seed, START))
    assert one == list(invent_events(HAYLOFT, seed, START))
    assert one != list(invent_events(HAYLOFT, seed + 1, START))
    assert [happened.now for happened in one] == sorted(happened.now for happened in one)


def test_a_hub_reports_the_source_that_is_shown_when_it_reports() -> None:
    """A picture order just before another source is chosen does not bring the old one back."""
    engine = RoomEngine(HAYLOFT)
    script = [
        TimedEvent(START, ProjectorReport(state="lit")),
        TimedEvent(START + 1_000, SourceChosen(source="disc")),
        TimedEvent(START + 1_500, SourceChosen(source="console")),
    ]
    for _ in play_script(engine, Hub(HAYLOFT), script):
        pass
    assert engine.state.core.source == "console"
