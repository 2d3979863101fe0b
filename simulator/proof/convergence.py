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
from simulator.nights.stand_in_hub import Happened, Hub, Person, live_through
from simulator.proof.environments import entered
from simulator.proof.equivalence import Claim, Claims

START: Final = 10**9
HOUR: Final = 3_600_000
MOST: Final = 400
"""More happenings than this in one run do not come to rest."""
PLENTY: Final = 99
PEOPLE: Final = (Person(), Person(says_no=True))


class Circle(NamedTuple):
    """Rules that lead back to themselves."""

    claim: Claim
    preset: str
    panels: str | None
    decisions: tuple[Decision, ...]
    """The recalls and prompts of the first rounds."""


class Rested(NamedTuple):
    """What came of looking for circles."""

    runs: int
    circles: tuple[Circle, ...]


def come_to_rest(room: Room, claims: Claims) -> Rested:
    """Let the room come to rest in every world that wants something moved, from everywhere."""
    pace = room.pace._replace(per_title=PLENTY, per_night=PLENTY, opening=HOUR, linger=1)
    eager = replace(room, pace=pace)
    runs, circles = 0, []
    for claim in _moving(claims):
        for preset, panels, hands in product(room.presets, (None, *room.panels), _hands(room)):
            for person in PEOPLE:
                runs += 1
                made = _run(eager, claim, preset, panels, hands, person)
                if made is not None:
                    circles.append(Circle(claim, preset, panels, made))
                    break
    return Rested(runs, tuple(circles))


def _hands(room: Room) -> tuple[str, ...]:
    return ("still", "refused") if len(room.panels) > 1 else ("still",)


def _moving(claims: Claims) -> Iterator[Claim]:
    """Give one claim for each way in which rules move lens and panels."""
    seen: set[object] = set()
    for claim in claims.ruled:
        wishes = tuple((show.preset, show.panels) for show in claim.shows.values())
        if claim.dead or claim.pausing or claim.late or set(wishes) == {(None, None)}:
            continue
        effect = (wishes, claim.still)
        if effect not in seen:
            seen.add(effect)
            yield claim


def _run(  # noqa: PLR0913, PLR0917 - where it begins, in which world, with whom
    room: Room, claim: Claim, preset: str, panels: str | None, hands: str, person: Person
) -> tuple[Decision, ...] | None:
    """Play one; gives what was ordered where it goes round in a circle, else None."""
    world = claim.world
    core = entered(first_state(room).core, world)
    core.lens, core.preset, core.arrangement, core.panels = "resting", preset, panels, hands
    core.timers = core.timers._replace(
        opening=START + HOUR if world.opening else None, pause=None, session=None
    )
    begins = State(core, world.settling, Tally(), core.timers.next())
    engine = RoomEngine(room, begins)
    made: list[Decision] = []
    for happened, lived in enumerate(live_through(engine, Hub(room, person), _nudge(core))):
        made += [one for one in lived.decisions if isinstance(one, RecallOrder | Prompt)]
        if happened > MOST:
            return tuple(made)
        if "circle" in engine.state.core.holds:
            return tuple(made)
    return None


def _nudge(core: Core) -> Iterator[Happened]:
    """Let something happen that changes nothing, and time pass."""
    for second in (0, 60, 200, 600):
        yield Happened(START + second * 1_000, Signal(locked=core.locked))
