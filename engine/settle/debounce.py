"""The filter itself: readings come in, deadlines pass, and the settled aspect comes out."""

from __future__ import annotations

from typing import Final

from engine.settle.contest import (
    LINES_LAST,
    TITLED,
    Contest,
    time_to_win,
    time_to_win_in_the_dark,
    with_dark_before,
)
from engine.settle.elsewhere import as_it_came, may_lie_elsewhere, or_off_the_middle
from engine.settle.learnt import (
    FINEST,
    SLOWEST,
    Learnt,
    change_noted,
    counts_noted,
    lines_noted,
    place_noted,
    slip_noted,
    slipped,
    without_place,
    written_noted,
)
from engine.settle.lettering import seen_in_both_bars, was_lettering
from engine.settle.rivals import (
    DwellTimes,
    Rival,
    beside_home,
    changed,
    credited,
    is_written_in,
    is_written_within,
    new_rival,
    on_average,
    outline_seen,
    seen_again,
    speaks_for,
)
from engine.settle.settling import Settling, parked
from engine.settle.shapes import (
    BarReading,
    Outline,
    alike,
    centred,
    eats_both_bars,
    expected_outline,
    explains,
    fits,
    has_bars,
    is_black,
    is_nearer,
    lies_within,
    lit_by,
    scale_of,
    standard_near,
)
from engine.settle.sightings import (
    BACK,
    CALM,
    EATEN,
    LINED,
    NARROWEST_PICTURE,
    NO_EVIDENCE,
    OFFSET,
    PART,
    SETTLED,
    TEXT,
    WHOLE,
    WIDEST_PICTURE,
    Evidence,
    Sighting,
    look_at,
)
from engine.settle.stillness import (
    LASTING,
    STOOD_LONG,
    due_at,
    noted_at,
    standing,
    stood_at,
)

GLIMPSED: Final = 2_000
"""A wider shape that is seen for longer than this (ms) may well be there, lettering in its bars."""
LETTERING: Final = 800
"""A bottom bar that is eaten into for this long carries text, ms."""


def take_bars(
    dwell: DwellTimes, settling: Settling, reading: BarReading | None, now: int
) -> Settling:
    """Take a reading of bars; None is a raster that is black all over.

    `now` is in ms UTC and never goes back. If the deadline is not after it, call `elapse` first. A
    reading that equals the last one changes nothing and gives the same object back; that the very
    first one is black is noted.
    """
    if reading == settling.reading:
        if reading is None and settling.evidence != CALM:
            return settling._replace(evidence=CALM)
        return settling
    aspect, subtitles, home = settling.aspect, settling.subtitles, settling.home
    raster, learnt = settling.raster, settling.learnt
    spent = now - settling.since
    if 0 < spent < (learnt.period or SLOWEST) and settling.reading is not None:
        learnt = learnt._replace(period=spent)
        settling = settling._replace(learnt=learnt)
    # The settled shape again, in the same raster: most changed readings end here.
    if (
        home is not None
        and settling.rival is None
        and settling.both is None
        and reading is not None
        and reading[4:] == raster
        and learnt.middle is None
        and fits(home, reading)
        and reading.top + reading.bottom < reading.rows
        and reading.left + reading.right < reading.columns
    ):
        return Settling(aspect, subtitles, None, reading, now, NO_EVIDENCE, raster, home, learnt)
    return _weighed(dwell, settling, reading, now)


def _in_its_place(reading: BarReading, middle: tuple[int, int]) -> BarReading:
    """Give a reading as it were if the source's pictures lay in the middle of their raster."""
    scale = scale_of(*reading[4:])
    return centred(reading, middle, (scale.even_v, scale.even_h))


