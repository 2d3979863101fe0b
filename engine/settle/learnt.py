"""What the filter learns of a source and of its detector, and looks for again."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.shapes import (
    FINE,
    BarReading,
    Outline,
    Steps,
    eats_both_bars,
    lies_within,
    same_outline,
)

LINES_KNOWN: Final = 120_000
"""Lettering in both bars is no longer waited for when none is seen for this long, ms; how deep it
was stays known."""
LONGEST_SLIP: Final = 7_000
"""What has stood at a stretch for longer than this was no slip, and no lettering, ms."""
MOST_SLIPS: Final = 4
"""At most so many shapes are known as slips; the one that was taken back last is the first."""
SLIPS_KNOWN: Final = 120_000
"""A slip counts as none when it has not come again for this long, ms."""
BRIEF: Final = 7_000
"""A shape that stood no longer than this before the one before it came back was a mistake, ms."""
BRIEF_AGAIN: Final = 5_500
"""The same for a shape that has stood for longer before, ms."""
SLOWEST: Final = 1_500
"""A reading that stands for longer than this says nothing of how often its detector reads, ms."""
MOST_LINES: Final = 3
"""At most so many depths of lettering are known, the last one first."""
MOST_REAL: Final = 3
"""At most so many shapes are known that have stood, the last one first."""

COARSEST: Final = 16
"""No detector counts in larger steps, in lines or columns."""
FINEST: Final = 2
"""Steps that every detector may have are not looked for."""
SURE: Final = 3
"""Once so many different counts were multiples of a step, no accident is thought of any more."""


class CountedSteps(NamedTuple):
    """In which steps a detector may count lines."""

    step: int = COARSEST
    """The largest of 16, 8, 4 and 2 of which each count was a multiple; 1 if there is none."""
    met: int = 0
    """Which multiples were met, a bit for each."""


class Line(NamedTuple):
    """Lettering that stood in both bars above and below."""

    depth: int
    """So many lines of each bar were written in."""
    times: int = 1
    """So often it was seen."""


class Slip(NamedTuple):
    """A shape that was read for a while, and then the settled one again."""

    ratio: int
    """In 1/10,000."""
    stood: int
    """The longest for which it was read at a stretch, ms."""
    at: int
    """When the settled shape was there again, ms UTC."""


class Learnt(NamedTuple):
    """What the filter has learnt of a source's pictures and of its detector."""

    middle: tuple[int, int] | None = None
    """How many more lines the top bar has than the bottom bar where its pictures lie, and how many
    more columns the left bar than the right one; None: they lie in the middle."""
    former: Outline | None = None
    """The shape that was settled before this one: its return is believed sooner."""
    moved: int = 0
    """When the settled shape last changed, ms UTC."""
    begun: int = 0
    """Since when the shape before it has not been seen, ms UTC."""
    slips: tuple[Slip, ...] = ()
    """The shapes that were slips, the last one first."""
    real: tuple[int, ...] = ()
    """The ratios (1/10,000) that have stood for a while, the last one first."""
    lines: int | None = None
    """When something last stood in both bars above and below at once, ms UTC."""
    written: tuple[Line, ...] = ()
    """How deep such lettering stood, the last one first."""
    lasted: int = 0
    """The longest for which it stood, ms, since it was last waited for."""
    period: int = 0
    """The shortest time for which a reading stood until another one came, ms; 0: not known. So
    often its detector reads at most, or a hub says what it reads."""
    grid: CountedSteps = CountedSteps()
    """In which steps its detector may count lines."""
    steps: Steps = FINE
    """What is made of that."""


NOTHING_LEARNT: Final = Learnt()


def slip_noted(learnt: Learnt, shape: Outline, stood: int, now: int) -> Learnt:
    """Note that a shape was a slip: it stood for `stood` ms, and then the settled one was there.

    `now` is in ms UTC.
    """
    if shape.off_v or shape.off_h:
        return learnt
    if stood > LONGEST_SLIP:
        return _real_noted(learnt, shape)
    others = []
    for slip in learnt.slips:
        if not same_outline(shape, slip.ratio):
            others.append(slip)
        elif now - slip.at <= SLIPS_KNOWN:
            stood = max(stood, slip.stood)
    return learnt._replace(slips=(Slip(shape.ratio, stood, now), *others[: MOST_SLIPS - 1]))


def slipped(learnt: Learnt, shape: Outline, now: int) -> int:
    """Say for how long (ms) a shape stood where it was a slip; 0: it is not known to be one."""
    for slip in learnt.slips:
        if now - slip.at <= SLIPS_KNOWN and same_outline(shape, slip.ratio):
            return slip.stood
    return 0


def lines_noted(learnt: Learnt, now: int, home: Outline, edge: int, stood: int = 0) -> Learnt:
    """Note that lettering stood in both bars above and below `home` up to `now` (ms UTC).

    It left `edge` lines of each bar, and stood for `stood` ms; 0: nobody knows.
    """
    depth, near = _bar_of(home) - edge, _near(home)
    same = [line for line in learnt.written if abs(line.depth - depth) <= near]
    others = [line for line in learnt.written if line not in same]
    line = Line(depth, 1 + sum(one.times for one in same))
    lasted = max(stood, learnt.lasted if lines_known(learnt, now) else 0)
    written = (line, *others[: MOST_LINES - 1])
    return learnt._replace(lines=now, written=written, lasted=lasted)


