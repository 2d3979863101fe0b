"""A night as it happened: what stood when, what was read, and the state behind every decision."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from typing import Final, NamedTuple

from engine import RoomEngine
from engine.aspect import ratio_of, ratio_text, same_shape
from engine.confirmed import known_panels
from engine.decisions import Decision
from engine.events import BarsSeen, BlackSeen, Event, FormatCode, RatioSeen, Resumed
from engine.facts import aspect_of, facts_of, facts_of_title
from engine.formats import Bars, FormatError, Raster, aspect_of_bars, aspect_of_code
from engine.room import Room, SlowPart
from engine.state import Core, State
from simulator.nights.night_file import BadLine, NightEntry, NightPart, Repeats
from simulator.nights.replay import ReplayStep, See

LANES: Final = (
    "source",
    "playback",
    "aspect",
    "picture",
    "preset",
    "panels",
    "override",
    "prompt",
    "region",
    "projector",
    "service",
    "row",
    "title",
    "declared",
    "coded",
)
"""The lanes of a night: each thing whose course is kept. Causes stand before what follows."""

QUIET: Final = 300_000
"""How long (ms) no reading comes before that is kept as a silence."""
REPEATED: Final = 5
"""How often within `REPEATED_IN` a detector repeats itself if it never falls silent by itself."""
REPEATED_IN: Final = 600_000
"""The time (ms) in which `REPEATED` is counted."""

Play = Callable[[Iterable[NightPart], See], Iterator[ReplayStep | BadLine]]
"""Plays a night's lines, and shows every step of the engine to whoever watches."""


class LaneSpan(NamedTuple):
    """Something that stood from one moment to another, ms UTC."""

    start: int
    end: int
    value: str
    """What stood; "" is nothing."""
    known: bool = True
    """False: it was ordered, under way or asked for, and not yet confirmed."""
    failed: bool = False


class EngineMoment(NamedTuple):
    """One step of the engine in which something was decided, and the state that it led to."""

    at: int
    decisions: tuple[Decision, ...]
    before: State
    state: State


class ShapeRead(NamedTuple):
    """A reading that differs from the one before it."""

    at: int
    ratio: int | None
    """In 1/10,000; None: nothing but black."""
    by: str
    """The kind of reading: bars, black, ratio or format."""
    even: bool = True
    """Whether both bars of a pair were equal: no text stood in one of them."""


class Silence(NamedTuple):
    """A while in which no reading came, ms UTC."""

    start: int
    """The last reading before it, or the night's beginning."""
    end: int
    steady: bool
    """Whether the same had been read again and again before, as hubs do that repeat themselves."""


class Wish(NamedTuple):
    """A preset or panels that were wanted from one moment to another, ms UTC."""

    start: int
    end: int
    part: SlowPart
    value: str
    row: str
    """The row that wants it, or the person."""
    shape: str
    """The shape of the picture by which the row was chosen."""


class Gap(NamedTuple):
    """A while in which nobody heard anything, ms UTC, up to the event that ends it."""

    start: int
    end: int
    event: Resumed


class NightRecord(NamedTuple):
    """A whole night, or what was played of it."""

    room: Room
    begins: int
    ends: int
    first: State
    last: State
    lanes: dict[str, tuple[LaneSpan, ...]]
    moments: tuple[EngineMoment, ...]
    steps: tuple[ReplayStep, ...]
    readings: tuple[ShapeRead, ...]
    silences: tuple[Silence, ...]
    wishes: tuple[Wish, ...]
    gaps: tuple[Gap, ...]
    bad_lines: int


def record_night(
    engine: RoomEngine,
    begins: int,
    parts: Iterable[NightPart],
    play: Play,
    until: int | None = None,
) -> NightRecord:
    """Play a night on an engine that stands as it began, and keep what happened.

    `until` is the moment up to and including which `play` plays it, ms UTC.
    """
    watcher = _Watcher(engine, begins)
    first, steps, bad = engine.state, list[ReplayStep](), 0
    for happening in play(watcher.listen(parts), watcher.see):
        if isinstance(happening, BadLine):
            bad += 1
        else:
            steps.append(happening)
    ends = max([begins, watcher.latest, *(one.entry.now for one in steps)])
    ends = ends if until is None else max(begins, min(ends, until))
    return NightRecord(
        engine.room,
        begins,
        ends,
        first,
        engine.state,
        watcher.close(ends),
        tuple(watcher.moments),
        tuple(steps),
        tuple(watcher.readings),
        tuple(one for one in watcher.silences if one.start <= ends),
        tuple(sorted(watcher.wishes)),
        tuple(watcher.gaps),
        bad,
    )