def _weighed(
    dwell: DwellTimes, settling: Settling, reading: BarReading | None, now: int
) -> Settling:
    """Take a changed reading that is not simply the settled shape in the same raster."""
    aspect, text, _, _, _, _, raster, home, learnt, left, rival, aside, both, at, lit = settling
    spent, left = now - settling.since, now if left is None else left
    of: Evidence = NO_EVIDENCE
    if at or spent >= LASTING:
        at = stood_at(at, settling.reading, spent, settling.since - left)
    if rival is not None:
        rival, aside = _credited_until(settling, now)
        learnt = learnt if rival is not None else _slip_seen(learnt, settling, now)
    if reading is None or is_black(reading):
        both = seen_in_both_bars(home, both, None, spent, None)
        black = Settling(aspect, text, None, reading, now, CALM, raster, home, learnt, left, rival)
        return black._replace(aside=aside, both=both, stands=at, light=lit)
    if reading[4:] != raster:
        raster, at = reading[4:], ()
        home = rival = aside = both = lit = None
        learnt = without_place(learnt, raster=True)
    if home is None and aspect is not None:
        home = expected_outline(aspect, raster, learnt.steps)
    seen = reading if learnt.middle is None else _in_its_place(reading, learnt.middle)
    if home is not None and (both or eats_both_bars(home, seen)):
        both = seen_in_both_bars(home, both, settling.reading, spent, seen)
        if both and was_lettering(home, settling.both, both, seen):
            learnt = lines_noted(learnt, now, home, both.edge, both.spent)
    if home is not None and fits(home, seen):
        learnt = _noted_at_home(learnt, settling, home, now, moved=seen != reading)
        of = SETTLED if rival else NO_EVIDENCE  # It speaks against the rival now.
        return Settling(aspect, text, None, reading, now, of, raster, home, learnt, None, rival)
    at, due = noted_at(at, reading, learnt.steps, now, now - left)
    lit = lit_by(lit, seen, now)
    heard = Settling(
        aspect, text, due, reading, now, of, raster, home, learnt, left, rival, aside, both, at, lit
    )
    if due <= now and _that_stands(heard) is not None:
        return _stood(heard, now)
    return _judged(dwell, heard if due > now else _anew(heard, now), settling, reading, seen)


def _anew(heard: Settling, now: int) -> Settling:
    """Begin to note anew where readings stand: what stood for long was no picture."""
    return heard._replace(deadline=now + STOOD_LONG, stands=())


def _noted_at_home(
    learnt: Learnt, before: Settling, home: Outline, now: int, *, moved: bool
) -> Learnt:
    """Learn from a reading of the settled shape: whether it is off the middle, and of lines.

    `moved` says that it was seen only as it would be in the middle.
    """
    if learnt.middle is not None and not moved and has_bars(home):
        learnt = without_place(learnt, raster=False)  # It lies in the middle after all.
    rival = before.rival
    if rival and rival.signs & LINED and before.evidence == OFFSET:
        learnt = learnt._replace(lines=now)
    return learnt


def _sooner(heard: Settling, dwell: DwellTimes, at: int) -> int:
    """Say when a rival wins that does so `at` (ms UTC), or when what stands is settled before it.

    What is no picture is not, nor anything before the room's own pace lets shapes count.
    """
    due = heard.deadline
    if due is None or at < due:
        return at
    patient = max(dwell.wider, dwell.odd) > STOOD_LONG
    return max(at, due + 1) if patient or _that_stands(heard) is None else due


def _that_stands(settling: Settling) -> Sighting | None:
    """Give the shape of the last reading, if it is a picture that may be settled for standing."""
    reading, learnt = settling.reading, settling.learnt
    if not isinstance(reading, BarReading):
        return None
    scale = scale_of(*reading[4:], learnt.steps)
    seen = reading if learnt.middle is None else _in_its_place(reading, learnt.middle)
    return standing(settling.aspect, settling.home, seen, reading, scale)


def _stood(settling: Settling, now: int) -> Settling:
    """Settle on what has stood for long enough, if it is a picture."""
    sighting = _that_stands(settling)
    if sighting is None:
        return settling._replace(deadline=None, stands=())
    shape = outline_seen(sighting, settling.raster, settling.learnt.steps)
    return _won(settling, new_rival(shape, sighting, now), sighting.evidence, now)


def _slip_seen(learnt: Learnt, settling: Settling, now: int) -> Learnt:
    """Learn that a rival was a slip: the settled shape has been seen for longer than it was."""
    rival, aspect = settling.rival, settling.aspect
    if rival is None or aspect is None:
        return learnt
    stood = max(rival.run, rival.stood)
    if rival.shape.ratio > aspect and stood > GLIMPSED:
        return learnt
    return slip_noted(learnt, rival.shape, stood, now)