def written_noted(
    learnt: Learnt, now: int, shape: Outline, last: BarReading | int | None
) -> Learnt:
    """Note lettering that stood in both bars of a shape with the last reading, if it did.

    `now` is in ms UTC.
    """
    if not isinstance(last, BarReading) or not eats_both_bars(shape, last):
        return learnt
    return lines_noted(learnt, now, shape, (last.top + last.bottom) // 2)


def _lines_denied(learnt: Learnt, former: Outline, shape: Outline) -> Learnt:
    """Forget lettering in the former bars that is as deep as a shape that stood for longer."""
    near, depth = _near(shape), _bar_of(former) - _bar_of(shape)
    written = tuple(line for line in learnt.written if abs(line.depth - depth) > near)
    return learnt._replace(written=written, lines=learnt.lines if written else None)


def lines_known(learnt: Learnt, now: int) -> bool:
    """Tell whether lettering has stood in both bars above and below not long ago."""
    return learnt.lines is not None and now - learnt.lines <= LINES_KNOWN


def is_written(learnt: Learnt, home: Outline, shape: Outline) -> bool:
    """Tell whether a shape within `home` ends where lettering would that is like what was seen.

    It is as deep, or twice or half as deep. The shape before the settled one is lettering only if
    lettering was as deep again and again.
    """
    near, depth = _near(home), _bar_of(home) - _bar_of(shape)
    if learnt.former is not None and same_outline(learnt.former, shape.ratio):
        return any(abs(depth - line.depth) <= near and line.times > 1 for line in learnt.written)
    return any(
        abs(depth - line.depth) <= near
        or min(abs(depth - 2 * line.depth), abs(2 * depth - line.depth)) <= 2 * near
        for line in learnt.written
    )


def _near(shape: Outline) -> int:
    """Give how many lines a bar above or below a shape may be off its place."""
    return max(1, (shape.most_v - shape.least_v) // 2)


def _bar_of(shape: Outline) -> int:
    """Give the lines that the bar above or below a shape has."""
    return (shape.least_v + shape.most_v) // 2


def counts_noted(learnt: Learnt, reading: BarReading) -> Learnt:
    """Note in which steps the lines of a reading may have been counted.

    A bar that is not there says nothing. By accident few counts have a large divisor.
    """
    step, met = grid = learnt.grid
    if step <= FINEST:
        return learnt
    for count in (reading.top, reading.bottom):
        if count:
            while count % step:
                step, met = step // 2, 0
            met |= 1 << (count // step & 63)
    if (step, met) == grid:
        return learnt
    counts = met.bit_count()
    known = step > FINEST and counts * step >= COARSEST
    steps = Steps(step, counts >= SURE) if known else FINE
    return learnt._replace(grid=CountedSteps(step, met), steps=steps)


def has_stood(learnt: Learnt, shape: Outline) -> bool:
    """Tell whether a shape was settled for longer before than a slip, or lettering, is."""
    return any(same_outline(shape, ratio) for ratio in learnt.real)


def change_noted(
    learnt: Learnt, home: Outline | None, shape: Outline, left: int, now: int
) -> Learnt:
    """Note that the settled shape changes, at `now` (ms UTC), from `home` to `shape`.

    `left` is when `home` was last seen (ms UTC). One that is taken back at once was a slip, or
    lettering.
    """
    former, seen = learnt.former, left - learnt.begun
    if home is not None:
        back = former is not None and same_outline(former, shape.ratio)
        within = former is not None and back and lies_within(former, home)
        brief = now - learnt.begun <= (BRIEF_AGAIN if has_stood(learnt, home) else BRIEF)
        if not brief and not (within and seen <= LONGEST_SLIP and lines_known(learnt, now)):
            learnt = _real_noted(learnt, home)
            if former is not None and learnt.written and seen > LONGEST_SLIP:
                learnt = _lines_denied(learnt, former, home)
        elif back:
            learnt = slip_noted(learnt, home, seen, now)
            if within and former is not None:
                learnt = lines_noted(learnt, now, former, _bar_of(home))
    return learnt._replace(former=home, moved=now, begun=left)


def _real_noted(learnt: Learnt, shape: Outline) -> Learnt:
    """Note that a shape has stood for longer than a slip, or lettering, does."""
    slips = tuple(slip for slip in learnt.slips if not same_outline(shape, slip.ratio))
    others = [ratio for ratio in learnt.real if not same_outline(shape, ratio)]
    return learnt._replace(slips=slips, real=(shape.ratio, *others[: MOST_REAL - 1]))


def place_noted(learnt: Learnt, shape: Outline) -> Learnt:
    """Note where a shape lies that is off the middle: of an axis without bars nothing is learnt."""
    known_v, known_h = learnt.middle or (0, 0)
    middle_v = shape.off_v if shape.least_v > 0 else known_v
    middle_h = shape.off_h if shape.least_h > 0 else known_h
    return learnt._replace(middle=(middle_v, middle_h))


def without_place(learnt: Learnt, *, raster: bool) -> Learnt:
    """Forget where pictures lie and, with another `raster`, in which shape the last one was."""
    if learnt is NOTHING_LEARNT:
        return learnt
    if raster:
        return learnt._replace(middle=None, former=None, written=())
    return learnt._replace(middle=None)
