"""What the ledger and the book come to: how each preset stands, and when it will show.

Counts say how often; measurements say how far; together they say when. With too few measurements
the answer is that there are too few, and what to measure next.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite
from typing import Final, NamedTuple

from engine.room import Room
from simulator.alignments import (
    WARM,
    Entry,
    Measured,
    Repeated,
    in_force,
    limit,
    millimetres_a_pixel,
    moment,
    offsets,
)
from simulator.creep import (
    ENOUGH,
    Belief,
    Forecast,
    Passing,
    Seen,
    Session,
    believe,
    due,
)
from simulator.ledger import Ledger, count_at, rate
from simulator.repeatability import Pose, bidirectional, pose, unidirectional

AXES: Final = ("across", "down", "scale")
AXIS_WORDS: Final = {
    "across": "sideways",
    "down": "up and down",
    "scale": "in size",
}
NEXT_AT_LEAST: Final = 30
"""Measuring again after fewer travels than this says little that is new."""


class Axis(NamedTuple):
    """One way in which a preset may creep. Lengths in millimetres on the screen."""

    name: str
    seen: tuple[Seen, ...]
    """In units of the limit, as the filter takes them."""
    belief: Belief
    offset: float
    """Where it is believed to be now."""
    offset_error: float
    creep: tuple[float, float, float]
    """Millimetres in a hundred travels: 5 %, 50 % and 95 % points."""
    scatter: float
    forecast: Forecast
    """Counts of travels from now on."""
    chance_now: float


class Repeatability(NamedTuple):
    """What sessions of travels say. Millimetres."""

    pose: Pose
    travels: int
    reversal: float | None
    """How far places reached from either side lie apart (ISO 230-2: B); None: one side alone."""
    two_sided: float | None
    """ISO 230-2: R."""


class Wear(NamedTuple):
    """How one preset stands."""

    preset: str
    travels: int
    ordered: int
    by_hand: int
    unconfirmed: int
    a_day: float
    limit: float
    """How far an edge may move before it shows, mm."""
    shows_as: str
    measured: int
    """How many measurements are in force."""
    aligned: int | None
    """When it was last realigned, ms UTC."""
    axes: tuple[Axis, ...]
    """Empty: too few measurements."""
    worst: Axis | None
    """The one that shows first."""
    due: float | None
    """In how many travels somebody shall look; 0: now; None: not known, or never."""
    next_measurement: int
    """After how many more travels a measurement says most."""
    repeatability: Repeatability | None
    cold: int
    """How many measurements were read before the lens was warm."""


def wear_of(room: Room, ledger: Ledger, book: Sequence[Entry]) -> tuple[Wear, ...]:
    """Say how each preset of a room stands."""
    entries = in_force(book)
    return tuple(_preset(room, ledger, entries, preset) for preset in room.presets)


def _preset(room: Room, ledger: Ledger, entries: Sequence[Entry], preset: str) -> Wear:
    ours = [one for one in entries if one.preset == preset]
    read = [one for one in ours if isinstance(one, Measured)]
    sessions = [one for one in ours if isinstance(one, Repeated)]
    most, shows_as = limit(room)
    now = ledger.totals.get(preset, 0)
    travels = [one for one in ledger.travels if one.preset == preset]
    axes: tuple[Axis, ...] = ()
    if len(read) >= ENOUGH:
        axes = tuple(_axis(room, ledger, name, read, sessions, most, now) for name in AXES)
    worst = min(axes, key=lambda one: one.forecast.first, default=None)
    last = count_at(ledger, preset, moment(read[-1])) if read else 0
    return Wear(
        preset=preset,
        travels=now,
        ordered=sum(one.ordered for one in travels),
        by_hand=sum(not one.ordered for one in travels),
        unconfirmed=sum(one.ordered and not one.confirmed for one in travels),
        a_day=rate(ledger, preset),
        limit=most,
        shows_as=shows_as,
        measured=len(read),
        aligned=max((moment(one) for one in read if one.aligned), default=None),
        axes=axes,
        worst=worst,
        due=None if worst is None else _due(last, now, worst.forecast.first),
        next_measurement=_next(last, now, worst),
        repeatability=_repeatability(room, sessions),
        cold=sum(one.lit < WARM for one in ours),
    )


def _axis(  # noqa: PLR0913, PLR0917 - what one axis needs
    room: Room,
    ledger: Ledger,
    name: str,
    read: Sequence[Measured],
    sessions: Sequence[Repeated],
    most: float,
    now: int,
) -> Axis:
    seen = []
    for one in read:
        came = offsets(room, one)
        travels = count_at(ledger, one.preset, moment(one))
        offset = getattr(came, name) / most
        seen.append(Seen(travels, offset, came.error / most, one.aligned))
    known = [] if name == "scale" else [*_sessions(room, sessions, name, most)]
    belief = believe(seen, known)
    count = max(now, belief.count)
    passing = Passing(belief, count)
    low, middle, high = (point * most * 100 for point in belief.size("creep"))
    return Axis(
        name=name,
        seen=tuple(seen),
        belief=belief,
        offset=belief.mean(count) * most,
        offset_error=belief.deviation(count) * most,
        creep=(low, middle, high),
        scatter=belief.size("scatter")[1] * most,
        forecast=passing.forecast(),
        chance_now=passing.by(0),
    )


def _sessions(room: Room, sessions: Sequence[Repeated], name: str, most: float) -> list[Session]:
    """Give what sessions say of one axis, each side by itself."""
    which = AXES.index(name)
    found = []
    for one in sessions:
        size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
        for places in (one.shorter, one.longer):
            if len(places) > 1:
                spread = unidirectional([place[which] for place in places]).spread
                found.append(Session(len(places), spread * size / most, one.error * size / most))
    return found


def _repeatability(room: Room, sessions: Sequence[Repeated]) -> Repeatability | None:
    """Judge the latest session."""
    if not sessions:
        return None
    one = sessions[-1]
    size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
    sides = [
        [(x * size, y * size) for x, y in places] for places in (one.shorter, one.longer) if places
    ]
    every = [place for places in sides for place in places]
    if len(sides) < 2 or min(map(len, sides)) < 2:  # noqa: PLR2004 - both sides, a spread each
        return Repeatability(pose(every), len(every), None, None)
    axes = [bidirectional(*[[place[axis] for place in side] for side in sides]) for axis in (0, 1)]
    worst = max(axes, key=lambda judged: judged.repeatability)
    return Repeatability(pose(every), len(every), worst.reversal, worst.repeatability)


def _due(last: int, now: int, first: float) -> float | None:
    """Say in how many travels from now somebody shall look."""
    if not isfinite(first):
        return None
    return max(0.0, due(last, now + first) - now)


def _next(last: int, now: int, worst: Axis | None) -> int:
    """Say after how many more travels a measurement says most."""
    if worst is None:
        return max(0, last + NEXT_AT_LEAST - now)
    first = worst.forecast.first
    half = inf if not isfinite(first) else last + (now + first - last) / 2
    return int(max(0, min(half, last + 10 * NEXT_AT_LEAST) - now))


class Taught(NamedTuple):
    """What the ledger says of one rule."""

    rule: str
    travels: int
    waited: int
    """Milliseconds that people waited for the lens."""


def taught(ledger: Ledger) -> tuple[Taught, ...]:
    """Say what each rule has cost in travels and waiting; None stands for hands."""
    found: dict[str, Taught] = {}
    for one in ledger.travels:
        rule = "by hand" if one.rule is None else one.rule
        old = found.get(rule, Taught(rule, 0, 0))
        found[rule] = Taught(rule, old.travels + 1, old.waited + one.waited)
    return tuple(sorted(found.values(), key=lambda one: -one.travels))
