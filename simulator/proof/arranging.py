"""Bring a real room into an environment: with reports, and by waiting for what takes its time.

An exploration puts a room into an environment at once. On the real engine somebody has to report
each fact, a reading has to settle, and a pause has to last until it counts as a stop.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final, NamedTuple

from engine.aspect import SCALE, number_of, ratio_of_size, same_shape
from engine.events import (
    BlackSeen,
    Event,
    Override,
    OverrideLook,
    Playback,
    ProjectorReport,
    RatioSeen,
    Service,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
)
from engine.facts import PLAYBACKS, first_minutes_run
from engine.readings import LEAST_SQUARE_ROWS, heeds_readings, readings_count
from engine.reconcile import LIT
from engine.room import Room
from engine.state import Core, State, Timers
from simulator.nights.invention import bars_seen
from simulator.proof.environments import Environment
from simulator.proof.walk import Walk, Walker

SETTLES: Final = "settles"
"""Stands for the wait until a reading has settled, as a timer's name does for that timer."""
MOST_WAITS: Final = 12
"""How many deadlines are waited for until a timer runs out; more are never on its way."""
MOST_TRIES: Final = 3
"""How often one fact is reported until it is given up."""
MOST_REPORTS: Final = 24
NAMED: Final = "one"
"""The name of a title that needs one."""

PLAYS, PAUSES = PLAYBACKS[:2]
OTHER_SHAPES: Final = (17_778, 23_900, 20_000)
"""Shapes, in 1/10,000, to which a title may change for a while."""

LEAST_LETTERBOXED: Final = 19_000
"""A shape, in 1/10,000, from which on a wide frame has room for subtitles in its bars."""

_BEGINNING: Final = ("service", "projector", "source", "plays", "title", "declared", "signal")
_SHAPES: Final = ("varies", "tallest", "subtitles", "aspect", "first_minutes", "doubtful")
_TOLD: Final = ("told", "minute", "light")
_PAUSE: Final = ("playback", "pause_over")
TOLD_IN_A_PAUSE: Final = (*_BEGINNING, *_SHAPES, *_PAUSE, *_TOLD, "override")
ORDERS: Final = (
    (*_BEGINNING, *_TOLD, *_SHAPES, *_PAUSE, "override"),
    TOLD_IN_A_PAUSE,
    (*_BEGINNING, *_SHAPES, "override", *_TOLD, *_PAUSE),
    ("playback", "title", "declared", *_TOLD, "source", *_SHAPES, *_BEGINNING, *_PAUSE, "override"),
)
"""Orders in which facts are reported: those that somebody tells before a pause begins, while it
lasts, and after a person has taken over; in the last one playback is the first word."""


class Missing(NamedTuple):
    """What has to happen next for one fact to be as in the environment."""

    fact: str
    events: tuple[Event, ...]
    until: str = ""
    """The timer that has to run out after them, or `SETTLES`."""


def arrange(
    walker: Walker, walk: Walk, environment: Environment, order: tuple[str, ...] = ORDERS[0]
) -> Walk:
    """Report facts in this order until the room is in the environment, as far as it can be."""
    tries: dict[str, int] = {}
    for _ in range(MOST_REPORTS):
        missing = [
            one
            for one in _missing(walker.room, walk.state, environment)
            if tries.get(one.fact, 0) < MOST_TRIES
        ]
        if not missing or walker.over:
            break
        first = min(missing, key=lambda one: order.index(one.fact))
        tries[first.fact] = tries.get(first.fact, 0) + 1
        for event in first.events:
            walk = walker.tell(walk, event)
            if first.until == SETTLES:
                walk = wait_for(walker, walk, SETTLES)
        if first.until and first.until != SETTLES:
            walk = wait_for(walker, walk, first.until)
    return walk


def wait_for(walker: Walker, walk: Walk, timer: str) -> Walk:
    """Wait until a timer has run out, or a reading has settled; at once where none runs."""
    for _ in range(MOST_WAITS):
        if walker.over or not _runs(walk.state, timer):
            break
        walk = walker.wait(walk)
    return walk


def _runs(state: State, timer: str) -> bool:
    if timer == SETTLES:
        return state.settling.deadline is not None or (
            state.settling.left is not None and state.core.doubt is None
        )
    return timer in Timers._fields and getattr(state.core.timers, timer) is not None


def _missing(room: Room, state: State, goal: Environment) -> Iterator[Missing]:
    """List what has to be reported; what no report can bring about is left out."""
    core = state.core
    yield from _room_facts(core, goal)
    yield from _title_facts(room, core, goal)
    yield from _told_facts(room, core, goal)
    yield from _shape_facts(room, state, goal)
    yield from _watching_facts(core, goal)


def _room_facts(core: Core, goal: Environment) -> Iterator[Missing]:
    """Yield what is missing of the room's own condition, the source and the signal."""
    if core.service != goal.service:
        yield Missing("service", (Service(begun=goal.service),))
    lit = goal.projector in LIT and core.projector in LIT
    if goal.projector not in {core.projector, "unknown"} and not lit:
        yield Missing("projector", (ProjectorReport(state=goal.projector),))
    if goal.source is not None and core.source != goal.source:
        yield Missing("source", (SourceChosen(source=goal.source),))
    if core.frame != goal.frame:
        yield from (Missing("signal", (one,)) for one in frame_signal(goal.frame))
    if goal.range is not None and core.range != goal.range:
        yield Missing("light", (Signal(locked=True, range=goal.range),))
    if goal.three_d is not None and core.three_d != goal.three_d:
        yield Missing("light", (Signal(locked=True, three_d=goal.three_d),))


