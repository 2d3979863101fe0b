"""What repeatability sessions say: how well a place is found, and how far both sides end apart.

A lens that comes from a shorter focal length stops elsewhere than one that comes from a longer one.
A session that measured both sides tells by how much; offsets are then brought to the middle.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import mean, variance
from typing import Final, NamedTuple

from engine.room import Room
from simulator.wear.creep import RepeatabilitySession
from simulator.wear.ledger import NOWHERE, Ledger, Travel
from simulator.wear.measurements import (
    ApproachSide,
    Measured,
    Repeated,
    measured_at,
    millimetres_a_pixel,
    offsets,
)
from simulator.wear.repeatability import FEWEST, Pose, bidirectional, judge_pose, unidirectional

SIDES: Final = {"shorter": 1, "longer": -1, None: 0}
"""On which side of the middle a travel from that side ends."""
FURTHEST_APART: Final = 0.4
"""No lens's sides end further apart than this, in units: a two-hundredth of the screen's width (a
guess)."""


ENOUGH_EACH: Final = 2
"""So many pairs of readings in either order tell how far two sides end apart."""
LATEST: Final = 4
"""No more of either order are looked at, for sides that end further apart with time."""


class SidesRead(NamedTuple):
    """How much further right travels from a shorter focal length end, by readings; mm."""

    apart: float
    error: float
    """One standard deviation."""


class Repeatability(NamedTuple):
    """What the latest repeatability session says; millimetres."""

    pose: Pose
    travels: int
    reversal: float | None
    """How far apart the two sides end (ISO 230-2: B); None: one side was measured."""
    two_sided: float | None
    """The repeatability from both sides (ISO 230-2: R)."""


def apart(room: Room, sessions: Sequence[Repeated]) -> tuple[float, float]:
    """Return how much further right and down travels from a shorter focal length end, mm.

    0 if no session measured both sides.
    """
    for one in reversed(sessions):
        if one.shorter and one.longer:
            size = _millimetres(room, one)
            right, down = (
                mean(place[axis] for place in one.shorter)
                - mean(place[axis] for place in one.longer)
                for axis in (0, 1)
            )
            return right * size, down * size
    return 0.0, 0.0


def side_may_matter(read: Sequence[Measured], sessions: Sequence[Repeated]) -> bool:
    """Whether a reading may lie elsewhere for no other reason than the side it was read from.

    A session from both sides tells how far apart they end; readings that all came from one side
    need none.
    """
    told = {one.side for one in read}
    return not both_measured(sessions) and told not in ({"shorter"}, {"longer"})


def both_measured(sessions: Sequence[Repeated]) -> bool:
    """Whether a session tells how far both sides end apart."""
    return any(one.shorter and one.longer for one in sessions)


def from_one_side(read: Sequence[Measured], number: int) -> bool:
    """Whether a reading and the one before it are known to have come from the same side."""
    before = read[number - 1].side if number else None
    return before is not None and before == read[number].side


def sided(room: Room, ledger: Ledger, preset: str, read: Sequence[Measured]) -> list[Measured]:
    """Return readings with the side that the lens came from, where the last travel before tells it.

    What was written down stands. Of a realignment nothing is known: a person moves the lens in it.
    Nor is it where travels are missing that no night shows.
    """
    times = [one.at for one in ledger.travels]
    found = []
    for one in read:
        read_at = measured_at(one)
        before = bisect_right(times, read_at)
        last = ledger.travels[before - 1] if before else None
        known = one.side is None and not one.aligned and last is not None and last.preset == preset
        if last is None or any(last.at <= hole.after <= read_at for hole in ledger.holes):
            known = False
        found.append(replace(one, side=_side_of(room, last)) if known and last else one)
    return found


def comes_from_both(room: Room, ledger: Ledger, preset: str) -> bool:
    """Whether travels have gone to a preset from a shorter and from a longer focal length."""
    found = {_side_of(room, one) for one in ledger.travels if one.preset == preset}
    return {"shorter", "longer"} <= found


def _side_of(room: Room, travel: Travel) -> ApproachSide | None:
    """Return the side that a travel came from: the larger the raster, the shorter the lens is."""
    origin, preset = room.presets.get(travel.origin or NOWHERE), room.presets.get(travel.preset)
    if origin is None or preset is None or origin.raster_width == preset.raster_width:
        return None
    return "shorter" if origin.raster_width > preset.raster_width else "longer"


def only_side(read: Sequence[Measured], sessions: Sequence[Repeated]) -> ApproachSide | None:
    """Return the one side that all readings came from; None: several, or a session knows both."""
    told = {one.side for one in read}
    if len(told) != 1 or both_measured(sessions):
        return None
    return told.pop()


def sides_unmeasured(read: Sequence[Measured], sessions: Sequence[Repeated]) -> bool:
    """Whether readings come from both sides, and no session says how far these end apart."""
    told = {one.side for one in read}
    return {"shorter", "longer"} <= told and side_may_matter(read, sessions)


def sides_read(room: Room, read: Sequence[Measured], noted: Collection[int]) -> SidesRead | None:
    """Return how far both sides end apart by the latest readings alone, sideways.

    Of each two readings in a row that come from different sides, creep adds to the difference in
    one order and takes from it in the other, so the mean of both orders is free of it. What
    happened at the readings that are `noted` is no matter of sides. None: too few tell.
    """
    found: dict[str, list[float]] = {"shorter": [], "longer": []}
    for number, (before, one) in reversed([*enumerate(pairwise(read), 1)]):
        if one.aligned:
            break
        if before.side is None or one.side is None or before.side == one.side:
            continue
        if number in noted or number - 1 in noted:
            continue
        far = offsets(room, one).across - offsets(room, before).across
        found[before.side].append(far if one.side == "shorter" else -far)
    orders = [each[:LATEST] for each in found.values()]
    if min(map(len, orders)) < ENOUGH_EACH:
        return None
    reading = 2 * offsets(room, read[-1]).error ** 2
    spread = sum(max(variance(one), reading) / len(one) for one in orders) ** 0.5 / 2
    return SidesRead(mean(map(mean, orders)), spread)


def scatter_seen(
    room: Room, sessions: Sequence[Repeated], which: int, unit: float
) -> list[RepeatabilitySession]:
    """Return what sessions say of one coordinate (0: right, 1: down), each side by itself."""
    found = []
    for one in sessions:
        size = _millimetres(room, one) / unit
        for places in (one.shorter, one.longer):
            if len(places) > 1:
                spread = unidirectional([place[which] for place in places]).spread
                found.append(RepeatabilitySession(len(places), spread * size, one.error * size))
    return found


def repeatability(room: Room, sessions: Sequence[Repeated]) -> Repeatability | None:
    """Judge the latest session; None if there is none with travels enough."""
    enough = [one for one in sessions if len(one.shorter) + len(one.longer) >= FEWEST]
    if not enough:
        return None
    one = enough[-1]
    size = _millimetres(room, one)
    sides = [
        [(x * size, y * size) for x, y in places] for places in (one.shorter, one.longer) if places
    ]
    every = [place for places in sides for place in places]
    if len(sides) < 2 or min(map(len, sides)) < 2:  # noqa: PLR2004 - both sides, a spread each
        return Repeatability(judge_pose(every), len(every), None, None)
    axes = [bidirectional(*[[place[axis] for place in side] for side in sides]) for axis in (0, 1)]
    worst = max(axes, key=lambda judged: judged.repeatability)
    return Repeatability(judge_pose(every), len(every), worst.reversal, worst.repeatability)


def _millimetres(room: Room, one: Repeated) -> float:
    return 1.0 if one.unit == "mm" else millimetres_a_pixel(room, one.preset)
