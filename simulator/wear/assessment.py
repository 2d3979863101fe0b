"""How each preset stands and when that will show, from the ledger and the book together.

Counts say how often the lens travelled, measurements say how far it crept, and together they say
when that will show. With too few measurements the answer is that there are too few, and what to
measure next.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf, isfinite
from statistics import mean
from typing import Final, NamedTuple

from engine.room import Room
from simulator.wear.creep import (
    ENOUGH,
    ONE_IN_TWENTY,
    Belief,
    FirstPassage,
    Forecast,
    Observation,
    RepeatabilitySession,
    believe,
    due_count,
)
from simulator.wear.ledger import Ledger, count_at, travels_a_day
from simulator.wear.measurements import (
    WARM,
    Limit,
    Measured,
    Measurement,
    Repeated,
    in_force,
    limits,
    measured_at,
    millimetres_a_pixel,
    offsets,
)
from simulator.wear.repeatability import FEWEST, Pose, bidirectional, judge_pose, unidirectional

AXES: Final = ("across", "down", "scale")
"""The ways in which a picture may have moved."""
EDGES: Final = ("left", "top", "right", "bottom")
"""Where it shows: shift and scale add up at one edge and cancel at the other."""
AXIS_WORDS: Final = {
    "across": "sideways",
    "down": "up and down",
    "scale": "in size",
    **{edge: f"at its {edge} edge" for edge in EDGES},
}
NEXT_AT_LEAST: Final = 30
"""After fewer travels than this a new measurement says little."""


class OffsetEstimate(NamedTuple):
    """What is known of one way in which a preset creeps, or of one edge; mm on the screen."""

    name: str
    """One of `AXES` or `EDGES`."""
    seen: tuple[Observation, ...]
    """The measurements in units of the limit, as the filter takes them."""
    belief: Belief
    offset: float
    """Where it probably is now."""
    offset_error: float
    creep: tuple[float, float, float]
    """Millimetres in a hundred travels: 5 %, 50 % and 95 % points."""
    scatter: float
    limit: Limit
    forecast: Forecast
    """In travels from now on."""
    chance_now: float
    """The probability that it shows already."""
    passing: FirstPassage


class Repeatability(NamedTuple):
    """What the latest repeatability session says; millimetres."""

    pose: Pose
    travels: int
    reversal: float | None
    """How far apart the two sides end (ISO 230-2: B); None: one side was measured."""
    two_sided: float | None
    """The repeatability from both sides (ISO 230-2: R)."""


class PresetWear(NamedTuple):
    """How one preset stands, and when that will show."""

    preset: str
    travels: int
    ordered: int
    by_hand: int
    unconfirmed: int
    a_day: float
    limit: Limit
    """The limit of the edge that shows first, or the narrower one if that is not known."""
    measured: int
    """The number of measurements that nothing has corrected."""
    aligned: int | None
    """When it was last realigned, ms UTC."""
    axes: tuple[OffsetEstimate, ...]
    """Empty if there are too few measurements."""
    edges: tuple[OffsetEstimate, ...]
    worst: OffsetEstimate | None
    """The edge that shows first."""
    by: ChanceBy | None
    """The probability that was asked for, by `ahead`."""
    beyond: tuple[str, float] | None
    """An edge that was last read beyond its limit, and by how much it had moved (mm)."""
    due: float | None
    """In how many travels the preset is due; 0: now; None: not known, or never."""
    next_measurement: int
    """After how many more travels a measurement says most."""
    repeatability: Repeatability | None
    cold: int
    """How many measurements were read before the lens was warm."""
    focus: tuple[int, float] | None
    """The last reading of the focus: its time (ms UTC) and how far it had gone."""


class ChanceBy(NamedTuple):
    """The probability that it shows within so many travels."""

    travels: float
    chance: float


def assess(
    room: Room,
    ledger: Ledger,
    book: Sequence[Measurement],
    ahead: Callable[[float], float] | None = None,
) -> tuple[PresetWear, ...]:
    """Return how each preset of a room stands.

    `ahead` gets the travels a day and returns the number of travels ahead for which the
    probability is asked.
    """
    entries = in_force(book)
    return tuple(_preset(room, ledger, entries, preset, ahead) for preset in room.presets)


def _preset(
    room: Room,
    ledger: Ledger,
    entries: Sequence[Measurement],
    preset: str,
    ahead: Callable[[float], float] | None,
) -> PresetWear:
    ours = [one for one in entries if one.preset == preset]
    read = [one for one in ours if isinstance(one, Measured)]
    sessions = [one for one in ours if isinstance(one, Repeated)]
    both = limits(room)
    now = ledger.totals.get(preset, 0)
    axes, edges = _estimates(_Basis(room, ledger, sessions, both, now), read)
    worst = min(edges, key=lambda one: (one.forecast.first, -one.chance_now), default=None)
    last = count_at(ledger, preset, measured_at(read[-1])) if read else 0
    beyond = _beyond(room, read[-1], both) if read else None
    due = None if worst is None else _due(last, now, worst.forecast.first)
    counts = _counts(ledger, preset)
    focus = [(measured_at(one), one.focus) for one in read if one.focus is not None]
    return PresetWear(
        preset=preset,
        travels=now,
        ordered=counts.ordered,
        by_hand=counts.by_hand,
        unconfirmed=counts.unconfirmed,
        a_day=counts.a_day,
        limit=min(both) if worst is None else worst.limit,
        measured=len(read),
        aligned=max((measured_at(one) for one in read if one.aligned), default=None),
        axes=axes,
        edges=edges,
        worst=worst,
        by=None if ahead is None else _by(edges, ahead(counts.a_day)),
        beyond=beyond,
        due=due if beyond is None else 0.0,
        next_measurement=_next(last, now, worst),
        repeatability=_repeatability(room, sessions),
        cold=len([one for one in ours if one.lit < WARM]),
        focus=focus[-1] if focus else None,
    )


def _estimates(
    basis: _Basis, read: Sequence[Measured]
) -> tuple[tuple[OffsetEstimate, ...], tuple[OffsetEstimate, ...]]:
    """Return the estimates of all ways and of all edges; none if there are too few measurements."""
    if len(read) < ENOUGH or min(basis.limits).far <= 0:
        return (), ()
    approach = _approach(basis.room, basis.sessions)
    return (
        tuple(_estimate(basis, name, read, approach) for name in AXES),
        tuple(_estimate(basis, name, read, approach) for name in EDGES),
    )


class _Counts(NamedTuple):
    """Travels to one preset in the ledger's nights."""

    ordered: int
    by_hand: int
    unconfirmed: int
    a_day: float


