"""Mutants of the code that decides, chosen and not generated: each breaks one thing by name.

One piece of one function's text is replaced, the function is compiled anew in its own module and
put wherever the right one is known. What breaks is said in the mutant's name.
"""

from __future__ import annotations

import inspect
import sys
import textwrap
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from types import FunctionType, ModuleType
from typing import Final, NamedTuple
from unittest.mock import patch

from engine import deadlines, handlers, transition_table
from engine.room import Room
from simulator.proof.convergence import check_convergence
from simulator.proof.reachability import Explorer
from tests.simulator.answer_mutants import ANSWER_MUTANTS
from tests.simulator.order_mutants import ORDER_MUTANTS
from tests.simulator.report_mutants import REPORT_MUTANTS
from tests.simulator.title_mutants import TITLE_MUTANTS


class DecisionMutant(NamedTuple):
    """One mistake in the code that decides."""

    name: str
    module: ModuleType
    function: str
    right: str
    """A piece of the function's text; it stands there once."""
    wrong: str
    """What stands there instead."""


MUTANTS: Final = tuple(
    DecisionMutant(name, module, function, right, wrong)
    for module, function, pieces in (
        *ORDER_MUTANTS,
        *REPORT_MUTANTS,
        *TITLE_MUTANTS,
        *ANSWER_MUTANTS,
    )
    for name, right, wrong in pieces
)
"""Every mutant, in the order of the code's modules."""


def compiled(mutant: DecisionMutant) -> FunctionType:
    """Compile a mutant's function in its own module."""
    text = textwrap.dedent(inspect.getsource(getattr(mutant.module, mutant.function)))
    assert text.count(mutant.right) == 1, f"{mutant.name}: {mutant.right} does not stand there once"
    text = "from __future__ import annotations\n" + text.replace(mutant.right, mutant.wrong)
    made: dict[str, FunctionType] = {}
    exec(compile(text, mutant.name, "exec"), vars(mutant.module), made)  # noqa: S102 - a mutant
    return made[mutant.function]


@contextmanager
def running(mutant: DecisionMutant) -> Iterator[None]:
    """Let the engine run with a mutant for a while, wherever the right function is known."""
    right, wrong = getattr(mutant.module, mutant.function), compiled(mutant)
    with ExitStack() as stack:
        for name, module in [*sys.modules.items()]:
            if name.partition(".")[0] not in {"engine", "simulator"}:
                continue
            for known, value in [*vars(module).items()]:
                if value is right:
                    stack.enter_context(patch.object(module, known, wrong))
        stack.enter_context(_in_tables(right, wrong))
        yield


@contextmanager
def _in_tables(right: Callable[..., object], wrong: Callable[..., object]) -> Iterator[None]:
    """Replace the function also in the tables of handlers, of timers and of states."""
    table = tuple(
        row._replace(guard=wrong) if row.guard is right else row  # type: ignore[arg-type]
        for row in transition_table.TABLE
    )
    with ExitStack() as stack:
        for entries in (handlers._HANDLERS, deadlines._DUE):  # noqa: SLF001 - the tables themselves
            changed = {key: wrong for key, value in entries.items() if value is right}
            stack.enter_context(patch.dict(entries, changed))
        if table != transition_table.TABLE:
            stack.enter_context(patch.object(transition_table, "TABLE", table))
            events = {
                name: transition_table.build_machine(name).events
                for name in transition_table.MACHINES
            }
            stack.enter_context(patch.object(transition_table, "_EVENTS", events))
        yield


def caught(mutant: DecisionMutant, room: Room) -> str:
    """Say what `check` finds of a mutant in a room; empty: nothing."""
    with running(mutant):
        try:
            explorer = Explorer(room)
            found = explorer.run(stop_at_first=True)
            if found.violations:
                return f"{found.violations[0].promise}: {found.violations[0].words}"
            if check_convergence(room, explorer.classes).cycles:
                return "rules go round in a circle"
        except Exception as raised:  # noqa: BLE001 - whatever a mutant leads to gives it away
            return f"raises {raised!r}"
        return ""


NOT_CAUGHT: Final = {
    "a picture that cannot be shown is shown": (
        "the proof places pictures by the engine's own optics; these have tests of their own"
    ),
    "a person is sent to the screen before the dark": (
        "nothing comes of it: the dark has been ordered just before, within the same step"
    ),
    "a lens of unknown place is recalled in a pause": (
        "nothing comes of it: rules recall nothing in a pause, and a person may have a lens found"
    ),
    "a lens of unknown place is never recalled": (
        "the proof asks the same function when nothing plays, so it looks for no such moment"
    ),
    "another lens, and a menu is distorted": (
        "nothing comes of it: a menu that a person has taken over is shown plain in any case"
    ),
    "a picture does not shrink before the travel": (
        "nothing falls on panels: the lens is not sent before the picture is safe, so it stays"
    ),
    "what somebody has been asked for undoes itself": (
        "the prompt is withdrawn and people are told so, which breaks no promise"
    ),
}
"""Mutants that the proof of a shipped room does not catch, with the reason."""


def mutant_of(name: str) -> DecisionMutant:
    """Find a mutant by its name."""
    (found,) = (mutant for mutant in MUTANTS if mutant.name == name)
    return found
