"""The filter itself: readings come in, deadlines pass, and the settled aspect comes out."""

from __future__ import annotations

from typing import Final, NamedTuple

from engine.settle.rivals import (
    DwellTimes,
    Rival,
    changed,
    credited,
    new_rival,
    seen_again,
    time_to_win,
)
from engine.settle.shapes import (
    BarReading,
    Outline,
    RasterKey,
    alike,
    expected_outline,
    explains,
    fits,
    outline_of,
    same_outline,
    scale_of,
    standard_near,
)
from engine.settle.sightings import (
    CALM,
    CORNER,
    EATEN,
    NARROWEST_PICTURE,
    NO_EVIDENCE,
    SETTLED,
    TEXT,
    WHOLE,
    WIDEST_PICTURE,
    Evidence,
    Sighting,
    look_at,
)

LETTERING: Final = 800
"""A bottom bar that is eaten into for this long carries text, ms."""


class Settling(NamedTuple):
    """What the readings add up to. The first three fields are for everyone.

    The filter makes one for every changed reading, so it is built by position, from variables that
    have its fields' names: by keyword that takes twice as long.
    """

    aspect: int | None = None
    """The settled ratio in 1/10,000, None while it is unknown."""
    subtitles: bool = False
    """Whether the bottom bar carries text."""
    deadline: int | None = None
    """When `elapse` has something to do if no other reading comes, ms UTC; None: never."""
    reading: BarReading | int | None = None
    """The last reading: bars, a ratio in 1/10,000, or None for a black raster."""
    since: int = 0
    """Since when it holds, ms UTC."""
    evidence: Evidence = NO_EVIDENCE
    """What it is evidence of."""
    raster: RasterKey | None = None
    """The raster of the last bars: columns, rows, frame."""
    home: Outline | None = None
    """Where the settled shape's bars lie in that raster."""
    rival: Rival | None = None
    """The shape that may replace the settled one."""
    aside: Rival | None = None
    """The strongest other shape that may."""


UNSETTLED: Final = Settling()


def take_bars(
    dwell: DwellTimes, settling: Settling, reading: BarReading | None, now: int
) -> Settling:
    """Take a reading of bars; None is a raster that is black all over.

    `now` is in ms UTC and never goes back. If the deadline is not after it, call `elapse` first. A
    reading that equals the last one changes nothing and gives the same object back.
    """
    if reading == settling.reading:
        return settling
    aspect, subtitles, home = settling.aspect, settling.subtitles, settling.home
    raster = settling.raster
    # The settled shape again, in the same raster: most changed readings end here.
    if (
        home is not None
        and reading is not None
        and reading[4:] == raster
        and fits(home, reading)
        and reading.top + reading.bottom < reading.rows
        and reading.left + reading.right < reading.columns
    ):
        return Settling(aspect, subtitles, None, reading, now, NO_EVIDENCE, raster, home)
    return _weighed(dwell, settling, reading, now)


def _weighed(
    dwell: DwellTimes, settling: Settling, reading: BarReading | None, now: int
) -> Settling:
    """Take a changed reading that is not simply the settled shape in the same raster."""
    aspect, subtitles, home = settling.aspect, settling.subtitles, settling.home
    rival, aside, raster = settling.rival, settling.aside, settling.raster
    if rival is not None:
        rival = _credited_until(settling, now)
    if (
        reading is None
        or reading.top + reading.bottom >= reading.rows
        or reading.left + reading.right >= reading.columns
    ):
        return Settling(aspect, subtitles, None, reading, now, CALM, raster, home, rival, aside)
    if reading[4:] != raster:
        raster = reading[4:]
        home = rival = aside = None
    if home is None and aspect is not None:
        home = expected_outline(aspect, raster)
    if home is not None and fits(home, reading):
        return Settling(aspect, subtitles, None, reading, now, NO_EVIDENCE, raster, home)
    heard = Settling(aspect, subtitles, None, reading, now, NO_EVIDENCE, raster, home, rival, aside)
    if rival is not None and rival.shape.standard and fits(rival.shape, reading):
        return _contested(dwell, heard, Sighting(WHOLE, rival.shape.ratio))
    rival_ratio = 0 if rival is None else rival.shape.ratio
    sighting = look_at(aspect, home, rival_ratio, reading, scale_of(*raster))
    if WHOLE <= sighting.evidence <= CORNER:
        return _contested(dwell, heard, sighting)
    text_at = settling.deadline if settling.evidence == TEXT else None
    return _uncontested(heard, reading, sighting, text_at)


def take_ratio(dwell: DwellTimes, settling: Settling, ratio: int, now: int) -> Settling:
    """Take a ratio (1/10,000) from a detector or from metadata: a plain shape, without its bars.

    `now` and the object given back are as in `take_bars`.
    """
    if ratio == settling.reading:
        return settling
    heard = settling._replace(
        deadline=None,
        reading=ratio,
        since=now,
        evidence=NO_EVIDENCE,
        rival=_credited_until(settling, now),
    )
    if heard.aspect is not None and alike(ratio, heard.aspect):
        return heard._replace(rival=None, aside=None)
    if not NARROWEST_PICTURE <= ratio <= WIDEST_PICTURE:
        return heard
    standard = standard_near(ratio, 40)
    return _contested(
        dwell, heard, Sighting(WHOLE, standard or ratio, bool(standard), bars_v=-1, bars_h=-1)
    )


