"""How much longer a rival must be seen to win against the settled shape."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.learnt import LONGEST_SLIP, Learnt, has_stood, is_written, lines_known, slipped
from engine.settle.lettering import BothBars
from engine.settle.rivals import UNSTEADY, DwellTimes, Rival
from engine.settle.shapes import (
    LitEdges,
    Outline,
    explains,
    has_bars,
    lies_within,
    same_outline,
)
from engine.settle.sightings import (
    AMBIGUOUS,
    BACK,
    BEYOND,
    CARD,
    CORNER,
    DARK,
    EATEN,
    EDGED,
    FAR,
    LINED,
    OFFSET,
    PART,
    WHOLE,
    WITHIN,
    Evidence,
)

MARKED: Final = 1_000
"""How much longer a wider shape must hold while lettering eats into its bars, ms."""
CUTS: Final = 3
"""A bar stands still in a moving scene once the bar beside it has moved this many times."""
PLACED: Final = 4_000
"""For so long in all a picture far off the middle is seen before it is believed, ms; half of it if
nothing is settled yet."""
STANDING: Final = 35_000
"""The same if one of its edges is the settled shape's and it never came back to its place: until
then it may be that shape, in the dark, ms."""
ALIGNED: Final = 15_000
"""The same if it reaches the edge of the raster on all other sides, ms."""
SMALL_WINDOW: Final = 12_000
"""For so long a window is seen that may be lettering on black, ms."""
LINES_LAST: Final = 6_500
"""Lettering in both bars above and below stands for up to this long, and so does a title where the
settled shape is new, ms."""
ALTERNATING: Final = 30_000
"""A shape that was left no longer ago than this is believed sooner when it is back, ms."""
SLIPS_LAST: Final = 4
"""A shape that was a slip is believed once it stands so many times longer than it ever did as one.
What a detector reads falsely in three frames of ten stands twice as long in one case of eleven, and
four times as long in one of a thousand, however quick the detector is."""
LEAST_READINGS: Final = 5
"""It is for so many readings at least: the longest of few slips is hardly the longest there is."""
YOUNG: Final = 30_000
"""Lettering is expected in the bars of a shape until it has stood for so long without any, ms."""
NEW: Final = 5_000
"""A shape is new until it has been settled for so long, ms."""
TITLED: Final = 10_000
"""Titles are expected in the bars of the first shape until it has been settled for so long, ms."""
UNSURE: Final = 3_000
"""For so long a standard shape is seen where lettering is known, but none of its depth, and one
that was never seen before and is no title, where the settled shape is new, ms."""
DUE: Final = 16
"""For this part of the time between two readings the next one is waited for, if it is due."""
CONTESTED: Final = 3
"""So many times longer a first shape is seen where another one is seen as well."""


class Contest(NamedTuple):
    """What a rival is weighed against."""

    dwell: DwellTimes
    aspect: int | None
    """The settled ratio, in 1/10,000."""
    home: Outline | None
    learnt: Learnt
    aside: Rival | None
    """The strongest other rival."""
    away: int
    """For how long the settled shape has not been seen, ms."""
    both: BothBars | None
    """What stands in both bars above and below the settled shape."""
    now: int
    """ms UTC."""


def time_to_win(contest: Contest, rival: Rival, evidence: Evidence) -> int | None:
    """Say how long (ms) the present reading must still hold for the rival to win.

    0 or less: it has won. None: this evidence can never decide it.
    """
    shape, proof, aspect = rival.shape, rival.proof, contest.aspect
    wider = aspect is not None and shape.ratio > aspect
    if evidence == OFFSET:
        return _time_to_win_off_the_middle(contest, rival, wider=wider)
    need = _need(contest, rival, wider=wider)
    rest = _rest(contest, rival, need, wider=wider)
    if evidence == WHOLE:
        return max(need - proof, rest)
    if not shape.standard:
        lasting = evidence == EATEN and shape.least_v <= 0 and not rival.signs & AMBIGUOUS
        return STANDING - proof - rival.weak if lasting else None
    if evidence == PART:
        return max(2 * (need - proof), rest)
    if proof >= need:
        return rest
    taller = aspect is not None and not wider
    return _time_to_win_weakly(contest, rival, evidence, taller=taller)


def time_to_win_in_the_dark(dwell: DwellTimes, aspect: int | None, rival: Rival) -> int | None:
    """Say for how long (ms) it must still be dark for a wider rival to win that was seen plainly.

    None: it must be light again first.
    """
    shape = rival.shape
    wider = aspect is not None and shape.ratio > aspect
    if not wider or not shape.standard or shape.window or rival.signs & AMBIGUOUS:
        return None
    return dwell.wider * 3 // 2 - rival.span if rival.proof >= dwell.wider // 4 else None


def with_dark_before(dwell: DwellTimes, learnt: Learnt, rival: Rival, light: LitEdges) -> Rival:
    """Count the dark before a rival was seen at first towards its span, if it explains all of it.

    A wider one must still be seen as a former shape is, which gains nothing by it, and until the
    next reading is due.
    """
    shape, period = rival.shape, learnt.period
    if not explains(shape, light) or _is_former(learnt, shape, rival.seen):
        return rival
    most = dwell.wider - max(dwell.wider // 4, period) - period // DUE
    return rival._replace(span=min(rival.seen - light[4], most))


def _is_former(learnt: Learnt, shape: Outline, now: int) -> bool:
    """Tell whether this is the shape that was settled before the present one, not long ago."""
    former = learnt.former
    if former is None or not same_outline(former, shape.ratio):
        return False
    return now - learnt.moved <= ALTERNATING


def _rest(contest: Contest, rival: Rival, need: int, *, wider: bool) -> int:
    """Say for how long nothing may yet speak against a rival, ms."""
    shape, learnt = rival.shape, contest.learnt
    slip = slipped(learnt, shape, contest.now)
    due = learnt.period // DUE
    if wider and shape.standard and not shape.window:
        return _time_unopposed(contest, shape, slip, due) - rival.span
    if wider:
        written = not shape.standard and _is_beneath(contest, rival) and _lines_likely(contest)
        return need + LINES_LAST - rival.run if written else 0
    hasty = _time_unread(contest, rival) - rival.run
    if not _may_be_lines(contest, shape):
        rest = _time_to_outlast(slip, learnt.period) + due
        return max(hasty, min(rest - rival.run, 2 * rest - rival.proof))
    if rival.signs & BACK:
        return hasty
    if shape.standard and not _lines_known(contest):
        return max(hasty, SLIPS_LAST * slip - rival.run)
    return _rest_of_lines(contest, rival, need, slip)


def _time_to_outlast(slip: int, period: int) -> int:
    """Say for how long a shape is seen, ms, that has stood as a slip for `slip` ms (0: never)."""
    return min(max(SLIPS_LAST * slip, LEAST_READINGS * period), LONGEST_SLIP) if slip else 0


def _time_unopposed(contest: Contest, shape: Outline, slip: int, due: int) -> int:
    """Say for how long nothing speaks against a wider standard shape, ms.

    It has stood as a slip for `slip` ms (0: never); the next reading is waited for `due` ms.
    """
    dwell = contest.dwell.wider
    if _is_former(contest.learnt, shape, contest.now) and (not slip or _is_slip(contest)):
        few = contest.learnt.period * LEAST_READINGS > dwell // 4
        return max(dwell // 4, contest.learnt.period) + (due if few else 0)
    return dwell + due if slip else dwell


def _rest_of_lines(contest: Contest, rival: Rival, need: int, slip: int) -> int:
    """Say the same for a shape that may be lettering in both bars of the settled one.

    `slip` is for how long it stood where it was one, ms.
    """
    shape, learnt, home = rival.shape, contest.learnt, contest.home
    if not shape.standard:
        return need + LINES_LAST - rival.run if _lines_likely(contest) else 0
    if _is_beneath(contest, rival):
        return need + LINES_LAST - rival.run
    if slip or (home is not None and is_written(learnt, home, shape)):
        return need + LINES_LAST + learnt.period // DUE - contest.away
    longer = learnt.lasted * 5 // 4
    return need + max(UNSURE, min(longer, LINES_LAST)) - contest.away


def _time_unread(contest: Contest, rival: Rival) -> int:
    """Say for how long a shape is seen at first, ms: the full frame until it is read twice.

    One that replaces a shape that is new, neither ever seen before, waits longer: titles stand at a
    beginning, and a detector that slips is not known for one yet.
    """
    home, learnt = contest.home, contest.learnt
    if home is not None and not (has_stood(learnt, home) or has_stood(learnt, rival.shape)):
        age = contest.now - rival.run - learnt.moved
        first, title = learnt.former is None, _may_be_lines(contest, rival.shape)
        if first and age < TITLED and title:
            return contest.dwell.taller + LINES_LAST
        if age < NEW:
            return LINES_LAST if title else UNSURE
    return 0 if has_bars(rival.shape) else learnt.period + learnt.period // DUE


def _is_slip(contest: Contest) -> bool:
    """Tell whether the settled shape is one that was a slip."""
    if contest.home is None:
        return False
    stood = slipped(contest.learnt, contest.home, contest.now)
    return contest.now - contest.learnt.moved < SLIPS_LAST * stood


def _may_be_lines(contest: Contest, shape: Outline) -> bool:
    """Tell whether a shape may be lettering in both bars above and below the settled one."""
    home = contest.home
    if home is None or shape.window:
        return False
    if not lies_within(home, shape):
        deep = not shape.standard and shape.least_v > 0 and shape.most_v < home.least_v
        return deep and _lines_known(contest)
    return not (shape.standard and _is_back(contest, shape))


def _came_singly(contest: Contest) -> bool:
    """Tell whether what stands in both bars came into one of them first, as lettering may."""
    return contest.both is not None and contest.both.written


def _lines_known(contest: Contest) -> bool:
    """Tell whether lettering stands in both bars above and below, or has stood not long ago."""
    return _came_singly(contest) or lines_known(contest.learnt, contest.now)


def _lines_likely(contest: Contest) -> bool:
    """Tell whether lettering is known, or the settled shape has only just appeared."""
    return _lines_known(contest) or contest.now - contest.learnt.moved <= YOUNG


def _is_beneath(contest: Contest, rival: Rival) -> bool:
    """Tell whether a rival may be lettering in the bars of another one.

    That was seen since the settled shape was, and is nearer to it.
    """
    other, home = contest.aside, contest.home
    if other is None or other.seen <= contest.now - contest.away or not other.shape.standard:
        return False
    if other.shape.window or rival.shape.window or not lies_within(other.shape, rival.shape):
        return False
    wider = home is not None and other.shape.ratio > home.ratio
    return wider or (home is not None and lies_within(home, other.shape))


def _is_contested(contest: Contest, rival: Rival) -> bool:
    """Tell whether another shape is seen plainly as well: no slip, and no lettering in its bars."""
    other = contest.aside
    if other is None or other.proof <= 0 or lies_within(rival.shape, other.shape):
        return False
    return not slipped(contest.learnt, other.shape, contest.now)


def _is_first_in_bars(contest: Contest, rival: Rival) -> bool:
    """Tell whether what may be settled first lies within the bars of a picture seen before it."""
    other = contest.aside
    if contest.aspect is not None or other is None or other.shape.window:
        return False
    return other.shape.standard and lies_within(other.shape, rival.shape)


def _is_back(contest: Contest, shape: Outline) -> bool:
    """Tell whether a taller shape stood before, and no lettering is known."""
    return not _lines_known(contest) and has_stood(contest.learnt, shape)


def _need(contest: Contest, rival: Rival, *, wider: bool) -> int:
    """Say for how long a rival must be seen plainly, ms."""
    shape, dwell = rival.shape, contest.dwell
    if shape.window and (rival.signs & CARD or not shape.standard):
        return SMALL_WINDOW
    if wider and shape.window:
        return dwell.wider
    if not shape.standard:
        need = _odd_need(dwell, shape, wider=wider)
    elif wider:
        need = dwell.wider // 2 if rival.signs & AMBIGUOUS else dwell.wider // 4
    elif shape.window:
        need = dwell.taller * 9 // 5
    else:
        need = dwell.taller
    if wider:
        return need
    if not _is_contested(contest, rival):
        return need
    return need + LINES_LAST if _is_first_in_bars(contest, rival) else CONTESTED * need


def _odd_need(dwell: DwellTimes, shape: Outline, *, wider: bool) -> int:
    """Say for how long a shape that nobody standardised must be seen, ms."""
    if wider:
        return max(dwell.odd, dwell.wider * 4 // 5)
    if shape.least_v <= 0:
        return dwell.odd * 3 // 5  # Bars at the sides only, where nobody puts lettering.
    return dwell.odd


def _time_to_win_off_the_middle(contest: Contest, rival: Rival, *, wider: bool) -> int | None:
    """Say the same for a picture that does not lie in the middle."""
    had, dwell = rival.weak + rival.proof, contest.dwell
    if rival.signs & AMBIGUOUS and not rival.moves:
        return (ALIGNED if rival.signs & EDGED else STANDING) - had
    lines = _may_be_lines(contest, rival.shape)
    seen_once = rival.signs & LINED and contest.learnt.lines is not None
    if seen_once or (lines and _lines_known(contest)):
        return LINES_LAST + dwell.odd - rival.run
    if not rival.shape.standard:
        return (STANDING if lines else 2 * dwell.odd) - had
    if contest.learnt.middle is None and (lines or rival.signs & (FAR | AMBIGUOUS)):
        first = contest.aspect is None
        return (LINES_LAST if lines else PLACED // 2 if first else PLACED) - had
    if wider:
        return dwell.wider + MARKED - had
    return dwell.odd * 3 // 5 - had


def _time_to_win_weakly(
    contest: Contest, rival: Rival, evidence: Evidence, *, taller: bool
) -> int | None:
    """Say the same for a standard shape that is seen in part only and not proven yet."""
    signs, moves, dwell = rival.signs, rival.moves, contest.dwell
    had = rival.proof + rival.weak
    if taller and signs & BEYOND and _is_back(contest, rival.shape):
        return 3 * dwell.taller - had
    if evidence == EATEN:
        return _time_to_win_eaten(contest, rival, taller=taller)
    if evidence == CORNER and not (signs & DARK and moves):
        return None
    sure = taller and moves > 0
    if evidence == CORNER:
        sure = bool(signs & WITHIN and signs & BEYOND)
    if not sure and moves < CUTS:
        return None
    need = dwell.odd if sure else 2 * dwell.wider
    return max(need - had, _rest(contest, rival, need, wider=False) if taller else 0)


def _time_to_win_eaten(contest: Contest, rival: Rival, *, taller: bool) -> int | None:
    """Say the same for a shape one of whose bars lettering eats into."""
    dwell, had = contest.dwell, rival.proof + rival.weak
    if rival.moves >= UNSTEADY:
        return None
    if rival.signs & AMBIGUOUS:
        return STANDING - had
    if rival.shape.least_v <= 0 < rival.shape.least_h:
        return dwell.odd * 3 // 5 - had  # A mark in a bar at the side.
    if taller:
        at_once = contest.both is not None and not contest.both.marked
        lines = at_once and _may_be_lines(contest, rival.shape)
        need = dwell.wider + MARKED if lines else dwell.odd
        return max(need - had, _rest(contest, rival, dwell.odd, wider=False))
    return dwell.wider + MARKED - had
