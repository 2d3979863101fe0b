"""What is known of each way in which a preset moves, and of each edge of its picture."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf
from typing import Final, NamedTuple

from engine.planning.alignment import Side
from engine.planning.margins import Margin
from engine.room import Room
from simulator.wear.creep import Belief, Observation, believe
from simulator.wear.disturbances import Disturbance, WayRead, kinds, told
from simulator.wear.first_passage import AnyOf, Bounds, FirstPassage
from simulator.wear.measurements import WARM, Measured, Repeated, offsets
from simulator.wear.sides import SIDES, scatter_seen

AXES: Final = ("across", "down", "scale")
"""The ways in which a picture may have moved."""
EDGES: Final[tuple[Side, ...]] = ("left", "top", "right", "bottom")
"""Where it shows: shift and scale add up at one edge and cancel at the other."""
PAIRS: Final[tuple[tuple[Side, ...], ...]] = (("left", "right"), ("top", "bottom"))
COLD: Final = 0.05
"""How far a lens that is not warm may still move, as a standard deviation, in units."""

Points = tuple[float, float, float]
"""The 5 %, 50 % and 95 % points: nine in ten lie between the first and the last."""


class OffsetEstimate(NamedTuple):
    """What is known of one way in which a preset creeps, or of one edge; mm on the screen."""

    name: str
    """One of `AXES` or `EDGES`."""
    seen: tuple[Observation, ...]
    """The measurements in units, as the filter takes them."""
    unit: float
    """Millimetres in a unit."""
    belief: Belief
    offset: Points
    """Where it is now."""
    creep: Points
    """Millimetres in a hundred travels."""
    scatter: float

    def at(self, count: float) -> Points:
        """Return where it will be at a count that is not before the last measurement."""
        return scaled(self.belief.points(count), self.unit)


class EdgeEstimate(NamedTuple):
    """One edge of the picture, and how far it may go."""

    estimate: OffsetEstimate
    margin: Margin
    """As the plan has it."""
    inwards: float
    """How far it may move inwards before somebody sees it, mm: the margin and the strip that
    bothers nobody. inf: nothing more stays dark."""
    outwards: float
    passage: FirstPassage

    @property
    def name(self) -> str:
        """Which edge."""
        return self.estimate.name

    @property
    def chance_now(self) -> float:
        """The probability that it shows already."""
        return self.passage.by(0)


def scaled(points: Points, unit: float) -> Points:
    """Return points in millimetres."""
    low, middle, high = points
    return low * unit, middle * unit, high * unit


class Basis(NamedTuple):
    """What all estimates of one preset rest on."""

    room: Room
    read: Sequence[Measured]
    counts: Sequence[int]
    """How many travels there had been at each measurement."""
    sessions: Sequence[Repeated]
    now: int
    unit: float
    apart: tuple[float, float]
    """How much further right and down travels from a shorter focal length end, mm."""
    unsure: tuple[float, float] = (0.0, 0.0)
    """How far either side may end from where `apart` has it, as a standard deviation, mm."""
    from_both: bool = False
    """Whether travels have gone there from both sides."""
    beside: float = 0.0
    """How far off the middle travels may end that come from the side that was never read, mm."""
    told_apart: bool = False
    """Whether `apart` is what the readings say, not a session."""

    def half(self, name: str) -> float:
        """Return how far beyond the middle travels from a shorter focal length end, in units."""
        return self.apart[_WAY[name]] / 2 / self.unit if name in _WAY else 0.0

    def vague(self, name: str) -> float:
        """Return how far either side may end from `half`, as a standard deviation, in units."""
        return self.unsure[_WAY[name]] / self.unit if name in _WAY else 0.0

    def doubt(self, name: str) -> float:
        """Return by how much a side that is not known may matter, in units."""
        return hypot(self.half(name), self.vague(name))

    def course(self, name: str) -> WayRead:
        """Return the measurements of one way or edge, and what sessions say of its scatter."""
        series = tuple(
            _observed(self, name, one, count)
            for one, count in zip(self.read, self.counts, strict=True)
        )
        known = (
            scatter_seen(self.room, self.sessions, _WAY[name], self.unit) if name in _WAY else ()
        )
        return WayRead(series, tuple(known), self.doubt(name))


def estimate_of(basis: Basis, name: str, found: Sequence[Disturbance]) -> OffsetEstimate:
    """Return what is known of a way or an edge, given what happened to the preset."""
    way = basis.course(name)
    seen = told(way.series, kinds(found))
    belief = believe(seen, way.sessions, doubt=way.doubt)
    return OffsetEstimate(
        name=name,
        seen=seen,
        unit=basis.unit,
        belief=belief,
        offset=scaled(belief.points(max(basis.now, belief.count)), basis.unit),
        creep=scaled(belief.creep(), 100 * basis.unit),
        scatter=belief.typical_scatter() * basis.unit,
    )


def edges_of(
    basis: Basis, margins: dict[Side, Margin], found: Sequence[Disturbance]
) -> tuple[EdgeEstimate, ...]:
    """Return what is known of each edge, given what happened to the preset."""
    return tuple(
        _edge(basis, name, estimate_of(basis, name, found), margins[name]) for name in EDGES
    )


def any_of(edges: Sequence[EdgeEstimate]) -> AnyOf:
    """Return when it shows at any edge."""
    named = dict(zip(EDGES, edges, strict=True))
    return AnyOf(tuple(tuple(named[one].passage for one in pair) for pair in PAIRS))


def _edge(basis: Basis, side: Side, estimate: OffsetEstimate, margin: Margin) -> EdgeEstimate:
    mm = bounds_of(basis.room, side, margin)
    count = max(basis.now, estimate.belief.count)
    bounds = Bounds(mm.up / basis.unit, mm.down / basis.unit)
    beside = max(basis.vague(side), basis.beside / basis.unit)
    furthest = abs(basis.half(side)) + beside
    passage = FirstPassage(estimate.belief, count, bounds, furthest)
    inwards, outwards = (mm.up, mm.down) if side in {"left", "top"} else (mm.down, mm.up)
    return EdgeEstimate(estimate, margin, inwards, outwards, passage)


def _observed(basis: Basis, name: str, one: Measured, count: int) -> Observation:
    """Return a measurement in units, brought to the middle between both sides."""
    came = offsets(basis.room, one)
    side = basis.half(name) * SIDES[one.side]
    error = came.edge_error if name in EDGES else came.error
    return Observation(
        travels=count,
        offset=getattr(came, name) / basis.unit - side,
        error=hypot(error / basis.unit, COLD if one.lit < WARM else 0.0),
        resets=one.aligned,
        rests=-side,  # A realignment puts right the side that the lens came from.
        doubt=basis.doubt(name) if one.side is None else basis.vague(name),
    )


_WAY: Final = {"across": 0, "left": 0, "right": 0, "down": 1, "top": 1, "bottom": 1}
"""Which of a session's two coordinates is about it; none is about scale."""


def share_gone(edge: EdgeEstimate, offset: float) -> float:
    """Return the share of its way that an edge has gone where it stands at an offset, mm."""
    outwards = (offset < 0) is (edge.name in {"left", "top"})
    far = edge.outwards if outwards else edge.inwards
    return abs(offset) / far if far > 0 else inf


def bounds_of(room: Room, side: Side, margin: Margin) -> Bounds:
    """Return how far an edge may move right or down, and left or up, in mm."""
    outwards = (margin.outwards + room.wear.strip) / 1_000
    inwards = inf if margin.inwards is None else (margin.inwards + room.wear.strip) / 1_000
    if side in {"left", "top"}:
        return Bounds(up=inwards, down=outwards)
    return Bounds(up=outwards, down=inwards)
