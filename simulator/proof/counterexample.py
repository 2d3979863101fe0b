"""The shortest evening on which a promise breaks, found on the real engine and its real clock.

The exploration says from how far a state can still lead to the broken one; a best-first search
over whole States, one event or one deadline at a time, follows that. Every event comes a second
after the one before, and what falls due in between fires at its own time: so the evening found is
a night that replays exactly.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import replace
from heapq import heappop, heappush
from typing import Final, NamedTuple

from engine.aspect import number_of
from engine.decisions import Decision
from engine.events import (
    BarsSeen,
    BlackSeen,
    Event,
    FormatCode,
    Hand,
    HandLook,
    Mark,
    Outcome,
    ProjectorReport,
    RatioSeen,
    Resumed,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from engine.refusal import Refused
from engine.room import Room
from engine.snapshot import finite_shape
from engine.state import State, first_state, next_deadline
from engine.step import step
from simulator.nights.invention import BEGINS, bars_seen
from simulator.nights.stand_in_hub import TimedEvent
from simulator.proof.alphabet import FRESH, OVER, possible_events
from simulator.proof.environments import Environment
from simulator.proof.half_steps import Violation
from simulator.proof.reachability import Explorer

SECOND: Final = 1_000
BUDGET: Final = 60_000
"""Steps that are tried before an evening is given up."""
FAR: Final = 99

VARYING: Final = (17_778, 23_900)
"""Shapes between which a title may go to and fro."""

Judge = Callable[[State, tuple[Decision, ...], State], bool]
"""Tells whether a step, from one State to another, breaks the promise."""


class Counterexample(NamedTuple):
    """An evening on which a promise breaks, in its last step."""

    happened: tuple[TimedEvent, ...]
    ends: int
    """When it breaks, ms UTC: with the last event, or when something falls due after it."""


class _Node(NamedTuple):
    state: State
    now: int
    before: _Node | None
    event: Event | None


def find_counterexample(
    explorer: Explorer, broken: Violation, judge: Judge, budget: int = BUDGET
) -> Counterexample | None:
    """Find the shortest evening; None where the budget does not suffice.

    The way to the world that the exploration met is found first; another world may be nearer,
    so that a second search, without that aim, looks for a shorter way.
    """
    away = _distances(explorer, broken.cause.before)
    environments = _environments_on_the_way(explorer, broken)
    goal = broken.cause.environment

    def aimed(state: State) -> int:
        at = explorer.index_of.get(explorer.successors.key(state.core), -1)
        return max(away.get(at, FAR), _differences(state, goal))

    found = _search(explorer.room, judge, environments, aimed, FAR, budget)
    if found is None:
        return None
    length = len(found)
    shorter = _search(explorer.room, judge, environments, lambda _state: 1, length - 1, budget // 4)
    path = found if shorter is None else shorter
    happened = tuple(TimedEvent(one.now, one.event) for one in path if one.event is not None)
    return Counterexample(happened, path[-1].now)


def _search(  # noqa: PLR0913, PLR0917 - where, what for, by what, how far
    room: Room,
    judge: Judge,
    environments: tuple[Environment, ...],
    left: Callable[[State], int],
    longest: int,
    budget: int,
) -> list[_Node] | None:
    """Search best first for the fewest steps; `left` says how many it takes yet at least."""
    start = _Node(first_state(room), BEGINS, None, None)
    queue: list[tuple[int, int, int, int, _Node]] = [(0, 0, 0, 0, start)]
    seen = {_shape_key(start.state)}
    tried = 0
    while queue and tried < budget:
        _, _, _, length, node = heappop(queue)
        for event in _moves(room, node.state, environments):
            tried += 1
            following = _follow(room, node, event)
            if following is None:
                continue
            after, made = following
            if judge(node.state, made, after.state):
                return _path(after)
            key = _shape_key(after.state)
            rest = left(after.state)
            if key not in seen and length + 1 + rest <= longest:
                seen.add(key)
                heappush(queue, (length + 1 + rest, rest, tried, length + 1, after))
    return None


def _shape_key(state: State) -> int:
    """Two States of one shape and one title do the same, only at other times."""
    return hash(finite_shape(state))


def _distances(explorer: Explorer, goal: int) -> dict[int, int]:
    """Count from each state the steps that it takes at least to the broken one."""
    found = {goal: 0}
    queue = deque([goal])
    while queue:
        at = queue.popleft()
        for source in explorer.predecessors[at] if at >= 0 else ():
            if source >= 0 and source not in found:
                found[source] = found[at] + 1
                queue.append(source)
    return found


def _environments_on_the_way(explorer: Explorer, broken: Violation) -> tuple[Environment, ...]:
    """List the worlds through which the exploration came to the broken state."""
    found, cause = [broken.cause.environment], broken.cause
    while cause.before >= 0:
        cause = explorer.causes[cause.before]
        found.append(cause.environment)
    return tuple(dict.fromkeys(found))


def _differences(state: State, goal: Environment) -> int:
    """Count what has to be told at least before the world is the one looked for."""
    core = state.core
    told, wished = dict(core.told), dict(goal.told)
    return sum(
        (
            core.source != goal.source,
            core.playback != goal.playback or core.pause_over != goal.pause_over,
            goal.aspect is not None and state.settling.aspect != goal.aspect,
            core.varies != goal.varies,
            core.subtitles != goal.subtitles,
            core.hand != goal.hand,
            core.service != goal.service,
            core.minute != goal.minute and goal.minute is not None,
            core.range != goal.range and goal.range is not None,
            any(told.get(name) != value for name, value in wished.items()),
        )
    )


_NEVER: Final = (BarsSeen, BlackSeen, FormatCode, RatioSeen, Mark, Resumed, Signal, TimeOfDay)
"""Events that tell nothing here, or are told as the worlds on the way have them."""


def _moves(
    room: Room, state: State, environments: tuple[Environment, ...]
) -> Iterator[Event | None]:
    """List what may happen next: None lets time pass until something falls due."""
    if next_deadline(state) is not None:
        yield None
    sources = {environment.source for environment in environments}
    for event in possible_events(room, state.core):
        if isinstance(event, _NEVER) or event.id == FRESH:
            continue
        if isinstance(event, SourceChosen) and event.source not in sources:
            continue
        if isinstance(event, Outcome) and event.order == OVER:
            continue
        if isinstance(event, Service | ProjectorReport | ToldFact | Hand) and not _of_use(
            event, environments
        ):
            continue
        if isinstance(event, Title) and event.declared is not None:
            continue
        yield event
    yield from _environment_events(state, environments)


def _of_use(
    event: Service | ProjectorReport | ToldFact | Hand, environments: tuple[Environment, ...]
) -> bool:
    """Tell whether an event leads into one of the worlds."""
    match event:
        case Service():
            return any(environment.service for environment in environments)
        case ProjectorReport():
            return event.state == "lit" or any(
                environment.projector != "lit" for environment in environments
            )
        case ToldFact():
            return any(
                (event.fact, event.value) in environment.told for environment in environments
            )
        case Hand():
            return any(environment.hand == "person" for environment in environments)


def _environment_events(state: State, environments: tuple[Environment, ...]) -> Iterator[Event]:
    """Tell what the worlds on the way have that the room has not heard."""
    core = state.core
    yield from _readings(environments)
    for environment in environments:
        if environment.minute is not None and environment.minute != core.minute:
            yield TimeOfDay(minute=environment.minute)
        if environment.declared is not None and environment.declared != core.declared:
            yield Title(begun=True, declared=number_of(environment.declared))
        if environment.range is not None and environment.range != core.range:
            yield Signal(locked=True, range="high" if environment.range == "high" else "ordinary")
        if environment.stereo is not None and environment.stereo != core.stereo:
            yield Signal(locked=True, stereo=environment.stereo)
        if environment.frame != core.frame and environment.frame < 30_000:  # noqa: PLR2004 - a frame's ratio
            yield Signal(locked=True, columns=environment.frame * 1_080 // 10_000, rows=1_080)
        if environment.wish is not None and any(environment.wish[:4]):
            wish = environment.wish
            look = HandLook(picture=wish.picture, preset=wish.preset, panels=wish.panels)
            yield Hand(taken=True, look=look)


def _readings(environments: tuple[Environment, ...]) -> Iterator[Event]:
    """Read the shapes that the worlds have, with lines in the bar where one has them."""
    ratios = {environment.aspect for environment in environments} | {
        environment.tallest for environment in environments
    }
    if any(environment.varies for environment in environments):
        ratios |= {*VARYING}
    for ratio in sorted(ratio for ratio in ratios if ratio is not None):
        yield RatioSeen(ratio=number_of(ratio))
        if any(environment.subtitles for environment in environments):
            bars = bars_seen(ratio)
            yield bars
            yield replace(bars, bottom=bars.bottom // 2)


def _follow(
    room: Room, node: _Node, event: Event | None
) -> tuple[_Node, tuple[Decision, ...]] | None:
    """Take one step: an event a second later, or (None) time up to what falls due next.

    None where the event is refused.
    """
    now = next_deadline(node.state) if event is None else node.now + SECOND
    if now is None:
        return None
    try:
        state, made = step(room, node.state, event, now)
    except Refused:
        return None
    return _Node(state, now, node, event), made


def _path(node: _Node) -> list[_Node]:
    """List the nodes that led to one, without the start."""
    found: list[_Node] = []
    at: _Node | None = node
    while at is not None and at.before is not None:
        found.append(at)
        at = at.before
    return found[::-1]
