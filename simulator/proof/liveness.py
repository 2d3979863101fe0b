"""Bounded liveness: from a title's beginning, its look stands within the time that a promise gives.

Each kind of beginning (`title_starts`) is played on the real engine with the room's own durations,
from every resting place of lens and panels. The hub obeys at once, recalls are left for the night,
and whoever is asked for panels does it within two seconds, says no, or is away. After that time the
look stands, or the promise excuses it, or it is broken on an evening that can be replayed.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.decisions import Prompt
from engine.events import Event, LensReport, PanelReport
from engine.facts import facts_of, standing_of
from engine.holds import HOLDS
from engine.room import Room, TimelyPromise
from engine.state import Core, State
from engine.table import choose
from rules.table.boxes import BudgetSpent
from rules.text.quantity import show_duration
from simulator.nights.invention import BEGINS
from simulator.nights.stand_in_hub import Hub, Person, TimedEvent, play_script
from simulator.proof.stopping import BrokenOff, Stop, go_on
from simulator.proof.title_starts import TitleStart, title_starts

LONGEST_WAIT: Final = 3_600_000
"""How long a late look is waited for, to say when it does stand, ms."""
PEOPLE: Final = (
    Person(ready=1_000, answer=2_000),
    Person(answer=1_000, says_no=True),
    Person(answer=None),
)


class _Evening(NamedTuple):
    """A title's beginning, where lens and panels stand then, and who is at home."""

    start: TitleStart
    preset: str
    panels: str | None
    refused: bool
    """Whether somebody has refused to fit panels earlier in the session."""
    person: Person


class LateLook(NamedTuple):
    """A look that does not stand in time."""

    promise: TimelyPromise
    row: int | None
    """The row whose look it is; -1: the default look."""
    missing: str
    """What does not stand, and what holds it."""
    stands_after: int | None
    """After how long it does stand, ms; None: not within an hour."""
    events: tuple[TimedEvent, ...]
    """The evening up to its end; empty if it begins in the middle of a session."""
    ends: int
    takes: tuple[str, ...]
    """What of the room file takes most of the time."""
    at_last: str | None
    """What is missing after an hour, and what holds it; None: nothing."""


class Liveness(NamedTuple):
    """What was found of a room's promises of how soon a look stands."""

    runs: int
    late: tuple[LateLook, ...]
    """The first for each promise that is broken."""
    complete: bool
    """Whether every beginning was played."""
    too_many: bool = False
    """Whether there are too many beginnings to list them."""


def check_liveness(room: Room, stop: Stop) -> Liveness:
    """Play every beginning of a title until each promise is broken or all are played."""
    open_promises = {promise.label: promise for promise in room.timely}
    late: list[LateLook] = []
    runs = 0
    try:
        for evening in _evenings(room, stop) if open_promises else ():
            go_on(stop)
            for person in PEOPLE:
                runs += 1
                lived = evening._replace(person=person)
                found, somebody_asked = _late(room, lived, tuple(open_promises.values()))
                late += found
                for one in found:
                    del open_promises[one.promise.label]
                if not somebody_asked:
                    break  # who is at home makes no difference
            if not open_promises:
                break
    except BudgetSpent:
        return Liveness(runs, tuple(late), complete=False, too_many=True)
    except BrokenOff:
        return Liveness(runs, tuple(late), complete=False)
    return Liveness(runs, tuple(late), complete=True)


def _evenings(room: Room, stop: Stop) -> Iterator[_Evening]:
    """List the evenings; those that begin with a refusal come last, for no night shows them.

    Each begins with the first of `PEOPLE` at home.
    """
    starts = tuple(title_starts(room, stop))
    covers = len(room.panels) > 1
    places = tuple(product(room.presets, (None, *room.panels) if covers else (None,)))
    for refused in (False, True) if covers else (False,):
        for start, (preset, panels) in product(starts, places):
            yield _Evening(start, preset, panels, refused, PEOPLE[0])


