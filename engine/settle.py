"""Raw letterbox readings into one settled aspect, without knowledge of the future.

A reading says how many lines and columns at the edges of a raster are black. It errs in two ways:
darkness makes a bar larger, each bar on its own; lettering (a channel's mark, a sign, a subtitle)
makes a bar smaller. What follows from that:

- Two bars of an axis that are even are hardly ever darkness. Even on both axes is *proof*; even on
  one, with light at the very edge of the raster on the other, is proof at half weight.
- Lettering comes and goes, and hits the bars of a standard shape by accident only: a taller
  standard shape is believed at once, one that nobody standardised when it has stood for a while.
- Bars that are uneven are believed late: as a bar that is eaten into, if the larger one is the bar
  of a standard shape and the other one stands still too; as a dark picture, if the smaller one is
  and stands still in a moving scene, and light has refuted the settled shape.
- All else is darkness and says nothing. Darkness that the new shape would explain counts towards
  the dwell of a wider one, for a shape may change in the dark, but it proves nothing.

One rival of the settled shape is weighed at a time and the strongest other one kept aside; the
settled shape's own return ends both. A reading is a level, it holds until another one comes: the
state carries the instant at which the rival wins if nothing more is heard, and the same reading
heard twice is heard once.

Ratios are 1/10,000, times milliseconds UTC; every decision is made in whole numbers.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from engine.aspect import SCALE, WIDE_FRAME

STANDARD: Final = (
    13_333,  # 4:3, the narrow frame of active format codes (ATSC A/53-4)
    13_700,  # aperture 0.825 x 0.602 in (SMPTE 195)
    15_556,  # 14:9, active format codes 0011 and 1011 (ATSC A/53-4)
    16_600,  # aperture 0.825 x 0.497 in (SMPTE 195)
    17_778,  # 16:9 (ITU-R BT.709, BT.2020)
    18_500,  # flat, 3996 x 2160 (SMPTE ST 428-12)
    19_000,  # the full container, 4096 x 2160, rounded (SMPTE ST 428-12)
    20_000,  # common practice
    22_000,  # 70 mm film, five perforations
    23_500,  # scope by PH22.106-1957
    23_900,  # scope by PH22.106-1971
    24_000,  # common practice for the same at home
    27_600,  # 65 mm film with a 1.25x squeeze
)
"""Shapes that somebody standardised, in 1/10,000."""

NARROWEST: Final = 11_500
WIDEST: Final = 30_000
"""Beyond these no picture is meant, only a lit part of one."""

MARKED: Final = 1_000
"""What lettering adds to the dwell, ms."""
LETTERING: Final = 800
"""A bottom bar that is eaten into for so long carries text, ms."""
PATIENCE: Final = 5_000
SHORT_PATIENCE: Final = 2_000
"""Evidence is forgotten when no more of it comes for so long, ms; the short one is for shapes
that win quickly."""
STILL: Final = 700
"""An edge that was elsewhere for longer than this has not stood still, ms."""
CUTS: Final = 3
"""Through so many jumps of the edges around it a still edge must have stood."""
UNSTEADY: Final = 8
"""After so many changes of its depth, what eats into a bar is no lettering."""


class Pace(NamedTuple):
    """How long a new shape must hold, ms.

    `taller` and `wider` are for standard shapes, `odd` for others. A wider odd shape waits four
    fifths of `wider` if that is longer: no darkness counts towards it, as it does for the others.
    """

    taller: int = 500
    wider: int = 4_000
    odd: int = 3_300


class Bars(NamedTuple):
    """Counts of black lines and columns within a coded raster.

    `frame` is the ratio at which the whole raster is shown, in 1/10,000; 0 if nobody has said:
    then pixels are square, save in rasters of under 720 rows that would be neither 4:3 nor 16:9,
    which are taken for 16:9.
    """

    top: int
    bottom: int
    left: int
    right: int
    columns: int
    rows: int
    frame: int = 0


class Shape(NamedTuple):
    """A shape, and from which to which count each of its bars may be read."""

    ratio: int
    standard: bool
    window: bool
    least_v: int
    most_v: int
    least_h: int
    most_h: int


class Rival(NamedTuple):
    """A shape that may replace the settled one, and what speaks for it, in ms.

    `proof` is how long it was seen plainly, `weak` how long it was seen eaten into or in part,
    `span` how long nothing spoke against it, `seen` when it was last seen. `loose` is the edge
    that does not fit it, `moves` how often that one has moved; `signs` is what else was noticed.
    """

    shape: Shape
    proof: int
    weak: int
    span: int
    seen: int
    loose: int
    moves: int
    signs: int


class Settling(NamedTuple):
    """What the readings add up to; the first three fields are for everyone.

    `aspect` is the settled ratio in 1/10,000, None while it is unknown; `subtitles` tells whether
    the bottom bar carries text; at `deadline` (ms) `due` has something to do if no other reading
    comes. The rest: the last reading and since when it holds, what it is to the rival, the raster,
    where the settled shape's bars lie in it, the rival, and another one.
    """

    aspect: int | None = None
    subtitles: bool = False
    deadline: int | None = None
    reading: Bars | int | None = None
    since: int = 0
    stance: int = 0
    raster: tuple[int, int, int] | None = None
    home: Shape | None = None
    rival: Rival | None = None
    aside: Rival | None = None


UNSETTLED: Final = Settling()

# What a reading is to the rival. Plain numbers: they are compared for every changed reading.
_IDLE: Final = 0
_CALM: Final = 1  # dark, and the rival would explain it
_WHOLE: Final = 2  # even on both axes
_PART: Final = 3  # even on one axis, light at the edge of the raster on the other
_GLIMPSE: Final = 4  # even above and below, darkness at the sides
_EATEN: Final = 5  # one bar as it should be, the other eaten into
_CORNER: Final = 6  # one bar as it should be, the other lost in the dark
_HOME: Final = 7  # the settled shape
_TEXT: Final = 8  # the settled shape with its bottom bar eaten into
_MARK: Final = 9  # the settled shape with its top bar eaten into

# What has been noticed of a rival.
_AMBIGUOUS: Final = 1  # what eats into it may be the settled shape, in the dark
_WITHIN: Final = 2  # its bars hide nothing of the settled picture
_BEYOND: Final = 4  # light on both sides where the settled shape has bars
_DARK: Final = 8  # darkness where the settled shape has picture
_CORNERED: Final = 16  # when last seen uneven, it was a corner


class _Scale(NamedTuple):
    """What a raster's size means: how a ratio is reckoned, and how far counts may be off.

    The shown ratio of c columns and r rows is c * by / (r * over). A detector reads even counts
    and errs by a line or two: `even` is what two bars of an axis may differ by, `near` what a bar
    may be off its place. `slack` is what a ratio may be off a standard one, in 1/10,000 of itself,
    and `tight` what one may for which only a single bar speaks.
    """

    columns: int
    rows: int
    by: int
    over: int
    even_v: int
    even_h: int
    near_v: int
    near_h: int
    slack: int
    tight: int


class _Sight(NamedTuple):
    """What one reading shows.

    `v` and `h` are the shape's two bars on either axis added up, `loose` is the edge that does not
    fit, which has moved when it is off by `jump`.
    """

    stance: int
    ratio: int = 0
    standard: bool = True
    v: int = 0
    h: int = 0
    signs: int = 0
    loose: int = 0
    jump: int = 0


_NOTHING: Final = _Sight(_IDLE)


@lru_cache(maxsize=64)
def _scale(columns: int, rows: int, frame: int) -> _Scale:
    square = rows >= 720 or _standard(columns * SCALE // rows, 100)  # noqa: PLR2004
    if not frame and not square:
        frame = WIDE_FRAME
    even_v, even_h = max(2, rows // 540), max(2, columns // 540)
    return _Scale(
        columns,
        rows,
        frame * rows if frame else SCALE,
        columns if frame else 1,
        even_v,
        even_h,
        even_v + max(1, rows // 540),
        even_h + max(1, columns // 540),
        max(20, 33_000 // rows),
        max(20, 27_000 // rows),
    )


@lru_cache(maxsize=4_096)
def _standard(ratio: int, slack: int) -> int:
    """The standard shape that is within `slack` (1/10,000) of a measured ratio, or 0."""
    nearest = min(STANDARD, key=lambda standard: abs(standard - ratio))
    return nearest if abs(nearest - ratio) * SCALE <= slack * nearest else 0


def _alike(ratio: int, aspect: int) -> bool:
    """Within 2 % of the settled aspect: no change."""
    return abs(ratio - aspect) * 50 <= aspect


# ------------------------------------------------------------------------ what a reading shows


def _look(settling: Settling, reading: Bars, scale: _Scale) -> _Sight:
    top, bottom, left, right = reading[:4]
    even_h = -scale.even_h <= left - right <= scale.even_h
    if -scale.even_v <= top - bottom <= scale.even_v:
        if even_h:
            return _whole(settling.aspect, top + bottom, left + right, scale)
        return _part(settling, reading, scale)
    if even_h:
        return _uneven(settling, reading, scale)
    return _corner(settling, reading, scale)


def _whole(aspect: int | None, v: int, h: int, scale: _Scale) -> _Sight:
    columns, rows, by, over, _, _, _, _, slack, _ = scale
    measured = (columns - h) * by // ((rows - v) * over)
    if h:  # Both axes err: three lines and three columns in all.
        slack = max(slack, 30_000 // (rows - v) + 30_000 // (columns - h))
    standard = _standard(measured, slack)
    ratio = standard or measured
    window = _window(v, h, scale)
    if not window and aspect is not None and _alike(measured, aspect):
        return _Sight(_HOME, ratio, bool(standard), v, h)
    if not NARROWEST <= ratio <= WIDEST or (window and _small(v, h, scale)):
        return _NOTHING
    return _Sight(_WHOLE, ratio, bool(standard), v, h)


def _window(v: int, h: int, scale: _Scale) -> bool:
    """Bars on all four sides, each wider than what is merely lost at a raster's edges."""
    return v * 50 > scale.rows and h * 50 > scale.columns