class _Watcher:
    """Watches an engine's steps, and the readings that it is given."""

    def __init__(self, engine: RoomEngine, begins: int) -> None:
        self._engine = engine
        self._state = engine.state
        unborn = RoomEngine(engine.room).state
        numbered = unborn.tally._replace(serial=engine.state.tally.serial)
        self._known_before = engine.state != unborn._replace(tally=numbered)
        """Whether the room has lived before; if not, nothing is gone on with at its first start."""
        self._open = {
            lane: (begins, value) for lane, value in standing_values(engine.room, engine.state)
        }
        self._spans: dict[str, list[LaneSpan]] = {lane: [] for lane in LANES}
        self._reading: Event | None = None
        self._read_at = begins
        self._repeated = deque[int | Repeats](maxlen=REPEATED)
        """The last times, ms UTC, at which a reading came again."""
        self.latest = begins
        self.moments: list[EngineMoment] = []
        self.readings: list[ShapeRead] = []
        self.silences: list[Silence] = []
        self.wishes: list[Wish] = []
        self.gaps: list[Gap] = []
        self._wanted: dict[SlowPart, tuple[int, str, str, str]] = {}

    def listen(self, parts: Iterable[NightPart]) -> Iterator[NightPart]:
        """Hand the parts on, and keep the readings among them that say something new."""
        for part in parts:
            if isinstance(part, NightEntry):
                event, now = part.event, part.now
                if isinstance(event, _READ):
                    self._read(now, event)
                elif isinstance(event, Resumed) and self._known_before:
                    self.gaps.append(Gap(self.latest, now, event))
                self.latest, self._known_before = now, True
            elif isinstance(part, Repeats):
                self._read_again(part)
            yield part

    def _read_again(self, again: Repeats) -> None:
        """Take in that the last reading was repeated."""
        if again.last - self._read_at < QUIET:
            self._repeated.append(again)
        else:
            for now in map(again.time, range(len(again.seconds))):
                self._end_silence(now)
                self._read_at = now
                self._repeated.append(now)
        self.latest = self._read_at = again.last

    def _end_silence(self, now: int) -> None:
        """Keep the silence that ends now, if it was long."""
        silent = now - self._read_at
        if silent >= QUIET:
            often = [*_times_of(self._repeated)][-REPEATED:]
            took = self._read_at - often[0] if len(often) == REPEATED else REPEATED_IN + 1
            steady = took <= min(silent, REPEATED_IN)
            self.silences.append(Silence(self._read_at, now, steady))

    def _read(self, now: int, event: BarsSeen | BlackSeen | RatioSeen | FormatCode) -> None:
        """Take in a reading that is not the very same as the one before."""
        self._end_silence(now)
        ratio = shape_read(event)
        last = self.readings[-1].ratio if self.readings else NO_SHAPE
        alike = ratio is not None and last is not None and same_shape(ratio, last)
        if alike or event == self._reading:
            self._repeated.append(now)
        self._reading, self._read_at = event, now
        if ratio not in (last, NO_SHAPE):
            self.readings.append(ShapeRead(now, ratio, event.kind, _even(event)))

    def see(self, now: int, decisions: tuple[Decision, ...]) -> None:
        """Take in the state after a step of the engine."""
        before, state = self._state, self._engine.state
        if decisions:
            self.moments.append(EngineMoment(now, decisions, before, state))
        same = state.core is before.core and state.settling.aspect == before.settling.aspect
        self._state = state
        if same:
            return
        for lane, value in standing_values(self._engine.room, state):
            _, old = self._open[lane]
            if value != old:
                self._end(lane, now)
                self._open[lane] = now, value
        self._wish(now)

    def _wish(self, now: int) -> None:
        room, state = self._engine.room, self._state
        core = state.core
        wanted: dict[SlowPart, str | None]
        wanted = {"preset": core.wanted.preset, "panels": core.wanted.panels}
        for part, value in wanted.items():
            before = self._wanted.get(part)
            if before is not None and before[1] != value:
                start, was, row, shape = self._wanted.pop(part)
                self.wishes.append(Wish(start, now, part, was, row, shape))
            if value is not None and part not in self._wanted:
                self._wanted[part] = now, value, row_of(room, core), _shape(room, state)

    def _end(self, lane: str, now: int) -> None:
        since, (value, known, failed) = self._open[lane]
        if now > since:
            self._spans[lane].append(LaneSpan(since, now, value, known, failed))

    def close(self, ends: int) -> dict[str, tuple[LaneSpan, ...]]:
        """End what still stands, and give all spans."""
        self._end_silence(ends)
        for lane in LANES:
            self._end(lane, ends)
        for part, (start, value, row, shape) in self._wanted.items():
            self.wishes.append(Wish(start, ends, part, value, row, shape))
        return {lane: tuple(spans) for lane, spans in self._spans.items()}


