"""How each preset stands and when that will show, from the ledger and the book together.

Counts say how often the lens travelled, measurements say how far it crept, and together they say
when that will show. With too few measurements the answer is that there are too few, and what to
measure next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import hypot, inf, isfinite, log
from typing import Final, NamedTuple

from engine.planning.alignment import Side
from engine.planning.margins import Margin, narrowest
from engine.room import Room
from engine.state import DAY
from simulator.wear.approach import with_sides
from simulator.wear.counts import PresetCounts, count_presets
from simulator.wear.creep import ENOUGH, unit_of
from simulator.wear.disturbances import (
    SURE,
    Disturbance,
    Found,
    WayRead,
    disturbances,
    gain,
    kinds,
    told,
)
from simulator.wear.estimates import (
    AXES,
    EDGES,
    Basis,
    EdgeEstimate,
    OffsetEstimate,
    any_of,
    bounds_of,
    edges_of,
    estimate_of,
    share_gone,
)
from simulator.wear.first_passage import ONE_IN_TWENTY, AnyOf, Forecast
from simulator.wear.ledger import Ledger, count_at
from simulator.wear.measurements import (
    WARM,
    ApproachSide,
    Measured,
    Measurement,
    Repeated,
    in_force,
    measured_at,
    offsets,
)
from simulator.wear.policy import ALIGN_AHEAD, Advice, advise
from simulator.wear.seasons import BEFOREHAND, supposed_swing, swing
from simulator.wear.sides import (
    FURTHEST_APART,
    Repeatability,
    apart,
    comes_from_both,
    from_one_side,
    only_side,
    repeatability,
    side_may_matter,
    sided,
    sides_read,
    sides_unmeasured,
)

NEXT_AT_LEAST: Final = 30
"""After fewer travels than this a new measurement says little."""
SAME_VISIT: Final = DAY // 4
"""Without a travel that is known, readings so close (ms) are of one place."""
CONTRADICTS: Final = 4.0
"""They contradict each other if they differ by more than so many standard deviations."""
SURELY: Final = 3.0
LEAST_APART: Final = 1.0
"""Sides are said to end apart otherwise than a session has it by more than so many standard
deviations, and so many millimetres."""
QUICKENS: Final = 0.9
"""From this probability on it is said that the creep changes."""
BEARS: Final = 4.0
"""Measurements over so many travels say something about so many times as many to come."""


class ChanceBy(NamedTuple):
    """The probability that it shows within so many travels."""

    travels: float
    chance: float
    """At any edge."""
    edges: dict[str, float]


class Beyond(NamedTuple):
    """An edge that was last read where it shows."""

    edge: str
    offset: float
    """How far it had moved, mm."""


class PresetWear(NamedTuple):
    """How one preset stands, and when that will show."""

    counts: PresetCounts
    margins: dict[Side, Margin]
    measured: int
    """The number of measurements that nothing has corrected."""
    aligned: int | None
    """When it was last realigned, ms UTC."""
    read_at: tuple[int, ...]
    """When each was read, ms UTC."""
    beyond: Beyond | None
    repeatability: Repeatability | None
    sides_matter: bool
    """Whether its two sides end apart, and some reading does not say where the lens came from."""
    sides_unmeasured: bool
    """Whether readings come from both sides, and no session says how far these end apart."""
    contradicted: tuple[tuple[int, float], ...]
    """Readings that tell of another place than the one just before, though no travel is known
    between them; by how much the edge differs that differs most, mm."""
    cold: int
    """How many measurements were read before the lens was warm."""
    focus: tuple[int, float] | None
    """The last reading of the focus: its time (ms UTC) and how far it had gone."""
    axes: tuple[OffsetEstimate, ...] = ()
    """From here on: what takes measurements enough."""
    edges: tuple[EdgeEstimate, ...] = ()
    worst: EdgeEstimate | None = None
    """The edge that most likely shows first."""
    forecast: Forecast | None = None
    """When it shows at any edge, in travels from now on."""
    bears: float = 0.0
    """Further ahead than so many travels the measurements say nothing."""
    chance_now: float = 0.0
    """The probability that it shows already, at any edge."""
    chance_soon: float = 0.0
    """The same after `policy.ALIGN_AHEAD` more travels."""
    align: bool = False
    """Whether to align it now."""
    by: ChanceBy | None = None
    """The probability that was asked for, by `ahead`."""
    due: float | None = None
    """In how many travels to look at it; 0: now; None: not known, or never."""
    next_measurement: int = NEXT_AT_LEAST
    """After how many more travels a measurement says most."""
    disturbed: tuple[Disturbance, ...] = ()
    """What no creep explains; lengths in mm, one for each of `AXES`."""
    swings: tuple[float, ...] = ()
    """How far it goes out and back with the year, mm either way, for each of `AXES`; (): nothing
    says that it does."""
    sides_told: tuple[float, float] | None = None
    """How far both sides end apart by the readings alone, sideways and up and down, mm; None:
    a session says it, or nothing does."""
    one_side: ApproachSide | None = None
    """The side that every reading came from, where no session tells of the other one."""
    other_side: float = 0.0
    """How far off the middle a side may end that travels come from and no reading tells of, mm."""
    sides_differ: float | None = None
    """How far both sides end apart by the latest readings, mm, if no session says so; None: as far
    as one says, or as far as can be told."""
    quickens: bool = False
    """Whether the creep is known to change."""

    @property
    def preset(self) -> str:
        """Its name."""
        return self.counts.preset


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
    kept = in_force(book)
    return tuple(
        _preset(room, ledger, counts, [one for one in kept if one.preset == counts.preset], ahead)
        for counts in count_presets(room, ledger)
    )


def _preset(
    room: Room,
    ledger: Ledger,
    counts: PresetCounts,
    ours: Sequence[Measurement],
    ahead: Callable[[float], float] | None,
) -> PresetWear:
    measured = [one for one in ours if isinstance(one, Measured)]
    read = sided(room, ledger, counts.preset, measured)
    sessions = [one for one in ours if isinstance(one, Repeated)]
    at = [count_at(ledger, counts.preset, measured_at(one)) for one in read]
    now, unit = counts.travels, unit_of(room)
    basis = Basis(room, read, at, sessions, now, unit, apart(room, sessions))
    basis = with_sides(basis._replace(from_both=comes_from_both(room, ledger, counts.preset)))
    margins = narrowest(room, counts.preset)
    focus = [(measured_at(one), one.focus) for one in read if one.focus is not None]
    nothing = PresetWear(
        counts=counts,
        margins=margins,
        measured=len(read),
        aligned=max((measured_at(one) for one in read if one.aligned), default=None),
        read_at=tuple(measured_at(one) for one in read),
        beyond=_beyond(room, read[-1], margins) if read else None,
        repeatability=repeatability(room, sessions),
        sides_matter=any(basis.apart) and any(one.side is None for one in read),
        sides_unmeasured=sides_unmeasured(read, sessions) and not basis.told_apart,
        one_side=only_side(read, sessions),
        other_side=basis.beside,
        contradicted=(*_contradicted(room, read, at),),
        cold=len([one for one in ours if one.lit < WARM]),
        focus=focus[-1] if focus else None,
    )
    if len(read) < ENOUGH:
        left = max(0, (at[-1] if at else 0) + NEXT_AT_LEAST - now)
        due = None if nothing.beyond is None else 0.0
        return nothing._replace(next_measurement=left, due=due, align=due == 0)
    return _foretold(nothing, basis, ahead)


def _foretold(
    known: PresetWear, basis: Basis, ahead: Callable[[float], float] | None
) -> PresetWear:
    """Return the rest of what there is to say about a preset with measurements enough."""
    first, *_, last = basis.counts
    found, swings = _happened(basis)
    if found and basis.told_apart:
        basis = with_sides(basis, found)
        found, swings = _happened(basis)
    axes = tuple(estimate_of(basis, name, found) for name in AXES)
    edges = edges_of(basis, known.margins, found)
    passage = any_of(edges)
    forecast = passage.forecast()
    near = forecast.first if isfinite(forecast.first) else 1_000.0
    advice = _advised(basis, known.margins, found, edges)
    unclear = bool(found) and found[-1].kind == "unclear"
    due = 0.0 if known.beyond is not None or unclear else advice.look
    most = 0 if unclear else _next(last, basis.now, forecast.first)
    return known._replace(
        axes=axes,
        edges=edges,
        worst=max(
            edges, key=lambda one: (one.passage.by(near), share_gone(one, one.estimate.offset[1]))
        ),
        forecast=forecast,
        bears=max(NEXT_AT_LEAST, BEARS * (last - first)),
        chance_now=passage.by(0),
        chance_soon=passage.by(ALIGN_AHEAD),
        align=not unclear and (known.beyond is not None or advice.align),
        by=None if ahead is None else _by(passage, edges, ahead(known.counts.a_day)),
        due=due,
        next_measurement=most if due is None else min(round(due), most),
        disturbed=tuple(_in_millimetres(basis, one) for one in found),
        contradicted=tuple(one for one in known.contradicted if not _explained(one[0], found)),
        swings=tuple(far * basis.unit for far in swings),
        sides_told=_told_apart(basis),
        sides_differ=_differing(basis, found),
        quickens=not swings and max(one.belief.quickens() for one in axes) >= QUICKENS,
    )


def _advised(
    basis: Basis,
    margins: dict[Side, Margin],
    found: Sequence[Disturbance],
    edges: Sequence[EdgeEstimate],
) -> Advice:
    """Say what to do; while a question is open, to align it only if that is right in either case.

    Then it is looked at no later than if nothing had happened to it.
    """
    last, passage = basis.counts[-1], any_of(edges)
    now = max(basis.now, last)
    gone = max(share_gone(one, one.estimate.offset[1]) for one in edges)
    if any(one.kind == "open" for one in found):
        read = max(
            share_gone(one, one.estimate.seen[-1].offset * one.estimate.unit) for one in edges
        )
        moved = [one._replace(kind="moved") if one.kind == "open" else one for one in found]
        then = advise(any_of(edges_of(basis, margins, moved)), read, last, now)
        gone = min(gone, read) if then.align else 0.0
    return advise(passage, gone, last, now)


def _told_apart(basis: Basis) -> tuple[float, float] | None:
    """Return how far both sides end apart where it is the readings that say so."""
    sideways, down = map(abs, basis.apart)
    return (sideways, down) if basis.told_apart else None


def _differing(basis: Basis, found: Sequence[Disturbance]) -> float | None:
    """Return how far sides end apart by the readings where that is not what sessions say."""
    seen = sides_read(basis.room, basis.read, kinds(found))
    if seen is None or abs(seen.apart - basis.apart[0]) < max(LEAST_APART, SURELY * seen.error):
        return None
    return abs(seen.apart)


def _explained(number: int, found: Sequence[Disturbance]) -> bool:
    """Tell whether a reading or the one before it is named already, so that they may differ."""
    return any(one.reading in {number, number - 1} for one in found)


def _happened(basis: Basis) -> tuple[tuple[Disturbance, ...], tuple[float, ...]]:
    """Return what no creep explains, and how far the preset swings with the year, in units.

    Whichever of both makes the readings likelier is told first, and the other one of what remains.
    """
    ways = [basis.course(name) for name in AXES]
    read_at = [measured_at(one) for one in basis.read]
    found, seasonal = disturbances(ways), swing(ways, read_at)
    if seasonal is not None and seasonal.gain > gain(ways, kinds(found)):
        return disturbances(seasonal.rest), seasonal.by
    if found:
        noted = [way._replace(series=told(way.series, kinds(found))) for way in ways]
        seasonal = swing(noted, read_at)
        if seasonal is None:
            return _doubted(ways, read_at, found), ()
    return found, () if seasonal is None else seasonal.by


def _doubted(
    ways: Sequence[WayRead], read_at: Sequence[int], found: Sequence[Disturbance]
) -> tuple[Disturbance, ...]:
    """Leave open what may be warmth just as well: a swing whose year is not through yet.

    How few lenses swing is not weighed here: to ask costs less than to be told of no bump.
    """
    named: Found = {one.reading: one.kind for one in found if one.kind in {"moved", "misread"}}
    swung = supposed_swing(ways, read_at)
    if gain(ways, named) > log(SURE) + max(0.0, swung.gain - log(BEFOREHAND)):
        return tuple(found)
    stays = kinds(disturbances(swung.rest))
    return tuple(
        one._replace(kind="open", warmth=True)
        if one.kind == "moved" and stays.get(one.reading) != "moved"
        else one
        for one in found
    )


def _in_millimetres(basis: Basis, one: Disturbance) -> Disturbance:
    near = max(map(abs, one.by)) <= FURTHEST_APART
    may = side_may_matter(basis.read, basis.sessions) and not basis.told_apart
    may = may and not from_one_side(basis.read, one.reading)
    return one._replace(by=tuple(far * basis.unit for far in one.by), side=near and may)


def _beyond(room: Room, read: Measured, margins: dict[Side, Margin]) -> Beyond | None:
    """Return the edge read furthest beyond where it shows, if that is more than a misreading."""
    came = offsets(room, read)
    sure = ONE_IN_TWENTY * came.edge_error
    found = []
    for side in EDGES:
        bounds = bounds_of(room, side, margins[side])
        offset: float = getattr(came, side)
        found.append((max(offset - bounds.up, -offset - bounds.down) - sure, side, offset))
    far, edge, offset = max(found)
    return Beyond(edge, offset) if far > 0 else None


def _contradicted(
    room: Room, read: Sequence[Measured], counts: Sequence[int]
) -> Iterator[tuple[int, float]]:
    """Yield readings that differ from the one before by more than both may be misread."""
    for number, (before, one) in enumerate(pairwise(read), 1):
        apart_for = measured_at(one) - measured_at(before)
        if one.aligned or counts[number] != counts[number - 1] or apart_for > SAME_VISIT:
            continue
        first, second = offsets(room, before), offsets(room, one)
        far = max(abs(getattr(second, side) - getattr(first, side)) for side in EDGES)
        if far > CONTRADICTS * hypot(first.edge_error, second.edge_error):
            yield number, far


def _by(passage: AnyOf, edges: Sequence[EdgeEstimate], travels: float) -> ChanceBy:
    """Return the probability that it shows within so many travels, and at which edge."""
    each = {one.name: one.passage.by(travels) for one in edges}
    return ChanceBy(travels, passage.by(travels), each)


def _next(last: int, now: int, first: float) -> int:
    """Return after how many more travels a measurement says most."""
    half = inf if not isfinite(first) else last + (now + first - last) / 2
    return int(max(0, min(half, last + 10 * NEXT_AT_LEAST) - now))