def _small(v: int, h: int, scale: _Scale) -> bool:
    """Too small for a picture: a card, a lamp."""
    return 5 * v > 3 * scale.rows or 5 * h > 3 * scale.columns


def _part(settling: Settling, reading: Bars, scale: _Scale) -> _Sight:
    """Even above and below, dark at the sides."""
    columns, rows, by, over, even_v, even_h, _, _, slack, _ = scale
    v, side = reading.top + reading.bottom, min(reading.left, reading.right)
    if v <= even_v and side > even_h:
        return _corner(settling, reading, scale)
    aspect, home = settling.aspect, settling.home
    measured = columns * by // ((rows - v) * over)
    ratio = _standard(measured, slack)
    if not ratio or (aspect is not None and _alike(measured, aspect)):
        return _NOTHING
    if side <= even_h:
        return _Sight(_PART, ratio, v=v)
    if home is not None and home.least_v <= v // 2 <= home.most_v and side >= home.least_h:
        return _NOTHING
    return _Sight(_GLIMPSE, ratio, v=v, loose=side, jump=columns // 64)


def _uneven(settling: Settling, reading: Bars, scale: _Scale) -> _Sight:
    """Even at the sides, not above and below: one bar is eaten into, or the other is darkness."""
    columns, rows, by, over, even_v, even_h, near_v, _, slack, tight = scale
    top, bottom, left, right = reading[:4]
    small, large = (top, bottom) if top < bottom else (bottom, top)
    h, aspect = left + right, settling.aspect
    width = (columns - h) * by
    as_eaten = width // ((rows - 2 * large) * over) if 2 * large < rows else 0
    as_dark = width // ((rows - 2 * small) * over)
    if aspect is not None and as_eaten and _alike(as_eaten, aspect):
        return _Sight(_TEXT if bottom < top else _MARK)
    home = settling.home
    dark_home = (
        home is not None
        and home.least_v <= small <= home.most_v
        and home.least_h <= h // 2 <= home.most_h
    )
    eaten = _eaten(settling.rival, as_eaten, tight)
    if eaten and not _window(2 * large, h, scale):
        signs = _AMBIGUOUS if dark_home else 0
        return _Sight(_EATEN, eaten, True, 2 * large, h, signs, small, near_v + 1)  # noqa: FBT003
    if dark_home:
        return _NOTHING
    if small <= even_v and h > 2 * even_h:
        ratio = _standard(as_dark, slack)
        return _Sight(_PART, ratio, h=h) if ratio else _NOTHING
    return _corner(settling, reading, scale)


def _corner(settling: Settling, reading: Bars, scale: _Scale) -> _Sight:
    """Bars are uneven: the lit corner of a dark picture may show where it ends."""
    columns, rows, by, over, even_v, even_h, _, _, slack, tight = scale
    top, bottom, left, right = reading[:4]
    v, h = min(top, bottom), min(left, right)
    far_v, far_h = max(top, bottom), max(left, right)
    aspect, home = settling.aspect, settling.home
    if aspect is None or home is None or (v > even_v and h > even_h):
        return _NOTHING
    if home.window and _explains(_home(aspect, (columns, rows, reading.frame)), reading):
        return _NOTHING  # A window that has opened to its full size.
    if h <= even_h:
        h = 0
    within = v <= home.most_v and h <= home.most_h
    measured = (columns - 2 * h) * by // ((rows - 2 * v) * over)
    ratio = _standard(measured, slack if within else tight)
    if not ratio or _alike(measured, aspect) or not (within or rows >= 720):  # noqa: PLR2004
        return _NOTHING
    signs = _CORNERED | (_WITHIN if within else 0)
    if (
        far_v < home.least_v
        or far_h < home.least_h
        or v <= even_v < home.least_v
        or h <= even_h < home.least_h
    ):
        signs |= _BEYOND
    if far_v > home.most_v or far_h - h > even_h:
        signs |= _DARK
    loose, jump = (far_v, rows // 16) if far_v - v > even_v else (far_h, columns // 16)
    return _Sight(_CORNER, ratio, True, 2 * v, 2 * h, signs, loose, jump)  # noqa: FBT003


def _eaten(rival: Rival | None, ratio: int, tight: int) -> int:
    """The shape whose bar the larger of two uneven ones is: the rival's, or a standard one; or 0.

    A single bar is only half the evidence, so it must fit a standard shape more closely.
    """
    if rival is not None and abs(ratio - rival.shape.ratio) * 200 <= ratio:
        return rival.shape.ratio
    return _standard(ratio, tight)


# ---------------------------------------------------------------------------- weighing a rival


def _credited(rival: Rival, stance: int, spent: int, now: int) -> Rival:
    """Add the time for which the last reading held."""
    shape, proof, weak, span, seen, loose, moves, signs = rival
    if stance == _CALM:
        return Rival(shape, proof, weak, span + spent, seen, loose, moves, signs)
    if stance == _WHOLE:
        proof += spent
    elif stance == _PART:
        proof += spent // 2
    else:
        weak += spent
    return Rival(shape, proof, weak, span + spent, now, loose, moves, signs)


def _again(rival: Rival, aspect: int | None, sight: _Sight, now: int) -> Rival:
    """See a rival once more; what is too long ago is forgotten."""
    shape, proof, weak, span, seen, loose, moves, noticed = rival
    stance, _, _, _, _, signs, now_loose, jump = sight
    soon = shape.standard and not weak and (aspect is None or shape.ratio < aspect)
    if now - seen > (SHORT_PATIENCE if soon else PATIENCE):
        return Rival(shape, 0, 0, 0, now, now_loose, 0, signs)
    cornered = (noticed & _CORNERED) > 0
    if weak and (now - seen > STILL or (stance >= _EATEN and cornered != (stance == _CORNER))):
        weak = moves = 0
    if stance == _EATEN:
        noticed &= ~_CORNERED
    if jump:
        moved = abs(now_loose - loose) >= jump
        moves += moved and moves < UNSTEADY
        if moved or stance != _EATEN:
            loose = now_loose
    return Rival(shape, proof, weak, span, now, loose, moves, noticed | signs)


def _wait(pace: Pace, aspect: int | None, rival: Rival, stance: int) -> int | None:
    """How much longer the present reading must hold for the rival to win; None: it cannot."""
    shape, proof, _, span, _, _, _, signs = rival
    higher = aspect is not None and shape.ratio > aspect
    if not shape.standard:
        return _wait_odd(pace, shape, higher=higher) - proof if stance == _WHOLE else None
    need, rest = pace.taller, 0
    if higher and shape.window:
        need = pace.wider
    elif higher:
        need, rest = pace.wider // (2 if signs & _AMBIGUOUS else 4), pace.wider - span
    elif shape.window:
        need = need * 9 // 5
    if stance == _WHOLE:
        return max(need - proof, rest)
    if stance == _PART:
        return max(2 * (need - proof), rest)
    if proof >= need:
        return rest
    return _wait_weak(pace, rival, stance, taller=aspect is not None and not higher)


def _wait_odd(pace: Pace, shape: Shape, *, higher: bool) -> int:
    if higher:
        return max(pace.odd, pace.wider * 4 // 5)
    return pace.odd * 3 // 5 if shape.least_v <= 0 else pace.odd  # Nobody writes beside a picture.


def _wait_weak(pace: Pace, rival: Rival, stance: int, *, taller: bool) -> int | None:
    _, proof, weak, _, _, _, moves, signs = rival
    had = proof + weak
    if stance == _EATEN:
        if signs & _AMBIGUOUS or moves >= UNSTEADY:
            return None
        return (pace.odd if taller else pace.wider + MARKED) - had
    if stance == _CORNER and not (signs & _DARK and moves):
        return None
    if (taller and moves) if stance == _GLIMPSE else (signs & _WITHIN and signs & _BEYOND):
        return pace.odd - had
    return 2 * pace.wider - had if moves >= CUTS else None


def _is(shape: Shape, ratio: int) -> bool:
    """Near enough to be the same shape, misread by a line or two.

    The less is known of a shape, the stiller it must stand: a window's edges do, a vignette's soft
    ones do not.
    """
    if shape.window:
        return abs(shape.ratio - ratio) * (200 if shape.standard else 1_000) <= shape.ratio
    return abs(shape.ratio - ratio) * (100 if shape.standard else 200) <= shape.ratio


def _refuted(shape: Shape, reading: Bars | int | None) -> bool:
    """Light beyond a shape on both sides."""
    if reading is None or isinstance(reading, int):
        return False
    top, bottom, left, right = reading[:4]
    return max(top, bottom) < shape.least_v or max(left, right) < shape.least_h


def _explains(shape: Shape, reading: Bars) -> bool:
    """Whether a reading may be a dark picture of this shape."""
    top, bottom, left, right = reading[:4]
    return min(top, bottom) >= shape.least_v and min(left, right) >= shape.least_h


def _contest(pace: Pace, heard: Settling, sight: _Sight) -> Settling:
    """Let a sight speak for its rival: the present one, the one aside, or a new one."""
    aspect, subtitles, _, reading, now, _, raster, home, rival, aside = heard
    if rival is not None and not _is(rival.shape, sight.ratio):
        rival, aside = _changed(rival, aside, sight, reading)
    if rival is None:
        rival = Rival(_shape(sight, raster), 0, 0, 0, now, sight.loose, 0, sight.signs)
    else:
        rival = _again(rival, aspect, sight, now)
        if sight.standard and not rival.shape.standard and sight.stance == _WHOLE:
            rival = rival._replace(shape=_shape(sight, raster))
    wait = _wait(pace, aspect, rival, sight.stance)
    if wait is not None and wait <= 0:
        return _won(heard, rival.shape, sight.stance)
    deadline = None if wait is None else now + wait
    return Settling(
        aspect, subtitles, deadline, reading, now, sight.stance, raster, home, rival, aside
    )


def _changed(
    held: Rival, aside: Rival | None, sight: _Sight, reading: Bars | int | None
) -> tuple[Rival | None, Rival | None]:
    """Another rival and what is aside then: the one that was aside, or None for a new one."""
    rival = None
    if aside is not None and _is(aside.shape, sight.ratio):
        rival, aside = aside, None
    if sight.stance == _WHOLE and _refuted(held.shape, reading):
        return rival, aside
    if aside is None or held.proof + held.weak >= aside.proof + aside.weak:
        aside = held
    return rival, aside


def _shape(sight: _Sight, raster: tuple[int, int, int] | None) -> Shape:
    """Where the bars of a shape are read.

    A shape that was not seen in bars is read nowhere.
    """
    _, ratio, standard, v, h, _, _, _ = sight
    if raster is None or v < 0:
        return Shape(ratio, standard, window=False, least_v=1, most_v=0, least_h=1, most_h=0)
    scale = _scale(*raster)
    window = _window(v, h, scale)
    near_v, near_h = scale[6:8] if standard and not window else scale[4:6]
    v_up, h_up = (v + 1) // 2 + near_v, (h + 1) // 2 + near_h
    return Shape(ratio, standard, window, v // 2 - near_v, v_up, h // 2 - near_h, h_up)


@lru_cache(maxsize=64)
def _home(aspect: int, raster: tuple[int, int, int]) -> Shape:
    """Where the bars lie of a settled shape that was not seen in bars, or in another raster."""
    columns, rows, by, over, *_ = _scale(*raster)
    v = max(0, rows - columns * by // (over * aspect))
    h = max(0, columns - rows * aspect * over // by)
    return _shape(_Sight(_HOME, aspect, v=v, h=h), raster)


def _won(settling: Settling, shape: Shape, stance: int) -> Settling:
    """The shape is the settled one from now on."""
    reading, aspect = settling.reading, settling.aspect
    text = stance == _EATEN and isinstance(reading, tuple) and reading.bottom < reading.top
    if aspect is None or not _alike(shape.ratio, aspect):
        aspect = shape.ratio  # Otherwise it is the same shape in a window.
    return Settling(
        aspect,
        text,
        None,
        reading,
        settling.since,
        _IDLE,
        settling.raster,
        None if shape.least_v > shape.most_v else shape,
    )


# ------------------------------------------------------------------------------ what is called


def take(pace: Pace, settling: Settling, reading: Bars | None, now: int) -> Settling:
    """Take a reading of bars; None is a raster that is black all over.

    `now` is in ms and never goes back; `due` must have been called for a deadline that is not
    after it. A reading that is the same as the last one gives back the same object.
    """
    if reading == settling.reading:
        return settling
    aspect, subtitles, _, _, since, stance, raster, home, rival, aside = settling
    if rival is not None and _CALM <= stance <= _CORNER:
        rival = _credited(rival, stance, now - since, now)
    if (
        reading is None
        or reading.top + reading.bottom >= reading.rows
        or reading.left + reading.right >= reading.columns
    ):
        return Settling(aspect, subtitles, None, reading, now, _CALM, raster, home, rival, aside)
    if reading[4:] != raster:
        raster = reading[4:]
        home = rival = aside = None
    if home is None and aspect is not None:
        home = _home(aspect, raster)
    if home is not None and _fits(home, reading):
        return Settling(aspect, subtitles, None, reading, now, _IDLE, raster, home)
    heard = Settling(aspect, subtitles, None, reading, now, _IDLE, raster, home, rival, aside)
    if rival is not None and rival.shape.standard and _fits(rival.shape, reading):
        return _contest(pace, heard, _Sight(_WHOLE, rival.shape.ratio))
    sight = _look(heard, reading, _scale(*raster))
    if _WHOLE <= sight.stance <= _CORNER:
        return _contest(pace, heard, sight)
    text_at = settling.deadline if stance == _TEXT else None
    return _unmoved(heard, reading, sight, text_at)


def _fits(shape: Shape, reading: Bars) -> bool:
    _, _, _, least_v, most_v, least_h, most_h = shape
    return (
        least_v <= reading.top <= most_v
        and least_v <= reading.bottom <= most_v
        and least_h <= reading.left <= most_h
        and least_h <= reading.right <= most_h
    )


def _unmoved(heard: Settling, reading: Bars, sight: _Sight, text_at: int | None) -> Settling:
    """Take what speaks for the settled shape, or for nothing; text may be awaited already."""
    aspect, subtitles, _, _, now, _, raster, home, rival, aside = heard
    stance = sight.stance
    if stance == _HOME:
        home = _shape(sight, raster)
        return Settling(aspect, subtitles, None, reading, now, _IDLE, raster, home)
    if stance >= _TEXT:
        deadline = None
        if stance == _TEXT and not subtitles:
            deadline = text_at or now + LETTERING
        if rival is not None:  # What was even with this in the other bar was lettering, too.
            rival = rival._replace(proof=0)
        return Settling(
            aspect, subtitles, deadline, reading, now, stance, raster, home, rival, aside
        )
    if rival is not None and _explains(rival.shape, reading):
        return Settling(aspect, subtitles, None, reading, now, _CALM, raster, home, rival, aside)
    return heard


def take_ratio(pace: Pace, settling: Settling, ratio: int, now: int) -> Settling:
    """Take a ratio (1/10,000) from a detector or from metadata: an even shape, without its bars."""
    aspect, subtitles, _, before, since, stance, raster, home, rival, aside = settling
    if ratio == before:
        return settling
    if rival is not None and _CALM <= stance <= _CORNER:
        rival = _credited(rival, stance, now - since, now)
    standard = _standard(ratio, 40)
    if aspect is not None and _alike(ratio, aspect):
        return Settling(aspect, subtitles, None, ratio, now, _IDLE, raster, home)
    heard = Settling(aspect, subtitles, None, ratio, now, _IDLE, raster, home, rival, aside)
    if not NARROWEST <= ratio <= WIDEST:
        return heard
    return _contest(pace, heard, _Sight(_WHOLE, standard or ratio, bool(standard), -1, -1))


def due(_pace: Pace, settling: Settling, now: int) -> Settling:
    """Do what is due by `now` (ms); gives back the same object while nothing is."""
    if settling.deadline is None or now < settling.deadline:
        return settling
    if settling.stance == _TEXT:
        return settling._replace(subtitles=True, deadline=None)
    if settling.rival is None:
        return settling._replace(deadline=None)
    return _won(settling, settling.rival.shape, settling.stance)


def parked(settling: Settling, now: int) -> Settling:
    """Keep what is settled and forget every rival: what is read next is seen afresh."""
    return settling._replace(
        deadline=None, reading=None, since=now, stance=_IDLE, rival=None, aside=None
    )


def new_title(settling: Settling) -> Settling:
    """Begin a title: its shape stays settled until another one shows, its text is its own."""
    return settling._replace(subtitles=False) if settling.subtitles else settling
