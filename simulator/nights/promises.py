"""Tell which promises a step of the real engine breaks.

The built-in promises and the room's own are judged alike, so that `replay` and the evenings of a
proof say the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from engine import RoomEngine
from engine.decisions import Decision, RecallOrder
from engine.facts import facts_of, first_minutes_run, may_be_menu, standing_of
from engine.optics import on_panel
from engine.reconcile import standing_place
from engine.room import (
    BUILT_IN_PROMISES,
    MENUS_PLAIN,
    NO_PICTURE_ON_PANELS,
    NO_TRAVEL_IN_MID_TITLE,
    Promise,
    Room,
)
from engine.state import State
from engine.table import choose
from engine.value_set import ANYTHING

Judge = Callable[[State, tuple[Decision, ...], State], bool]
"""Tells whether a step, from one State to another, breaks the promise."""


class BrokenPromise(NamedTuple):
    """A promise that does not hold, built in or the room's own."""

    label: str
    because: str


def judge_of(room: Room, name: str) -> Judge:
    """Return what tells whether one step of the real engine breaks the promise of this name.

    Raises `StopIteration` for a name that is no promise of the room.
    """
    if name == MENUS_PLAIN:
        return lambda _before, _made, after: _stretched_menu(room, after)
    if name == NO_TRAVEL_IN_MID_TITLE:
        return _late_recall
    if name == NO_PICTURE_ON_PANELS:
        return lambda _before, _made, after: _picture_on_panels(room, after)
    promise = next(one for one in room.promises if one.label == name)
    return lambda _before, _made, after: bool(_broken(room, (promise,), after))


def _broken(room: Room, promises: Iterable[Promise], state: State) -> list[Promise]:
    """List those of a room's own promises that do not hold in a State.

    While a new picture waits because the last one has just changed, none of the picture is judged.
    """
    if "flash" in state.core.holds:
        promises = [one for one in promises if not _speaks_of_picture(one)]
    facts = facts_of(room, state.core, state.settling) | standing_of(room, state.core)
    return [one for one in promises if choose(one.never, facts).output is True]


def _speaks_of_picture(promise: Promise) -> bool:
    """Tell whether a promise tests which picture stands, or how high."""
    tests = zip(promise.never.columns, promise.never.rows[0].cells, strict=True)
    return any(column.name in {"picture", "lift"} and cell != ANYTHING for column, cell in tests)


def _stretched_menu(room: Room, state: State) -> bool:
    core = state.core
    if core.shown is None or core.shown.picture not in room.pictures or "flash" in core.holds:
        return False
    source = room.sources.get(core.source or "")
    return may_be_menu(source, facts_of(room, core, state.settling)["playback"])


def _late_recall(before: State, made: tuple[Decision, ...], after: State) -> bool:
    core = after.core
    return (
        core.playback == "playing"
        and not first_minutes_run(core)
        and not first_minutes_run(before.core)
        and core.override == "rules"
        and any(isinstance(one, RecallOrder) for one in made)
    )


def _picture_on_panels(room: Room, state: State) -> bool:
    core = state.core
    if core.shown is None or core.failed:
        return False
    return on_panel(room, core.shown.region, standing_place(room, core), core.arrangement)


class PromiseWatch:
    """Judges every step of a room and tells which promises have just been broken.

    Promises that the room file waives are not judged. While a new picture waits because the last
    large change is less than a third of a second ago, the picture that still stands was not chosen
    for this state, so a promise that was broken before still counts as broken.
    """

    def __init__(self, engine: RoomEngine) -> None:
        room = engine.room
        self._engine = engine
        self._before = engine.state
        self._judges = [
            (BrokenPromise(name, because), judge_of(room, name))
            for name, because in BUILT_IN_PROMISES.items()
            if name not in room.waived
        ]
        self._own = [one for one in room.promises if one.label not in room.waived]
        self._broken: frozenset[str] = frozenset()

    def see(self, made: tuple[Decision, ...]) -> tuple[BrokenPromise, ...]:
        """Return the promises that the engine's latest step breaks and the one before did not."""
        before, after = self._before, self._engine.state
        self._before = after
        if after.core is before.core and not made:
            return ()  # A reading that settles nothing, as nearly all do.
        broken = [promise for promise, judge in self._judges if judge(before, made, after)]
        own = _broken(self._engine.room, self._own, after) if self._own else ()
        broken += [BrokenPromise(one.label, one.because) for one in own]
        known, labels = self._broken, frozenset(promise.label for promise in broken)
        self._broken = labels | known if "flash" in after.core.holds else labels
        return tuple(promise for promise in broken if promise.label not in known)
