"""What no exploration can say of a room, as far as the room has anything of the kind."""

from __future__ import annotations

from collections.abc import Iterator

from engine.facts import CUE
from engine.readings import heeds_readings
from engine.room import MENUS_PLAIN, Room, RoomBelow, Show
from rules.text.findings import listed
from simulator.proof.fact_classes import lookups_by_fact


def not_proven(room: Room) -> tuple[str, ...]:
    """List what remains open of a room; what it has nothing to do with is left out."""
    return (*_of_titles(room), *_of_others(room))


def _of_titles(room: Room) -> Iterator[str]:
    """Yield what remains open of readings and of time."""
    tested = lookups_by_fact(room)
    if any(heeds_readings(room, source) for source in room.sources):
        yield "how readings settle into a shape: it is taken as given that they do"
    yield (
        f"exact durations{', but for promises with `within`' if room.timely else ''}: a timer may "
        "run out at any time, so what is proven holds for every pace that the file may ask for"
    )
    if _sends_lens(room) or _asks(room) or "first_minutes" in tested:
        yield (
            "how long a title has run once its first minutes begin anew: they do when panels have "
            "been fitted, the light comes on or its source is named"
        )
    if "time" in tested:
        yield "the clock and the zone: any minute of the day may be told at any time"


def _of_others(room: Room) -> Iterator[str]:
    """Yield what remains open of the hub, the hardware, and of what promises say of them."""
    tested = lookups_by_fact(room)
    cues = any(name.startswith(CUE) for name in tested)
    yield "the hub, the broker and the journal: any of their words may be late, twice or missing"
    yield (
        "whether the hardware does what it reports, or shows what was ordered: a promise speaks of "
        f"the picture{' and the cues' if cues else ''} as {'they were' if cues else 'it was'} last "
        "ordered"
    )
    if {"picture", "lift"} & {*tested} or _may_distort_menus(room):
        yield (
            "the third of a second for which a picture stands while large changes follow each other"
        )
    if room.timely:
        others = ["the hub is slow"]
        if any(heeds_readings(room, source) for source in room.sources):
            others.append(
                "a title of another shape has just been on, so that readings settle later"
            )
        if _sends_lens(room):
            others.append("no recalls are left for the night")
            others.append("somebody has put the lens back before")
        yield f"how soon a look stands if {listed(others, 'or')}"


def _sends_lens(room: Room) -> bool:
    """Tell whether rules ever send the lens to a preset."""
    return any(show.preset is not None for show in _shown(room))


def _asks(room: Room) -> bool:
    """Tell whether rules ever have people fit panels."""
    return any(show.panels is not None for show in _shown(room))


def _shown(room: Room) -> Iterator[Show]:
    yield from (row.output for row in room.rules.table.rows)
    yield room.rules.show(-1)


def _may_distort_menus(room: Room) -> bool:
    """Tell whether menus are promised to be plain in a room that could show them otherwise."""
    distorts = any(not isinstance(one, RoomBelow) for one in room.pictures.values())
    return MENUS_PLAIN not in room.waived and distorts
