"""Lenses that stand in a room and are visited as `wear` asks: read, entered and aligned, by seed.

`lens_lives` lives one way of a lens at a time, in units; here a technician reads four edges in
millimetres and enters them in a book, and `assess` says what to do. So here is what only a room
has: the days of a year, the side that the lens comes from, and lines that were typed wrongly.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import cache
from typing import Final, NamedTuple

import numpy as np

from engine.events import moment_of
from engine.room import Room
from engine.state import DAY
from rules.room.load import load
from simulator.wear.assessment import PresetWear, assess
from simulator.wear.first_passage import ONE_IN_TWENTY
from simulator.wear.ledger import Ledger, Travel
from simulator.wear.measurements import ApproachSide, Measured, Measurement, Repeated, remarks

KINDS: Final = (
    "with the year",
    "both sides, measured",
    "both sides, told",
    "both sides, untold",
    "small bump",
    "bump",
    "typed wrongly",
)
BEGINS: Final = 1_735_700_000_000
HOUR: Final = 3_600_000
YEARS: Final = 5
LOOKS: Final = 24
"""After so many looks a life has told enough."""
HALF_A_YEAR: Final = (160, 210)
"""Whatever is due, somebody comes about every half year: after so many days."""
SHAPE: Final = 1.78
"""A picture that grows does so by less upwards."""
EDGES: Final = np.array([[1, 0, -1], [0, 1, -1 / SHAPE], [1, 0, 1], [0, 1, 1 / SHAPE]])
"""How left, top, right and bottom go by across, down and scale."""
WARMTH: Final = (0.8, 12.0)
"""How far it swings with the year, mm either way, no more than two fifths of the limit."""
SLIPS: Final = 0.08
"""How often an edge is typed ten times as large; half of those who are told that lines look odd
mend them."""
LARGE_SLIP: Final = 4
"""Millimetres."""

ROOM: Final = """
room: den
time_zone: Europe/Lisbon
screen: {{width: 3.4 m, aspect: 2.40, border: 0 mm, overfill: 0 %}}
projector: {{raster: 4096 x 2160}}
presets: {{tall: {{fits: 2.40}}}}
sources: {{player: {{}}}}
wear: {{strip: {strip} mm}}
rules:
  rows:
    - {{case: {{playback: playing}}, show: {{picture: plain, preset: tall}}, because: x}}
  otherwise: {{picture: plain, preset: tall}}
