"""Whether a room comes to rest: with nothing new to handle, no rules lead round in a cycle.

This runs on the real engine with the obedient hub: every order is done and answered by a short
loss of signal and a repeated source report. People do what they are asked, or say no, or never
answer. Each run goes on beyond the end of a pause and of the session. The limits on recalls are
lifted meanwhile, because they would end a cycle before it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from itertools import product
from typing import Final, Literal, NamedTuple

from engine import RoomEngine
from engine.choosing import OTHERWISE
from engine.decisions import Decision, Prompt, RecallOrder
from engine.events import Signal
from engine.facts import HELPER_OF
from engine.room import PLAIN, Look, Room, Show
from engine.state import Core, State, Tally, first_state
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.proof.environments import Environment, entered
from simulator.proof.equivalence import EquivalenceClass, EquivalenceClasses
from simulator.proof.stopping import BrokenOff, never
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


class _LedRound(NamedTuple):
    """What led round in a run."""

    decisions: tuple[Decision, ...]
    rows: tuple[int, ...]


class Cycle(NamedTuple):
    """Rules that lead back to themselves."""

    start: Start
    decisions: tuple[Decision, ...]
    """The recalls and prompts up to the point where the cycle showed."""
    rows: tuple[int, ...]
    """The rows that wanted a preset or panels meanwhile, in the order in which they did first."""


class Convergence(NamedTuple):
    """The result of looking for cycles."""

    runs: int
    cycles: tuple[Cycle, ...]


def check_convergence(
    room: Room, classes: EquivalenceClasses, *, workers: int = 1, stop: Callable[[], bool] = never
) -> Convergence:
    """Run each environment whose rules move something, from every place of lens and panels.

    `stop` is asked again and again whether to break off. With several workers, so many processes
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

    def run(number: int) -> _LedRound | None:
        return _run(eager, starts[number])

    with suppress(BrokenOff), worker_pool((run,), workers, stop) as pool:
        found = pool.results(run, [(number,) for number in range(len(starts))])
        for start, led_round in zip(starts, found, strict=True):
            if cycles and start._replace(person=cycles[-1].start.person) == cycles[-1].start:
                continue  # One person is enough to show a cycle.
            runs += 1
            if led_round is not None:
                cycles.append(Cycle(start, *led_round))
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


def _run(room: Room, start: Start) -> _LedRound | None:
    """Run from one start; return what leads round if it is a cycle."""
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
    rows: dict[int, None] = {}
    script = play_script(engine, Hub(room, start.person), _nudges(room, core))
    for number, played in enumerate(script):
        made += [one for one in played.decisions if isinstance(one, RecallOrder | Prompt)]
        now = engine.state.core
        asking = any(isinstance(one, Prompt) for one in played.decisions)
        if made:
            rows |= dict.fromkeys(_rows_meanwhile(start.group, now, asking=asking))
        if number > MOST_STEPS or "circle" in now.holds:
            moving = tuple(row for row in rows if _moves(room.rules.show(row)))
            return _LedRound(tuple(made), moving)
    return None


def _rows_meanwhile(group: EquivalenceClass, core: Core, *, asking: bool) -> Iterator[int]:
    """List the rows that are chosen where the equipment stands so, and while somebody is asked.

    Who is asked and sent away again within one step leaves no trace in the state.
    """
    if core.title_row is not None:
        yield core.title_row
    helpers = (HELPER_OF[core.panels], *(("asked",) if asking else ()))
    told_apart = [len({*parts}) > 1 for parts in zip(*group.rows, strict=True)]
    for helper in helpers:
        stands = (core.preset, core.arrangement, helper)
        for situation, row in group.rows.items():
            parts = zip(stands, situation, told_apart, strict=True)
            if all(one == other for one, other, matters in parts if matters):
                yield row


def _moves(show: Show) -> bool:
    """Tell whether a row wants equipment to stand somewhere."""
    return show.preset is not None or show.panels is not None


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
