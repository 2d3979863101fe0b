"""Whether a room comes to rest: with nothing new to handle, no rules lead round in a cycle.

This runs on the real engine with the obedient hub: every order is done and answered by a short
loss of signal and a repeated source report, every prompt is answered. The limits on recalls are
lifted meanwhile, because they would end a cycle before it shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Final, Literal, NamedTuple

from engine import RoomEngine
from engine.decisions import Decision, Prompt, RecallOrder
from engine.events import Signal
from engine.room import Room
from engine.state import Core, State, Tally, first_state
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.proof.environments import entered
from simulator.proof.equivalence import EquivalenceClass, EquivalenceClasses

START: Final = 10**9
HOUR: Final = 3_600_000
MOST_STEPS: Final = 400
"""A run of more steps than this does not come to rest."""
PLENTY: Final = 99
"""So many recalls are allowed, a title and a night."""
PEOPLE: Final = (Person(), Person(says_no=True))


class Start(NamedTuple):
    """Where a run begins: an environment, lens and panels that stand somewhere, and a person."""

    group: EquivalenceClass
    preset: str
    panels: str | None
    hands: Literal["still", "refused"]
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


def check_convergence(room: Room, classes: EquivalenceClasses) -> Convergence:
    """Run each environment whose rules move something, from every place of lens and panels."""
    pace = room.pace._replace(per_title=PLENTY, per_night=PLENTY, opening=HOUR, linger=1)
    eager = replace(room, pace=pace)
    runs, cycles = 0, []
    for group in _moving(classes):
        for preset, panels, hands in product(room.presets, (None, *room.panels), _hands(room)):
            for person in PEOPLE:
                runs += 1
                start = Start(group, preset, panels, hands, person)
                decisions = _run(eager, start)
                if decisions is not None:
                    cycles.append(Cycle(start, decisions))
                    break
    return Convergence(runs, tuple(cycles))


def _hands(room: Room) -> tuple[Literal["still", "refused"], ...]:
    return ("still", "refused") if len(room.panels) > 1 else ("still",)


def _moving(classes: EquivalenceClasses) -> Iterator[EquivalenceClass]:
    """Yield one class for each way in which rules move lens and panels."""
    seen: set[object] = set()
    for group in classes.by_rules:
        wishes = tuple((show.preset, show.panels) for show in group.shows.values())
        if (
            group.duties.inert
            or group.duties.pausing
            or group.duties.past_opening
            or set(wishes) == {(None, None)}
        ):
            continue
        effect = (wishes, group.duties.nothing_plays)
        if effect not in seen:
            seen.add(effect)
            yield group


def _run(room: Room, start: Start) -> tuple[Decision, ...] | None:
    """Run from one start; return the recalls and prompts if it is a cycle, else None."""
    environment = start.group.environment
    core = entered(first_state(room).core, environment)
    core.lens, core.preset = "resting", start.preset
    core.arrangement, core.panels = start.panels, start.hands
    core.timers = core.timers._replace(
        opening=START + HOUR if environment.opening else None, pause=None, session=None
    )
    begins = State(core, environment.settling, Tally(), core.timers.next())
    engine = RoomEngine(room, begins)
    made: list[Decision] = []
    script = play_script(engine, Hub(room, start.person), _nudges(core))
    for number, played in enumerate(script):
        made += [one for one in played.decisions if isinstance(one, RecallOrder | Prompt)]
        if number > MOST_STEPS or "circle" in engine.state.core.holds:
            return tuple(made)
    return None


def _nudges(core: Core) -> Iterator[TimedEvent]:
    """Let events come that change nothing, so that time passes."""
    for second in (0, 60, 200, 600):
        yield TimedEvent(START + second * 1_000, Signal(locked=core.locked))
