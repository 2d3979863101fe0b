"""Whether a room comes to rest: with nothing new to handle, no rules lead round in a cycle.

This runs on the real engine with the obedient hub: every order is done and answered by a short
loss of signal and a repeated source report. People do what they are asked, or say no, or never
answer. Each run goes on beyond the end of a pause and of the session. The limits on recalls are
lifted meanwhile, because they would end a cycle before it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product
from typing import Final, Literal, NamedTuple

from engine import RoomEngine
from engine.choosing import OTHERWISE
from engine.decisions import Decision, Prompt, RecallOrder
from engine.events import Signal
from engine.room import PLAIN, Look, Room
from engine.state import Core, State, Tally, first_state
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.proof.environments import Environment, entered
from simulator.proof.equivalence import EquivalenceClass, EquivalenceClasses
from simulator.proof.stopping import never
from simulator.proof.worker_pool import worker_pool

START: Final = 10**9
HOUR: Final = 3_600_000
MOST_STEPS: Final = 400
"""A run of more steps than this does not come to rest."""
PLENTY: Final = 99
"""So many recalls are allowed, a title and a night."""
PEOPLE: Final = (Person(), Person(says_no=True), Person(answer=None))


class Start(NamedTuple):
    """Where a run begins: an environment, lens and panels that stand somewhere, and a person."""

    group: EquivalenceClass
    preset: str | None
    """None: nobody knows where the lens is."""
    panels: str | None
    helper: Literal["still", "refused"]
    person: Person


class Cycle(NamedTuple):
    """Rules that lead back to themselves."""

    start: Start
    decisions: tuple[Decision, ...]
    """The recalls and prompts up to the point where the cycle showed."""


class Convergence(NamedTuple):
    """The result of looking for cycles."""

    runs: int
    cycles: tuple[Cycle, ...]


def check_convergence(
    room: Room, classes: EquivalenceClasses, *, workers: int = 1, stop: Callable[[], bool] = never
) -> Convergence:
    """Run each environment whose rules move something, from every place of lens and panels.

    `stop` is asked before each run whether to break off. With several workers, so many processes
    find the same in the same order.
    """
    pace = room.pace._replace(
        per_title=PLENTY, per_night=PLENTY, first_minutes=HOUR, linger=1, linger_people=1
    )
    eager = replace(room, pace=pace)
    people = PEOPLE if len(room.panels) > 1 else PEOPLE[:1]  # Otherwise nobody is ever asked.
    starts = [
        Start(group, preset, panels, helper, person)
        for group in _moving(classes)
        for preset, panels, helper in product(
            _places(room, group), (None, *room.panels), _helper(room)
        )
        for person in people
    ]
    runs = 0
    cycles: list[Cycle] = []

    def run(number: int) -> tuple[Decision, ...] | None:
        return _run(eager, starts[number])

    with worker_pool((run,), workers) as pool:
        found = pool.results(run, [(number,) for number in range(len(starts))])
        for start in starts:
            if stop():
                break
            decisions = next(found)
            if cycles and start._replace(person=cycles[-1].start.person) == cycles[-1].start:
                continue  # One person is enough to show a cycle.
            runs += 1
            if decisions is not None:
                cycles.append(Cycle(start, decisions))
    return Convergence(runs, tuple(cycles))


def _places(room: Room, group: EquivalenceClass) -> tuple[str | None, ...]:
    """List where the lens may be; from an unknown place it is sent only while nothing plays."""
    return (*room.presets, None) if group.duties.nothing_plays else tuple(room.presets)


def _helper(room: Room) -> tuple[Literal["still", "refused"], ...]:
    return ("still", "refused") if len(room.panels) > 1 else ("still",)


def _moving(classes: EquivalenceClasses) -> Iterator[EquivalenceClass]:
    """Yield one class for each way in which rules move lens and panels."""
    seen: set[object] = set()
    for group in classes.by_rules:
        wishes = tuple((show.preset, show.panels) for show in group.shows.values())
        if group.duties.inert or group.duties.past_first_minutes or set(wishes) == {(None, None)}:
            continue
        duties = group.duties
        effect = (wishes, duties.nothing_plays, duties.pausing, _idle(group.environment))
        if effect not in seen:
            seen.add(effect)
            yield group


def _run(room: Room, start: Start) -> tuple[Decision, ...] | None:
    """Run from one start; return the recalls and prompts if it is a cycle, else None."""
    environment = start.group.environment
    core = entered(first_state(room).core, environment)
    core.lens, core.preset = "unknown" if start.preset is None else "resting", start.preset
    core.arrangement, core.panels = start.panels, start.helper
    core.timers = core.timers._replace(
        first_minutes=START + HOUR if environment.first_minutes else None,
        pause=START + room.pace.pause if start.group.duties.pausing else None,
        session=START + room.pace.session if _idle(environment) else None,
    )
    if start.group.duties.pausing:
        # A row before the pause has wanted everything as it stands.
        core.row = core.title_row = OTHERWISE
        core.wanted = Look(PLAIN, 0, start.preset, start.panels)
    begins = State(core, environment.settling, Tally(), core.timers.next())
    engine = RoomEngine(room, begins)
    made: list[Decision] = []
    script = play_script(engine, Hub(room, start.person), _nudges(room, core))
    for number, played in enumerate(script):
        made += [one for one in played.decisions if isinstance(one, RecallOrder | Prompt)]
        if number > MOST_STEPS or "circle" in engine.state.core.holds:
            return tuple(made)
    return None


def _idle(environment: Environment) -> bool:
    """Tell whether the session runs out meanwhile."""
    return environment.playback in {"stopped", "unknown"} or environment.pause_over


def _nudges(room: Room, core: Core) -> Iterator[TimedEvent]:
    """Let events come that change nothing, so that time passes: beyond a pause and the session."""
    pace = room.pace
    moments = {
        begins + second * 1_000
        for begins in (0, pace.pause, pace.session, pace.pause + pace.session)
        for second in (0, 60, 200, 600)
    }
    for moment in sorted(moments):
        yield TimedEvent(START + moment, Signal(locked=core.locked))
