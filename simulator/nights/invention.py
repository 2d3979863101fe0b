"""Plausible nights out of a seed: films and episodes, menus, pauses, flicker, slips of the hand.

The same seed and plan give the same night, on every machine.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterator
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from engine.aspect import number_of
from engine.events import (
    BarsSeen,
    BlackSeen,
    LensReport,
    Mark,
    PanelReport,
    Playback,
    ProjectorReport,
    Signal,
    SourceChosen,
    TimeOfDay,
    Title,
    ToldFact,
    moment_of,
)
from engine.formats import Raster, bars_for
from engine.room import Room, Source
from engine.snapshot import encode
from engine.step import RoomEngine
from simulator.nights.night_file import decision_line, event_line, head_line, new_head
from simulator.nights.stand_in_hub import Hub, TimedEvent, by_time, play_script

BEGINS: Final = 1_795_375_800_000
"""2026-11-22T19:30:00Z: an evening of no particular day."""
MINUTE: Final = 60_000
SHAPES: Final = (17_778, 18_500, 20_000, 22_000, 23_500, 23_900, 23_900, 24_000)
RASTER: Final = Raster(3_840, 2_160)
EVERY_QUARTER: Final = 15
BACK: Final = 0.5
"""How often a change goes back from the dark to the picture's own bars."""


class NightPlan(NamedTuple):
    """How full a made night is."""

    titles: int = 3
    minutes: int = 30
    """The length of a title."""
    readings: int = 0
    """Readings a second; 0 gives only those that change."""
    flicker: float = 0.2
    """The share of readings that differ from the one before."""
    pauses: float = 0.5
    slips: float = 0.2
    """The chance of a pause, and of somebody's own lens travel, in a title."""


USUAL: Final = NightPlan()


def invent_events(
    room: Room, seed: int, begins: int, plan: NightPlan = USUAL
) -> Iterator[TimedEvent]:
    """Make what happens in a night that begins at `begins` (ms UTC), in the order of time.

    Orders are not answered here: play it with `simulator.hub.live_through`.
    """
    yield from _with_clock(_evening(room, random.Random(seed), begins, plan), begins, room.zone)


def invented_night(room: Room, seed: int, plan: NightPlan, version: str) -> Iterator[bytes]:
    """Write a made night with an obedient hub, its decisions among its events."""
    yield head_line(new_head(room.name, BEGINS, room.text, version, None))
    yield from _lived(RoomEngine(room), seed, BEGINS, plan)


def following_night(
    engine: RoomEngine, seed: int, begins: int, plan: NightPlan, version: str
) -> Iterator[bytes]:
    """Write a made night that goes on from where an engine stands, and takes it along."""
    room, state = engine.room, encode(engine.state).decode()
    yield head_line(new_head(room.name, begins, room.text, version, state))
    yield from _lived(engine, seed, begins, plan)


def _lived(engine: RoomEngine, seed: int, begins: int, plan: NightPlan) -> Iterator[bytes]:
    script = invent_events(engine.room, seed, begins, plan)
    for lived in play_script(engine, Hub(engine.room), script):
        if lived.event is not None:
            yield event_line(begins, lived.now, lived.event)
        for decision in lived.decisions:
            yield decision_line(begins, decision, lived.now)


def _with_clock(evening: Iterator[TimedEvent], begins: int, zone: str) -> Iterator[TimedEvent]:
    """Tell the room's time of day every quarter of an hour."""
    local = ZoneInfo(zone)
    quarter = 0
    for happened in evening:
        while begins + quarter * EVERY_QUARTER * MINUTE <= happened.now:
            now = begins + quarter * EVERY_QUARTER * MINUTE
            clock = moment_of(now).astimezone(local)
            yield TimedEvent(now, TimeOfDay(minute=clock.hour * 60 + clock.minute))
            quarter += 1
        yield happened