def _judged(
    dwell: DwellTimes, heard: Settling, before: Settling, reading: BarReading, seen: BarReading
) -> Settling:
    """Say what a reading speaks for that does not show the settled shape.

    `seen` is the reading as it were if the source's pictures lay in the middle.
    """
    aspect, home, rival = heard.aspect, heard.home, heard.rival
    if heard.learnt.grid.step > FINEST:
        heard = heard._replace(learnt=counts_noted(heard.learnt, reading))
    shape = None if rival is None else rival.shape
    if shape and shape.standard and not (shape.off_v or shape.off_h) and fits(shape, seen):
        lines = seen.top + seen.bottom
        last = before.reading if before.evidence == CALM else None
        heard = heard._replace(learnt=written_noted(heard.learnt, heard.since, shape, last))
        return _contested(dwell, heard, Sighting(WHOLE, shape.ratio, bars_v=lines))
    scale = scale_of(*reading[4:], heard.learnt.steps)
    sighting = look_at(aspect, home, shape.ratio if shape else 0, seen, scale)
    if may_lie_elsewhere(sighting, reading, scale, moved=seen is not reading):
        sighting = or_off_the_middle(sighting, aspect, home, reading, scale)
    if (
        rival is not None
        and sighting.evidence < SETTLED
        and is_written_in(rival, aspect, seen, heard.since)
    ):
        return heard._replace(evidence=CALM)
    odd = sighting.evidence != WHOLE or not sighting.standard
    if rival and home and odd and is_written_within(rival, home, seen, heard.since):
        away = 0 if heard.left is None else heard.since - heard.left
        at = heard.since + max(1, dwell.taller + LINES_LAST - away)
        rival = rival._replace(signs=rival.signs | BACK)
        return heard._replace(deadline=_sooner(heard, dwell, at), evidence=CALM, rival=rival)
    if WHOLE <= sighting.evidence <= OFFSET:
        black = before.reading is None and before.evidence == CALM
        sighting = as_it_came(sighting, home, before.reading, scale, black=black)
        return _contested(dwell, heard, sighting)
    if sighting.evidence == NO_EVIDENCE and rival is None:
        return heard
    text_at = before.deadline if before.evidence == TEXT else None
    return _uncontested(dwell, heard, reading, sighting, text_at)


def take_ratio(dwell: DwellTimes, settling: Settling, ratio: int, now: int) -> Settling:
    """Take a ratio (1/10,000) from a detector or from metadata: a plain shape, without its bars.

    `now` and the object given back are as in `take_bars`.
    """
    if ratio == settling.reading:
        return settling
    rival, aside = _credited_until(settling, now)
    left = now if settling.left is None else settling.left
    heard = parked(settling, now)._replace(
        reading=ratio, left=left, rival=rival, aside=aside, both=settling.both
    )
    standard = standard_near(ratio, 40)
    same = heard.aspect is not None and alike(ratio, heard.aspect)
    if same and not is_nearer(standard, heard.aspect or 0):
        return heard._replace(left=None, rival=None, aside=None, both=None)
    if not NARROWEST_PICTURE <= ratio <= WIDEST_PICTURE:
        return heard
    return _contested(
        dwell, heard, Sighting(WHOLE, standard or ratio, bool(standard), bars_v=-1, bars_h=-1)
    )


def elapse(settling: Settling, now: int) -> Settling:
    """Do what is due by `now` (ms UTC); give the same object back while nothing is."""
    if settling.deadline is None or now < settling.deadline:
        return settling
    if settling.evidence == TEXT:
        return settling._replace(subtitles=True, deadline=None)
    stood = due_at(settling.stands, settling.since) == settling.deadline
    if stood and isinstance(settling.reading, BarReading):
        return _stood(settling, settling.deadline)
    if settling.rival is None:
        return settling._replace(deadline=None)
    return _won(settling, settling.rival, settling.evidence, settling.deadline)


def _credited_until(settling: Settling, now: int) -> tuple[Rival | None, Rival | None]:
    """Give the rival and the one aside, credited with the time for which the last reading held."""
    rival, aside, evidence = settling.rival, settling.aside, settling.evidence
    if rival is None or not CALM <= evidence <= SETTLED:
        return rival, aside
    spent = now - settling.since
    if (
        aside is not None
        and evidence in (WHOLE, PART)
        and not lies_within(aside.shape, rival.shape)
    ):
        known = slipped(settling.learnt, rival.shape, now)
        aside = credited(aside, CALM if known else SETTLED, spent, now)
    if (
        evidence == SETTLED
        and max(rival.run, rival.stood) > GLIMPSED
        and isinstance(settling.reading, BarReading)
        and is_written_in(rival, settling.aspect, settling.reading, settling.since)
    ):
        rival, evidence = beside_home(rival, spent), CALM
    rival = credited(rival, evidence, spent, now)
    spent_up = evidence == SETTLED and not rival.proof and not rival.weak
    return None if spent_up else rival, aside