def _counts(ledger: Ledger, preset: str) -> _Counts:
    travels = [one for one in ledger.travels if one.preset == preset]
    ordered = [one for one in travels if one.ordered]
    return _Counts(
        ordered=len(ordered),
        by_hand=len(travels) - len(ordered),
        unconfirmed=len([one for one in ordered if not one.confirmed]),
        a_day=travels_a_day(ledger, preset),
    )


def _beyond(room: Room, read: Measured, both: tuple[Limit, Limit]) -> tuple[str, float] | None:
    """Return the edge read furthest beyond its limit, if that is more than a misreading."""
    came = offsets(room, read)
    sure = ONE_IN_TWENTY * came.edge_error
    found = [(abs(getattr(came, edge)) - both[_WAY[edge]].far - sure, edge) for edge in EDGES]
    far, edge = max(found)
    return (edge, getattr(came, edge)) if far > 0 else None


def _by(edges: Sequence[OffsetEstimate], travels: float) -> ChanceBy | None:
    """Return the probability that an edge shows within so many travels; None: not known."""
    chances = [edge.passing.by(travels) for edge in edges]
    return ChanceBy(travels, max(chances)) if chances else None


class _Basis(NamedTuple):
    """What all estimates of one preset rest on."""

    room: Room
    ledger: Ledger
    sessions: Sequence[Repeated]
    limits: tuple[Limit, Limit]
    now: int


def _estimate(
    basis: _Basis, name: str, read: Sequence[Measured], approach: tuple[float, float]
) -> OffsetEstimate:
    room, limit = basis.room, basis.limits[_WAY.get(name, 0)]
    most = limit.far
    apart = approach[_WAY[name]] if name in _WAY else 0.0
    doubt = abs(apart) / 2 / most
    seen = [_observed(basis, name, one, apart) for one in read]
    known = _sessions(room, basis.sessions, _WAY[name], most) if name in _WAY else ()
    belief = believe(seen, known, doubt=doubt)
    count = max(basis.now, belief.count)
    passing = FirstPassage(belief, count, doubt)
    low, middle, high = (point * most * 100 for point in belief.size("creep"))
    return OffsetEstimate(
        name=name,
        seen=tuple(seen),
        belief=belief,
        offset=belief.mean(count) * most,
        offset_error=belief.deviation(count) * most,
        creep=(low, middle, high),
        scatter=belief.size("scatter")[1] * most,
        limit=limit,
        forecast=passing.forecast(),
        chance_now=passing.by(0),
        passing=passing,
    )