def frame_signal(frame: int) -> Iterator[Signal]:
    """Yield a signal whose coded frame has this ratio (1/10,000), if whole pixels make one."""
    for rows in (1_080, 2_160, *range(LEAST_SQUARE_ROWS, 2_000)):
        columns = round(frame * rows / 10_000)
        if ratio_of_size(columns, rows) == frame:
            yield Signal(locked=True, columns=columns, rows=rows)
            return


def _title_facts(room: Room, core: Core, goal: Environment) -> Iterator[Missing]:
    """Yield what is missing of the title and its first minutes."""
    if goal.title and not core.title:
        # What a long pause has ended is gone on with once it is named again.
        name = NAMED if goal.pause_over else None
        yield Missing("title", (Title(begun=True, name=name),))
    elif core.title and not goal.title and goal.playback in {"playing", "unknown"}:
        yield Missing("title", (Title(begun=False),))
    declares = core.source is None or room.sources[core.source].declares
    if goal.declared != core.declared and goal.declared is not None and declares:
        yield Missing("declared", (Title(begun=True, declared=number_of(goal.declared)),))
    if core.title and goal.title and goal.first_minutes != first_minutes_run(core):
        if goal.first_minutes:
            yield Missing("first_minutes", (Title(begun=False), Title(begun=True)))
        else:
            yield Missing("first_minutes", (), "first_minutes")


def _told_facts(room: Room, core: Core, goal: Environment) -> Iterator[Missing]:
    """Yield what is missing of what people and clocks tell."""
    told = dict(core.told)
    for name, value in goal.told:
        if told.get(name) != value or type(told.get(name)) is not type(value):
            yield Missing("told", (ToldFact(fact=name, value=value),))
    for name in told.keys() - dict(goal.told).keys():
        if room.told[name].default is None:
            yield Missing("told", (ToldFact(fact=name, value=None),))
    if goal.minute is not None and core.minute != goal.minute:
        yield Missing("minute", (TimeOfDay(minute=goal.minute),))


def _shape_facts(room: Room, state: State, goal: Environment) -> Iterator[Missing]:
    """Yield what is missing of the picture's shape, now and in the title so far."""
    core, stands = state.core, state.settling.aspect
    if not heeds_readings(room, core.source):
        return
    shape = goal.aspect or 17_778
    if goal.varies and not core.varies:
        other = next(one for one in OTHER_SHAPES if not same_shape(one, stands or shape))
        yield Missing("varies", (RatioSeen(ratio=number_of(other)),), SETTLES)
    if goal.tallest is not None and core.tallest != goal.tallest:
        yield Missing("tallest", (RatioSeen(ratio=number_of(goal.tallest)),), SETTLES)
    if goal.subtitles and not core.subtitles:
        bars = bars_seen(shape if shape > LEAST_LETTERBOXED else OTHER_SHAPES[1])
        subtitle = replace(bars, bottom=bars.bottom // 2)
        yield Missing("subtitles", (bars, subtitle), SETTLES)
    if goal.doubtful and core.doubt is None and stands == goal.aspect:
        yield Missing("doubtful", (BlackSeen(),), SETTLES)
    if goal.aspect is not None and stands != goal.aspect:
        if not readings_count(core):
            yield Missing("declared", (Title(begun=True, declared=number_of(goal.aspect)),))
        yield Missing("aspect", (RatioSeen(ratio=number_of(goal.aspect)),), SETTLES)
    elif goal.aspect is None and stands is not None:
        rows = 1_080 if core.rows != 1_080 else 2_160  # noqa: PLR2004 - another signal forgets
        yield Missing("aspect", (Signal(locked=True, columns=rows * 16 // 9, rows=rows),))


def _watching_facts(core: Core, goal: Environment) -> Iterator[Missing]:
    """Yield what is missing of playback, and of who has the room."""
    watched = goal.playback in {PLAYS, PAUSES}
    if (watched and core.playback not in {PLAYS, PAUSES}) or (
        core.title and not core.shapes and not readings_count(core)
    ):
        yield Missing("plays", (Playback(state=PLAYS),))
    if core.playback != goal.playback:
        yield Missing("playback", (Playback(state=goal.playback),))
    if goal.pause_over and not core.pause_over:
        yield Missing("pause_over", (), "pause")
    wish, look = goal.wish, core.override_look
    if goal.override == "rules" and core.override == "person":
        yield Missing("override", (Override(taken=False),))
    elif goal.override == "person" and (
        core.override == "rules" or (wish is not None and wish != look)
    ):
        wanted = None
        if wish is not None and any(part is not None for part in wish[:4]):
            lift = None if wish.lift is None else wish.lift / SCALE
            wanted = OverrideLook(
                picture=wish.picture, lift=lift, preset=wish.preset, panels=wish.panels
            )
        yield Missing("override", (Override(taken=True, look=wanted),))
