"""A rival of the settled shape: what speaks for it, and for how long it has been seen."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.aspect import SCALE
from engine.settle.shapes import (
    BarReading,
    Outline,
    RasterKey,
    Steps,
    eats_both_bars,
    lies_within,
    outline_of,
    same_outline,
    same_place,
    scale_of,
)
from engine.settle.sightings import (
    BACK,
    CALM,
    CORNER,
    CORNERED,
    EATEN,
    OFFSET,
    PART,
    SETTLED,
    STAYED,
    WHOLE,
    Evidence,
    Sighting,
)

PATIENCE: Final = 9_000
"""Evidence is forgotten when no more of it comes for this long, ms: than lettering or a dark shot
stands."""
SHORT_PATIENCE: Final = 2_000
"""The same for shapes that win quickly, ms."""
LONG_PATIENCE: Final = 30_000
"""The same for pictures off the middle, which are seen between dark shots."""
STILL: Final = 1_500
"""A bar that was not seen in its place for longer than this has not stood still, ms."""
SEEN_PLAINLY: Final = 500
"""A wider shape that was seen for so long is not forgotten for lettering in its bars, ms."""
UNSTEADY: Final = 8
"""What eats into a bar is no lettering once its depth has changed this many times."""


class DwellTimes(NamedTuple):
    """How long a new shape must hold before it is settled on, ms."""

    taller: int = 500
    """For a standard shape that is taller than the settled one."""
    wider: int = 4_000
    """For a standard shape that is wider than the settled one."""
    odd: int = 3_300
    """For a shape that nobody standardised. A wider one waits for four fifths of `wider` if that is
    longer, because no darkness counts towards it as it does for standard shapes."""


class Rival(NamedTuple):
    """A shape that may replace the settled one, and what speaks for it. Times are in ms."""

    shape: Outline
    proof: int
    """For how long it was seen plainly."""
    weak: int
    """For how long it was seen in part, or with a bar eaten into."""
    span: int
    """For how long nothing has spoken against it."""
    seen: int
    """When it was last seen, ms UTC."""
    loose: int
    """Size of the bar that does not fit the shape, in lines or columns."""
    moves: int
    """How often that bar has moved, counted up to `UNSTEADY`."""
    signs: int
    """What else was noticed: the signs of `sightings`, added up as bits."""
    run: int = 0
    """For how long it was seen since the settled shape was."""
    stood: int = 0
    """The longest such time before that."""
    back: int = 0
    """The longest for which the settled shape was read meanwhile."""
    home: int = 0
    """For how long it has been read since the rival was; darkness is none of it."""
    times: int = 0
    """How many readings have shown it whole since the settled shape was seen."""
    lines: int = 0
    """The lines of its bars above and below, added up over them."""


def outline_seen(sighting: Sighting, raster: RasterKey | None, steps: Steps) -> Outline:
    """Work out where the bars of the shape seen are read."""
    scale = None if raster is None else scale_of(*raster, steps)
    ratio, bars_v, bars_h = sighting.ratio, sighting.bars_v, sighting.bars_h
    outline = outline_of(ratio, bars_v, bars_h, scale, standard=sighting.standard)
    if not (sighting.off_v or sighting.off_h):
        return outline
    return outline._replace(off_v=sighting.off_v, off_h=sighting.off_h)


def new_rival(shape: Outline, sighting: Sighting, now: int) -> Rival:
    """Begin to weigh a shape."""
    rival = Rival(shape, 0, 0, 0, now, sighting.loose, 0, sighting.signs)
    if sighting.evidence != WHOLE:
        return rival
    return rival._replace(times=1, lines=sighting.bars_v)


def credited(rival: Rival, evidence: Evidence, spent: int, now: int) -> Rival:
    """Add the time (ms) for which the last reading held, by what it was evidence of."""
    proof, weak, seen = rival.proof, rival.weak, rival.seen
    if evidence == SETTLED:
        return _opposed(rival, spent)
    run, home = rival.run, rival.home
    if evidence != CALM:
        run, seen, home = run + spent, now, 0
        if evidence == WHOLE:
            proof += spent
        elif evidence == PART:
            proof += spent // 2
        else:
            weak += spent
    return Rival(
        rival.shape,
        proof,
        weak,
        rival.span + spent,
        seen,
        rival.loose,
        rival.moves,
        rival.signs,
        run,
        rival.stood,
        rival.back,
        home,
        rival.times,
        rival.lines,
    )


def _opposed(rival: Rival, spent: int) -> Rival:
    """Take from a rival the time (ms) for which the settled shape was read."""
    return beside_home(rival, spent)._replace(
        proof=max(0, rival.proof - spent),
        weak=max(0, rival.weak - spent),
        span=max(0, rival.span - spent),
        signs=rival.signs & ~BACK,
        run=0,
        stood=max(rival.stood, rival.run),
        times=0,
        lines=0,
    )


def beside_home(rival: Rival, spent: int) -> Rival:
    """Add to a rival the time (ms) for which the settled shape was read beside it."""
    home = rival.home + spent
    return rival._replace(home=home, back=max(rival.back, home))


def seen_again(rival: Rival, aspect: int | None, sighting: Sighting, now: int) -> Rival:
    """See a rival once more, and forget evidence that is too old."""
    shape, weak, moves, signs = rival.shape, rival.weak, rival.moves, rival.signs
    evidence, gap = sighting.evidence, now - rival.seen
    quick = shape.standard and not weak and (aspect is None or shape.ratio < aspect)
    if evidence == OFFSET:
        return _back_in_its_place(rival, sighting, now)
    if gap > (SHORT_PATIENCE if quick else PATIENCE):
        anew = new_rival(shape, sighting, now)
        return anew._replace(signs=sighting.signs | rival.signs & BACK)
    if weak:
        other_kind = evidence >= EATEN and bool(signs & CORNERED) != (evidence == CORNER)
        if shape.off_v or shape.off_h:
            other_kind = False  # It was seen whole, off the middle.
        away = gap > STILL and abs(sighting.loose - rival.loose) >= sighting.jump
        if away or other_kind:
            weak = moves = 0
    if evidence == EATEN:
        signs &= ~CORNERED
    whole = evidence == WHOLE
    loose, moves = _moved(rival, sighting, moves)
    return Rival(
        shape,
        rival.proof,
        weak,
        rival.span,
        now,
        loose,
        moves,
        signs | sighting.signs,
        rival.run,
        rival.stood,
        rival.back,
        0,
        rival.times + whole,
        rival.lines + whole * sighting.bars_v,
    )


def _moved(rival: Rival, sighting: Sighting, moves: int) -> tuple[int, int]:
    """Give the size of the bar that does not fit the shape, and how often it has moved by now."""
    loose = rival.loose
    if sighting.jump:
        moved = abs(sighting.loose - loose) >= sighting.jump
        if moved and moves < UNSTEADY:
            moves += 1
        if moved or sighting.evidence != EATEN:
            loose = sighting.loose
    return loose, moves


def on_average(rival: Rival, home: Outline | None, raster: RasterKey | None, steps: Steps) -> Rival:
    """Give a rival as nobody's standard shape if all its readings together say so.

    One reading among many is near a standard shape by accident, where a detector errs. It counts
    too few lines rather than too many, so what leaves more of the bars of `home` than the standard
    shape has is lettering next to it.
    """
    shape, times = rival.shape, rival.times
    if times <= 1 or not shape.standard or raster is None or home is None:
        return rival
    if shape.window or home.window or not lies_within(home, shape):
        return rival
    scale = scale_of(*raster, steps)
    rows = scale.rows * times - rival.lines
    ratio = scale.columns * times * scale.numerator // (rows * scale.denominator)
    if (ratio - shape.ratio) * SCALE <= scale.slack * shape.ratio:
        return rival
    return rival._replace(shape=shape._replace(standard=False))


def _back_in_its_place(rival: Rival, sighting: Sighting, now: int) -> Rival:
    """See a picture off the middle once more; that it has come back speaks for it."""
    gap = now - rival.seen
    if gap > LONG_PATIENCE:
        return new_rival(rival.shape, sighting, now)
    moved = gap and rival.moves < UNSTEADY and not sighting.signs & STAYED
    moves = rival.moves + 1 if moved else rival.moves
    return rival._replace(seen=now, moves=moves, signs=rival.signs | sighting.signs)


def speaks_for(sighting: Sighting, rival: Rival, raster: RasterKey | None) -> bool:
    """Tell whether a sighting is of this rival's shape, where the rival has it.

    Light up to all four edges of the raster is no window, and no card.
    """
    shape = rival.shape
    if not same_outline(shape, sighting.ratio):
        return False
    if shape.window and sighting.evidence == WHOLE and not (sighting.bars_v or sighting.bars_h):
        return False
    if raster is None or not (shape.off_v or shape.off_h or sighting.evidence == OFFSET):
        return True
    return same_place(shape, sighting.off_v, sighting.off_h, scale_of(*raster))


def is_written_in(rival: Rival, aspect: int | None, reading: BarReading, now: int) -> bool:
    """Tell whether a reading is lettering in both bars of a wider rival that was seen plainly.

    It says neither that the rival is there nor that it is not. `now` is in ms UTC.
    """
    shape = rival.shape
    return (
        aspect is not None
        and shape.ratio > aspect
        and shape.standard
        and not shape.window
        and rival.proof >= SEEN_PLAINLY
        and now - rival.seen <= PATIENCE
        and eats_both_bars(shape, reading)
    )


def is_written_within(rival: Rival, home: Outline, reading: BarReading, now: int) -> bool:
    """Tell the same of a taller rival that ends in the bars above and below the settled shape."""
    shape = rival.shape
    return (
        shape.standard
        and rival.proof >= SEEN_PLAINLY
        and now - rival.seen <= PATIENCE
        and not (shape.window or shape.off_v or shape.off_h)
        and lies_within(home, shape)
        and eats_both_bars(shape, reading)
    )


def changed(
    held: Rival,
    aside: Rival | None,
    sighting: Sighting,
    raster: RasterKey | None,
    left: int,
) -> tuple[Rival | None, Rival | None]:
    """Change to the rival that a sighting speaks for, and give what is then kept aside.

    The settled shape was `left` then (ms UTC): one that was seen since, and is there again now that
    what stood in its bars is gone, was no lettering.

    The first is the rival that was aside, or None where a new one must be made. The one that was
    held is kept aside if it is stronger.
    """
    rival = None
    if aside is not None and speaks_for(sighting, aside, raster):
        rival, aside = aside, None
        if rival.seen > left and lies_within(rival.shape, held.shape):
            rival = rival._replace(signs=rival.signs | BACK)
    if aside is None or aside.seen <= left or held.proof + held.weak >= aside.proof + aside.weak:
        aside = held._replace(run=0, stood=max(held.run, held.stood), times=0, lines=0)
    return rival, aside
