"""Half steps and what they lead to: successors, violations and their causes.

The engine takes a step in two halves: `apply_event` (or `fire_due`), then `choose_and_reconcile`.
An exploration takes each half by itself and may change the environment between them.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from engine.catalogue import NOTHING_MORE, Group, Parameters
from engine.decisions import FactValue
from engine.events import Event
from engine.room import Room
from engine.state import Core, State, Tally
from engine.transaction import Transaction
from simulator.proof.environments import Environment
from simulator.proof.equipment import StateKey

NOW: Final = 10**9
"""The time (ms UTC) of every half step."""
TALLY: Final = Tally(serial=1_000)
NO_FACTS: Final[dict[str, FactValue]] = {}


EarlierLook = tuple[str | None, int | None]
"""A picture and a lift that were chosen before; None where they were not left as they stood."""
NOTHING_EARLIER: Final[EarlierLook] = (None, None)


class Cause(NamedTuple):
    """How a state came about: the event or timer, and the environment that followed it."""

    before: int
    """The number of the state it came from; -1 for the first state."""
    event: Event | str | None
    """An event, or a timer's name; None: only the environment changed."""
    environment: Environment


class Violation(NamedTuple):
    """A promise that does not hold, and how that comes about."""

    promise: str
    words: str
    cause: Cause
    row: int | None = None
    """The row of the rule table that had been chosen."""
    earlier: EarlierLook = NOTHING_EARLIER
    """The picture and lift that were chosen before, if they were left as they stood."""


class Successor(NamedTuple):
    """A state that a half step leads to."""

    key: StateKey
    core: Core | None
    """None where this core has been returned before."""
    cause: Cause


class Expansion(NamedTuple):
    """All that half steps from one state lead to."""

    successors: tuple[Successor, ...]
    violations: tuple[Violation, ...]
    steps: int

    def __reduce__(self) -> tuple[object, ...]:
        """Travel between processes as bare values: a proof sends thousands of successors."""
        bare = tuple((key, core, *cause) for key, core, cause in self.successors)
        return _unpacked, (bare, self.violations, self.steps)


BareSuccessor = tuple[StateKey, Core | None, int, Event | str | None, Environment]


def _unpacked(
    bare: tuple[BareSuccessor, ...], violations: tuple[Violation, ...], steps: int
) -> Expansion:
    successors = (
        Successor(key, core, Cause(before, event, environment))
        for key, core, before, event, environment in bare
    )
    return Expansion(tuple(successors), violations, steps)


class SilentTransaction(Transaction):
    """A half step whose decisions are judged and thrown away: they need no facts and no words."""

    __slots__ = ()

    def decision_facts(self, *, of_title: bool = False) -> dict[str, FactValue]:  # noqa: ARG002
        """Return no facts: nobody reads them."""
        return NO_FACTS

    def say(
        self,
        group: Group,  # noqa: ARG002 - as its base class has it
        code: str,
        parameters: Parameters = NOTHING_MORE,  # noqa: ARG002
    ) -> str:
        """Return the code: nobody reads its sentence."""
        return code


class HalfSteps:
    """Starts half steps of one room, counts them and notes violations."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self._steps = 0
        self._violations: dict[str, Violation] = {}

    def begin(
        self, core: Core, environment: Environment, tally: Tally = TALLY, *, counted: bool = True
    ) -> SilentTransaction:
        """Begin a half step on a core that belongs to it alone."""
        self._steps += counted
        state = State(core, environment.settling, tally, None)
        return SilentTransaction(self.room, state, NOW, own=True)

    def repeat(self) -> None:
        """Count a half step of which it is known what comes of it."""
        self._steps += 1

    def violate(
        self,
        promise: str,
        words: str,
        cause: Cause,
        row: int | None = None,
        earlier: EarlierLook = NOTHING_EARLIER,
    ) -> None:
        """Note a violation; of several of one promise the first is kept, as one of the shortest."""
        self._violations.setdefault(promise, Violation(promise, words, cause, row, earlier))

    def expansion(self, successors: Iterable[Successor]) -> Expansion:
        """Return what the half steps since the last call led to."""
        found = Expansion(tuple(successors), tuple(self._violations.values()), self._steps)
        self._violations, self._steps = {}, 0
        return found