def _contested(dwell: DwellTimes, heard: Settling, sighting: Sighting) -> Settling:
    """Let a sighting speak for its rival: the present one, the one aside, or a new one."""
    aspect, now, raster = heard.aspect, heard.since, heard.raster
    rival, aside, evidence = heard.rival, heard.aside, sighting.evidence
    away = 0 if heard.left is None else now - heard.left
    if rival is not None and not speaks_for(sighting, rival, raster):
        rival, aside = changed(rival, aside, sighting, raster, now - away)
    if rival is None:
        rival = new_rival(outline_seen(sighting, raster, heard.learnt.steps), sighting, now)
        if heard.light is not None and aside is None:
            rival = with_dark_before(dwell, heard.learnt, rival, heard.light)
    else:
        rival = seen_again(rival, aspect, sighting, now)
        off = rival.shape.off_v or rival.shape.off_h
        if evidence == WHOLE and sighting.standard and (off or not rival.shape.standard):
            rival = rival._replace(shape=outline_seen(sighting, raster, heard.learnt.steps))
        rival = on_average(rival, heard.home, raster, heard.learnt.steps)
    contest = Contest(dwell, aspect, heard.home, heard.learnt, aside, away, heard.both, now)
    wait = time_to_win(contest, rival, evidence)
    if wait is not None and wait <= 0:
        return _won(heard, rival, evidence, now)
    deadline = heard.deadline if wait is None else _sooner(heard, dwell, now + wait)
    return Settling(
        aspect,
        heard.subtitles,
        deadline,
        heard.reading,
        now,
        evidence,
        raster,
        heard.home,
        heard.learnt,
        heard.left,
        rival,
        aside,
        heard.both,
        heard.stands,
        heard.light,
    )


def _uncontested(
    dwell: DwellTimes, heard: Settling, reading: BarReading, sighting: Sighting, text_at: int | None
) -> Settling:
    """Take a reading that speaks for no rival.

    `text_at` (ms UTC) is when text will be believed, if the reading before showed text already.
    """
    evidence, rival = sighting.evidence, heard.rival
    if evidence == SETTLED:
        home = outline_seen(sighting, heard.raster, heard.learnt.steps)
        aspect, text, raster, learnt = heard.aspect, heard.subtitles, heard.raster, heard.learnt
        return Settling(aspect, text, None, reading, heard.since, NO_EVIDENCE, raster, home, learnt)
    if evidence > SETTLED:
        deadline = None
        if evidence == TEXT and not heard.subtitles:
            deadline = text_at or heard.since + LETTERING
        if rival is not None:  # Equal bars of this size were lettering in both bars as well.
            rival = rival._replace(proof=0)
        learnt = heard.learnt
        stood = heard.since - learnt.moved >= TITLED
        if evidence == TEXT and stood and learnt.middle is not None:
            learnt = learnt._replace(lines=heard.since)  # What ends in that bar may be a line.
        return heard._replace(
            deadline=deadline,
            evidence=evidence,
            learnt=learnt,
            left=None,
            rival=rival,
            both=None,
            stands=(),
            light=None,
        )
    if rival is None or not explains(rival.shape, reading):
        return heard
    wait = time_to_win_in_the_dark(dwell, heard.aspect, rival)
    deadline = heard.deadline
    if wait is not None:
        deadline = _sooner(heard, dwell, heard.since + max(1, wait))
    return heard._replace(deadline=deadline, evidence=CALM)


def _won(settling: Settling, rival: Rival, evidence: Evidence, now: int) -> Settling:
    """Settle on a rival's shape."""
    shape, reading, aspect = rival.shape, settling.reading, settling.aspect
    text = False
    if evidence == EATEN and isinstance(reading, BarReading):
        text = reading.bottom < reading.top
    learnt = settling.learnt
    if shape.off_v or shape.off_h:
        learnt = place_noted(learnt, shape)
        shape = shape._replace(off_v=0, off_h=0)
    if aspect is None or not alike(shape.ratio, aspect):
        left = now if settling.left is None else settling.left
        learnt = change_noted(learnt, settling.home, shape, left, now)
        if rival.back and settling.home and settling.home.ratio < shape.ratio:
            learnt = slip_noted(learnt, settling.home, rival.back, now)
        aspect = shape.ratio
    elif not shape.window and is_nearer(shape.ratio, aspect):
        aspect = shape.ratio  # Otherwise it is the settled shape, only in a window.
    return Settling(
        aspect=aspect,
        subtitles=text,
        reading=reading,
        since=settling.since,
        raster=settling.raster,
        home=None if shape.least_v > shape.most_v else shape,
        learnt=learnt,
    )