def _evening(room: Room, rng: random.Random, now: int, plan: NightPlan) -> Iterator[TimedEvent]:
    presets = tuple(room.presets)
    yield TimedEvent(now, LensReport(moving=False, preset=rng.choice(presets)))
    yield TimedEvent(now, PanelReport(panels=next(iter(room.panels))))
    for fact in room.told.values():
        value = (
            rng.choice(fact.values) if fact.values else rng.randint(fact.least or 0, fact.most or 0)
        )
        yield TimedEvent(now, ToldFact(fact=fact.name, value=value))
    yield TimedEvent(now, ProjectorReport(state="warming"))
    now += rng.randrange(25_000, 45_000)
    yield TimedEvent(now, ProjectorReport(state="lit"))
    for number in range(plan.titles):
        source = rng.choice(tuple(room.sources.values()))
        now += rng.randrange(5_000, 60_000)
        yield TimedEvent(now, SourceChosen(source=source.name))
        yield TimedEvent(
            now + 700, Signal(locked=True, columns=3_840, rows=2_160, range="ordinary")
        )
        yield TimedEvent(now + 900, bars_seen(17_778))
        now += rng.randrange(20_000, 90_000)
        shape = source.shape or rng.choice(SHAPES)
        ends = now + plan.minutes * MINUTE
        title = _Title(f"title {number + 1}", source, shape, now, ends)
        yield from _play(room, rng, title, plan)
        now = ends
    now += MINUTE
    yield TimedEvent(now, ProjectorReport(state="cooling"))
    yield TimedEvent(now + 90_000, ProjectorReport(state="off"))


class _Title(NamedTuple):
    """One film, episode or match: when, from where, in which shape."""

    name: str
    source: Source
    shape: int
    begins: int
    ends: int


def _play(room: Room, rng: random.Random, title: _Title, plan: NightPlan) -> Iterator[TimedEvent]:
    source = title.source
    yield TimedEvent(title.begins, Playback(state="playing", source=source.name))
    if source.says_titles or source.declares:
        declared = number_of(title.shape) if source.declares else None
        begun = Title(begun=True, name=title.name, declared=declared)
        yield TimedEvent(title.begins + 200, begun)
    incidents = sorted(_incidents(room, rng, title, plan), key=by_time)
    yield from heapq.merge(incidents, _readings(rng, title, plan), key=by_time)
    yield TimedEvent(title.ends, Playback(state="stopped", source=source.name))


def _incidents(
    room: Room, rng: random.Random, title: _Title, plan: NightPlan
) -> Iterator[TimedEvent]:
    """Give a pause, a slip of somebody's remote, a tap of "that was wrong"."""
    first, last = title.begins + 3 * MINUTE, title.ends - 3 * MINUTE
    source = title.source.name
    if rng.random() < plan.pauses:
        paused = rng.randrange(first, last)
        yield TimedEvent(paused, Playback(state="paused", source=source))
        again = paused + rng.randrange(20_000, 150_000)
        yield TimedEvent(again, Playback(state="playing", source=source))
    if rng.random() < plan.slips:
        slip = rng.randrange(first, last)
        preset = rng.choice(tuple(room.presets))
        yield TimedEvent(slip, LensReport(moving=True, preset=preset))
        arrived = slip + room.projector.lens.travel * 3 // 4
        yield TimedEvent(arrived, LensReport(moving=False, preset=preset))
        yield TimedEvent(arrived + 5_000, Mark())


def _readings(rng: random.Random, title: _Title, plan: NightPlan) -> Iterator[TimedEvent]:
    """Give a title's readings: the shape, cuts to black, and flicker in the dark."""
    calm, begins = bars_seen(title.shape), title.begins + 1_000
    if not plan.readings:
        yield TimedEvent(begins, calm)
        seconds = range(begins // 1_000 + 2, title.ends // 1_000 - 2)
        for cut in sorted(rng.sample(seconds, rng.randrange(4))):
            yield TimedEvent(cut * 1_000, BlackSeen())
            yield TimedEvent(cut * 1_000 + 800, calm)
        return
    current = calm
    for number in range((title.ends - begins) * plan.readings // 1_000):
        if rng.random() < plan.flicker:
            current = calm if current is not calm and rng.random() < BACK else _dark(rng, calm)
        yield TimedEvent(begins + number * 1_000 // plan.readings, current)


def bars_seen(shape: int) -> BarsSeen:
    """Read a shape (1/10,000) off a calm, bright frame."""
    bars = bars_for(shape, RASTER)
    return BarsSeen(
        top=bars.top,
        bottom=bars.bottom,
        left=bars.left,
        right=bars.right,
        columns=RASTER.columns,
        rows=RASTER.rows,
    )


def _dark(rng: random.Random, calm: BarsSeen) -> BarsSeen:
    """Read a dark frame: no bar is smaller than it is, but darkness adds to some of them."""
    return BarsSeen(
        top=calm.top + rng.randrange(0, 500, 2),
        bottom=calm.bottom + rng.randrange(0, 500, 2),
        left=calm.left + rng.randrange(0, 300, 2),
        right=calm.right,
        columns=calm.columns,
        rows=calm.rows,
    )
