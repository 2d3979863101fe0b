"""A rival of the settled shape: what speaks for it, and how much longer it must be seen to win."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.shapes import BarReading, Outline, refutes, same_outline
from engine.settle.sightings import (
    AMBIGUOUS,
    BEYOND,
    CALM,
    CORNER,
    CORNERED,
    DARK,
    EATEN,
    PART,
    WHOLE,
    WITHIN,
    Evidence,
    Sighting,
)

MARKED: Final = 1_000
"""How much longer a wider shape must hold while lettering eats into its bars, ms."""
PATIENCE: Final = 5_000
"""Evidence is forgotten when no more of it comes for this long, ms."""
SHORT_PATIENCE: Final = 2_000
"""The same for shapes that win quickly, ms."""
STILL: Final = 700
"""A bar that was not seen in its place for longer than this has not stood still, ms."""
CUTS: Final = 3
"""A bar stands still in a moving scene once the bar beside it has moved this many times."""
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


def new_rival(shape: Outline, sighting: Sighting, now: int) -> Rival:
    """Begin to weigh a shape."""
    return Rival(shape, 0, 0, 0, now, sighting.loose, 0, sighting.signs)


def credited(rival: Rival, evidence: Evidence, spent: int, now: int) -> Rival:
    """Add the time (ms) for which the last reading held, by what it was evidence of."""
    proof, weak, seen = rival.proof, rival.weak, now
    if evidence == WHOLE:
        proof += spent
    elif evidence == PART:
        proof += spent // 2
    elif evidence == CALM:
        seen = rival.seen
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
    )


def seen_again(rival: Rival, aspect: int | None, sighting: Sighting, now: int) -> Rival:
    """See a rival once more, and forget evidence that is too old."""
    shape, weak, moves, signs = rival.shape, rival.weak, rival.moves, rival.signs
    evidence, gap = sighting.evidence, now - rival.seen
    quick = shape.standard and not weak and (aspect is None or shape.ratio < aspect)
    if gap > (SHORT_PATIENCE if quick else PATIENCE):
        return new_rival(shape, sighting, now)
    if weak:
        other_kind = evidence >= EATEN and bool(signs & CORNERED) != (evidence == CORNER)
        if gap > STILL or other_kind:
            weak = moves = 0
    if evidence == EATEN:
        signs &= ~CORNERED
    loose = rival.loose
    if sighting.jump:
        moved = abs(sighting.loose - loose) >= sighting.jump
        if moved and moves < UNSTEADY:
            moves += 1
        if moved or evidence != EATEN:
            loose = sighting.loose
    return Rival(
        shape,
        rival.proof,
        weak,
        rival.span,
        now,
        loose,
        moves,
        signs | sighting.signs,
    )


def changed(
    held: Rival, aside: Rival | None, sighting: Sighting, reading: BarReading | int | None
) -> tuple[Rival | None, Rival | None]:
    """Change to the rival that a sighting speaks for, and give what is then kept aside.

    The first is the rival that was aside, or None where a new one must be made. The one that was
    held is kept aside if it is stronger, unless the reading rules it out.
    """
    rival = None
    if aside is not None and same_outline(aside.shape, sighting.ratio):
        rival, aside = aside, None
    if sighting.evidence == WHOLE and refutes(reading, held.shape):
        return rival, aside
    if aside is None or held.proof + held.weak >= aside.proof + aside.weak:
        aside = held
    return rival, aside


def time_to_win(
    dwell: DwellTimes, aspect: int | None, rival: Rival, evidence: Evidence
) -> int | None:
    """Say how long (ms) the present reading must still hold for the rival to win.

    0 or less: it has won. None: this evidence can never decide it.
    """
    shape, proof = rival.shape, rival.proof
    wider = aspect is not None and shape.ratio > aspect
    if not shape.standard:
        return _odd_need(dwell, shape, wider=wider) - proof if evidence == WHOLE else None
    need, rest = dwell.taller, 0
    if wider and shape.window:
        need = dwell.wider
    elif wider:
        need = dwell.wider // 2 if rival.signs & AMBIGUOUS else dwell.wider // 4
        rest = dwell.wider - rival.span
    elif shape.window:
        need = need * 9 // 5
    if evidence == WHOLE:
        return max(need - proof, rest)
    if evidence == PART:
        return max(2 * (need - proof), rest)
    if proof >= need:
        return rest
    return _time_to_win_weakly(dwell, rival, evidence, taller=aspect is not None and not wider)


def _odd_need(dwell: DwellTimes, shape: Outline, *, wider: bool) -> int:
    """Say for how long a shape that nobody standardised must be seen, ms."""
    if wider:
        return max(dwell.odd, dwell.wider * 4 // 5)
    if shape.least_v <= 0:
        return dwell.odd * 3 // 5  # Bars at the sides only, where nobody puts lettering.
    return dwell.odd


def _time_to_win_weakly(
    dwell: DwellTimes, rival: Rival, evidence: Evidence, *, taller: bool
) -> int | None:
    """Say the same for a standard shape that is seen in part only and not proven yet."""
    signs, moves = rival.signs, rival.moves
    had = rival.proof + rival.weak
    if evidence == EATEN:
        if signs & AMBIGUOUS or moves >= UNSTEADY:
            return None
        return (dwell.odd if taller else dwell.wider + MARKED) - had
    if evidence == CORNER and not (signs & DARK and moves):
        return None
    sure = taller and moves > 0
    if evidence == CORNER:
        sure = bool(signs & WITHIN and signs & BEYOND)
    if sure:
        return dwell.odd - had
    return 2 * dwell.wider - had if moves >= CUTS else None
