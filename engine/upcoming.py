"""What comes next, told to people: what was just decided, and what falls due later.

Nothing here decides. What falls due is found by letting time pass on a State that nobody keeps.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from engine.catalogue import NOTHING_MORE
from engine.decisions import CueOrder, Note, PictureOrder, Prompt
from engine.reconcile import is_dark
from engine.room import DARK
from engine.state import State
from engine.step import step

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from engine.catalogue import Parameters
    from engine.decisions import Decision
    from engine.room import Room

NextCode = Literal[
    "cue",
    "goes_dark",
    "lens",
    "lens_arrives",
    "light_back",
    "nothing",
    "override_ends",
    "picture",
    "prompt",
    "prompt_over",
    "reminder",
    "to_the_screen",
    "until_arrival",
    "until_session",
    "until_time",
    "until_title",
    "warning",
]
"""What may come next for people in the room."""
TIMERS_AHEAD: Final = 8
"""How many timers are looked at to find one that moves something."""


class Upcoming(NamedTuple):
    """One thing that comes next."""

    code: NextCode
    words: str
    """The same for people, in the room's language."""
    at: int | None = None
    """When it happens, or when it ends if it has begun (ms UTC); None: nobody knows."""
    number: int | None = None
    """The order or the prompt that it is."""


def upcoming(
    room: Room,
    code: NextCode,
    at: int | None,
    number: int | None = None,
    about: Parameters = NOTHING_MORE,
) -> Upcoming:
    """Name one thing that comes next, in the room's language; a cue's sentence is `about` it."""
    return Upcoming(code, room.catalogue.say("next", code, about), at, number)


def next_due(room: Room, state: State) -> tuple[Upcoming, ...]:
    """Give what moves next if nothing else is heard, each with its moment; () if nothing does.

    Open orders count as carried out. Readings that have not settled yet are left out: whatever
    they settle on comes as news.
    """
    core = state.core
    arrives = core.timers.travel if core.lens == "travelling" else None
    if arrives is None:
        return _due_until(room, state, None)
    arrival = upcoming(room, "lens_arrives", arrives, core.recall)
    return (*_due_until(room, state, arrives), arrival)


def _due_until(room: Room, state: State, end: int | None) -> tuple[Upcoming, ...]:
    """Give what time alone moves next, before an end (ms UTC) where there is one."""
    core = state.core
    known = state.tally.serial  # a number beyond it is given only once it comes
    core = core.copy()
    under_way = {one.cue: one.value for one in core.open_cues}
    core.cues = tuple(sorted((dict(core.cues) | under_way).items()))
    core.picture, core.open_cues = None, ()
    core.timers = core.timers._replace(picture=None, cue=None)
    settling = state.settling._replace(deadline=None)
    if core.doubt is None:
        settling = settling._replace(left=None)
    state = State(core, settling, state.tally, core.timers.next())
    for _ in range(TIMERS_AHEAD):
        due = state.due
        if due is None or (end is not None and due >= end):
            return ()
        was_dark = is_dark(state.core)
        state, decisions = step(room, state, None, due)
        found = [
            one if one.number is None or one.number <= known else one._replace(number=None)
            for one in moves(room, decisions, was_dark=was_dark, at=due)
        ]
        if found:
            return tuple(found)
    return ()


def moves(
    room: Room, decisions: Iterable[Decision], *, was_dark: bool, at: int | None = None
) -> Iterator[Upcoming]:
    """Name what decisions mean for people, each once; `at` is their moment, else their own end."""
    named: set[str] = set()
    for decision in decisions:
        code = _code_of(decision, was_dark=was_dark)
        if code is None:
            continue
        ends = getattr(decision, "ends", None) if at is None else at
        about = NOTHING_MORE
        if isinstance(decision, CueOrder):
            about = room.labels_told(decision.cue, decision.value)
        one = upcoming(room, code, ends, getattr(decision, "id", None), about)
        if one.words not in named:
            named.add(one.words)
            yield one


_STAGES: Final[dict[str, NextCode]] = {
    "asked": "prompt",
    "reminded": "reminder",
    "at the screen": "to_the_screen",
    "light comes back": "warning",
}


def _code_of(decision: Decision, *, was_dark: bool) -> NextCode | None:
    """Say what a decision means for people; None: they notice nothing of it."""
    if isinstance(decision, PictureOrder):
        lit: NextCode = "light_back" if was_dark else "picture"
        return "goes_dark" if decision.picture == DARK else lit
    if isinstance(decision, Prompt):
        return _STAGES[decision.stage]
    ended = isinstance(decision, Note) and decision.code == "override_ended"
    return "override_ends" if ended else _KINDS.get(decision.kind)


_KINDS: Final[dict[str, NextCode]] = {
    "recall": "lens",
    "cue": "cue",
    "prompt over": "prompt_over",
}
