"""Invent plausible nights: films and episodes, menus, pauses, flicker, slips of the hand.

The same seed and plan give the same night on every machine.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterator
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from engine import RoomEngine
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
from simulator.nights.night_file import decision_line, event_line, head_line, new_head
from simulator.nights.stand_in_hub import Hub, TimedEvent, by_time, play_script

BEGINS: Final = 1_795_375_800_000
"""2026-11-22T19:30:00Z, in ms UTC: an evening of no particular day."""
MINUTE: Final = 60_000
SHAPES: Final = (17_778, 18_500, 20_000, 22_000, 23_500, 23_900, 23_900, 24_000)
RASTER: Final = Raster(3_840, 2_160)
QUARTER: Final = 15 * MINUTE
AS_AT_FIRST: Final = 0.75
"""The chance that nobody tells of a fact that has a value at first."""
BACK: Final = 0.5
"""The chance that a change leads back from the dark to the picture's own bars."""


class NightPlan(NamedTuple):
    """How much happens in an invented night."""

    titles: int = 3
    minutes: int = 30
    """The length of each title."""
    readings: int = 0
    """Readings a second; 0: only those that change."""
    flicker: float = 0.2
    """The share of readings that differ from the one before."""
    pauses: float = 0.5
    """The chance of a pause in a title."""
    slips: float = 0.2
    """The chance that somebody sends the lens elsewhere in a title."""


USUAL: Final = NightPlan()


class LeftStanding(NamedTuple):
    """How the evening before left the room; None: nobody knows."""

    preset: str | None = None
    panels: str | None = None


NOTHING_LEFT: Final = LeftStanding()


def invent_events(
    room: Room, seed: int, begins: int, plan: NightPlan = USUAL, left: LeftStanding = NOTHING_LEFT
) -> Iterator[TimedEvent]:
    """Yield the events of a night that begins at `begins` (ms UTC), in the order of time.

    The lens and the panels are first reported as the evening before `left` them.

    Nothing here answers orders: play it with `simulator.nights.stand_in_hub.play_script`.
    """
    evening = _evening(room, random.Random(seed), begins, plan, left)
    yield from _with_clock(evening, begins, room.time_zone)


def invented_night(
    room: Room, seed: int, plan: NightPlan, version: str, begins: int = BEGINS
) -> Iterator[bytes]:
    """Yield the lines of an invented night from `begins` (ms UTC): events and decisions."""
    yield head_line(new_head(room.name, begins, room.text, version, None))
    yield from _played_lines(RoomEngine(room), seed, begins, plan)


def following_night(
    engine: RoomEngine, seed: int, begins: int, plan: NightPlan, version: str
) -> Iterator[bytes]:
    """Yield the lines of a night that goes on from where an engine stands.

    The engine is then where the night has ended, so that nights can follow each other.
    """
    room, state = engine.room, encode(engine.state).decode()
    yield head_line(new_head(room.name, begins, room.text, version, state))
    yield from _played_lines(engine, seed, begins, plan)


def _played_lines(engine: RoomEngine, seed: int, begins: int, plan: NightPlan) -> Iterator[bytes]:
    core = engine.state.core
    left = LeftStanding(core.preset if core.lens == "resting" else None, core.arrangement)
    script = invent_events(engine.room, seed, begins, plan, left)
    for played in play_script(engine, Hub(engine.room), script):
        if played.event is not None:
            yield event_line(begins, played.now, played.event)
        for decision in played.decisions:
            yield decision_line(begins, decision, played.now)


def _with_clock(evening: Iterator[TimedEvent], begins: int, zone: str) -> Iterator[TimedEvent]:
    """Add the room's time of day every quarter of an hour."""
    local = ZoneInfo(zone)
    quarter = 0
    for timed in evening:
        while begins + quarter * QUARTER <= timed.now:
            now = begins + quarter * QUARTER
            clock = moment_of(now).astimezone(local)
            yield TimedEvent(now, TimeOfDay(minute=clock.hour * 60 + clock.minute))
            quarter += 1
        yield timed


def _evening(
    room: Room, rng: random.Random, now: int, plan: NightPlan, left: LeftStanding
) -> Iterator[TimedEvent]:
    anywhere = rng.choice(tuple(room.presets))
    yield TimedEvent(now, LensReport(moving=False, preset=left.preset or anywhere))
    yield TimedEvent(now, PanelReport(panels=left.panels or next(iter(room.panels))))
    for fact in room.told.values():
        if fact.default is not None and rng.random() < AS_AT_FIRST:
            continue
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
            now + 700, Signal(locked=True, columns=3_840, rows=2_160, range="standard")
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
    """One film, episode or match."""

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
    """Yield a pause, a slip of somebody's remote, and a mark that something was wrong."""
    first, last = title.begins + 3 * MINUTE, title.ends - 3 * MINUTE
    source = title.source.name
    if rng.random() < plan.pauses:
        paused = rng.randrange(first, last)
        yield TimedEvent(paused, Playback(state="paused", source=source))
        again = paused + rng.randrange(20_000, 150_000)
        yield TimedEvent(again, Playback(state="playing", source=source))
    if len(room.presets) > 1 and rng.random() < plan.slips:
        slip = rng.randrange(first, last)
        preset = rng.choice(tuple(room.presets))
        yield TimedEvent(slip, LensReport(moving=True, preset=preset))
        arrived = slip + room.projector.lens.travel * 3 // 4
        yield TimedEvent(arrived, LensReport(moving=False, preset=preset))
        yield TimedEvent(arrived + 5_000, Mark())


def _readings(rng: random.Random, title: _Title, plan: NightPlan) -> Iterator[TimedEvent]:
    """Yield a title's readings: its shape, cuts to black, and flicker in the dark."""
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
    """Return the reading of a bright frame of a shape (1/10,000)."""
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
    """Return the reading of a dark frame, in which darkness adds to the bars."""
    return BarsSeen(
        top=calm.top + rng.randrange(0, 500, 2),
        bottom=calm.bottom + rng.randrange(0, 500, 2),
        left=calm.left + rng.randrange(0, 300, 2),
        right=calm.right,
        columns=calm.columns,
        rows=calm.rows,
    )
