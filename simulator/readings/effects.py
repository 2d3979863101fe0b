"""What happens to a picture's edges on the way to a detector, an effect at a time.

An effect takes the edges of one frame (black lines above and below, black columns left and right)
and gives them as they are read with it; None is a frame that reads black all over. Effects are
chained: darkness first, then lettering, then the detector's own mistakes. Each draws its course
from the chance that it is given, so a seed makes the same evening everywhere. Times are seconds
since the scene began, and never go back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from random import Random

PictureEdges = tuple[float, float, float, float]
"""Lines above and below, columns left and right."""
Effect = Callable[[float, PictureEdges | None], PictureEdges | None]
Span = tuple[float, float]
"""Between how many seconds something lasts."""

ABOVE: Final = 0
BELOW: Final = 1
LEFT: Final = 2
RIGHT: Final = 3
SIDES: Final = (ABOVE, BELOW, LEFT, RIGHT)
DRAWN_IN: Final = 0.8
"""In so many seconds a fade draws the light in, or lets it out again."""
DARK_FROM: Final = 0.6
"""From this share of a fade on all is black."""
NOTHING_DARK: Final = (0.0, 0.0, 0.0, 0.0)


class Habits(NamedTuple):
    """What misleads: how large lettering is, how often a detector misreads, and the like."""

    line: Span = (18, 30)
    """Lettering is so high: between these parts of the raster's rows."""
    margin: float = 45
    """It keeps away from the edge of the raster by this part of its rows."""
    most_lines: int = 2
    even: float = 0.5
    """In this share of cases lettering in two bars is even."""
    apart: float = 0.01
    """In the others it differs by up to this share of the raster's rows."""
    both_bars: tuple[Span, Span] = ((1.5, 6), (1, 8))
    """Lettering in both bars stands, and is away, for between so many seconds."""
    subtitles: tuple[Span, Span] = ((1, 5), (1, 6))
    """The same for subtitles."""
    dark: float = 0.3
    """This share of shots is dark."""
    misread: float = 0.3
    """This share of frames is misread by a detector that does so."""


class Sight(NamedTuple):
    """How a scene is seen: by chance, in a raster, the picture lying within these edges."""

    chance: Random
    columns: int
    rows: int
    edges: PictureEdges
    habits: Habits

    def extent(self, side: int) -> int:
        """Give the raster's extent across a side's bar."""
        return self.rows if side in (ABOVE, BELOW) else self.columns


class Course:
    """A switch with a course of its own: off for a while, on for a while."""

    def __init__(self, chance: Random, on: Span, off: Span) -> None:
        """Begin with it off; each span lasts between these seconds."""
        self.chance, self.spans, self.on = chance, (off, on), False
        self.until = chance.uniform(0, off[1])
        self.turned = False
        """Whether it has been turned on since the look before."""

    def at(self, time: float) -> bool:
        """Tell whether it is on at a time."""
        self.turned = False
        while time >= self.until:
            self.on = not self.on
            self.turned = self.on
            self.until += self.chance.uniform(*self.spans[self.on])
        return self.on


def happens(chance: Random, share: float) -> bool:
    """Say by chance whether something happens that does so in this share of cases."""
    return chance.random() < share


def replaced(edges: PictureEdges, side: int, edge: float) -> PictureEdges:
    """Give edges with another one at a side."""
    above, below, left, right = (edge if at == side else edges[at] for at in SIDES)
    return above, below, left, right


# ----------------------------------------------------------------------------------- darkness


