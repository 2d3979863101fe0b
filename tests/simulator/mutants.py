"""Wrong tables of states, generated and not chosen, to see how much an exploration catches.

Every row of the engine's table is left out, led to each other state of its machine and, where it
has a guard, let go without it. The real engine then runs on the wrong table in rooms so small that
all of them is explored. Which mistakes nothing gives away, and why, stands below by name.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Final, NamedTuple
from unittest.mock import patch

from engine import RoomEngine
from engine import transition_table as states
from engine.decisions import Decision
from engine.events import Event
from engine.room import Room
from engine.state import Core, State
from engine.transition_table import MACHINES, TransitionRow
from rules.room.load import load
from simulator.nights.invention import NightPlan, invent_events
from simulator.nights.stand_in_hub import Hub, play_script
from simulator.proof.convergence import check_convergence
from simulator.proof.reachability import Explorer

_TOP = """
room: {name}
time_zone: Europe/Lisbon
screen: {{width: 3.4 m, aspect: 2.40, border: 180 mm, overfill: 2.5 %}}
projector: {{raster: 4096 x 2160, lens: {{travel: 18 s, reports: {yes}}}}}
orders: {{answered: {yes}}}
sources: {{disc: {disc}}}
"""
_RULES = """
rules:
  policy: first
  rows:
    - name: menus
      case: {{playback: "stopped, unknown"}}
      show: {{picture: plain, lift: 0 %, {menus}}}
      because: Menus carry text.
  otherwise: {{picture: plain, lift: 0 %, {films}}}
"""
_PRESETS = "presets: {broad: {fits: 2.40}, tall: {fits: 1.78}}\n"
_PANELS = "panels: {open: {}, sides: {opening: 1.78, moved: by hand}}\n"
_TRAVELS = _RULES.format(menus="preset: broad", films="preset: tall")
_FITS = _RULES.format(menus="panels: open", films="panels: sides")
_BOTH = _RULES.format(menus="preset: broad, panels: open", films="preset: tall, panels: sides")

SMALL: Final = {
    "reporting": _TOP.format(name="reporting", yes="yes", disc="{}") + _PRESETS + _TRAVELS,
    "silent": _TOP.format(name="silent", yes="no", disc="{}") + _PRESETS + _TRAVELS,
    "fitted": _TOP.format(name="fitted", yes="no", disc="{shape: 1.78}") + _PANELS + _FITS,
}
"""A lens that says where it is and one that does not, and panels that somebody fits by hand."""
LARGER: Final = {
    "both": _TOP.format(name="both", yes="yes", disc="{}") + _PRESETS + _PANELS + _BOTH,
    "both_silent": _TOP.format(name="both_silent", yes="no", disc="{}")
    + _PRESETS
    + _PANELS
    + _BOTH,
}
"""Lens and panels together: some seconds each."""
MOST_STATES: Final = 5_000
"""More than any of these rooms has; whoever gets there does not come to an end."""
BEGINS: Final = 1_795_375_800_000

Table = tuple[TransitionRow, ...]


class Wrong(NamedTuple):
    """A table of states with one mistake."""

    name: str
    machine: str
    table: Table


def wrong_tables() -> Iterator[Wrong]:
    """Give every table that differs from the engine's in one row."""
    table = states.TABLE
    for at, row in enumerate(table):
        name = f"{row.machine}: {row.trigger} from {row.source} to {row.target}"
        before, after = table[:at], table[at + 1 :]
        yield Wrong(f"{name}, left out", row.machine, (*before, *after))
        for state in MACHINES[row.machine]:
            if state != row.target:
                led = row._replace(target=state)
                yield Wrong(f"{name}, led to {state}", row.machine, (*before, led, *after))
        if row.guard is not None:
            free = row._replace(guard=None)
            yield Wrong(f"{name}, unguarded", row.machine, (*before, free, *after))