def _observed(basis: _Basis, name: str, one: Measured, apart: float) -> Observation:
    """Return a measurement in units of the limit, brought to the middle between both sides."""
    most = basis.limits[_WAY.get(name, 0)].far
    came = offsets(basis.room, one)
    side = apart / 2 * _SIDES[one.side] / most
    error = came.edge_error if name in EDGES else came.error
    return Observation(
        travels=count_at(basis.ledger, one.preset, measured_at(one)),
        offset=getattr(came, name) / most - side,
        error=error / most,
        resets=one.aligned,
        rests=-side,  # A realignment puts right the side that the lens came from.
        doubt=abs(apart) / 2 / most if one.side is None else 0.0,
    )


_SIDES: Final = {"shorter": 1, "longer": -1, None: 0}
"""On which side of the middle a travel from that side ends."""
_WAY: Final = {"across": 0, "left": 0, "right": 0, "down": 1, "top": 1, "bottom": 1}
"""Which of a session's two coordinates is about it; none is about scale."""


def _approach(room: Room, sessions: Sequence[Repeated]) -> tuple[float, float]:
    """Return how much further right and down travels from a shorter focal length end, mm.

    0 if no session measured both sides; otherwise offsets are brought to the middle between them.
    """
    for one in reversed(sessions):
        if one.shorter and one.longer:
            size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
            right, down = (
                mean(place[axis] for place in one.shorter)
                - mean(place[axis] for place in one.longer)
                for axis in (0, 1)
            )
            return right * size, down * size
    return 0.0, 0.0


def _sessions(
    room: Room, sessions: Sequence[Repeated], which: int, most: float
) -> list[RepeatabilitySession]:
    """Return what sessions say of one coordinate, each side by itself."""
    found = []
    for one in sessions:
        size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
        for places in (one.shorter, one.longer):
            if len(places) > 1:
                spread = unidirectional([place[which] for place in places]).spread
                found.append(
                    RepeatabilitySession(len(places), spread * size / most, one.error * size / most)
                )
    return found


def _repeatability(room: Room, sessions: Sequence[Repeated]) -> Repeatability | None:
    """Judge the latest session."""
    enough = [one for one in sessions if len(one.shorter) + len(one.longer) >= FEWEST]
    if not enough:
        return None
    one = enough[-1]
    size = 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
    sides = [
        [(x * size, y * size) for x, y in places] for places in (one.shorter, one.longer) if places
    ]
    every = [place for places in sides for place in places]
    if len(sides) < 2 or min(map(len, sides)) < 2:  # noqa: PLR2004 - both sides, a spread each
        return Repeatability(judge_pose(every), len(every), None, None)
    axes = [bidirectional(*[[place[axis] for place in side] for side in sides]) for axis in (0, 1)]
    worst = max(axes, key=lambda judged: judged.repeatability)
    return Repeatability(judge_pose(every), len(every), worst.reversal, worst.repeatability)


def _due(last: int, now: int, first: float) -> float | None:
    """Return in how many travels from now a preset is due."""
    if not isfinite(first):
        return None
    return max(0.0, due_count(last, now + first) - now)


def _next(last: int, now: int, worst: OffsetEstimate | None) -> int:
    """Return after how many more travels a measurement says most."""
    if worst is None:
        return max(0, last + NEXT_AT_LEAST - now)
    first = worst.forecast.first
    half = inf if not isfinite(first) else last + (now + first - last) / 2
    return int(max(0, min(half, last + 10 * NEXT_AT_LEAST) - now))


class RuleCost(NamedTuple):
    """What one rule has cost."""

    rule: str
    travels: int
    waited: int
    """Milliseconds that people waited for the lens."""


def cost_by_rule(ledger: Ledger) -> tuple[RuleCost, ...]:
    """Return what each rule has cost, most travels first; travels by hand are one entry."""
    found: dict[str, RuleCost] = {}
    for one in ledger.travels:
        rule = "by hand" if one.rule is None else one.rule
        old = found.get(rule, RuleCost(rule, 0, 0))
        found[rule] = RuleCost(rule, old.travels + 1, old.waited + one.waited)
    return tuple(sorted(found.values(), key=lambda one: -one.travels))