class DarkShots:
    """Cuts between bright shots and dark ones, in which the light ends further in at most edges.

    In most dark shots the edges of the light move; in some nothing does.
    """

    def __init__(self, sight: Sight, share: float | None = None, longest: float = 8.0) -> None:
        """Make about `share` of the shots dark; a shot lasts up to `longest` seconds."""
        self.sight, self.longest = sight, longest
        self.share = sight.habits.dark if share is None else share
        self.until, self.speed, self.depths = 0.0, 0.0, NOTHING_DARK

    def _cut(self, time: float) -> None:
        chance = self.sight.chance
        self.until = time + chance.uniform(1.2, self.longest)
        self.depths, self.speed = NOTHING_DARK, 0.0
        if happens(chance, self.share):
            self.speed = chance.choice((0.0, 0.005, 0.02, 0.05))
            for side in SIDES:
                if happens(chance, 0.7):
                    depth = chance.uniform(0.02, 0.45) * self.sight.extent(side)
                    self.depths = replaced(self.depths, side, depth)

    def __call__(self, time: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        if time >= self.until:
            self._cut(time)
        if edges is None or self.depths is NOTHING_DARK:
            return edges
        gauss, speed = self.sight.chance.gauss, self.speed
        for side, depth in enumerate(self.depths):
            if depth:
                deeper = depth + gauss(0, speed) * self.sight.extent(side)
                edges = replaced(edges, side, edges[side] + max(0.0, deeper))
        return edges


class Fades:
    """Fades to black and up again: the light draws in, unevenly, and comes back."""

    def __init__(self, sight: Sight, every: Span = (8, 40)) -> None:
        """Fade about so often, in seconds."""
        self.course = Course(sight.chance, (1.5, 5), every)
        self.sight, self.begun, self.drawn = sight, 0.0, NOTHING_DARK

    def __call__(self, time: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        if not self.course.at(time) or edges is None:
            return edges
        chance = self.sight.chance
        if self.course.turned:
            self.begun = time
            above, below, left, right = (chance.uniform(0.2, 1.0) for _ in SIDES)
            self.drawn = (above, below, left, right)
        gone, left_over = time - self.begun, self.course.until - time
        depth = min(gone, left_over, DRAWN_IN) / DRAWN_IN
        if depth > DARK_FROM:
            return None
        above, below, left, right = (
            edges[side] + self.drawn[side] * depth * 0.6 * self.sight.extent(side) for side in SIDES
        )
        return above, below, left, right


class Credits:
    """Lettering that rolls over black: other edges in every frame, or none."""

    def __init__(self, sight: Sight) -> None:
        """Roll in the middle of the raster."""
        self.sight = sight

    def __call__(self, _: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        chance, rows, columns = self.sight.chance, self.sight.rows, self.sight.columns
        if edges is None or happens(chance, 0.1):
            return None
        above, below = (chance.uniform(0, 0.25) * rows for _ in range(2))
        left, right = (chance.uniform(0.15, 0.4) * columns for _ in range(2))
        return above + edges[ABOVE], below + edges[BELOW], left, right


class Cards:
    """Title cards: black, a block of lettering that stands still in the middle, black again."""

    def __init__(self, sight: Sight) -> None:
        """Begin with black."""
        self.sight, self.card = sight, sight.edges
        self.course = Course(sight.chance, (3, 8), (0.6, 2))

    def _next(self) -> None:
        chance, rows, columns = self.sight.chance, self.sight.rows, self.sight.columns
        high, wide = chance.uniform(0.1, 0.6) * rows, chance.uniform(0.25, 0.75) * columns
        above = (rows - high) / 2 + chance.choice((0, 0, 1, -1)) * chance.uniform(0, 0.03) * rows
        beside = (columns - wide) / 2
        self.card = (above, rows - high - above, beside, beside)

    def __call__(self, time: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        if not self.course.at(time) or edges is None:
            return None
        if self.course.turned:
            self._next()
        return self.card


# ---------------------------------------------------------------------------------- lettering


class Lettering:
    """Lettering that comes and goes in bars: each time of another depth, or always of the same."""

    def __init__(
        self, sight: Sight, sides: Sequence[int], on: Span, off: Span, *, same: bool = False
    ) -> None:
        """Write into the bars at these sides, all at once."""
        self.sight, self.sides, self.same = sight, sides, same
        self.course = Course(sight.chance, on, off)
        self.eaten: dict[int, float] = {}
        self.line = sight.rows / sight.chance.uniform(*sight.habits.line)

    def _write(self) -> None:
        chance, rows, habits = self.sight.chance, self.sight.rows, self.sight.habits
        margin, line = rows / habits.margin, self.line
        lines = 1 if self.same else chance.randint(1, habits.most_lines)
        even = happens(chance, habits.even)
        off = 0.0 if even else chance.uniform(-habits.apart, habits.apart) * rows
        for side in self.sides:
            bar = self.sight.edges[side]
            left_over = max(min(bar, margin), bar - lines * line + (off if side else 0))
            self.eaten[side] = left_over

    def __call__(self, time: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        if not self.course.at(time) or edges is None:
            return edges
        if self.course.turned and not (self.same and self.eaten):
            self._write()
        for side, left_over in self.eaten.items():
            edges = replaced(edges, side, min(edges[side], left_over))
        return edges


class StandingMark:
    """A station's mark that stands in one bar all the time, or for most of it."""

    def __init__(self, sight: Sight, side: int, *, leaves: bool) -> None:
        """Put it into the bar at a side; it `leaves` now and then, as in advertisements."""
        self.side = side
        self.course = Course(sight.chance, (20, 90), (2, 10) if leaves else (0, 0.1))
        self.left_over = sight.edges[side] * sight.chance.uniform(0.2, 0.7)

    def __call__(self, time: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        if not self.course.at(time) or edges is None:
            return edges
        return replaced(edges, self.side, min(edges[self.side], self.left_over))


# --------------------------------------------------------------------------- the detector itself


class Misread:
    """A detector that misreads a share of the frames."""

    def __init__(self, sight: Sight, *, full: bool) -> None:
        """Misread as the full frame, or as anything at all."""
        self.sight, self.share, self.full = sight, sight.habits.misread, full

    def __call__(self, _: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        chance = self.sight.chance
        if not happens(chance, self.share):
            return edges
        if self.full:
            return NOTHING_DARK
        rows, columns = self.sight.rows, self.sight.columns
        above, below = (chance.uniform(0, 0.4) * rows for _ in range(2))
        left, right = (chance.uniform(0, 0.4) * columns for _ in range(2))
        return above, below, left, right


class Jitter:
    """A detector that errs by some lines or columns."""

    def __init__(self, sight: Sight, most: float) -> None:
        """Err by up to about this many lines of 1,080, at edges that have a bar."""
        self.sight, self.most = sight, most * sight.rows / 1_080

    def __call__(self, _: float, edges: PictureEdges | None) -> PictureEdges | None:
        """Read the edges of the frame at a time."""
        if edges is None or not self.most:
            return edges
        uniform, most = self.sight.chance.uniform, self.most
        above, below, left, right = (edge + uniform(-most, most) if edge else 0.0 for edge in edges)
        return above, below, left, right