def _late(
    room: Room, evening: _Evening, promises: tuple[TimelyPromise, ...]
) -> tuple[list[LateLook], bool]:
    """Return the promises that an evening breaks, and whether anybody was asked for panels."""
    found, somebody_asked = [], False
    for promise in promises:
        ends = BEGINS + promise.within
        lived = _played(room, evening, ends)
        somebody_asked = somebody_asked or lived.asked
        core = lived.state.core
        missing = what_is_missing(core)
        if missing is None or _is_excused(room, promise, lived.state):
            continue
        night = () if evening.refused else lived.events
        after, at_last = _stands_after(room, evening)
        takes = () if after is None else what_takes_time(room, core)
        found.append(LateLook(promise, core.row, missing, after, night, ends, takes, at_last))
    return found, somebody_asked


def _is_excused(room: Room, promise: TimelyPromise, state: State) -> bool:
    facts = facts_of(room, state.core, state.settling) | standing_of(room, state.core)
    return choose(promise.unless, facts).output is True


def _begun(room: Room, evening: _Evening) -> tuple[RoomEngine, list[TimedEvent]]:
    """Return an engine at the moment when the title begins, and what it has heard until then."""
    engine = RoomEngine(room)
    told: list[Event] = [LensReport(moving=False, preset=evening.preset)]
    if evening.panels is not None:
        told.append(PanelReport(panels=evening.panels))
    heard = [TimedEvent(BEGINS, event) for event in (*told, *evening.start.before)]
    for _, event in heard:
        engine.receive(event, BEGINS)
    if evening.refused:
        core = engine.state.core.copy()
        core.panels = "refused"
        engine = RoomEngine(room, engine.state._replace(core=core))
    return engine, heard


class _Lived(NamedTuple):
    """An evening that was played to its end."""

    events: tuple[TimedEvent, ...]
    state: State
    asked: bool
    """Whether anybody was asked for panels."""


def _played(room: Room, evening: _Evening, ends: int) -> _Lived:
    """Play an evening to its end (ms UTC)."""
    engine, heard = _begun(room, evening)
    asked = False
    script = [TimedEvent(BEGINS, event) for event in evening.start.begins]
    for played in play_script(engine, Hub(room, evening.person), script, ends):
        if played.event is not None and played.refused is None:
            heard.append(TimedEvent(played.now, played.event))
        asked = asked or any(isinstance(one, Prompt) for one in played.decisions)
    return _Lived(tuple(heard), engine.state, asked)


def _stands_after(room: Room, evening: _Evening) -> tuple[int | None, str | None]:
    """Return after how long the look stands, ms, and what is missing if not within an hour."""
    engine, _ = _begun(room, evening)
    script = [TimedEvent(BEGINS, event) for event in evening.start.begins]
    stands: int | None = None
    for played in play_script(engine, Hub(room, evening.person), script, BEGINS + LONGEST_WAIT):
        if what_is_missing(engine.state.core) is not None:
            stands = None
        elif stands is None:
            stands = played.now - BEGINS
    return stands, what_is_missing(engine.state.core)


def what_takes_time(room: Room, core: Core) -> tuple[str, ...]:
    """Name the durations of the room file that a look waits for which does not stand yet."""
    want, pace = core.wanted, room.pace
    lens = want.preset is not None and (core.lens != "resting" or core.preset != want.preset)
    panels = want.panels is not None and core.arrangement != want.panels
    lingers = core.declared is None  # What a title declares counts at once.
    found = {
        "pace.linger": pace.linger if lens and lingers else 0,
        "pace.prompts.wait": pace.linger_people if panels and lingers else 0,
        "projector.lens.travel": room.projector.lens.travel if lens else 0,
    }
    return tuple(f"{key} is {show_duration(took)}" for key, took in found.items() if took)


def what_is_missing(core: Core) -> str | None:
    """Say which part of the wanted look does not stand, and what holds it; None: it stands."""
    want = core.wanted
    codes = (code for code in dict.fromkeys(core.holds) if code not in {"nearest", "flash"})
    held = " ".join(HOLDS[code] for code in codes)
    because = f" ({held.rstrip('.')})" if held else ""
    if want.preset is not None and (core.lens != "resting" or core.preset != want.preset):
        stands = f"stands at {core.preset or 'no preset'}"
        where = "still travels" if core.lens == "travelling" else stands
        return f"the lens {where}, and {want.preset} is wanted{because}"
    if want.panels is not None and core.arrangement != want.panels:
        stand = core.arrangement or "unknown"
        return f"panels are {stand}, and {want.panels} is wanted{because}"
    if core.shown is None or core.failed or core.picture is not None or "flash" in core.holds:
        return f"the picture does not stand yet{because}"
    return None
