"""Counterexamples: the shortest evening on which a promise breaks, on the engine's real clock.

The exploration gives the distance of each state to the broken one. A best-first search
over whole States follows that, one event or one deadline at a time. Each event comes a second
after the one before, and whatever falls due in between fires at its own time, so an evening
found is a night that replays exactly.
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
from simulator.nights.promises import Judge
from simulator.nights.stand_in_hub import TimedEvent
from simulator.proof.alphabet import FRESH, OVER, possible_events
from simulator.proof.environments import Environment
from simulator.proof.half_steps import Violation
from simulator.proof.reachability import Explorer

SECOND: Final = 1_000
BUDGET: Final = 60_000
"""The number of steps that are tried before the search is given up."""
FAR: Final = 99
"""The distance of a state that no known way leads from; no counterexample is longer."""

VARYING: Final = (17_778, 23_900)
"""Shapes, in 1/10,000, between which a title may change."""


class Counterexample(NamedTuple):
    """An evening whose last step breaks a promise."""

    events: tuple[TimedEvent, ...]
    ends: int
    """When it breaks (ms UTC): at the last event, or when something falls due after it."""


class _Node(NamedTuple):
    state: State
    now: int
    before: _Node | None
    event: Event | None


def find_counterexample(
    explorer: Explorer, violation: Violation, judge: Judge, budget: int = BUDGET
) -> Counterexample | None:
    """Return the shortest evening found, or None if none is found within the budget of steps.

    The first search aims at the environment of the violation. Another environment may break the
    promise sooner, so a second search without that aim looks for a shorter evening.
    """
    distances = _distances(explorer, violation.cause.before)
    goal = violation.cause.environment

    def steps_left(state: State) -> int:
        at = explorer.index_of.get(explorer.successors.key(state.core), -1)
        return max(distances.get(at, FAR), _differences(state, goal))

    search = _Search(explorer.room, judge, _environments_on_the_way(explorer, violation))
    found = search.run(steps_left, FAR, budget)
    if found is None:
        return None
    shorter = search.run(lambda _state: 1, len(found) - 1, budget // 4)
    path = found if shorter is None else shorter
    events = tuple(TimedEvent(one.now, one.event) for one in path if one.event is not None)
    return Counterexample(events, path[-1].now)


class _Waiting(NamedTuple):
    """A node in the queue; the first fields decide which comes next."""

    whole_length: int
    steps_left: int
    number: int
    """Nodes that are equal otherwise come in the order in which they were found."""
    length: int
    node: _Node


class _Search:
    """A best-first search for the fewest steps that break a promise."""

    def __init__(self, room: Room, judge: Judge, environments: tuple[Environment, ...]) -> None:
        self._room = room
        self._judge = judge
        self._environments = environments

    def run(
        self, steps_left: Callable[[State], int], longest: int, budget: int
    ) -> list[_Node] | None:
        """Search ways of at most `longest` steps; `steps_left` must never say too many."""
        start = _Node(first_state(self._room), BEGINS, None, None)
        queue = [_Waiting(0, 0, 0, 0, start)]
        seen = {_shape_key(start.state)}
        tried = 0
        while queue and tried < budget:
            waiting = heappop(queue)
            length = waiting.length + 1
            for event in _moves(self._room, waiting.node.state, self._environments):
                tried += 1
                following = _follow(self._room, waiting.node, event)
                if following is None:
                    continue
                after, made = following
                if self._judge(waiting.node.state, made, after.state):
                    return _path(after)
                key = _shape_key(after.state)
                left = steps_left(after.state)
                if key not in seen and length + left <= longest:
                    seen.add(key)
                    heappush(queue, _Waiting(length + left, left, tried, length, after))
        return None


def _shape_key(state: State) -> int:
    """Return what States have in common that do the same, only at different times."""
    return hash(finite_shape(state))


def _distances(explorer: Explorer, goal: int) -> dict[int, int]:
    """Return for each state how many steps it takes at least to the goal; unreachable: left out."""
    found = {goal: 0}
    queue = deque([goal])
    while queue:
        at = queue.popleft()
        for source in explorer.predecessors[at] if at >= 0 else ():
            if source >= 0 and source not in found:
                found[source] = found[at] + 1
                queue.append(source)
    return found


def _environments_on_the_way(explorer: Explorer, violation: Violation) -> tuple[Environment, ...]:
    """List the environments through which the exploration came to the violation."""
    found, cause = [violation.cause.environment], violation.cause
    while cause.before >= 0:
        cause = explorer.causes[cause.before]
        found.append(cause.environment)
    return tuple(dict.fromkeys(found))


def _differences(state: State, goal: Environment) -> int:
    """Count how many facts have to be reported, at least, until the environment is the goal."""
    core = state.core
    told = dict(core.told)
    differences = (
        core.source != goal.source,
        core.playback != goal.playback or core.pause_over != goal.pause_over,
        goal.aspect is not None and state.settling.aspect != goal.aspect,
        core.varies != goal.varies,
        core.subtitles != goal.subtitles,
        core.hand != goal.hand,
        core.service != goal.service,
        core.minute != goal.minute and goal.minute is not None,
        core.range != goal.range and goal.range is not None,
        any(told.get(name) != value for name, value in goal.told),
    )
    return differences.count(True)


_NEVER: Final = (BarsSeen, BlackSeen, FormatCode, RatioSeen, Mark, Resumed, Signal, TimeOfDay)
"""Kinds of events that the search skips: they change nothing, or environments send them."""


def _moves(
    room: Room, state: State, environments: tuple[Environment, ...]
) -> Iterator[Event | None]:
    """List what may happen next; None lets time pass until something falls due."""
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
    """Tell whether an event leads into one of the environments."""
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
    """Report what the environments on the way have and the room does not know yet."""
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
    """Report readings of the environments' shapes, with subtitles in the bar where one has them."""
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
    """Take one step: an event a second later, or with None time up to what falls due next.

    Returns None where the event is refused.
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
    """List the nodes that lead to this one, without the start."""
    found: list[_Node] = []
    at: _Node | None = node
    while at is not None and at.before is not None:
        found.append(at)
        at = at.before
    found.reverse()
    return found