"""


@cache
def room_of(strip: int) -> Room:
    """Make a room in which a strip of so many mm is let pass at every edge."""
    return load(ROOM.format(strip=strip), "den.yaml")


class World(NamedTuple):
    """How one lens moves, whatever anybody does about it; mm."""

    at: list[int]
    """When it travels, ms UTC."""
    middle: np.ndarray
    """Where the middle between its two sides would be after so many travels: across, down, size."""
    gap: np.ndarray
    """How much further travels from a shorter focal length end."""
    scatter: float
    error: float
    bump: tuple[int, float] | None
    """In which travel it is bumped, and by how much."""


def world_of(kind: str, strip: int, seed: int) -> tuple[World, np.random.Generator]:
    """Make a lens that creeps to its limit within 600 to 25,000 travels."""
    chance = np.random.default_rng((seed, KINDS.index(kind), strip))
    count = int(chance.uniform(1.5, 7) * 365 * YEARS)
    days = np.sort(chance.uniform(0, 365 * YEARS, count))
    rate = chance.choice([-1, 1], 3) * strip / 10 ** chance.uniform(2.8, 4.4, 3) * [1, 1, 0.6]
    middle, gap, bump = np.arange(count + 1)[:, None] * rate, np.zeros(3), None
    if kind == "with the year":
        far = min(0.4 * strip, np.exp(chance.uniform(*np.log(WARMTH))))
        turned = 2 * np.pi * (np.concatenate([[0], days]) / 365.25 + chance.random())
        ways = [1, chance.uniform(-0.8, 0.8), chance.uniform(-0.4, 0.4)]
        middle = middle * chance.choice([0, 0.4]) + far * np.sin(turned)[:, None] * ways
    if kind.startswith("both sides"):
        apart = min(16, chance.uniform(0.3, 0.45 * strip))
        gap = apart * np.array([1, chance.uniform(-0.5, 0.5), 0])
    if kind.endswith("bump"):
        least, most = (1, 5) if kind == "small bump" else (5, 30)
        hit, far = int(chance.uniform(0.05, 0.5) * count), chance.uniform(*np.log([least, most]))
        bump = hit, float(np.exp(far))
        where = chance.uniform(0, 2 * np.pi)
        middle[hit:] += bump[1] * np.array([np.cos(where), np.sin(where), 0])
    at = [BEGINS + int(day * DAY) for day in days]
    scatter, error = 10 ** chance.uniform(-1.1, -0.4), 0.5 if strip < 60 else 1.0
    return World(at, middle, gap, float(scatter), error, bump), chance


class Visited(NamedTuple):
    """What became of one lens."""

    showed: bool
    """Whether somebody saw it before it was to be aligned, by no bump since it was put right."""
    falsely: bool
    """Whether something was told that had not happened, without asking for what had."""
    named: bool | None
    """Whether a bump was named that was read twice or more; None: there was none."""
    asked: bool | None
    """Whether it was at least asked about."""
    looks: int
    aligned: int
    held: int
    """So many of the intervals that were told hold where it stood."""
    told: int
    slips: int
    """So many lines were typed wrongly by more than `LARGE_SLIP`, and stayed so."""
    left_out: int
    """So many of these were left out."""


def visit(kind: str, strip: int, seed: int) -> Visited:
    """Visit one lens: come when it is due, read again where asked, align when told."""
    life = _Life(kind, strip, seed)
    wait: float = 30
    while life.looks < LOOKS and life.come(wait):
        wait = life.look()
    return life.ended()


class _Life:
    def __init__(self, kind: str, strip: int, seed: int) -> None:
        self.kind, self.strip = kind, strip
        self.world, self.chance = world_of(kind, strip, seed)
        self.book: list[Measured] = []
        self.counts: list[int] = []
        self.slipped: dict[int, float] = {}
        self.said: set[tuple[str, int]] = set()
        self.looks = self.realigned = self.held = self.told = 0
        self.showed = False
        self.base, self.day = np.zeros(3), 0.01
        self.session: list[Measurement] = (
            [_session(self.world, self.chance)] if kind.endswith("measured") else []
        )
        self.read(aligned=True)

    def come(self, wait: float) -> bool:
        """Let days go until so many travels are made; tell whether there are days left."""
        at, end = self.world.at, 365 * YEARS - 2
        count = self.counts[-1] + max(1, int(min(wait, 1e9)))
        due = (at[count - 1] - BEGINS) / DAY + 0.0005 if count <= len(at) else end
        latest = min(self.day + self.chance.uniform(*HALF_A_YEAR), end)
        day = self.day + 0.01 if wait == 0 else max(self.day + 0.01, min(due, latest))
        self.showed |= self.shows(self.counts[-1], bisect_right(at, BEGINS + int(day * DAY)))
        self.day = day
        return day < end

    def shows(self, first: int, last: int) -> bool:
        """Tell whether one travel in twenty showed, at any edge and from either side."""
        begins = max(n for n, one in zip(self.counts, self.book, strict=True) if one.aligned)
        if self.world.bump is not None and begins <= self.world.bump[0] <= last:
            return False
        stood = np.abs((self.world.middle[first : last + 1] - self.base) @ EDGES.T)
        far = stood + np.abs(EDGES @ self.world.gap) / 2 + ONE_IN_TWENTY * self.world.scatter
        return bool((far > self.strip).any())

    def read(self, *, aligned: bool = False) -> None:
        """Read the four edges and enter them; a realignment puts right where this travel ends."""
        at = BEGINS + int(self.day * DAY)
        count = bisect_right(self.world.at, at)
        side: ApproachSide = "shorter" if self.chance.random() < 0.5 else "longer"
        end = self.world.gap / 2 * (1 if side == "shorter" else -1)
        off = self.chance.standard_normal(3) * self.world.scatter * [1, 1, 0.2]
        if aligned:
            self.base = self.world.middle[count] + end + off
        stands = np.zeros(3) if aligned else self.world.middle[count] + end + off - self.base
        edges = EDGES @ stands + self.chance.standard_normal(4) * self.world.error
        line = self.line(at, edges, None if self.kind.endswith("untold") else side, aligned)
        if self.kind == "typed wrongly" and not aligned and self.chance.random() < SLIPS:
            line = self.slip(at, edges, side)
        self.book.append(line)
        self.counts.append(count)

    def slip(self, at: int, edges: np.ndarray, side: ApproachSide) -> Measured:
        """Type one edge ten times as large, and mend that if a note makes somebody look."""
        typed = edges.copy()
        typed[self.chance.integers(4)] *= 10
        line = self.line(at, typed, side, aligned=False)
        noted = any("--corrects mends it" in one for one in remarks(room_of(self.strip), line, at))
        if noted and self.chance.random() < 0.5:
            return self.line(at, edges, side, aligned=False)
        self.slipped[len(self.book)] = float(np.abs(typed - edges).max())
        return line

    def line(
        self, at: int, edges: np.ndarray, side: ApproachSide | None, aligned: bool
    ) -> Measured:
        left, top, right, bottom = (round(float(edge), 1) for edge in edges)
        return Measured(
            id=len(self.book) + 1,
            at=moment_of(at),
            preset="tall",
            left=left,
            top=top,
            right=right,
            bottom=bottom,
            unit="mm",
            error=self.world.error,
            lit=60,
            side=side,
            aligned=aligned,
        )

    def look(self) -> float:
        """Read it and do as told; return in how many travels to look again."""
        self.read()
        self.looks += 1
        wear = self.assessed()
        stands = self.world.middle[self.counts[-1]] - self.base
        for axis, truth in zip(wear.axes, stands, strict=False):
            self.held += int(axis.offset[0] <= truth <= axis.offset[2])
            self.told += 1
        for one in wear.disturbed:
            self.said.add(("asked" if one.side or one.warmth else one.kind, one.reading))
        if wear.disturbed and wear.disturbed[-1].kind == "unclear":
            return 0
        if wear.align:
            self.realigned += 1
            self.day += 0.005
            self.read(aligned=True)
            wear = self.assessed()
        if not wear.axes:
            return max(30, wear.next_measurement)
        return 1e9 if wear.due is None else max(1, wear.due)

    def assessed(self) -> PresetWear:
        count = self.counts[-1]
        travels = tuple(
            Travel(at, 0, "tall", None, True, True, None, "flat", 9_000, number)
            for number, at in enumerate(self.world.at[:count], 1)
        )
        ends = BEGINS + int(self.day * DAY) + HOUR
        ledger = Ledger(travels, (), {"tall": count}, (), {"tall": HOUR}, BEGINS, ends)
        (wear,) = assess(room_of(self.strip), ledger, [*self.book, *self.session])
        return wear

    def ended(self) -> Visited:
        """Sum it up."""
        bump = self.world.bump
        after = [] if bump is None else [n for n, at in enumerate(self.counts) if at >= bump[0]]
        first = after[0] if len(after) > 1 else None
        false = [
            (kind, n)
            for kind, n in self.said
            if (kind == "moved" and n not in after[:1])
            or (kind == "misread" and n not in self.slipped)
        ]
        far = [n for n, off in self.slipped.items() if off > LARGE_SLIP]
        return Visited(
            showed=self.showed,
            falsely=bool(false),
            named=None if first is None else ("moved", first) in self.said,
            asked=None if first is None else any(n == first for _, n in self.said),
            looks=self.looks,
            aligned=self.realigned,
            held=self.held,
            told=self.told,
            slips=len(far),
            left_out=len([n for n in far if ("misread", n) in self.said]),
        )


def _session(world: World, chance: np.random.Generator) -> Repeated:
    """Travel to it thirty times from either side, and read the place after each."""

    def places(way: float) -> Sequence[tuple[float, float]]:
        spread = np.hypot(world.scatter, 0.4 * world.error)
        ends = world.gap[:2] / 2 * way + spread * chance.standard_normal((30, 2))
        return [(round(float(x), 2), round(float(y), 2)) for x, y in ends]

    return Repeated(
        id=9_999,
        at=moment_of(BEGINS + 1_000),
        preset="tall",
        shorter=(*places(1),),
        longer=(*places(-1),),
        unit="mm",
        error=0.4 * world.error,
        lit=60,
    )