def elapse(settling: Settling, now: int) -> Settling:
    """Do what is due by `now` (ms UTC); give the same object back while nothing is."""
    if settling.deadline is None or now < settling.deadline:
        return settling
    if settling.evidence == TEXT:
        return settling._replace(subtitles=True, deadline=None)
    if settling.rival is None:
        return settling._replace(deadline=None)
    return _won(settling, settling.rival.shape, settling.evidence)


def parked(settling: Settling, now: int) -> Settling:
    """Keep what is settled and forget every rival and the last reading.

    The next reading is then seen afresh, even if it equals the last one. `now` is in ms UTC.
    """
    return settling._replace(
        deadline=None, reading=None, since=now, evidence=NO_EVIDENCE, rival=None, aside=None
    )


def line_noted(settling: Settling, again_at: int | None) -> Settling:
    """Wait for the next line in the bottom bar; one that still stands counts again at `again_at`.

    `again_at` is in ms UTC; None: it has been counted often enough.
    """
    deadline = again_at if settling.evidence == TEXT else settling.deadline
    return settling._replace(subtitles=False, deadline=deadline)


def new_title(settling: Settling) -> Settling:
    """Begin a title: the shape stays settled until another one shows, the subtitles do not."""
    return settling._replace(subtitles=False) if settling.subtitles else settling


def _credited_until(settling: Settling, now: int) -> Rival | None:
    """Give the rival, credited with the time for which the last reading held."""
    rival, evidence = settling.rival, settling.evidence
    if rival is None or not CALM <= evidence <= CORNER:
        return rival
    return credited(rival, evidence, now - settling.since, now)


def _contested(dwell: DwellTimes, heard: Settling, sighting: Sighting) -> Settling:
    """Let a sighting speak for its rival: the present one, the one aside, or a new one."""
    aspect, now, raster = heard.aspect, heard.since, heard.raster
    rival, aside, evidence = heard.rival, heard.aside, sighting.evidence
    if rival is not None and not same_outline(rival.shape, sighting.ratio):
        rival, aside = changed(rival, aside, sighting, heard.reading)
    if rival is None:
        rival = new_rival(_outline_seen(sighting, raster), sighting, now)
    else:
        rival = seen_again(rival, aspect, sighting, now)
        if sighting.standard and not rival.shape.standard and evidence == WHOLE:
            rival = rival._replace(shape=_outline_seen(sighting, raster))
    wait = time_to_win(dwell, aspect, rival, evidence)
    if wait is not None and wait <= 0:
        return _won(heard, rival.shape, evidence)
    deadline = None if wait is None else now + wait
    return Settling(
        aspect,
        heard.subtitles,
        deadline,
        heard.reading,
        now,
        evidence,
        raster,
        heard.home,
        rival,
        aside,
    )


def _uncontested(
    heard: Settling, reading: BarReading, sighting: Sighting, text_at: int | None
) -> Settling:
    """Take a reading that speaks for no rival.

    `text_at` (ms UTC) is when text will be believed, if the reading before showed text already.
    """
    evidence, rival = sighting.evidence, heard.rival
    if evidence == SETTLED:
        home = _outline_seen(sighting, heard.raster)
        return heard._replace(home=home, rival=None, aside=None)
    if evidence > SETTLED:
        deadline = None
        if evidence == TEXT and not heard.subtitles:
            deadline = text_at or heard.since + LETTERING
        if rival is not None:  # Equal bars of this size were lettering in both bars as well.
            rival = rival._replace(proof=0)
        return heard._replace(deadline=deadline, evidence=evidence, rival=rival)
    if rival is not None and explains(rival.shape, reading):
        return heard._replace(evidence=CALM)
    return heard


def _outline_seen(sighting: Sighting, raster: RasterKey | None) -> Outline:
    """Work out where the bars of the shape seen are read."""
    return outline_of(
        sighting.ratio, sighting.bars_v, sighting.bars_h, raster, standard=sighting.standard
    )


def _won(settling: Settling, shape: Outline, evidence: Evidence) -> Settling:
    """Settle on a shape."""
    reading, aspect = settling.reading, settling.aspect
    text = False
    if evidence == EATEN and isinstance(reading, BarReading):
        text = reading.bottom < reading.top
    if aspect is None or not alike(shape.ratio, aspect):
        aspect = shape.ratio  # Otherwise it is the settled shape, only in a window.
    return Settling(
        aspect=aspect,
        subtitles=text,
        reading=reading,
        since=settling.since,
        raster=settling.raster,
        home=None if shape.least_v > shape.most_v else shape,
    )
