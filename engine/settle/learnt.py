"""What the filter learns of a source and of its detector, and looks for again."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.shapes import Outline, lies_within, same_outline

LINES_KNOWN: Final = 120_000
"""Lettering in both bars is forgotten when none is seen for this long, ms."""
MOST_SLIPS: Final = 5
"""More slips than this count for no more."""
SLIPS_KNOWN: Final = 60_000
"""Slips of the detector are forgotten when no more of them come for this long, ms."""
BRIEF: Final = 6_000
"""A shape that stood no longer than this before the one before it came back was a mistake, ms."""


class Learnt(NamedTuple):
    """What the filter has learnt of a source's pictures and of its detector."""

    middle: tuple[int, int] | None = None
    """How many more lines the top bar has than the bottom bar where its pictures lie, and how many
    more columns the left bar than the right one; None: they lie in the middle."""
    former: Outline | None = None
    """The shape that was settled before this one: its return is believed sooner."""
    stood: bool = False
    """Whether that shape had stood for a while."""
    moved: int = 0
    """When the settled shape last changed, ms UTC."""
    slips: int = 0
    """How often one taller shape was read for a moment and then the settled one again."""
    slip: int = 0
    """The ratio of that shape, in 1/10,000."""
    slipped: int = 0
    """When it last was, ms UTC."""
    lines: int | None = None
    """When something last stood in both bars above and below at once, ms UTC."""


NOTHING_LEARNT: Final = Learnt()


def slip_noted(learnt: Learnt, shape: Outline, home: Outline, now: int) -> Learnt:
    """Note that a shape was read for a moment only, before the settled one at `now` (ms UTC)."""
    if shape.ratio >= home.ratio or shape.off_v or shape.off_h:
        return learnt
    if lies_within(home, shape):
        return learnt._replace(lines=now)
    known = now - learnt.slipped <= SLIPS_KNOWN and same_outline(shape, learnt.slip)
    slips = learnt.slips if known else 0
    return learnt._replace(slips=min(slips + 1, MOST_SLIPS), slip=shape.ratio, slipped=now)


def change_noted(learnt: Learnt, home: Outline | None, shape: Outline, now: int) -> Learnt:
    """Note that the settled shape changes, at `now` (ms UTC), from `home` to `shape`.

    One that is taken back at once was lettering, or a slip.
    """
    former, brief = learnt.former, now - learnt.moved <= BRIEF
    if brief and home is not None and former is not None and same_outline(former, shape.ratio):
        learnt = slip_noted(learnt, home, former, now)
    return learnt._replace(former=home, stood=not brief, moved=now)


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
    return learnt._replace(middle=None, former=None if raster else learnt.former)