@contextmanager
def running_on(table: Table) -> Iterator[None]:
    """Let the engine run on another table of states for a while."""
    with patch.multiple(
        states,
        TABLE=table,
        _LEGAL=frozenset((row.machine, row.trigger, row.source) for row in table),
    ):
        events = {name: states.build_machine(name).events for name in MACHINES}
        with patch.object(states, "_EVENTS", events):
            yield


class Known(NamedTuple):
    """All that can be seen of a room from outside: every state, how they follow, a night."""

    seen: dict[tuple[object, ...], int]
    cores: list[Core]
    sources: list[set[int]]
    steps: int
    night: list[tuple[Event | None, tuple[Decision, ...], State]]
    """What was heard, what it led to, and all that was known then."""


@cache
def small_room(name: str) -> Room:
    """Load one of the rooms above."""
    return load({**SMALL, **LARGER}[name], f"{name}.yaml")


def known_of(room: Room, explorer: Explorer) -> Known:
    """Take down what was explored, and play a made night to see every decision."""
    script = invent_events(room, 1, BEGINS, NightPlan(titles=6, minutes=40))
    engine = RoomEngine(room)
    night = [
        (lived.event, lived.decisions, engine.state)
        for lived in play_script(engine, Hub(room), script)
    ]
    predecessors = [{*explorer.ways_into[key]} for key in explorer.index_of]
    return Known(explorer.index_of, explorer.cores, predecessors, explorer.steps, night)


@cache
def clean(name: str) -> Known:
    """Explore one of the rooms on the engine's own table."""
    explorer = Explorer(small_room(name), MOST_STATES)
    found = explorer.run()
    assert found.complete, name
    assert not found.violations, found.violations
    assert not check_convergence(explorer.room, explorer.classes).cycles
    return known_of(explorer.room, explorer)


class Verdict(NamedTuple):
    """What became of a mistake."""

    caught: str
    """What gave it away; empty: nothing did."""
    alike: bool = False
    """Nothing did, and nothing can: all that can be seen is as it was."""


def judged(wrong: Wrong, names: tuple[str, ...] = tuple(SMALL)) -> Verdict:
    """Explore rooms on a wrong table until one of them gives it away, the likeliest first."""
    fitted_first = wrong.machine == "panels"
    alike = True
    for name in sorted(names, key=lambda name: (name == "fitted") != fitted_first):
        usual = clean(name)
        with running_on(wrong.table):
            caught, known = _explored(small_room(name))
        if caught:
            return Verdict(f"{name}: {caught}")
        alike = alike and known == usual
    return Verdict("", alike)


def _explored(room: Room) -> tuple[str, Known | None]:
    """Explore a room to the first thing that is wrong; gives it, else what is known."""
    try:
        explorer = Explorer(room, MOST_STATES)
        found = explorer.run(stop_at_first=True)
        if found.violations:
            return f"{found.violations[0].promise}: {found.violations[0].words}", None
        if not found.complete:
            return "more and more states", None
        if check_convergence(room, explorer.classes).cycles:
            return "rules go round in a circle", None
        return "", known_of(room, explorer)
    except Exception as raised:  # noqa: BLE001 - whatever a wrong table leads to gives it away
        return f"raises {raised!r}", None


_NO_MORE = "it leads to where the machine stands, and nobody asks whether it was let through"
SAME_TABLES: Final = {
    "lens: recall from unknown to travelling, unguarded": (
        "before the table is asked, the lens of unknown place is a hold, by the same test"
    ),
    "lens: sets_off from travelling to travelling, left out": _NO_MORE,
    "lens: arrives from resting to resting, left out": _NO_MORE,
    "lens: loses_track from unknown to unknown, left out": _NO_MORE,
    "panels: start_afresh from still to still, left out": _NO_MORE,
    "override: take from person to person, left out": _NO_MORE,
}
"""Wrong tables that nothing catches, since nothing comes of them."""