def _times_of(repeated: Iterable[int | Repeats]) -> Iterator[int]:
    for one in repeated:
        if isinstance(one, Repeats):
            yield from map(one.time, range(len(one.seconds)))
        else:
            yield one


def _shape(room: Room, state: State) -> str:
    """Say which shape the rows for preset and panels see."""
    core = state.core
    facts = facts_of(room, core, state.settling)
    own = facts_of_title(room, core, state.settling, facts)
    seen = (facts if own is None else own)["aspect"]
    return "an unknown shape" if seen is None else ratio_text(int(seen))


def row_of(room: Room, core: Core) -> str:
    """Name the row that wants preset and panels, or say that a person does."""
    if core.override == "person":
        return "a person"
    return room.rules.note(core.title_row).label


_READ: Final = (BarsSeen, BlackSeen, RatioSeen, FormatCode)


NO_SHAPE: Final = -1
"""Stands for a reading that names no shape."""


def shape_read(event: BarsSeen | BlackSeen | RatioSeen | FormatCode) -> int | None:
    """Say which ratio (1/10,000) a reading is, before it is judged.

    None: black, or nothing left, or a code that is reserved; `NO_SHAPE`: a code without a shape.
    """
    if isinstance(event, RatioSeen):
        return ratio_of(event.ratio)
    if isinstance(event, BlackSeen):
        return None
    try:
        if isinstance(event, BarsSeen):
            bars = Bars(event.top, event.bottom, event.left, event.right)
            return aspect_of_bars(bars, Raster(event.columns, event.rows))
        named = aspect_of_code(event.code, event.frame)
    except FormatError:
        return None
    return NO_SHAPE if named is None else named


def _even(event: Event) -> bool:
    """Tell whether both bars of each pair are about equal."""
    if not isinstance(event, BarsSeen):
        return True
    most = event.rows // 50
    return abs(event.top - event.bottom) <= most and abs(event.left - event.right) <= most


_Value = tuple[str, bool, bool]


def standing_values(room: Room, state: State) -> Iterator[tuple[str, _Value]]:
    """Give for each lane what stands, whether that is confirmed, and whether it failed."""
    core = state.core
    source = None if core.source is None else room.sources[core.source]
    aspect = aspect_of(source, core, state.settling)
    yield "source", (core.source or "", True, False)
    yield "playback", ("" if core.playback == "unknown" else core.playback, True, False)
    yield "aspect", ("" if aspect is None else ratio_text(aspect), True, False)
    yield "picture", _picture(core)
    going = core.lens == "travelling"
    yield "preset", (core.preset or ("" if not going else "elsewhere"), not going, False)
    yield "panels", (known_panels(core).stands or "not known", core.arrangement is not None, False)
    person = core.override == "person"
    yield "override", (f"until {core.override_until}" if person else "", True, False)
    yield "prompt", _prompt(core)
    region = None if core.shown is None else core.shown.region
    yield "projector", ("" if core.projector == "unknown" else core.projector, True, False)
    yield "service", ("under way" if core.service else "", True, False)
    yield "row", ("" if core.row is None else room.rules.note(core.row).label, True, False)
    yield "title", (core.title_name or "a title" if core.title else "", True, False)
    yield "declared", (_ratio_said(core.declared), True, False)
    yield "coded", (_ratio_said(core.coded), True, False)
    yield "region", (str(region.width * region.height) if region is not None else "", True, False)


def _ratio_said(ratio: int | None) -> str:
    return "" if ratio is None else ratio_text(ratio)


def _picture(core: Core) -> _Value:
    if core.shown is None:
        return "", True, core.failed
    if core.shown.region.empty:
        return core.shown.picture, core.picture is None, core.failed
    words = f"{core.shown.picture} {ratio_text(core.shown.aspect)}"
    return words, core.picture is None, core.failed


def _prompt(core: Core) -> _Value:
    if core.asked is None:
        return "", True, False
    if core.asked.at_screen:
        return f"{core.asked.panels}: at the screen", True, False
    return f"{core.asked.panels}: waiting", False, False
