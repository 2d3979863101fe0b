"""Whether a room comes to rest: with nothing new to handle, no rule leads back to itself.

The real engine and the obedient hub play it: every order is done and answered by a short loss of
signal and a repeated source report, every prompt is answered. What limits the lens is lifted
meanwhile, so that a circle shows that would otherwise only use up what the pace allows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Final, NamedTuple

from engine.decisions import Decision, Prompt, RecallOrder
from engine.events import Signal
from engine.room import Room
from engine.state import Core, State, Tally, first_state
from engine.step import RoomEngine
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.proof.environments import entered
from simulator.proof.equivalence import EquivalenceClass, EquivalenceClasses

START: Final = 10**9
HOUR: Final = 3_600_000
MOST: Final = 400
"""More happenings than this in one run do not come to rest."""
PLENTY: Final = 99
PEOPLE: Final = (Person(), Person(says_no=True))


class Cycle(NamedTuple):
    """Rules that lead back to themselves."""

    group: EquivalenceClass
    preset: str
    panels: str | None
    decisions: tuple[Decision, ...]
    """The recalls and prompts of the first rounds."""


class Convergence(NamedTuple):
    """What came of looking for circles."""

    runs: int
    cycles: tuple[Cycle, ...]


def check_convergence(room: Room, classes: EquivalenceClasses) -> Convergence:
    """Let the room come to rest in every world that wants something moved, from everywhere."""
    pace = room.pace._replace(per_title=PLENTY, per_night=PLENTY, opening=HOUR, linger=1)
    eager = replace(room, pace=pace)
    runs, cycles = 0, []
    for group in _moving(classes):
        for preset, panels, hands in product(room.presets, (None, *room.panels), _hands(room)):
            for person in PEOPLE:
                runs += 1
                made = _run(eager, group, preset, panels, hands, person)
                if made is not None:
                    cycles.append(Cycle(group, preset, panels, made))
                    break
    return Convergence(runs, tuple(cycles))


def _hands(room: Room) -> tuple[str, ...]:
    return ("still", "refused") if len(room.panels) > 1 else ("still",)


def _moving(classes: EquivalenceClasses) -> Iterator[EquivalenceClass]:
    """Give one claim for each way in which rules move lens and panels."""
    seen: set[object] = set()
    for group in classes.by_rules:
        wishes = tuple((show.preset, show.panels) for show in group.shows.values())
        if group.inert or group.pausing or group.past_opening or set(wishes) == {(None, None)}:
            continue
        effect = (wishes, group.nothing_plays)
        if effect not in seen:
            seen.add(effect)
            yield group


def _run(  # noqa: PLR0913, PLR0917 - where it begins, in which world, with whom
    room: Room, group: EquivalenceClass, preset: str, panels: str | None, hands: str, person: Person
) -> tuple[Decision, ...] | None:
    """Play one; gives what was ordered where it goes round in a circle, else None."""
    environment = group.environment
    core = entered(first_state(room).core, environment)
    core.lens, core.preset, core.arrangement, core.panels = "resting", preset, panels, hands
    core.timers = core.timers._replace(
        opening=START + HOUR if environment.opening else None, pause=None, session=None
    )
    begins = State(core, environment.settling, Tally(), core.timers.next())
    engine = RoomEngine(room, begins)
    made: list[Decision] = []
    for happened, lived in enumerate(play_script(engine, Hub(room, person), _nudge(core))):
        made += [one for one in lived.decisions if isinstance(one, RecallOrder | Prompt)]
        if happened > MOST:
            return tuple(made)
        if "circle" in engine.state.core.holds:
            return tuple(made)
    return None


def _nudge(core: Core) -> Iterator[TimedEvent]:
    """Let something happen that changes nothing, and time pass."""
    for second in (0, 60, 200, 600):
        yield TimedEvent(START + second * 1_000, Signal(locked=core.locked))
